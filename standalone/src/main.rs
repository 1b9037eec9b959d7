//! The `sinistra` binary.

use std::process::ExitCode;

fn main() -> ExitCode {
    sinistra_program::run()
}
