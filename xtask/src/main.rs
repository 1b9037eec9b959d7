//! `cargo xtask demo | test`: set-up and checks on a fresh machine.
//!
//! Needs nothing but the standard library, so that it starts in seconds and
//! before anything that it has to install.

mod demo;
mod outside;
mod packages;
mod steps;
mod test;

use std::process::ExitCode;

const USAGE: &str = "\
Usage: cargo xtask TASK

  demo     build, play a chart and give a recorded right hand its left hand;
           files go to target/demo
  test     format, lints, all tests, docs, core alone, benches compiled, and
           the checks against other programs' libraries (tests/outside)

Both install missing Debian packages first, with sudo when you are not root.
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let done = match arguments.first().map(String::as_str) {
        Some("demo") => demo::run(),
        Some("test") => test::run(),
        Some("help" | "--help" | "-h") => {
            print!("{USAGE}");
            Ok(())
        }
        _ => {
            eprint!("{USAGE}");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("\n{message}");
            ExitCode::FAILURE
        }
    }
}
