//! Checks against other people's libraries: `tests/outside`, under pytest.

use std::path::PathBuf;
use std::process::Command;

use crate::steps::{Done, binary, program, root, step, target, works};
use crate::{elsewhere, packages, web};

/// Some of the checks, and what pytest is told of how.
struct Turn<'a> {
    name: &'a str,
    choice: &'a [&'a str],
    /// Whether the program built for Windows is among what they try.
    windows: bool,
    /// Whether a DAW is.
    daw: bool,
}

/// Runs those that look at no clock on the wall, two at once. `Ok(Some(why))` when they
/// could not run on this machine, which is allowed at home and an error under CI.
pub fn run() -> Result<Option<String>, String> {
    turn(Turn {
        name: "Checks against other libraries",
        choice: &["-m", "not real_time", "-n", "2", "--dist", "loadfile"],
        windows: true,
        daw: true,
    })
}

/// Runs the others, which have the machine to themselves.
pub fn in_real_time() -> Result<Option<String>, String> {
    let choice = &["-m", "real_time"];
    turn(Turn { name: "Checks in real time", choice, windows: false, daw: false })
}

/// Runs those whose names have `filter` in them.
///
/// # Errors
/// If one fails, or none could be run.
pub fn run_some(filter: &str) -> Done {
    let windows = names()?.iter().any(|name| name.contains("windows") && name.contains(filter));
    let choice = &["-k", filter];
    match turn(Turn { name: "Checks against other libraries", choice, windows, daw: true })? {
        None => Ok(()),
        Some(why) => Err(why),
    }
}

/// The names of all, as `file::test`.
pub fn names() -> Result<Vec<String>, String> {
    let folder = root().join("tests/outside");
    let failed = |error: std::io::Error| format!("{}: {error}", folder.display());
    let mut names = Vec::new();
    for file in std::fs::read_dir(&folder).map_err(failed)? {
        let path = file.map_err(failed)?.path();
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        if stem.starts_with("test_") && path.extension().is_some_and(|end| end == "py") {
            let text = std::fs::read_to_string(&path).map_err(failed)?;
            let tests = text.lines().filter_map(|line| line.trim().strip_prefix("def test_"));
            let name = |rest: &str| rest.split('(').next().unwrap_or_default().to_owned();
            names.extend(tests.map(|rest| format!("{stem}::test_{}", name(rest))));
        }
    }
    Ok(names)
}

fn turn(Turn { name, choice, windows, daw }: Turn) -> Result<Option<String>, String> {
    let python = match environment() {
        Ok(python) => python,
        Err(why) if std::env::var_os("CI").is_none() => return Ok(Some(why)),
        Err(why) => return Err(format!("{why}\nUnder CI these checks must run.")),
    };
    if daw && let Err(why) = packages::provide(packages::DAW) {
        println!("! NOT CHECKED IN A DAW: {why}");
    }
    let mut program = PathBuf::new();
    if windows {
        program = elsewhere::windows()?.unwrap_or_default();
        // It is packed as well: a check does not wait for a compiler.
        let _ = web::compile();
    }
    let mut checks = in_memory_of_its_own();
    checks
        .arg(&python)
        .args(["-m", "pytest", "-v", "-p", "no:cacheprovider", "--durations=10"])
        .args(choice)
        .arg("tests/outside")
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .env("SINISTRA", binary("debug"))
        .env("SINISTRA_WINDOWS", program)
        .env("SINISTRA_XTASK", std::env::current_exe().map_err(|e| e.to_string())?);
    step(name, &mut checks)?;
    Ok(None)
}

/// Runs what it is given with shared memory of its own, where the system lets us:
/// JACK keeps a list of at most eight servers there, for the whole machine, and one
/// that was killed stays in it.
fn in_memory_of_its_own() -> Command {
    let words =
        ["--mount", "--ipc", "sh", "-c", "mount -t tmpfs none /dev/shm && exec \"$@\"", "sh"];
    let mut alone = program("unshare");
    alone.args(words);
    let may = works("unshare", &[&words[..], &["true"]].concat());
    if may { alone } else { program("env") }
}

/// A Python of our own in the target folder, with the libraries that
/// `tests/outside/requirements.txt` names.
fn environment() -> Result<PathBuf, String> {
    packages::provide(packages::OUTSIDE)?;
    packages::provide(packages::WINDOW)?;
    python("outside-venv", "tests/outside/requirements.txt")
}

/// A Python in the folder `home` of the target folder, with the libraries of
/// the list `wanted`.
pub fn python(home: &str, wanted: &str) -> Result<PathBuf, String> {
    let home = target().join(home);
    let python = home.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    if !python.exists() {
        let made: Done =
            step("A Python of our own", program("python3").args(["-m", "venv"]).arg(&home));
        made?;
    }
    let list = root().join(wanted);
    let wanted = std::fs::read_to_string(&list).map_err(|e| format!("{}: {e}", list.display()))?;
    let stamp = home.join("installed.txt");
    if std::fs::read_to_string(&stamp).is_ok_and(|installed| installed == wanted) {
        return Ok(python);
    }
    step(
        "Its libraries",
        program(&python)
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"])
            .arg(&list),
    )?;
    std::fs::write(&stamp, wanted).map_err(|e| format!("{}: {e}", stamp.display()))?;
    Ok(python)
}
