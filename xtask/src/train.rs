//! Learns the models anew, with pinned packages: `tools` says from what.

use std::path::Path;

use crate::outside::python;
use crate::packages;
use crate::steps::{Done, cargo, program, root, step, target};

/// Learns one of them from the open data in the folder `data`.
///
/// # Errors
/// If there is no such model or folder, or learning fails; the files of before
/// are then as they were.
pub fn run(name: &str, data: &str) -> Done {
    let data = std::path::absolute(data).map_err(|e| format!("{data}: {e}"))?;
    if !data.join("chord-sequences.jsonl.gz").exists() {
        return Err(format!(
            "{}: there is no chord-sequences.jsonl.gz; tests/data/README.md says what \
             the data are",
            data.display()
        ));
    }
    packages::provide(packages::OUTSIDE)?;
    let list = match name {
        "foresight" | "ear" => "tools/requirements-torch.txt",
        _ => "tools/requirements.txt",
    };
    let python = python("train-venv", list)?;
    let learn = |script: &str, rest: &[&Path]| {
        step(&format!("Learn: {script}"), program(&python).arg(script).args(rest))
    };
    match name {
        "key" => learn("tools/hear/train_key.py", &[&data]),
        "bars" => learn("tools/hand/learn_bars.py", &[&data, &root().join("core/models")]),
        "naming" => {
            learn("tools/hear/train_naming.py", &[&data])?;
            learn("tools/hear/train_sets.py", &[&data])
        }
        "foresight" => learn("tools/foresight/train.py", &[&data.join("chord-sequences.jsonl.gz")]),
        "ear" => {
            let example = ["build", "--release", "-p", "sinistra-tests", "--example", "hearing"];
            step("Build", &mut cargo(&example))?;
            let hearing = target().join("release/examples/hearing");
            let work = target().join("ear");
            learn("tools/hear/train_ear.py", &[&data, &hearing, &work])?;
            learn("tools/hear/train_ear.py", &[Path::new("--write"), &data, &work])
        }
        "next" => next(&data, learn),
        _ => Err(format!("There is no model `{name}`: key, naming, foresight, ear, next or bars.")),
    }
}

/// What comes next, from what the engine believed in each song: real right hands and
/// three made-up players, by the ears that `train ear` left in the target folder.
///
/// # Errors
/// If it has not been run there.
fn next(data: &Path, learn: impl Fn(&str, &[&Path]) -> Done) -> Done {
    let work = target().join("ear");
    if !work.join("songs.txt").exists() {
        return Err(format!("{}: run `cargo xtask train ear` first", work.display()));
    }
    let example = ["build", "--release", "-p", "sinistra-tests", "--example"];
    step("Build", cargo(&example).arg("song_figures"))?;
    let figures = target().join("release/examples/song_figures");
    let mut all = vec![work.clone()];
    for player in ["", "1", "2", "3"] {
        let rows = work.join(format!("next-{player}.rows"));
        let mut look = program(&figures);
        look.arg(data).args(["everything-mixed", "--learned"]).arg(&work);
        if !player.is_empty() {
            look.args(["--player", player]);
        }
        step("Look at the songs", look.arg("--rows").arg(&rows))?;
        all.push(rows);
    }
    let all: Vec<&Path> = all.iter().map(|path| path.as_path()).collect();
    learn("tools/hear/train_next.py", &all)?;
    learn("tools/hear/train_next.py", &[Path::new("--write"), data, &work])
}
