//! A teacher's set: a sheet and a MIDI file for every key.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::WrittenKey;
use sinistra_core::play::Pattern;
use sinistra_score::chart::key_name;
use sinistra_score::practice::Exercise;
use sinistra_score::practice::steps::next_key;
use sinistra_score::sheet::Sheet;
use sinistra_score::{Chart, Performance};

use crate::failure::Failure;
use crate::files;
use crate::perform::outputs::{self, HeardHands};
use crate::print::PrintOptions;
use crate::scores;

/// What is written in every key.
pub struct EveryKey<'a> {
    /// In its own key.
    pub chart: &'a Chart,
    /// The pattern's name on the command line.
    pub pattern: &'a str,
    /// All but the key.
    pub settings: Settings,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// How often it is played through.
    pub times: u16,
    /// How it is printed.
    pub print: PrintOptions,
    /// Replace files that are there.
    pub force: bool,
}

/// One performance: what is heard of it, and what is printed.
pub struct WrittenPerformance {
    /// Heard.
    pub performance: Performance,
    /// Printed.
    pub sheet: Sheet,
}

impl EveryKey<'_> {
    /// Plays `chart`, which is the set's in some key, and writes it down.
    pub fn written(
        &self,
        chart: &Chart,
        pattern: Box<Pattern>,
        settings: Settings,
    ) -> WrittenPerformance {
        let mut song = chart.unfold_times(self.times);
        song.tempo = Some(self.tempo);
        let (name, about) = (pattern.name.clone(), pattern.about.clone());
        let performance = Performance::of(song, self.tempo, pattern, settings);
        let sheet = self.print.sheet(&Exercise::of(chart, &performance, &name, &about));
        WrittenPerformance { performance, sheet }
    }
}

/// Writes `TITLE in KEY.musicxml` and `.mid` into `folder` for all twelve keys,
/// around the circle of fifths from the chart's own. Nothing is written if any
/// of the files is there already, unless forced.
///
/// # Errors
/// If a file is in the way, or the disk refuses.
pub fn all_keys(set: &EveryKey<'_>, folder: &Path) -> Result<usize, Failure> {
    let mut keys = vec![set.chart.written_key()];
    while keys.len() < 12 {
        keys.push(next_key(keys[keys.len() - 1].key()).into());
    }
    if folder.exists() && !folder.is_dir() {
        let name = folder.display();
        return Err(Failure::Input(format!("{name}: not a folder; --all-keys writes into one")));
    }
    let paths = |key: WrittenKey| ["musicxml", "mid"].map(|end| path(folder, set.chart, key, end));
    for path in keys.iter().flat_map(|key| paths(*key)) {
        files::may_write(&path, set.force)?;
    }
    std::fs::create_dir_all(folder)
        .map_err(|e| Failure::Machine(format!("{}: cannot make it: {e}", folder.display())))?;
    for (done, key) in keys.iter().enumerate() {
        bar(done, keys.len());
        let chart = set.chart.transpose(*key).unwrap_or_else(|| set.chart.clone());
        let settings = Settings { key: KeyChoice::Fixed(key.key()), ..set.settings };
        let [sheet_path, midi_path] = paths(*key);
        let pattern = scores::pattern(set.pattern)?;
        let WrittenPerformance { performance, sheet } = set.written(&chart, pattern, settings);
        files::write(&sheet_path, sheet.musicxml().0.as_bytes(), set.force)?;
        files::write(
            &midi_path,
            &outputs::midi(&chart, &performance, HeardHands::Both),
            set.force,
        )?;
    }
    bar(keys.len(), keys.len());
    Ok(2 * keys.len())
}

fn path(folder: &Path, chart: &Chart, key: WrittenKey, end: &str) -> PathBuf {
    let plain = |c: char| if c.is_alphanumeric() || " -_'".contains(c) { c } else { '-' };
    let title: String = chart.title().chars().take(80).map(plain).collect();
    folder.join(format!("{} in {}.{end}", title.trim(), key_name(key)))
}

/// How far it is, on a terminal.
fn bar(done: usize, all: usize) {
    let mut screen = std::io::stderr();
    if screen.is_terminal() {
        let filled = "#".repeat(done * 24 / all.max(1));
        let _ = write!(screen, "\r[{filled:<24}] {done} of {all} keys");
        if done == all {
            let _ = writeln!(screen);
        }
        let _ = screen.flush();
    }
}
