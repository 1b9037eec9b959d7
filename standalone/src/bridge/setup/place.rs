//! Where in a set-up file a fault is, and how it is shown there.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A step into the file: a word, or a place in a list, from 0.
#[derive(Clone, Copy, Debug)]
pub enum PathStep {
    Word(&'static str),
    /// A place in a list.
    Nth(usize),
}

/// The bytes of what lies at the end of `path`, or of the last step that is
/// there.
pub fn find(text: &str, path: &[PathStep]) -> Range<usize> {
    let Ok(table) = DeTable::parse(text) else { return 0..0 };
    let (mut span, mut value) = (0..0, Spanned::new(0..0, DeValue::Table(table.into_inner())));
    for step in path {
        let next = match (*step, value.into_inner()) {
            (PathStep::Word(word), DeValue::Table(table)) => {
                table.into_iter().find(|(key, _)| key.get_ref() == word).map(|(_, value)| value)
            }
            (PathStep::Nth(n), DeValue::Array(list)) => list.into_iter().nth(n),
            _ => None,
        };
        let Some(next) = next else { break };
        (span, value) = (next.span(), next);
    }
    span
}

/// `FILE:LINE:COLUMN: message`, the line, and a caret below; lines, columns
/// and the caret's width in characters, from 1.
pub fn shown(name: &str, text: &str, at: Range<usize>, message: &str) -> String {
    let start = at.start.min(text.len());
    let before = text.get(..start).unwrap_or("");
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1;
    let shown = text.lines().nth(line - 1).unwrap_or("");
    let rest = shown.chars().count().saturating_sub(column - 1);
    let wide = text.get(at).map_or(1, |part| part.chars().count()).min(rest).max(1);
    let (indent, gap) = (" ".repeat(column - 1), " ".repeat(line.to_string().len()));
    let carets = "^".repeat(wide);
    let (message, hint) = message.split_once("\nhint: ").unwrap_or((message, USUAL_HINT));
    format!(
        "{name}:{line}:{column}: {message}\n{line} | {shown}\n{gap} | {indent}{carets}\nhint: {hint}"
    )
}

const USUAL_HINT: &str = "the words are those of `sinistra bridge --help`, without the dashes";
