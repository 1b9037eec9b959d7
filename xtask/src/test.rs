//! `cargo xtask test`: everything that must hold before a change is handed in.

use crate::steps::{Done, cargo, step, works};
use crate::{outside, packages};

/// Runs every check, the quick ones first; stops at the first that fails.
pub fn run() -> Done {
    packages::provide(packages::BUILD)?;
    packages::provide(packages::WINDOW)?;
    components()?;
    step("Format", &mut cargo(&["fmt", "--all", "--check"]))?;
    step("Lints", &mut cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))?;
    // Alone, so that no other crate's features or dependencies hold it up.
    step("Core alone", &mut cargo(&["build", "--package", "sinistra-core"]))?;
    // The tests run the binary and load the plugin, and measure both beside bare
    // pass-throughs: all must be there, and be these. Everything in one go: parts
    // alone would have their dependencies built anew, with other features.
    step("Build", &mut cargo(&["build", "--workspace", "--all-targets"]))?;
    step("Tests", &mut cargo(&["test", "--workspace", "--all-targets", "--no-fail-fast"]))?;
    step("Tests in the docs", &mut cargo(&["test", "--workspace", "--doc"]))?;
    step("Docs", cargo(&["doc", "--workspace", "--no-deps"]).env("RUSTDOCFLAGS", "-D warnings"))?;
    let skipped = outside::run()?;
    println!();
    match skipped {
        None => println!("All checks passed."),
        Some(why) => println!(
            "All checks passed but one, which was NOT RUN: the checks against other \
             libraries (tests/outside): {why}"
        ),
    }
    Ok(())
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
