//! The set-up file: the words in TOML.

use std::ops::Range;
use std::path::Path;

use super::place::{PathStep, find, shown};
use super::resolve::{RANGES, resolve};
use super::words::SetupWords;
use crate::bridge::controls::NUMBERS;
use crate::bridge::set::with_intro;
use crate::failure::Failure;
use crate::{files, scores};

/// Reads a set-up file. Paths in it are meant from its own folder.
///
/// # Errors
/// One message with file, line and column.
pub fn load(path: &Path) -> Result<SetupWords, Failure> {
    let (name, text) = (path.display(), files::read_text(path)?);
    let mut words = parse(&name.to_string(), &text).map_err(Failure::Input)?;
    if let Some(folder) = path.parent() {
        let entries =
            words.entry.iter_mut().flat_map(|e| [&mut e.chart, &mut e.pattern, &mut e.intro]);
        let files = words.chart.iter_mut().chain(&mut words.pattern);
        for file in files.chain(entries.filter_map(Option::as_mut)) {
            // Names of what ships are no files.
            let beside = folder.join(&*file);
            if beside.is_file() {
                let whole = std::path::absolute(&beside).unwrap_or(beside);
                *file = whole.display().to_string();
            }
        }
        words.soundfont = words.soundfont.map(|soundfont| folder.join(soundfont));
    }
    check(&name.to_string(), &text, &words).map_err(Failure::Input)?;
    Ok(words)
}

/// Reads the text of a set-up file `name`.
///
/// # Errors
/// As [`load`].
pub fn read(name: &str, text: &str) -> Result<SetupWords, String> {
    let words = parse(name, text)?;
    check(name, text, &words)?;
    Ok(words)
}

fn parse(name: &str, text: &str) -> Result<SetupWords, String> {
    let words: SetupWords = toml::from_str(text).map_err(|e| {
        let at = e.span().unwrap_or(0..0);
        let fault = plain(text, &at, e.message().trim());
        shown(name, text, at, &fault)
    })?;
    for (n, mapping) in words.map.iter().enumerate() {
        if let Some(fault) = mapping.trigger.fault() {
            let at = find(text, &[PathStep::Word("map"), PathStep::Nth(n)]);
            return Err(shown(name, text, at, &fault));
        }
    }
    Ok(words)
}

/// The fault of the value at `at` as a musician would say it: numbers by what
/// they may be, not by how a computer keeps them.
fn plain(text: &str, at: &Range<usize>, fault: &str) -> String {
    let before = text.get(..at.start).and_then(|before| before.rsplit('\n').next()).unwrap_or("");
    let word = before.split('=').next().unwrap_or("").trim();
    let range = RANGES.iter().find(|(name, ..)| *name == word);
    if fault.ends_with("expected a sequence") {
        let value = text.get(at.clone()).unwrap_or("…");
        return format!("a list is meant: {word} = [{value}]");
    }
    match range.filter(|_| fault.starts_with("invalid ")) {
        Some((_, low, high)) => format!("it is {low} to {high}"),
        None if fault.ends_with("expected f64") => "a number is meant".to_owned(),
        None if fault.ends_with("expected u8") => NUMBERS.to_owned(),
        None => fault.to_owned(),
    }
}

/// Everything in the words that makes no sense, each where it stands.
fn check(name: &str, text: &str, words: &SetupWords) -> Result<(), String> {
    let mut faults = Vec::new();
    for told in resolve(words).err().iter().flat_map(|told| told.lines()) {
        let (word, fault) = told.split_once(": ").unwrap_or(("", told));
        // Only words that the file knows come back.
        let mut known = RANGES.iter().map(|(name, ..)| *name).chain(WORDS);
        let path = known.find(|known| *known == word).map(PathStep::Word);
        faults.push(shown(name, text, find(text, path.as_slice()), fault));
    }
    for (n, chart) in words.chart.iter().enumerate() {
        let path = [PathStep::Word("chart"), PathStep::Nth(n)];
        paper(
            scores::chart(chart).err(),
            chart,
            |f| shown(name, text, find(text, &path), f),
            &mut faults,
        );
    }
    for (n, pattern) in words.pattern.iter().enumerate() {
        let path = [PathStep::Word("pattern"), PathStep::Nth(n)];
        paper(
            scores::pattern(pattern).err(),
            pattern,
            |f| shown(name, text, find(text, &path), f),
            &mut faults,
        );
    }
    for (n, zone) in words.zone.iter().enumerate() {
        faults.extend(zone.faults().into_iter().map(|(word, fault)| {
            let path = [PathStep::Word("zone"), PathStep::Nth(n), PathStep::Word(word)];
            shown(name, text, find(text, &path), &fault)
        }));
    }
    for (n, entry) in words.entry.iter().enumerate() {
        let here = |word: &'static str, fault: &str| {
            let path = [PathStep::Word("entry"), PathStep::Nth(n), PathStep::Word(word)];
            shown(name, text, find(text, &path), fault)
        };
        faults.extend(entry.faults().iter().map(|(word, fault)| here(word, fault)));
        if let Some(chart) = &entry.chart {
            paper(scores::chart(chart).err(), chart, |f| here("chart", f), &mut faults);
        }
        if let (Some(chart), Some(intro)) = (&entry.chart, &entry.intro)
            && let Ok(chart) = scores::chart(chart)
            && let Err(fault) = with_intro(&chart, intro)
        {
            paper(Some(Failure::Input(fault)), intro, |f| here("intro", f), &mut faults);
        }
        if let Some(pattern) = &entry.pattern {
            paper(scores::pattern(pattern).err(), pattern, |f| here("pattern", f), &mut faults);
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults.join("\n\n")) }
}

/// A chart or a pattern that is not there is a fault of the set-up file; one
/// with faults of its own says where they are.
fn paper(
    failed: Option<Failure>,
    named: &str,
    here: impl Fn(&str) -> String,
    faults: &mut Vec<String>,
) {
    let own = Path::new(named).is_file();
    faults
        .extend(failed.map(|fault| if own { fault.to_string() } else { here(&fault.to_string()) }));
}

/// Words that [`resolve`] finds fault with, beside those of [`RANGES`].
const WORDS: [&str; 8] = ["split", "lowest", "highest", "key", "metre", "tempo", "chart", "zone"];

/// Writes a set-up file. One that is there is replaced only if it is the one
/// that was loaded, or with `force`.
///
/// # Errors
/// If there is another file, or the disk refuses.
pub fn save(
    path: &Path,
    words: &SetupWords,
    loaded: Option<&Path>,
    force: bool,
) -> Result<(), Failure> {
    let text = toml::to_string(words)
        .map_err(|e| Failure::Machine(format!("cannot write the set-up as text: {e}")))?;
    let text = format!(
        "# Sinistra, set-up of the bridge: the words of `sinistra bridge --help`.\n\n{text}"
    );
    let own = loaded.is_some_and(|loaded| loaded == path);
    files::write(path, text.as_bytes(), own || force)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NIGHT: &str = r#"
from = ["keys", "2"]
to = ["virtual"]
clock = "hand"
start = "chord"
tempo = 96.0
left = "roots"
click = "count-in"
pattern = ["roots-on-the-beat"]
listen = [1, 2]

[[map]]
do = "tap"
control = 66
through = false

[[map]]
do = "entry"
programs = true
channel = 3

[[entry]]
name = "Slow one"
tempo = 60.0
metre = "6/8"
"#;

    #[test]
    fn a_file_is_saved_and_loaded_without_a_word_changed() {
        let folder = tempfile::tempdir().expect("a folder");
        let (one, two) = (folder.path().join("a.toml"), folder.path().join("b.toml"));
        std::fs::write(&one, NIGHT).expect("written");
        let words = load(&one).expect("words");
        save(&two, &words, None, false).expect("saved");
        assert_eq!(load(&two).expect("words again"), words);
        // The user's other file stays; the one that was loaded is replaced.
        assert!(save(&one, &words, Some(&two), false).is_err());
        assert!(save(&one, &words, Some(&one), false).is_ok());
    }

    #[test]
    fn a_wrong_word_is_shown_in_its_line() {
        let told = parse("night.toml", "tempo = 96.0\nclok = \"own\"\n").expect_err("wrong");
        assert!(told.starts_with("night.toml:2:1: unknown field `clok`"), "{told}");
        assert!(told.contains("2 | clok = \"own\"\n  | ^^^^\nhint:"), "{told}");
        let told = parse("n.toml", "[[map]]\ndo = \"tap\"\n").expect_err("no control");
        let first = "n.toml:1:1: name one of key, control, program or programs\n";
        assert!(told.starts_with(first), "{told}");
    }

    #[test]
    fn a_number_is_judged_by_what_it_may_be() {
        for (text, fault) in [
            ("busy = 300", "n.toml:1:8: it is 0 to 100\n"),
            ("swing = -1", "n.toml:1:9: it is 50 to 75\n"),
            ("count-in = \"two\"", "n.toml:1:12: it is 0 to 8\n"),
            ("listen = [1, 1000]", "n.toml:1:14: it is 1 to 16\n"),
            ("tempo = \"fast\"", "n.toml:1:9: a number is meant\n"),
            ("listen = 3", "n.toml:1:10: a list is meant: listen = [3]\n"),
            ("chart = \"a.txt\"", "n.toml:1:9: a list is meant: chart = [\"a.txt\"]\n"),
            ("[[map]]\ndo = \"tap\"\ncontrol = 500", "n.toml:3:11: keys are 0 to 127, controls"),
        ] {
            let told = parse("n.toml", text).expect_err(text);
            assert!(told.starts_with(fault), "{told}");
        }
    }

    #[test]
    fn every_value_that_makes_no_sense_is_shown_where_it_stands() {
        let text = "busy = 200\nmetre = \"4/3\"\npattern = [\"waltz\", \"hopping\"]\n\
                    \n[[entry]]\nname = \"Slow one\"\ntempo = 9.0\nchart = \"nowhere\"\n\
                    \n[[entry]]\nchart = \"lantern-street\"\nintro = \"| Hm |\"\n\
                    \n[[entry]]\nintro = \"| C |\"\n";
        let words = parse("n.toml", text).expect("well-formed");
        let told = check("n.toml", text, &words).expect_err("wrong");
        let first = |part: &str| part.lines().next().map(str::to_owned);
        let faults: Vec<_> = told.split("\n\n").filter_map(first).collect();
        assert_eq!(faults.len(), 7, "{told}");
        for (fault, place) in
            faults.iter().zip(["1:8", "2:9", "3:21", "7:9", "8:9", "12:9", "15:9"])
        {
            assert!(fault.starts_with(&format!("n.toml:{place}: ")), "{place} in {told}");
        }
        assert!(told.contains("1 | busy = 200\n  |        ^^^\n"), "{told}");
    }

    #[test]
    fn a_zone_that_makes_no_sense_is_shown_where_it_stands() {
        let text = "to = [\"module\"]\n[[zone]]\nhand = \"left\"\nto = \"organ\"\n\
                    channel = 17\noctave = -1\n";
        let told = check("n.toml", text, &parse("n.toml", text).expect("well-formed"));
        let told = told.expect_err("wrong");
        assert!(told.contains("organ is not sent to; name it under `to` as well"), "{told}");
        assert!(told.contains("n.toml:5:11: it is 1 to 16"), "{told}");
    }

    #[test]
    fn the_command_line_wins_over_the_file() {
        let file = parse("n", NIGHT).expect("words");
        let said = SetupWords { tempo: Some(120.0), ..SetupWords::default() };
        let both = said.over(file.clone());
        assert_eq!(both.tempo, Some(120.0));
        assert_eq!((both.from, both.map.len()), (file.from, 2));
    }
}
