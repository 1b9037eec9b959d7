//! The other systems, as far as they can be tried from here: for Windows built (and
//! run under Wine by `tests/outside/test_windows.py`), for macOS type-checked.

use std::path::PathBuf;

use crate::packages::{self, Need, need};
use crate::steps::step;
use crate::system::System;
use crate::target::cargo_for;

/// What people install.
pub const PACKAGES: [&str; 2] = ["sinistra", "sinistra-plugin"];

const APPLE: [&str; 2] = ["aarch64-apple-darwin", "x86_64-apple-darwin"];

const WINE: &[Need] = &[need("wine", "runs programs for Windows", &["wine", "--version"])];

/// Program, plugin and the plugin's test host for Windows; the program, beside whose
/// folder `deps` the others lie, or nothing where what it takes is not to be had, which
/// is allowed at home.
///
/// # Errors
/// If it does not build.
pub fn windows() -> Result<Option<PathBuf>, String> {
    let ready = packages::provide(WINE).and_then(|()| System::Windows.cargo("build"));
    let (mut build, folder) = match at_home(ready)? {
        Ok(ready) => ready,
        Err(why) => {
            println!("! NOT CHECKED FOR WINDOWS: {why}");
            return Ok(None);
        }
    };
    build.args(PACKAGES.map(|name| format!("--package={name}")));
    step("Build for Windows", build.args(["--lib", "--bins", "--test", "clap"]))?;
    Ok(Some(folder.join("debug").join("sinistra.exe")))
}

/// `Ok(Some(why))` where it could not be tried, which is allowed at home.
///
/// # Errors
/// If the types do not fit.
pub fn macos() -> Result<Option<String>, String> {
    let mut check = match at_home(cargo_for(&APPLE, "check"))? {
        Ok(check) => check,
        Err(why) => return Ok(Some(why)),
    };
    check.args(PACKAGES.map(|name| format!("--package={name}")));
    step("Types for macOS, Apple silicon and Intel", &mut check)?;
    Ok(None)
}

/// What is not to be had on this machine is told, and an error under CI.
fn at_home<T>(ready: Result<T, String>) -> Result<Result<T, String>, String> {
    match ready {
        Err(why) if std::env::var_os("CI").is_some() => Err(why),
        other => Ok(other),
    }
}
