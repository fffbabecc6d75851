//! `standpipe-server`: from arguments to one call of the library, and from its answer to words and an exit code.
//! Never here: what is done.

mod cli;

use clap::Parser as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::Arguments::try_parse() {
        Ok(arguments) => cli::run(arguments),
        Err(error) => {
            // Help and version are answers; everything else is a command that was written wrongly.
            let code = if error.use_stderr() { standpipe_server::Exit::Usage as u8 } else { 0 };
            // Nothing is left to be done if even the terminal cannot be written.
            let _ = error.print();
            ExitCode::from(code)
        }
    }
}
