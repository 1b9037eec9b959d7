//! Why the left hand plays what it plays, in the few words that a bar has room for.

use sinistra_core::play::{Rule, Why};
use sinistra_core::time::Ticks;

use crate::wording;

/// Words under the left staff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetReason {
    /// The stroke from which on they hold.
    pub at: Ticks,
    /// Which figure, what was listened to, and the rule where it is another than
    /// "as the figure has it".
    pub text: String,
}

/// What is said of a bar whose notes are struck at these moments, in order, for these
/// reasons: its figure once where all share it, a rule wherever it chose the stroke.
pub fn of_bar(notes: impl Iterator<Item = (Ticks, Why)>) -> Vec<SheetReason> {
    let mut said: Vec<SheetReason> = Vec::new();
    let (mut last, mut from) = (None, None);
    for (at, why) in notes {
        let figure = wording::taken_from(why);
        let figure = (from.as_ref() != Some(&figure)).then(|| figure.clone());
        let rule = (why.rule != Rule::Written).then(|| why.rule.word());
        if last != Some(at) || figure.is_some() {
            let words = figure.iter().map(String::as_str).chain(rule);
            let text = words.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(": ");
            if !text.is_empty() {
                said.push(SheetReason { at, text });
            }
        }
        last = Some(at);
        from = figure.or(from);
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::play::{FigureOf, Heard};

    #[test]
    fn a_figure_is_named_once_in_its_bar_and_a_rule_where_it_chose() {
        let why = |figure, heard, rule| Why { figure, heard, rule, rolled: false };
        let phrase = |rule| why(FigureOf::Book(7), Heard::Phrase, rule);
        let notes = [
            (0, phrase(Rule::Tells)),
            (0, phrase(Rule::Tells)), // two keys at once: said once
            (960, phrase(Rule::Written)),
            (1920, why(FigureOf::Pattern, Heard::Root, Rule::Written)),
            (2880, why(FigureOf::Pattern, Heard::Root, Rule::Passes)),
        ];
        let said = of_bar(notes.into_iter().map(|(at, why)| (Ticks(at), why)));
        let said: Vec<_> = said.iter().map(|said| (said.at.0, said.text.as_str())).collect();
        let expected = [
            (0, "a new phrase: tells the chord"),
            (1920, "it lies well on this root"),
            (2880, "passes"),
        ];
        assert_eq!(said, expected);
        // A pattern that is played as it is written needs no reason.
        assert_eq!(of_bar([(Ticks(0), Why::default())].into_iter()), []);
    }
}
