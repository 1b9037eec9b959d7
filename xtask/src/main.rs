//! `cargo xtask demo | test | bundle | install`: set-up and checks on a fresh machine.
//!
//! Needs nothing but the standard library, so that it starts in seconds and
//! before anything that it has to install.

mod bundle;
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
  bundle   build the plugin as CLAP and VST3 into target/bundled
  install  the same, and copy both to your plugin folders

All install missing Debian packages first, with sudo when you are not root.
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let done = match arguments.first().map(String::as_str) {
        Some("demo") => demo::run(),
        Some("test") => test::run(),
        Some("bundle") => bundle::bundle(&arguments[1..]),
        Some("install") => bundle::install(&arguments[1..]),
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
