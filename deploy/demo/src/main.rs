//! `cargo demo`: a whole job on a new embedded workshop; `cargo demo workshops`: several workshops and their owner's server.

use clap::{Parser, Subcommand};
use standpipe_demo::DemoError;
use standpipe_demo::workshops::{self, Asked};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Plays a whole job on a new workshop over the network and prints its record.
///
/// Example: cargo demo --dir target/demo
#[derive(Parser)]
#[command(version, args_conflicts_with_subcommands = true)]
struct Arguments {
    /// Folder of the demo's site; an earlier demo there is replaced, anything else is refused.
    #[arg(long, default_value = "target/demo")]
    dir: PathBuf,
    /// Then open a second job and serve on the machine's clock until interrupted: prints the address of its bay page, and
    /// a link by which a browser of this machine becomes the tablet.
    #[arg(long)]
    stay: bool,
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Subcommand)]
enum What {
    /// Draws a year of several workshops with faults planted in it, plays a job at each of three more, brings their
    /// journals to the owner's server over the network, and says what to look at.
    ///
    /// Example: cargo demo workshops --sites 30 --months 12 --seed 1 --stay
    Workshops {
        /// Workshops that are drawn, 1 to 500.
        #[arg(long, default_value = "30", value_parser = Asked::read_sites)]
        sites: usize,
        /// Months that are drawn, 1 to 36; the last one is the present month.
        #[arg(long, default_value = "12", value_parser = Asked::read_months)]
        months: usize,
        /// Seed; the same one gives the same workshops.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Folder of the demo; an earlier demo there is replaced, anything else is refused.
        #[arg(long, default_value = "target/demo-workshops")]
        dir: PathBuf,
        /// Then serve until interrupted.
        #[arg(long)]
        stay: bool,
    },
}

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut tell = std::io::stdout();
    let ended = match arguments.what {
        Some(What::Workshops { sites, months, seed, dir, stay }) => {
            several(&dir, &Asked { sites, months, seed }, stay, &mut tell).await
        }
        None => one(&arguments.dir, arguments.stay, &mut tell).await,
    };
    match ended {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "demo: {error}");
            ExitCode::FAILURE
        }
    }
}

async fn one(dir: &std::path::Path, stay: bool, tell: &mut dyn Write) -> Result<(), DemoError> {
    standpipe_demo::run(dir, tell).await?;
    if stay { standpipe_demo::stay(dir, tell).await } else { Ok(()) }
}

async fn several(
    dir: &std::path::Path,
    asked: &Asked,
    stay: bool,
    tell: &mut dyn Write,
) -> Result<(), DemoError> {
    let workshops = workshops::run(dir, asked, tell).await?;
    if stay { workshops.stay(tell).await } else { workshops.end().await }
}
