//! `cargo xtask demo | test | bundle | install`: set-up and checks on a fresh machine.
//!
//! Needs nothing but the standard library, so that it starts in seconds and
//! before anything that it has to install.

mod ahead;
mod arrows;
mod bundle;
mod dearest;
mod demo;
mod elsewhere;
mod folders;
mod fuzz;
mod outside;
mod package;
mod packages;
mod page;
mod races;
mod serve;
mod steps;
mod system;
mod target;
mod test;
mod train;
mod web;

use std::process::ExitCode;

use bundle::Profile;

const USAGE: &str = "\
Usage: cargo xtask TASK

  demo     build, play a chart and give a recorded right hand its left hand;
           files go to target/demo
  test     format, lints, all tests, docs, core alone, benches compiled, races,
           the fuzzers for half a minute each, and the checks against other
           programs' libraries (tests/outside) and of the page;
           test FILTER runs the tests alone whose names have FILTER in them, in
           Rust and in tests/outside
  train    NAME DATA: learn what the program knows of songs anew, from open data
           (key, naming, foresight, ear, next or bars; see tools/ and core/models)
  bundle   build the plugin as CLAP and VST3 into target/bundled
  install  the same, and copy both to your plugin folders; behind either,
           --debug builds a plugin that checks itself, and is slow
  fuzz     [TARGET…] [--minutes N]: throw nonsense at every reader and at the
           engine, a minute each (fuzz/)
  races    run what threads share without a lock in every order of their steps
  soak     [--hours N]: a gig of 24 hours or so many, as fast as it goes
  dearest  [PART OF A NAME]: what the dearest blocks of the bench's songs cost, in
           instructions; dearest search [MINUTES [SEED]] looks for dearer ones
  web      build the page (a folder of files) into target/web; --serve shows it on
           this computer's loopback address
  package  what users install, into target/packages: for Linux a tarball and a
           Debian package, for Windows a zip (built from here), the page as a zip;
           with licences, a bill of materials and checksums; package linux,
           windows or page makes that one alone; --debug as above, for checks, into
           target/debug/packages

demo, test and web install missing Debian packages first, with sudo when you are not
root.
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (task, rest) = match arguments.split_first() {
        Some((task, rest)) => (task.as_str(), rest),
        None => ("", &[][..]),
    };
    if let ("demo", [first, ..]) | ("test", [_, first, ..]) = (task, rest) {
        return not_understood(&format!("`{first}` makes no sense here"));
    }
    let (options, kinds): (Vec<String>, Vec<String>) = match task {
        "bundle" | "install" => (rest.to_vec(), Vec::new()),
        "package" => rest.iter().cloned().partition(|word| word.starts_with("--")),
        _ => (Vec::new(), Vec::new()),
    };
    let profile = match Profile::read(&options) {
        Ok(profile) => profile,
        Err(message) => return not_understood(&message),
    };
    let done = match task {
        "demo" => demo::run(),
        "test" => match rest.first() {
            Some(filter) => test::some(filter),
            None => test::run(),
        },
        "train" => match rest {
            [name, data] => train::run(name, data),
            _ => return not_understood("What is to be learned, and the folder of the data"),
        },
        "fuzz" => match fuzz::Wanted::read(rest) {
            Ok(wanted) => fuzz::run(&wanted),
            Err(message) => return not_understood(&message),
        },
        "races" => races::run(),
        ahead::BuildsAhead::TASK => ahead::build(),
        "soak" => soak(rest),
        "dearest" => dearest::run(rest),
        "web" => web_task(rest),
        "package" => package::run(&kinds, profile),
        "bundle" => bundle::bundle(profile),
        "install" => bundle::install(profile),
        "help" | "--help" | "-h" => {
            print!("{USAGE}");
            Ok(())
        }
        "" => return not_understood("A task is missing"),
        other => return not_understood(&format!("There is no task `{other}`")),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("\n{message}");
            ExitCode::FAILURE
        }
    }
}

/// Builds the page, and serves it if asked to; `--built` serves what is there.
fn web_task(rest: &[String]) -> steps::Done {
    let words: Vec<&str> = rest.iter().map(String::as_str).collect();
    match words.as_slice() {
        [] => web::build(),
        ["--serve"] => {
            web::build()?;
            serve::serve(&web::folder(), None, true)
        }
        ["--built", port] => serve::serve(&web::folder(), port.parse().ok(), false),
        _ => Err(format!("`{}` makes no sense here; there is --serve", rest.join(" "))),
    }
}

/// Plays for hours (`tests/examples/soak.rs`).
fn soak(rest: &[String]) -> steps::Done {
    let run = ["run", "--release", "--package", "sinistra-tests", "--example", "soak", "--"];
    steps::step("Soak", steps::cargo(&run).args(rest))
}

/// Says what was wrong and what would be right.
fn not_understood(message: &str) -> ExitCode {
    eprint!("{message}\n\n{USAGE}");
    ExitCode::from(2)
}
