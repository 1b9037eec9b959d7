//! Runs other programs, a named step each.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

/// What a task gives back: nothing, or what to tell the user.
pub type Done = Result<(), String>;

/// The repository's root.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}

/// The target folder in use: this program lies in `<target>/<profile>/`.
pub fn target() -> PathBuf {
    std::env::current_exe()
        .ok()
        .and_then(|exe| exe.parent()?.parent().map(Path::to_path_buf))
        .unwrap_or_else(|| root().join("target"))
}

/// The `sinistra` binary of a profile's folder, `debug` or `release`.
pub fn binary(profile: &str) -> PathBuf {
    target().join(profile).join(format!("sinistra{}", std::env::consts::EXE_SUFFIX))
}

/// A program to be run in the root of the repository.
pub fn program(name: impl AsRef<std::ffi::OsStr>) -> Command {
    let mut command = Command::new(name);
    command.current_dir(root());
    command
}

/// The cargo that runs this program.
pub fn cargo(arguments: &[&str]) -> Command {
    let mut command = program(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.args(arguments);
    // The inner cargo builds for its packages, not for this one.
    for (name, _) in std::env::vars_os() {
        if name.to_string_lossy().starts_with("CARGO_PKG_") {
            command.env_remove(name);
        }
    }
    command.env_remove("CARGO_MANIFEST_DIR").env_remove("CARGO_MANIFEST_PATH");
    command
}

/// The time of the last commit, seconds since 1970.
///
/// # Errors
/// If there is no git.
pub fn epoch() -> Result<String, String> {
    let asked = program("git").args(["log", "-1", "--format=%ct"]).output();
    let out = asked.map_err(|e| format!("git: {e}"))?;
    let time = String::from_utf8_lossy(&out.stdout).trim().to_owned();
    if time.is_empty() { Ok("1700000000".into()) } else { Ok(time) }
}

/// Has what `cargo` builds name no folder of this machine and no other time than
/// [`epoch`], so that it is the same bytes wherever and whenever it is built; `flags` are
/// for the compiler beside.
///
/// # Errors
/// As [`epoch`].
pub fn nameless(cargo: &mut Command, flags: &[&str]) -> Done {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| Some(std::env::home_dir()?.join(".cargo")));
    let named = [(Some(root()), "/sinistra"), (Some(target()), "/built"), (home, "/cargo")];
    let renamed = named.iter().filter_map(|(folder, to)| {
        Some(format!("--remap-path-prefix={}={to}", folder.as_ref()?.display()))
    });
    let flags: Vec<_> = flags.iter().map(|flag| (*flag).to_owned()).chain(renamed).collect();
    cargo.env("CARGO_ENCODED_RUSTFLAGS", flags.join("\u{1f}"));
    cargo.env("SOURCE_DATE_EPOCH", epoch()?);
    Ok(())
}

/// Whether a program runs and ends well, with nothing printed.
pub fn works(name: &str, arguments: &[&str]) -> bool {
    program(name)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Runs a step under its name, with its own output.
pub fn step(name: &str, command: &mut Command) -> Done {
    println!("\n== {name}");
    let start = Instant::now();
    let status = command
        .status()
        .map_err(|e| format!("{name}: cannot run {}: {e}", command.get_program().display()))?;
    if status.success() {
        println!("== {name}: done in {:.0} s", start.elapsed().as_secs_f32());
        Ok(())
    } else {
        Err(format!("{name}: failed ({status})"))
    }
}
