//! Files that are played from, read anew when they change; and the set, saved.

use std::path::{Path, PathBuf};

use sinistra_panel::{KEPT_BARS, music_folder, take};
use sinistra_score::Chart;

use super::LiveSession;
use crate::bridge::pane::Written;
use crate::bridge::set::{SetList, transposed, with_intro};
use crate::bridge::setup::{EntryWords, Last, SetupWords, as_played, load, save};
use crate::bridge::stage::Command;
use crate::bridge::watch::FileWatch;
use crate::failure::Failure;
use crate::{files, scores};

impl LiveSession {
    /// Files that changed on the disk; one with a fault changes nothing.
    pub(super) fn read_anew(&mut self, news: &mut Vec<String>) {
        let changed = self.watch.changed();
        if changed.is_empty() {
            return;
        }
        let names: Vec<_> = changed.iter().map(|file| file.display().to_string()).collect();
        let names = names.join(", ");
        match self.read_set(&changed) {
            Ok((words, fresh)) => {
                self.words = words;
                if self.set.read_anew(fresh)
                    && let Some(entry) = self.set.entry()
                {
                    self.give(&entry);
                    self.send(Command::Anew(entry));
                }
                self.watch = FileWatch::over(self.how.loaded.as_deref(), &self.words);
                self.show_entry();
                news.push(format!("{names}: read anew"));
            }
            Err(fault) => news.push(format!("{fault}\n{names}: what was read before goes on")),
        }
    }

    /// The songs as they stand on the disk now.
    pub(super) fn read_set(&self, changed: &[PathBuf]) -> Result<(SetupWords, SetList), String> {
        let mut words = self.words.clone();
        if let Some(file) = self.how.loaded.as_ref().filter(|file| changed.contains(file)) {
            let read = load(file).map_err(|fault| fault.to_string())?;
            let SetupWords { entry, chart, pattern, .. } = self.how.said.clone().over(read);
            (words.entry, words.chart, words.pattern) = (entry, chart, pattern);
        }
        let set = SetList::read(&words)?;
        Ok((words, set))
    }

    /// Keeps the set-up as it is played. What stood in the file before is kept beside.
    pub(super) fn save(&mut self, written: &Written) -> Result<PathBuf, Failure> {
        let path = match &self.how.loaded {
            Some(path) => path.clone(),
            None => new_set()?,
        };
        let mut words = self.words.clone();
        if let Some(look) = &self.seen {
            words = as_played(&words, self.set.at(), look, written.pattern.as_deref());
        }
        keep_chart(&self.set, &path, &mut words, &written.chart)?;
        if let Ok(before) = std::fs::read(&path) {
            files::write(&path.with_extension("before.toml"), &before, true)?;
        }
        save(&path, &words, Some(&path), true)?;
        let fresh = SetList::read(&words).map_err(Failure::Input)?;
        self.set.read_anew(fresh);
        (self.words, self.how.loaded) = (words, Some(path.clone()));
        self.watch = FileWatch::over(self.how.loaded.as_deref(), &self.words);
        Ok(path)
    }

    /// Keeps the last bars of both hands, as the window's button does.
    pub(super) fn keep_take(&mut self) {
        let settings = self.seen.as_ref().map_or_else(Default::default, |look| look.settings);
        let kept = music_folder().and_then(|to| take::keep(&self.take, KEPT_BARS, &settings, &to));
        match kept {
            Ok(path) => self.say(&format!("kept: {}", path.display())),
            Err(why) => self.say(&why),
        }
    }

    /// For the next start.
    pub(super) fn keep_last(&self) {
        if self.how.keeps_last {
            let setup = self.how.loaded.as_ref().and_then(|path| std::path::absolute(path).ok());
            let song = self.set.at().map(|at| at + 1);
            let (from, to) = (self.words.from.clone(), self.words.to.clone());
            Last { setup, song, from, to, volume: self.words.volume }.keep();
        }
    }
}

/// A chart that was written in the window becomes a file beside the set-up's; a
/// section *Intro* at its start is the entry's intro.
fn keep_chart(
    set: &SetList,
    setup: &Path,
    words: &mut SetupWords,
    text: &str,
) -> Result<(), Failure> {
    let Ok(chart) = Chart::read("chart", text) else { return Ok(()) };
    if set.written().0.as_deref() == Some(text) {
        return Ok(());
    }
    let folder = setup.parent().unwrap_or(Path::new("."));
    let file = |text: &str| -> Result<String, Failure> {
        let path = numbered(folder, "Chart", "txt")?;
        files::write(&path, text.as_bytes(), false)?;
        Ok(path.display().to_string())
    };
    match set.at().and_then(|at| words.entry.get_mut(at)) {
        Some(entry) => {
            // What is shown sounds; what is kept is transposed on its way.
            let chart = transposed(&chart, -entry.transpose.unwrap_or(0));
            let song = with_its_intro(entry, &chart);
            if let Some(song) = song {
                entry.chart = Some(file(&song.to_string())?);
            }
        }
        None => words.chart = vec![file(text)?],
    }
    Ok(())
}

/// Gives an entry the intro that `chart` begins with, and hands back the song behind it
/// where that is another than the entry names.
fn with_its_intro(entry: &mut EntryWords, chart: &Chart) -> Option<Chart> {
    let parted = chart.parted();
    entry.intro = parted.as_ref().map(|(intro, _)| intro.line());
    let named = entry.chart.as_deref().and_then(|name| scores::chart(name).ok());
    let both = match (named, &entry.intro) {
        (Some(named), Some(intro)) => with_intro(&named, intro).ok(),
        (named, _) => named,
    };
    let said = |chart: &Chart| (chart.title().to_owned(), chart.line(), chart.unfold());
    let same = both.is_some_and(|both| said(&both) == said(chart));
    (!same).then(|| parted.map_or_else(|| chart.clone(), |(_, song)| song))
}

/// A new file for a set, where takes are kept too.
fn new_set() -> Result<PathBuf, Failure> {
    let folder = music_folder().map_err(Failure::Machine)?;
    std::fs::create_dir_all(&folder)
        .map_err(|why| Failure::Machine(format!("{}: {why}", folder.display())))?;
    numbered(&folder, "Set", "toml")
}

/// `Set 1.toml`, `Set 2.toml` …: the first that is not there.
fn numbered(folder: &Path, name: &str, kind: &str) -> Result<PathBuf, Failure> {
    let mut all = (1..10_000).map(|n| folder.join(format!("{name} {n}.{kind}")));
    all.find(|path| !path.exists())
        .ok_or_else(|| Failure::Machine(format!("{}: full of sets", folder.display())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_intro_that_was_written_in_the_window_is_the_entrys() {
        let named = || EntryWords { chart: Some("lantern-street".into()), ..EntryWords::default() };
        let ships = scores::chart("lantern-street").expect("it ships");
        let intro = "| Dm7 | G7 |".to_owned();
        // Before the song as it is: its own file stays.
        let text = with_intro(&ships, &intro).expect("both").to_string();
        let text = text.replace("| Dm7 | G7 |", "| Dm7 |\n| G7 |");
        let both = Chart::read("chart", &text).expect("a chart");
        let mut entry = named();
        assert_eq!(with_its_intro(&mut entry, &both), None);
        assert_eq!(entry, EntryWords { intro: Some(intro.clone()), ..named() });
        // Taken away again.
        assert_eq!(with_its_intro(&mut entry, &ships), None);
        assert_eq!(entry, named());
        // Another song behind it.
        let text = "title: New\nkey: C\n\n[Intro]\n| Dm7 | G7 |\n\n[Verse]\n| C | F |\n";
        let song = with_its_intro(&mut entry, &Chart::read("chart", text).expect("a chart"));
        assert_eq!(song.map(|song| song.line()).as_deref(), Some("| C | F |"));
        assert_eq!(entry.intro, Some(intro));
    }

    #[test]
    fn a_transposed_chart_that_is_edited_and_saved_sounds_as_it_was_written() {
        let folder = tempfile::tempdir().expect("a folder");
        let setup = folder.path().join("set.toml");
        let entry = EntryWords {
            chart: Some("lantern-street".into()),
            intro: Some("| Dm7 | G7 |".into()),
            transpose: Some(2),
            ..EntryWords::default()
        };
        let mut words = SetupWords { entry: vec![entry.clone()], ..SetupWords::default() };
        let shown =
            |words: &SetupWords| SetList::read(words).expect("a set").written().0.expect("a chart");
        let printed = |text: &str| Chart::read("chart", text).expect("a chart").to_string();
        let set = SetList::read(&words).expect("a set");
        let text = shown(&words);
        // Nothing was written: the entry stays as it was.
        keep_chart(&set, &setup, &mut words, &text).expect("kept");
        assert_eq!(words.entry, [entry]);
        // The intro in E minor, a whole tone above D minor; now it begins on G.
        let edited = text.replacen("Em7", "Gmaj7", 1);
        assert_ne!(edited, text);
        keep_chart(&set, &setup, &mut words, &edited).expect("kept");
        assert_eq!(words.entry[0].intro.as_deref(), Some("| Fmaj7 | G7 |"));
        assert_eq!(words.entry[0].transpose, Some(2));
        assert_eq!(shown(&words), printed(&edited));
        // A chord of the song too: the song is a file of its own, as it was written.
        let last = edited.rfind("| ").expect("bars");
        let edited = format!("{}| Bbm6 {}", &edited[..last], &edited[last..]);
        let set = SetList::read(&words).expect("a set");
        keep_chart(&set, &setup, &mut words, &edited).expect("kept");
        let kept = std::fs::read_to_string(folder.path().join("Chart 1.txt")).expect("a file");
        assert!(kept.contains("Abm6") && !kept.contains("Bbm6"), "{kept}");
        assert_eq!(shown(&words), printed(&edited));
    }
}
