//! `cargo xtask dearest`: what the dearest blocks cost in instructions
//! (`tests/examples/dearest`).

use crate::packages::{self, Need, need};
use crate::steps::{Done, cargo, program, step, target};

const NEEDS: &[Need] = &[need("valgrind", "counts instructions", &["valgrind", "--version"])];

/// As the bench is built, but with the names of functions.
const BUILD: &[&str] = &[
    "build",
    "--profile",
    "bench",
    "--package",
    "sinistra-tests",
    "--example",
    "dearest",
    "--config",
    "profile.bench.strip=\"none\"",
    "--config",
    "profile.bench.debug=\"line-tables-only\"",
];

/// Builds it and runs it under callgrind; `words` are for it.
///
/// # Errors
/// What failed.
pub fn run(words: &[String]) -> Done {
    packages::provide(NEEDS)?;
    step("Build", &mut cargo(BUILD))?;
    let folder = target().join("dearest");
    std::fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let counted = "dearest::count::counted_block";
    let mut valgrind = program("valgrind");
    valgrind
        .args(["--quiet", "--tool=callgrind"])
        .args(["toggle-collect", "zero-before", "dump-after"].map(|o| format!("--{o}={counted}")))
        .arg(format!("--callgrind-out-file={}", folder.join("blocks").display()))
        .arg(target().join("release/examples/dearest"))
        .arg(&folder)
        .args(words);
    step("Count", &mut valgrind)
}
