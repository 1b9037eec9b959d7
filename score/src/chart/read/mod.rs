//! Reads the text of a chart, and tells of every line that makes no sense.

mod bars;
mod header;

use super::{Bar, Chart, Draft};
use crate::{Fault, Faults, Spot, limits};
use sinistra_core::time::Metre;

/// A piece of the text and where it starts, in bytes.
#[derive(Clone, Copy)]
struct TextPiece<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> TextPiece<'a> {
    fn trim(self) -> Self {
        let start = self.text.trim_start();
        Self { text: start.trim_end(), at: self.at + self.text.len() - start.len() }
    }

    fn cut(self, from: usize, to: usize) -> Self {
        Self { text: self.text.get(from..to).unwrap_or(""), at: self.at + from }
    }

    fn skip(self, bytes: usize) -> Self {
        self.cut(bytes, self.text.len())
    }

    /// Without a comment: `#` at the start or behind a space, to the end.
    fn without_comment(self) -> TextPiece<'a> {
        let mut before = ' ';
        for (at, c) in self.text.char_indices() {
            if c == '#' && before.is_whitespace() {
                return self.cut(0, at);
            }
            before = c;
        }
        self
    }
}

/// What is being read.
struct ChartReader<'a> {
    file: &'a str,
    whole: &'a str,
    faults: Vec<Fault>,
    draft: Draft,
    /// Which settings came already.
    named: Vec<&'static str>,
    /// Where the number of the pick-up stands.
    pick_up_at: Option<(usize, usize)>,
    /// Where each bar stands in the text.
    spots: Vec<(usize, usize)>,
    /// A section that no bar has started yet.
    section: Option<(String, usize)>,
    /// A `|:` that no bar has followed yet.
    repeat_start: bool,
}

/// Reads a whole chart.
pub(super) fn chart(file: &str, text: &str) -> Result<Chart, Faults> {
    if text.len() > limits::CHART {
        let what = format!("{} KiB are too long for a chart (1,024 KiB)", text.len() >> 10);
        return Err(Fault::new(what).of_file(file).into());
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let draft = Draft {
        title: String::new(),
        key: None,
        metre: Metre::COMMON,
        tempo: None,
        swing: None,
        pick_up: None,
        bars: Vec::new(),
    };
    let mut reader = ChartReader {
        file,
        whole: text,
        faults: Vec::new(),
        draft,
        named: Vec::new(),
        pick_up_at: None,
        spots: Vec::new(),
        section: None,
        repeat_start: false,
    };
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        reader.line(TextPiece { text: line, at }.trim());
        at += line.len();
    }
    reader.finish()
}

impl<'a> ChartReader<'a> {
    fn fault(&mut self, from: usize, to: usize, what: impl Into<String>, hint: impl Into<String>) {
        let spot = Spot::in_text(self.file, self.whole, from, to);
        self.faults.push(Fault::new(what).at(spot).hint(hint));
    }

    fn fault_at(&mut self, piece: TextPiece<'_>, what: impl Into<String>, hint: impl Into<String>) {
        self.fault(piece.at, piece.at + piece.text.len(), what, hint);
    }

    fn line(&mut self, line: TextPiece<'a>) {
        if let Some((name, value)) = header::split(line) {
            return self.header(name, value);
        }
        let mut line = line.without_comment().trim();
        if line.text.starts_with('[') {
            let Some(end) = line.text.find(']') else {
                return self.fault_at(line, "a section without its `]`", "write `[Verse]`");
            };
            let name = line.cut(1, end).trim();
            if name.text.is_empty() {
                self.fault_at(line.cut(0, end + 1), "a section without a name", "write `[Verse]`");
            } else {
                self.section = Some((name.text.to_owned(), name.at));
            }
            line = line.skip(end + 1).trim();
        }
        if line.text.is_empty() {
            return;
        }
        if line.text.contains('|') {
            self.bars(line);
        } else {
            self.fault_at(
                line,
                "no bar lines here",
                "bars stand between bar lines: `| C | F . G . |`; a section is `[Verse]`, \
                 a setting `key: Am`",
            );
        }
    }

    fn finish(mut self) -> Result<Chart, Faults> {
        if let Some((name, at)) = self.section.take() {
            let what = format!("no bars follow section `{name}`");
            self.fault(at, at + name.len(), what, "write its bars on the lines below");
        }
        self.check_pick_up();
        if self.draft.bars.is_empty() && self.faults.is_empty() {
            let fault = Fault::new("no bars in this chart")
                .of_file(self.file)
                .hint("write bars such as `| C | Am . F G |`");
            return Err(fault.into());
        }
        let no_bars = self.draft.bars.is_empty();
        let checked = Chart::new(self.draft.clone());
        let problems = match checked {
            Ok(chart) if self.faults.is_empty() => return Ok(chart),
            Ok(_) => Vec::new(),
            Err(_) if no_bars => Vec::new(),
            Err(problems) => problems,
        };
        for problem in problems {
            let spot = problem.bar.and_then(|bar| self.spots.get(bar)).copied();
            let (from, to) = spot.unwrap_or((0, 0));
            // A bar that could not be read was told of already.
            let told = self.faults.iter().any(|fault| {
                let line = Spot::in_text(self.file, self.whole, from, to).line;
                fault.spot.as_ref().is_some_and(|spot| spot.line == line)
            });
            if !told {
                self.fault(from, to, problem.what, problem.hint);
            }
        }
        match Faults::or_ok(self.faults) {
            Err(faults) => Err(faults),
            Ok(()) => Err(Fault::new("no chart").of_file(self.file).into()),
        }
    }

    fn push_bar(&mut self, mut bar: Bar, (from, to): (usize, usize)) {
        bar.section = self.section.take().map(|(name, _)| name);
        bar.repeat_start = std::mem::take(&mut self.repeat_start);
        self.draft.bars.push(bar);
        self.spots.push((from, to));
    }
}
