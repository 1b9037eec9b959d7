//! Puts what is kept where the player finds it, over nothing else.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use sinistra_core::engine::Settings;

use super::chorus::chorus;
use super::log::TakeLog;
use super::midi_file;
use crate::PatternFile;
use crate::practice::Exercise;
use crate::sheet::engrave::{Layout, pages};
use crate::sheet::svg;

/// Takes that one folder may hold.
const MOST: usize = 9_999;
/// What a kept chorus is made of besides its MIDI file: chart, pattern, sheet.
const KINDS: [&str; 4] = ["mid", "txt", "toml", "svg"];

/// How a file's name ends, and what stands in it.
type KeptFile = (String, Vec<u8>);

/// Writes the last `bars` bars of `log`, played with `settings`, into `folder`, made if
/// need be: a MIDI file of both hands, whose name is given, and beside it what
/// [`keep_chorus`] writes, where a left hand to chords was heard.
///
/// # Errors
/// What went wrong, in a sentence for the player.
pub fn keep(
    log: &TakeLog,
    bars: usize,
    settings: &Settings,
    folder: &Path,
) -> Result<PathBuf, String> {
    let entries = log.read();
    let bytes =
        midi_file(&entries, bars).ok_or("Nothing was played yet while the clock was running.")?;
    write(folder, "Take", |name| {
        let chorus = chorus(&entries, bars, settings, name);
        let paper = chorus.iter().flat_map(|chorus| paper(chorus, name));
        [("mid".to_owned(), bytes)].into_iter().chain(paper).collect()
    })
}

/// Writes a chorus into `folder`, made if need be, to practise it: its chart as a text,
/// its left hand as a pattern file (where that is possible), and its sheet, whose name is
/// given.
///
/// # Errors
/// What went wrong, in a sentence for the player.
pub fn keep_chorus(chorus: &Exercise, folder: &Path) -> Result<PathBuf, String> {
    write(folder, "Chorus", |name| paper(chorus, name))
}

/// The sheet first: its pages, the chart and the pattern.
fn paper(chorus: &Exercise, name: &str) -> Vec<KeptFile> {
    let pages = pages(&chorus.explained_sheet(), &Layout::ALL);
    let numbered = |(n, page)| {
        let end = if n == 0 { "svg".to_owned() } else { format!("{}.svg", n + 1) };
        (end, svg::page(page, name).into_bytes())
    };
    let mut files: Vec<KeptFile> = pages.iter().enumerate().map(numbered).collect();
    files.push(("txt".to_owned(), chorus.chart().to_string().into_bytes()));
    let pattern = PatternFile::kept(chorus.song(), &chorus.left, name);
    files.extend(pattern.map(|pattern| ("toml".to_owned(), pattern.print().into_bytes())));
    files
}

/// Writes files by one name with the first number that is free; the first one's name.
fn write(
    folder: &Path,
    stem: &str,
    files: impl FnOnce(&str) -> Vec<KeptFile>,
) -> Result<PathBuf, String> {
    let failed = |path: &Path, error| format!("{}: {error}", path.display());
    fs::create_dir_all(folder).map_err(|error| failed(folder, error))?;
    let path = |name: &str, end: &str| folder.join(format!("{name}.{end}"));
    let free = |name: &String| KINDS.iter().all(|end| !path(name, end).exists());
    let name = (1..=MOST).map(|number| format!("{stem} {number}")).find(free);
    let name = name.ok_or_else(|| format!("{} is full of takes.", folder.display()))?;
    let mut written = Vec::new();
    for (end, bytes) in files(&name) {
        let path = path(&name, &end);
        let opened = OpenOptions::new().write(true).create_new(true).open(&path);
        let done = opened.and_then(|mut file| {
            written.push(path.clone());
            file.write_all(&bytes).and_then(|()| file.sync_all())
        });
        if let Err(error) = done {
            // Nothing half-written stays.
            written.iter().for_each(|path| drop(fs::remove_file(path)));
            return Err(failed(&path, error));
        }
    }
    written.into_iter().next().ok_or_else(|| "There is nothing to keep.".to_owned())
}

#[cfg(test)]
mod tests {
    use super::super::{LoggedEvent, LoggedStroke, Owner, What};
    use super::*;
    use crate::performance::HandNote;
    use crate::{Chart, Performance, find_pattern};
    use sinistra_core::engine::Message;
    use sinistra_core::pitch::KeyNumber;
    use sinistra_core::play::Role;
    use sinistra_core::time::{Metre, Ticks};
    use std::collections::BTreeSet;

    #[test]
    fn takes_are_numbered_and_none_is_written_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let folder = folder.path().join("Sinistra");
        let (log, settings) = (TakeLog::default(), Settings::default());
        assert!(keep(&log, 8, &settings, &folder).is_err());
        let message = What::Message(Owner::Left, [0x90, 36, 80]);
        log.write(LoggedEvent { at: Ticks(0), what: message });
        log.write(LoggedEvent { at: Ticks(10), what: message });
        let keep = || keep(&log, 8, &settings, &folder).expect("a take");
        let first = keep();
        // A chart or a sheet of the player's by such a name is in the way as well.
        fs::write(folder.join("Take 2.txt"), "mine").expect("a file");
        let names = [first, keep()];
        assert!(names[0].ends_with("Take 1.mid") && names[1].ends_with("Take 3.mid"));
        assert!(midly::Smf::parse(&fs::read(&names[1]).expect("the file")).is_ok());
        assert_eq!(fs::read(folder.join("Take 2.txt")).expect("the file"), b"mine");
    }

    /// What a home logs of a chart that both hands play.
    fn logged(performance: &Performance) -> TakeLog {
        let log = TakeLog::default();
        let mut entries: Vec<LoggedEvent> = Vec::new();
        for bar in performance.song.bars() {
            entries.push(LoggedEvent { at: bar.at, what: What::Bar(bar.metre) });
        }
        entries.extend(performance.left.iter().filter_map(|note| {
            let HandNote { key, role, chord, why, .. } = *note;
            let (role, root, bass, why) = (role?, chord.root, chord.bass, why?);
            let stroke = LoggedStroke { key, role, root, bass, why };
            Some(LoggedEvent { at: note.sounds.0, what: What::Stroke(stroke) })
        }));
        let right = crate::performance::messages(&performance.right);
        for (owner, messages) in [(Owner::Right, right), (Owner::Left, performance.left_messages())]
        {
            entries.extend(messages.iter().map(|(at, message)| {
                let bytes = match *message {
                    Message::On { key, velocity, .. } => [0x90, key.number(), velocity],
                    Message::Off { key, velocity, .. } => [0x80, key.number(), velocity],
                    Message::Control { controller, value, .. } => [0xB0, controller, value],
                };
                LoggedEvent { at: *at, what: What::Message(owner, bytes) }
            }));
        }
        entries.sort_by_key(|entry| entry.at);
        log.write(LoggedEvent { at: Ticks(0), what: What::Tempo(92.0) });
        entries.iter().for_each(|entry| log.write(*entry));
        let end = LoggedEvent { at: performance.song.end(), what: What::Bar(Metre::COMMON) };
        log.write(end);
        log
    }

    #[test]
    fn the_last_bars_of_a_free_hand_are_kept_as_chart_pattern_and_sheet() {
        let text = "title: Kept\nkey: G\nmetre: 4/4\n\n| G | Em | C | D | G | Em | Am | G |\n";
        let chart = Chart::read("kept", text).expect("a chart");
        let free = find_pattern("free-hand").expect("ships").compile().expect("ships");
        let settings = Settings { seed: 3, loose: 0.4, ..Settings::default() };
        let played = Performance::of(chart.unfold(), 92.0, free, settings);
        let folder = tempfile::tempdir().expect("a folder");
        let take = keep(&logged(&played), 4, &settings, folder.path()).expect("a take");
        assert!(take.ends_with("Take 1.mid"));
        let read = |name: &str| fs::read_to_string(folder.path().join(name)).expect(name);
        let kept = Chart::read("Take 1.txt", &read("Take 1.txt")).expect("a chart");
        let names: Vec<_> = kept.symbols().flatten().map(|symbol| symbol.to_string()).collect();
        assert_eq!(names, ["G", "Em", "Am", "G"]);
        assert!(read("Take 1.svg").contains("Take 1") && read("Take 1.svg").contains("Em"));
        // Played anew from the two files, it strikes where it struck, on the tones it had.
        let pattern = PatternFile::compile("Take 1.toml", &read("Take 1.toml")).expect("a pattern");
        let again = Performance::of(kept.unfold(), 92.0, pattern, Settings::default());
        let from = Ticks(4 * 3840);
        let on = |p: &Performance, from: Ticks| -> BTreeSet<(i64, usize)> {
            let notes = p.left.iter().filter(|note| note.at >= from);
            notes.map(|note| ((note.at - from).0, note.key.class().index())).collect()
        };
        let (was, is) = (on(&played, from), on(&again, Ticks::ZERO));
        let both = was.intersection(&is).count();
        assert!(was.len() >= 6 && both * 100 >= was.len() * 80, "{was:?}\n{is:?}");
    }

    #[test]
    fn a_kept_take_has_the_bass_after_a_slash_and_says_why() {
        let text = "title: Kept\nkey: C\nmetre: 4/4\n\n| C | C/E | F | G/B | C | Am | F | C |\n";
        let chart = Chart::read("kept", text).expect("a chart");
        let free = find_pattern("free-hand").expect("ships").compile().expect("ships");
        let settings = Settings { seed: 5, ..Settings::default() };
        let played = Performance::of(chart.unfold(), 92.0, free, settings);
        let folder = tempfile::tempdir().expect("a folder");
        keep(&logged(&played), 8, &settings, folder.path()).expect("a take");
        let read = |name: &str| fs::read_to_string(folder.path().join(name)).expect(name);
        let kept = Chart::read("Take 1.txt", &read("Take 1.txt")).expect("a chart");
        let names: Vec<_> = kept.symbols().flatten().map(|symbol| symbol.to_string()).collect();
        assert_eq!(names, ["C", "C/E", "F", "G/B", "C", "Am", "F", "C"]);
        let chorus = chorus(&logged(&played).read(), 8, &settings, "Kept").expect("a chorus");
        let why = |notes: &[HandNote]| -> Vec<_> {
            notes.iter().map(|note| (note.at, note.key, note.role, note.why)).collect()
        };
        assert_eq!(why(&chorus.left), why(&played.left));
        let said = chorus.explained_sheet().reasons;
        assert!(!said.is_empty() && read("Take 1.svg").contains(&said[0].text), "{said:?}");
    }

    #[test]
    fn a_chorus_is_kept_from_what_is_practised_and_says_what_each_note_is() {
        let chart = Chart::read("c", "key: C\nmetre: 4/4\n\n| C | Am | F | C |\n").expect("one");
        let pattern = find_pattern("everything-mixed").expect("ships").compile().expect("ships");
        let played = Performance::of(chart.unfold(), 92.0, pattern, Settings::default());
        let entries = logged(&played).read();
        let heard = chorus(&entries, 4, &Settings::default(), "Heard").expect("a chorus");
        let roles = |notes: &[HandNote]| -> BTreeSet<(i64, KeyNumber, Role)> {
            let role = |note: &HandNote| Some((note.at.0, note.key, note.role?));
            notes.iter().filter_map(role).collect()
        };
        let (was, is) = (roles(&played.left), roles(&heard.left));
        let both = was.intersection(&is).count();
        assert!(both * 100 >= was.len() * 80, "{was:?}\n{is:?}");
        let folder = tempfile::tempdir().expect("a folder");
        let sheet = keep_chorus(&heard, folder.path()).expect("kept");
        assert!(sheet.ends_with("Chorus 1.svg"));
        let again = keep_chorus(&heard, folder.path()).expect("kept");
        assert!(again.ends_with("Chorus 2.svg"), "never over the first");
    }
}
