//! What people install, built for each system, and the other systems as far as they can
//! be tried from here: for Windows built (and run under Wine by
//! `tests/outside/test_windows.py`), for macOS type-checked.

use std::path::PathBuf;

use crate::bundle::Profile;
use crate::packages::{self, Need, need};
use crate::steps::{nameless, step};
use crate::system::System;
use crate::target::{self, cargo_for};
use crate::{system, web};

/// What people install.
pub const PACKAGES: [&str; 2] = ["sinistra", "sinistra-plugin"];

const APPLE: [&str; 2] = ["aarch64-apple-darwin", "x86_64-apple-darwin"];

/// What the checks of other systems need, besides what builds for this one.
pub fn needs() -> Vec<Need> {
    let triples = [&APPLE[..], &[system::WINDOWS, web::TRIPLE]].concat();
    [WINE, system::MINGW, target::needs(&triples)].concat()
}

const WINE: &[Need] = &[need("wine", "runs programs for Windows", &["wine", "--version"])];

/// Program, plugin and the plugin's test host for Windows; the program, beside whose
/// folder `deps` the others lie, or nothing where what it takes is not to be had, which
/// is allowed at home.
///
/// # Errors
/// If it does not build.
pub fn windows() -> Result<Option<PathBuf>, String> {
    let ready = packages::provide(WINE).and_then(|()| System::Windows.cargo("build"));
    if let Err(why) = at_home(ready)? {
        println!("! NOT CHECKED FOR WINDOWS: {why}");
        return Ok(None);
    }
    Ok(Some(build(System::Windows, Profile::Debug)?.join("sinistra.exe")))
}

/// Builds program and plugin; the folder that they are then in.
///
/// # Errors
/// If they do not build.
pub fn build(system: System, profile: Profile) -> Result<PathBuf, String> {
    let (mut build, folder) = system.cargo("build")?;
    let both = PACKAGES.map(|name| format!("--package={name}"));
    // What is only checked is built with all that checks it: parts alone would have
    // their dependencies built anew, with other features.
    match profile {
        Profile::Debug if system == System::here() => {
            build.args(["--workspace", "--all-targets"]);
        }
        Profile::Debug => {
            build.args(both).args(["--lib", "--bins", "--test", "clap"]);
        }
        Profile::Release => {
            nameless(build.args(both).args(profile.words()), &[])?;
        }
    }
    step(&format!("Build for {}", system.word()), &mut build)?;
    Ok(folder.join(profile.folder()))
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
