//! The command `standpipe`. Everything it does is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    standpipe_client::cli::main()
}
