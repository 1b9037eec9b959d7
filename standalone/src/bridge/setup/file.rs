//! The set-up file: the words in TOML.

use std::path::Path;

use super::words::Words;
use crate::failure::Failure;
use crate::files;

/// Reads a set-up file. Paths in it are meant from its own folder.
///
/// # Errors
/// One message with file, line and column.
pub fn load(path: &Path) -> Result<Words, Failure> {
    let bytes = files::read(path)?;
    let name = path.display();
    let text = String::from_utf8(bytes)
        .map_err(|_| Failure::Input(format!("{name}: this is no text in UTF-8")))?;
    let mut words = parse(&name.to_string(), &text).map_err(Failure::Input)?;
    if let Some(folder) = path.parent() {
        let entries = words.entry.iter_mut().flat_map(|e| [&mut e.chart, &mut e.pattern]);
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
    Ok(words)
}

fn parse(name: &str, text: &str) -> Result<Words, String> {
    let words: Words = toml::from_str(text).map_err(|e| {
        let before = &text[..e.span().map_or(0, |span| span.start).min(text.len())];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1;
        let shown = text.lines().nth(line - 1).unwrap_or("");
        let hint = "hint: the words are those of `sinistra bridge --help`, without the dashes";
        let caret = " ".repeat(column - 1);
        format!(
            "{name}:{line}:{column}: {}\n{line} | {shown}\n{:width$} | {caret}^\n{hint}",
            e.message().trim(),
            "",
            width = line.to_string().len()
        )
    })?;
    for (n, mapping) in words.map.iter().enumerate() {
        if let Some(fault) = mapping.trigger.fault() {
            return Err(format!("{name}: mapping {}: {fault}", n + 1));
        }
    }
    Ok(words)
}

/// Writes a set-up file. One that is there is replaced only if it is the one
/// that was loaded, or with `force`.
///
/// # Errors
/// If there is another file, or the disk refuses.
pub fn save(path: &Path, words: &Words, loaded: Option<&Path>, force: bool) -> Result<(), Failure> {
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
pattern = ["roots"]
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
        assert!(told.contains("2 | clok = \"own\"\n  | ^\nhint:"), "{told}");
        let told = parse("n.toml", "[[map]]\ndo = \"tap\"\n").expect_err("no control");
        assert_eq!(told, "n.toml: mapping 1: name one of key, control, program or programs");
    }

    #[test]
    fn the_command_line_wins_over_the_file() {
        let file = parse("n", NIGHT).expect("words");
        let said = Words { tempo: Some(120.0), ..Words::default() };
        let both = said.over(file.clone());
        assert_eq!(both.tempo, Some(120.0));
        assert_eq!((both.from, both.map.len()), (file.from, 2));
    }
}
