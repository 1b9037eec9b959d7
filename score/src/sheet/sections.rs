//! Section letters: what a teacher calls out ("from B").

use super::SheetBar;

/// The letter and the rest of the name of the section that starts at each bar.
/// Sections of one name have one letter; a name that is a letter is its own.
pub(super) fn marks(bars: &[SheetBar]) -> Vec<Option<(String, String)>> {
    let own = |name: &str| name.len() == 1 && name.starts_with(|c: char| c.is_ascii_uppercase());
    let taken: Vec<&str> =
        bars.iter().filter_map(|bar| bar.section.as_deref()).filter(|name| own(name)).collect();
    let mut free = ('A'..='Z').map(String::from).filter(|letter| !taken.contains(&letter.as_str()));
    let mut known: Vec<(&str, String)> = Vec::new();
    let mut mark = |name| -> (String, String) {
        if own(name) {
            return (name.to_owned(), String::new());
        }
        let letter =
            known.iter().find(|(known, _)| *known == name).map(|(_, letter)| letter.clone());
        let letter = letter.unwrap_or_else(|| {
            let letter = free.next().unwrap_or_default();
            known.push((name, letter.clone()));
            letter
        });
        (letter, name.to_owned())
    };
    bars.iter().map(|bar| bar.section.as_deref().map(&mut mark)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{eighths, sheet};
    use super::*;
    use sinistra_core::key::Mode;

    #[test]
    fn a_name_has_a_letter_and_keeps_it() {
        let mut sheet = sheet((4, 4), (0, Mode::Major), &["C", "F", "G", "C", "F"], &eighths());
        let names = [Some("Verse"), None, Some("B"), Some("Bridge"), Some("Verse")];
        for (bar, name) in sheet.bars.iter_mut().zip(names) {
            bar.section = name.map(String::from);
        }
        let marks = marks(&sheet.bars);
        let letters: Vec<_> =
            marks.iter().map(|mark| mark.as_ref().map(|mark| mark.0.as_str())).collect();
        assert_eq!(letters, [Some("A"), None, Some("B"), Some("C"), Some("A")]);
    }
}
