//! `cargo xtask test`: everything that must hold before a change is handed in.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::Duration;

use crate::ahead::BuildsAhead;
use crate::fuzz::{self, Wanted};
use crate::steps::{Done, cargo, step, works};
use crate::{arrows, elsewhere, outside, package, packages, page, races};

/// Runs every check, the quick ones first; stops at the first that fails.
pub fn run() -> Done {
    packages::provide(packages::BUILD)?;
    packages::provide(packages::WINDOW)?;
    // All the rest at once: one list, one wait. What cannot be had is told where it is
    // needed, and what needs it is left out, but not under CI.
    let rest = [packages::OUTSIDE, fuzz::NEEDS, page::NEEDS, package::NEEDS].concat();
    let rest = packages::provide(&[rest, elsewhere::needs()].concat());
    components()?;
    step("Format", &mut cargo(&["fmt", "--all", "--check"]))?;
    step("Lints", &mut cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))?;
    arrows::check()?;
    // Alone, so that no other crate's features or dependencies hold it up: it has
    // no standard library only then.
    step("Core alone", &mut cargo(&["check", "--package", "sinistra-core"]))?;
    // The tests run the binary and load the plugin, and measure both beside bare
    // pass-throughs: all must be there, and be these. Everything in one go: parts
    // alone would have their dependencies built anew, with other features.
    step("Build", &mut cargo(&["build", "--workspace", "--all-targets"]))?;
    let _ahead = rest.is_ok().then(BuildsAhead::begin);
    step("Tests", &mut cargo(&["test", "--workspace", "--all-targets", "--no-fail-fast"]))?;
    step("Tests in the docs", &mut cargo(&["test", "--workspace", "--doc"]))?;
    step("Docs", cargo(&["doc", "--workspace", "--no-deps"]).env("RUSTDOCFLAGS", "-D warnings"))?;
    let mut skipped = vec![
        ("the checks against other libraries (tests/outside)", outside::run()?),
        ("the checks of the page (tests/page)", page::run(None)?),
        ("the types for macOS", elsewhere::macos()?),
    ];
    fuzz::run(&Wanted { names: Vec::new(), time: Duration::from_secs(30) })?;
    races::run()?;
    // Last, when all is built and nothing else runs.
    skipped.push(("the checks in real time (tests/outside)", outside::in_real_time()?));
    println!();
    println!("All checks that were run passed.");
    for (what, why) in skipped {
        if let Some(why) = why {
            println!("NOT RUN: {what}: {why}");
        }
    }
    Ok(())
}

/// Runs the tests whose names have `filter` in them.
///
/// # Errors
/// If one fails, or if there is none.
pub fn some(filter: &str) -> Done {
    packages::provide(packages::BUILD)?;
    let mut found = 0;
    let outside = outside::names()?.iter().any(|name| name.contains(filter));
    if outside {
        step("Build", &mut cargo(&["build", "--workspace", "--all-targets"]))?;
        outside::run_some(filter)?;
        found += 1;
    }
    if page::names()?.iter().any(|name| name.contains(filter)) {
        step("Build the program", &mut cargo(&["build", "--package", "sinistra"]))?;
        if let Some(why) = page::run(Some(filter))? {
            println!("NOT RUN: the checks of the page: {why}");
        }
        found += 1;
    }
    // All packages, as in the whole run: parts alone would have their
    // dependencies built anew, with other features.
    let tests = ["test", "--workspace", "--no-fail-fast", "--", filter];
    found += counted(&mut cargo(&tests))?;
    match found {
        0 => Err(format!("There is no test with `{filter}` in its name.")),
        _ => Ok(()),
    }
}

/// Runs cargo's tests; how many there were. Test programs without one are not
/// shown.
fn counted(tests: &mut Command) -> Result<usize, String> {
    let failed = |error: std::io::Error| format!("cargo cannot be run: {error}");
    let mut child = tests.stdout(Stdio::piped()).spawn().map_err(failed)?;
    let (mut count, mut shown) = (0, false);
    for line in child.stdout.take().map(BufReader::new).into_iter().flat_map(BufRead::lines) {
        let line = line.map_err(failed)?;
        if let Some(rest) = line.strip_prefix("running ") {
            let number = rest.split(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0);
            shown = number > 0;
            count += number;
        }
        if shown && !line.is_empty() {
            println!("{line}");
        }
    }
    let status = child.wait().map_err(failed)?;
    if status.success() { Ok(count) } else { Err("A test failed.".into()) }
}

/// A minimal toolchain lacks the formatter and the lints.
fn components() -> Done {
    for (component, subcommand) in [("rustfmt", "fmt"), ("clippy", "clippy")] {
        if !works("cargo", &[subcommand, "--version"]) {
            step(
                &format!("Adding {component} to the toolchain"),
                crate::steps::program("rustup").args(["component", "add", component]),
            )?;
        }
    }
    Ok(())
}
