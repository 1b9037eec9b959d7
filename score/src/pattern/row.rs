//! A row of words in a pattern file, each with its place in the text.

use std::ops::Range;

use toml::Spanned;

/// A word of a row, and which bytes of the file it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word<'a> {
    /// The word.
    pub text: &'a str,
    /// Bytes of the file.
    pub span: Range<usize>,
}

/// The words of `row`, bar by bar (`|` divides them), as they stand in `file`.
pub fn bars<'a>(row: &'a Spanned<String>, file: &str) -> Vec<Vec<Word<'a>>> {
    let value = row.get_ref().as_str();
    let whole = row.span();
    // Where the text within the quotes starts, if it is written plainly.
    let start = file.get(whole.clone()).and_then(|raw| raw.find(value)).map(|at| whole.start + at);
    let mut bars = vec![Vec::new()];
    let mut rest = 0;
    while let Some(from) = value.get(rest..).and_then(|r| r.find(|c: char| !c.is_whitespace())) {
        let from = rest + from;
        let length = match value.get(from..from + 1) {
            Some("|") => 1,
            _ => value[from..]
                .find(|c: char| c.is_whitespace() || c == '|')
                .unwrap_or(value.len() - from),
        };
        let text = &value[from..from + length];
        if text == "|" {
            bars.push(Vec::new());
        } else if let Some(bar) = bars.last_mut() {
            let span = start.map_or(whole.clone(), |s| s + from..s + from + length);
            bar.push(Word { text, span });
        }
        rest = from + length;
    }
    bars
}
