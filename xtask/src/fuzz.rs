//! `cargo xtask fuzz [TARGET] [--minutes N]`: throws at every reader, and at the
//! engine, what nobody would write (`fuzz/`).
//!
//! Without a sanitizer: none of our code is unsafe, and so it takes no nightly
//! compiler. Kept cases lie in `fuzz/corpus`; what is found beyond them, and what
//! breaks something, in `target/fuzz`.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::folders;
use crate::packages::{self, Need, need};
use crate::steps::{Done, cargo, root, step, target};

pub const NEEDS: &[Need] = &[need("g++", "builds the fuzzer's library", &["c++", "--version"])];

/// How many run at once: as CI has cores.
const AT_ONCE: usize = 2;
/// What one may take, MiB.
const MEMORY: u32 = 1024;
/// What one case may take, seconds.
const LONGEST: u32 = 10;

/// What was asked for.
#[derive(Debug, PartialEq, Eq)]
pub struct Wanted {
    /// Empty for all.
    pub names: Vec<String>,
    pub time: Duration,
}

impl Wanted {
    /// Reads `[TARGET…] [--minutes N]`.
    ///
    /// # Errors
    /// What was not understood.
    pub fn read(words: &[String]) -> Result<Self, String> {
        let mut wanted = Self { names: Vec::new(), time: Duration::from_secs(60) };
        let mut words = words.iter();
        while let Some(word) = words.next() {
            if word == "--minutes" {
                let minutes = words.next().and_then(|n| n.parse::<f64>().ok());
                let minutes = minutes.filter(|n| (0.1..=10_000.0).contains(n));
                let minutes = minutes.ok_or("--minutes is followed by how many, such as 60")?;
                wanted.time = Duration::from_secs_f64(minutes * 60.0);
            } else if names()?.contains(word) {
                wanted.names.push(word.clone());
            } else {
                return Err(format!("`{word}` is no target; there are {}", names()?.join(", ")));
            }
        }
        Ok(wanted)
    }
}

/// The targets.
fn names() -> Result<Vec<String>, String> {
    let files = folders::names(&root().join("fuzz/targets"))?;
    Ok(files.iter().filter_map(|file| Some(file.strip_suffix(".rs")?.to_owned())).collect())
}

/// Builds them and runs each for its time.
///
/// # Errors
/// Which broke, and where the case lies.
pub fn run(wanted: &Wanted) -> Done {
    packages::provide(NEEDS)?;
    let built = build()?;
    let all = names()?;
    let names: Vec<_> = if wanted.names.is_empty() { all } else { wanted.names.clone() };
    let mut broken = Vec::new();
    for some in names.chunks(AT_ONCE) {
        let begun: Vec<_> = some
            .iter()
            .map(|name| Ok((name, begin(&built, name, wanted.time)?)))
            .collect::<Result<_, String>>()?;
        for (name, child) in begun {
            let out = child.wait_with_output().map_err(|e| e.to_string())?;
            let said = String::from_utf8_lossy(&out.stderr).into_owned();
            println!("{name}: {}", told(&said));
            if !out.status.success() {
                broken.push(format!("{name}:\n{}", why(&said)));
            }
        }
    }
    if broken.is_empty() { Ok(()) } else { Err(broken.join("\n\n")) }
}

/// With coverage, by cargo-fuzz; the folder of the programs.
///
/// # Errors
/// If they do not build.
pub fn build() -> Result<PathBuf, String> {
    let tools = target().join("tools");
    let tool = tools.join("bin").join(format!("cargo-fuzz{}", std::env::consts::EXE_SUFFIX));
    if !tool.exists() {
        let mut install = cargo(&["install", "cargo-fuzz", "--version", "0.13.2", "--locked"]);
        // It only calls cargo: built quickly, it is as good.
        step("cargo-fuzz", install.args(["--quiet", "--debug", "--root"]).arg(&tools))?;
    }
    let home = target().join("fuzz");
    // As a subcommand of the cargo in use.
    let mut build = cargo(&["fuzz", "build", "--fuzz-dir", "fuzz", "--sanitizer", "none"]);
    build.args(["--no-cfg-fuzzing", "--target-dir"]).arg(&home);
    let path = std::env::var_os("PATH").unwrap_or_default();
    let path = std::env::join_paths(
        std::iter::once(tools.join("bin")).chain(std::env::split_paths(&path)),
    );
    step("Build the fuzzers", build.env("PATH", path.map_err(|e| e.to_string())?))?;
    let triple = format!("{}-unknown-linux-gnu", std::env::consts::ARCH);
    Ok(home.join(triple).join("release"))
}

fn begin(built: &Path, name: &str, time: Duration) -> Result<Child, String> {
    let home = target().join("fuzz");
    let (found, broken) = (home.join("found").join(name), home.join("broken").join(name));
    folders::make(&found)?;
    folders::make(&broken)?;
    let mut command = Command::new(built.join(name));
    command.arg(found);
    let ours = match name {
        "chart" => "presets/charts",
        "pattern" => "presets/patterns",
        _ => "presets/takes",
    };
    let kept = [PathBuf::from("fuzz/corpus").join(name), ours.into()];
    command.args(kept.map(|kept| root().join(kept)).iter().filter(|kept| kept.is_dir()));
    command
        .arg(format!("-max_total_time={}", time.as_secs()))
        .arg(format!("-rss_limit_mb={MEMORY}"))
        .arg(format!("-timeout={LONGEST}"))
        .arg(format!("-artifact_prefix={}/", broken.display()))
        .args(["-print_final_stats=1", "-seed=1"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|e| format!("{name}: {e}"))
}

/// Cases and coverage, of all that libFuzzer says.
fn told(said: &str) -> String {
    let cases = said.lines().find_map(|line| line.strip_prefix("stat::number_of_executed_units:"));
    let covered = said.lines().rev().find_map(|line| line.split("cov: ").nth(1));
    let covered = covered.and_then(|rest| rest.split(' ').next());
    format!("{} cases, {} places reached", cases.unwrap_or("?").trim(), covered.unwrap_or("?"))
}

/// What broke, of all that libFuzzer says: from the panic on if there was one, without
/// the calls that led to it, and the end, which has the case's file.
fn why(said: &str) -> String {
    let lines: Vec<_> = said.lines().collect();
    let (rest, end) = lines.split_at(lines.len().saturating_sub(10));
    let panic = rest.iter().skip_while(|line| !line.contains("panicked at"));
    let panic = panic.take_while(|line| !line.starts_with("stack backtrace"));
    panic.chain(end).copied().collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(words: &[&str]) -> Result<Wanted, String> {
        Wanted::read(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())
    }

    #[test]
    fn targets_and_minutes_are_read() {
        let wanted = read(&["chart", "--minutes", "2"]).expect("understood");
        assert_eq!(wanted, Wanted { names: vec!["chart".into()], time: Duration::from_secs(120) });
        assert!(read(&["chrat"]).is_err_and(|told| told.contains("there are chart, ")));
        assert!(read(&["--minutes", "x"]).is_err());
    }

    #[test]
    fn what_a_fuzzer_says_is_told_in_short() {
        let said = "#9 NEW    cov: 12 ft: 3\n#12 DONE   cov: 34 ft: 5 corp: 1\n\
                    stat::number_of_executed_units: 77\n";
        assert_eq!(told(said), "77 cases, 34 places reached");
    }

    #[test]
    fn of_what_broke_the_panic_and_the_end_are_told() {
        let calls: String = (0..40).map(|n| format!("{n}: call\n")).collect();
        let end = "unit written to x\n";
        let panicked =
            format!("#9 NEW\nthread panicked at a.rs:1\nleft: 1\nstack backtrace:\n{calls}{end}");
        let told = why(&panicked);
        assert!(told.starts_with("thread panicked at a.rs:1\nleft: 1\n31: call\n"), "{told}");
        assert!(told.ends_with(end.trim()), "{told}");
        assert!(why(&format!("#9 NEW\n{calls}{end}")).ends_with(end.trim()));
    }
}
