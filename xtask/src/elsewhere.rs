//! What people install, built for each system, and the other systems as far as they can
//! be tried from here: for Windows built (and run under Wine by
//! `tests/outside/test_windows.py`), for macOS type-checked.

use std::path::PathBuf;
use std::process::{Child, Stdio};

use crate::bundle::Profile;
use crate::packages::{self, Need, need};
use crate::steps::{Done, nameless, program, step};
use crate::system::System;
use crate::target::{self, cargo_for};
use crate::{fuzz, package, system, test, web};

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
    // What is only checked is built with all that checks it: parts alone would have
    // their dependencies built anew, with other features.
    if profile == Profile::Debug && system == System::here() {
        build.args(["--workspace", "--all-targets"]);
    } else {
        build.args(PACKAGES.map(|name| format!("--package={name}")));
        match profile {
            Profile::Debug => build.args(["--lib", "--bins", "--test", "clap"]),
            Profile::Release => build.arg("--release"),
        };
    }
    if profile == Profile::Release {
        nameless(&mut build, &[]);
        build.env("SOURCE_DATE_EPOCH", package::epoch()?);
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

/// Begins to build what later checks need, on what the checks before leave of the
/// processors: many of those wait for the clock or run one at a time. Whatever is not
/// built when it is needed, or does not build, that step builds itself, and shows.
pub struct BuildsAhead(Option<Child>);

impl BuildsAhead {
    /// The task that is run for it.
    pub const TASK: &str = "ahead";

    pub fn begin() -> Self {
        let mut builds = program("nice");
        builds.args(["-n", "19"]).args(std::env::current_exe().ok()).arg(Self::TASK);
        builds.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        Self(builds.spawn().ok())
    }
}

impl Drop for BuildsAhead {
    /// Where a check failed nothing more is begun.
    fn drop(&mut self) {
        if let Some(mut child) = self.0.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// Builds it, in the order in which it is needed.
///
/// # Errors
/// The first that does not build.
pub fn build_ahead() -> Done {
    windows()?;
    web::compile()?;
    // Not macOS: it would keep the folder in which packages are built.
    fuzz::build()?;
    test::build_races()
}

/// What is not to be had on this machine is told, and an error under CI.
fn at_home<T>(ready: Result<T, String>) -> Result<Result<T, String>, String> {
    match ready {
        Err(why) if std::env::var_os("CI").is_some() => Err(why),
        other => Ok(other),
    }
}
