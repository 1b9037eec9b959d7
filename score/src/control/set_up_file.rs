//! Set-ups of the player's own: text files in a folder.
//!
//! ```toml
//! name = "Sunday"
//! about = "Sparing, in the middle of the keyboard."
//!
//! [set]
//! pattern = "Waltz"
//! busy = 30
//! ```

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use toml::Spanned;

use super::set_ups::TOUCHED;
use super::{Control, Values};
use crate::{Fault, Faults, Spot, limits, slug};

/// A set-up of the player's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnSetUp {
    /// As the player sees it.
    pub name: String,
    /// A sentence; may be empty.
    pub about: String,
    values: Vec<(Control, i32)>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSetUp {
    name: Spanned<String>,
    #[serde(default)]
    about: String,
    #[serde(default)]
    set: BTreeMap<Spanned<String>, Spanned<toml::Value>>,
}

/// The most files of a folder that are looked at.
const MOST: usize = 500;

impl OwnSetUp {
    /// What `values` set, under a name.
    #[must_use]
    pub fn of(name: &str, values: &Values) -> Self {
        let values = TOUCHED.map(|control| (control, values.get(control)));
        Self { name: name.trim().to_owned(), about: String::new(), values: values.into() }
    }

    /// The value of each control that it sets.
    #[must_use]
    pub fn values(&self) -> &[(Control, i32)] {
        &self.values
    }

    /// Whether `values` are as it sets them.
    #[must_use]
    pub fn is(&self, values: &Values) -> bool {
        self.values.iter().all(|(control, value)| values.get(*control) == *value)
    }

    /// Reads `text`, called `file` in faults; `pattern` names patterns by their numbers.
    ///
    /// # Errors
    /// Every fault, with its place.
    pub fn read(file: &str, text: &str, pattern: impl Fn(i32) -> String) -> Result<Self, Faults> {
        if text.len() > limits::PATTERN {
            let what = format!("{} KiB are too long for a set-up (64 KiB)", text.len() >> 10);
            return Err(Fault::new(what).of_file(file).into());
        }
        let at = |span: Range<usize>| Spot::in_text(file, text, span.start, span.end);
        let raw: RawSetUp = toml::from_str(text).map_err(|error| {
            let what = error.message().lines().collect::<Vec<_>>().join(", ");
            let hint = "a set-up has a name, a sentence `about` it, and under [set] what it sets";
            Fault::new(what).at(at(error.span().unwrap_or(0..0))).hint(hint)
        })?;
        let mut faults = Vec::new();
        if raw.name.get_ref().trim().is_empty() {
            let fault = Fault::new("a set-up needs a name").at(at(raw.name.span()));
            faults.push(fault.hint("name = \"Sunday\""));
        }
        let mut values = Vec::new();
        for (id, value) in &raw.set {
            let Some(control) = TOUCHED.into_iter().find(|c| word(*c) == *id.get_ref()) else {
                let ids = TOUCHED.map(word).join(", ");
                let what = format!("a set-up does not set `{}`", id.get_ref());
                faults.push(Fault::new(what).at(at(id.span())).hint(format!("it sets {ids}")));
                continue;
            };
            let typed = match value.get_ref() {
                toml::Value::String(text) => text.clone(),
                other => other.to_string(),
            };
            match control.read(&typed, &pattern) {
                Some(value) => values.push((control, value)),
                None => {
                    let what = format!("`{typed}` is no value of `{}`", id.get_ref());
                    let hint = "write it as the window shows it";
                    faults.push(Fault::new(what).at(at(value.span())).hint(hint));
                }
            }
        }
        Faults::or_ok(faults)?;
        values.sort_by_key(|(control, _)| TOUCHED.iter().position(|touched| touched == control));
        let name = raw.name.into_inner().trim().to_owned();
        Ok(Self { name, about: raw.about, values })
    }

    fn text(&self, pattern: impl Fn(i32) -> String) -> String {
        let quoted = |text: &str| toml::Value::from(text).to_string();
        let mut text =
            format!("name = {}\nabout = {}\n\n[set]\n", quoted(&self.name), quoted(&self.about));
        for (control, value) in &self.values {
            let shown = control.show(*value, &pattern);
            let _ = writeln!(text, "{} = {}", word(*control), quoted(&shown));
        }
        text
    }

    /// Writes it into a new file of `folder`, named after it.
    ///
    /// # Errors
    /// If there is one of its name, or the disk refuses; for the player to read.
    pub fn keep(&self, folder: &Path, pattern: impl Fn(i32) -> String) -> Result<PathBuf, String> {
        // Nothing in it leads to another folder.
        let plain = |c: char| if c.is_alphanumeric() { c } else { ' ' };
        let words: String = self.name.chars().take(60).map(plain).collect();
        let name = slug(&words.split_whitespace().collect::<Vec<_>>().join(" "));
        if name.is_empty() {
            return Err("A set-up needs a name.".into());
        }
        let path = folder.join(name + ".toml");
        let failed = |error: std::io::Error| match error.kind() {
            std::io::ErrorKind::AlreadyExists => {
                format!("There is a set-up of this name: {}", path.display())
            }
            _ => format!("{}: {error}", path.display()),
        };
        fs::create_dir_all(folder).map_err(failed)?;
        let mut file = fs::OpenOptions::new().write(true).create_new(true).open(&path);
        let file = file.as_mut().map_err(|error| failed(std::io::Error::from(error.kind())))?;
        file.write_all(self.text(pattern).as_bytes()).map_err(|error| {
            let _ = fs::remove_file(&path); // nothing half-written stays
            failed(error)
        })?;
        Ok(path)
    }
}

/// How a file names a control.
fn word(control: Control) -> String {
    format!("{control:?}").to_lowercase()
}

/// The set-ups of a folder, by name, and what is wrong with those that cannot be read.
#[must_use]
pub fn own_set_ups(folder: &Path, pattern: impl Fn(i32) -> String) -> (Vec<OwnSetUp>, Vec<String>) {
    let (mut found, mut faults) = (Vec::new(), Vec::new());
    let entries = fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let mut paths: Vec<PathBuf> = entries.take(MOST).map(|entry| entry.path()).collect();
    paths.sort();
    for path in paths.iter().filter(|path| path.extension().is_some_and(|end| end == "toml")) {
        let name = path.display().to_string();
        let short = fs::metadata(path).is_ok_and(|about| about.len() <= limits::PATTERN as u64);
        match fs::read_to_string(path) {
            Ok(text) if short => match OwnSetUp::read(&name, &text, &pattern) {
                Ok(set_up) => found.push(set_up),
                Err(fault) => faults.push(fault.to_string()),
            },
            Ok(_) => faults.push(format!("{name}: too long for a set-up (64 KiB)")),
            Err(error) => faults.push(format!("{name}: {error}")),
        }
    }
    (found, faults)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pattern(number: i32) -> String {
        ["My own", "Roots on the beat", "Waltz"].get(number as usize).unwrap_or(&"…").to_string()
    }

    #[test]
    fn what_is_kept_comes_back_and_nothing_is_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let mut values = Values::default();
        values.set(Control::Busy, 30);
        values.set(Control::Pattern, 2);
        let own = OwnSetUp::of(" Sunday, slow ", &values);
        let path = own.keep(folder.path(), pattern).unwrap();
        assert_eq!(path.file_name().unwrap(), "sunday-slow.toml");
        let (found, faults) = own_set_ups(folder.path(), pattern);
        assert_eq!((found.as_slice(), faults.len()), (&[own.clone()][..], 0));
        assert!(found[0].is(&values) && !found[0].is(&Values::default()));
        assert!(own.keep(folder.path(), pattern).unwrap_err().contains("of this name"));
        let far = OwnSetUp::of("../../etc/x", &values).keep(folder.path(), pattern).unwrap();
        assert_eq!(far, folder.path().join("etc-x.toml"));
        assert!(OwnSetUp::of("  ", &values).keep(folder.path(), pattern).is_err());
    }

    #[test]
    fn faults_are_told_with_their_place() {
        let text = "name = \"Sunday\"\n\n[set]\nbusy = 30\ncolour = 3\npattern = \"Nope\"\n";
        let told = OwnSetUp::read("my.toml", text, pattern).unwrap_err().to_string();
        assert!(told.contains("my.toml:5:1: a set-up does not set `colour`"), "{told}");
        assert!(told.contains("my.toml:6:11: `Nope` is no value of `pattern`"), "{told}");
        let told = OwnSetUp::read("my.toml", "busy = 1", pattern).unwrap_err().to_string();
        assert!(told.starts_with("my.toml:"), "{told}");
        let good = OwnSetUp::read("my.toml", "name = \"S\"\n[set]\nbusy = 30\n", pattern).unwrap();
        assert_eq!(good.values(), [(Control::Busy, 30)]);
    }
}
