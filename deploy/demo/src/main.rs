//! `cargo demo`: a whole job on a new embedded workshop.

use clap::Parser;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Plays a whole job on a new workshop over the network and prints its record.
///
/// Example: cargo demo --dir target/demo
#[derive(Parser)]
#[command(version)]
struct Arguments {
    /// Folder of the demo's site; an earlier demo there is replaced, anything else is refused.
    #[arg(long, default_value = "target/demo")]
    dir: PathBuf,
    /// Then open a second job and serve on the machine's clock until interrupted: prints the address of its bay page, and
    /// a link by which a browser of this machine becomes the tablet.
    #[arg(long)]
    stay: bool,
}

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut tell = std::io::stdout();
    let mut ended = standpipe_demo::run(&arguments.dir, &mut tell).await.map(|_| ());
    if ended.is_ok() && arguments.stay {
        ended = standpipe_demo::stay(&arguments.dir, &mut tell).await;
    }
    match ended {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "demo: {error}");
            ExitCode::FAILURE
        }
    }
}
