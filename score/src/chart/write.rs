//! Writes a chart as text, its bars in columns.

use std::fmt;

use super::{Bar, Cell, Chart, Content, key_name};
use sinistra_core::time::Metre;

/// The text format, in ASCII but for title and section names.
impl fmt::Display for Chart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let draft = &self.draft;
        if !draft.title.is_empty() {
            writeln!(f, "title: {}", draft.title)?;
        }
        if draft.key.is_some() {
            writeln!(f, "key: {}", key_name(self.written_key()))?;
        }
        writeln!(f, "metre: {}/{}", draft.metre.beats(), draft.metre.unit())?;
        if let Some(tempo) = draft.tempo {
            writeln!(f, "tempo: {tempo}")?;
        }
        if let Some(swing) = draft.swing {
            writeln!(f, "swing: {swing}")?;
        }
        if let Some(pick_up) = draft.pick_up {
            writeln!(f, "pick-up: {pick_up}")?;
        }
        let lines = lines(&draft.bars, draft.metre);
        let widths = widths(&lines);
        writeln!(f)?;
        for (n, line) in lines.iter().enumerate() {
            if let Some(section) = line.section {
                writeln!(f, "{}[{section}]", if n > 0 { "\n" } else { "" })?;
            }
            writeln!(f, "{}", line.text(&widths))?;
        }
        Ok(())
    }
}

/// A line of the page: bar lines and the bars behind them, and the last bar line.
struct TextLine<'a> {
    section: Option<&'a str>,
    bars: Vec<(String, String)>,
    end: String,
}

impl TextLine<'_> {
    fn text(&self, widths: &[(usize, usize)]) -> String {
        let mut text = String::new();
        for ((open, bar), (open_width, width)) in self.bars.iter().zip(widths) {
            text.push_str(&format!("{open:open_width$} {bar:width$} "));
        }
        text + &self.end
    }
}

fn widths(lines: &[TextLine<'_>]) -> Vec<(usize, usize)> {
    /// A wider bar pushes its own line, not the whole column.
    const MOST: usize = 24;
    let columns = lines.iter().map(|line| line.bars.len()).max().unwrap_or(0);
    let widest = |column: usize, of: fn(&(String, String)) -> usize| {
        let widths = lines.iter().filter_map(|line| line.bars.get(column)).map(of);
        widths.filter(|width| *width <= MOST).max().unwrap_or(0)
    };
    (0..columns)
        .map(|column| {
            (
                widest(column, |(open, _)| open.chars().count()),
                widest(column, |(_, bar)| bar.chars().count()),
            )
        })
        .collect()
}

fn lines(bars: &[Bar], first_metre: Metre) -> Vec<TextLine<'_>> {
    let mut lines: Vec<TextLine<'_>> = Vec::new();
    let mut metre = first_metre;
    let mut before: Option<&Bar> = None;
    for bar in bars {
        let new = bar.starts_line || bar.section.is_some() || before.is_none();
        if new {
            lines.push(TextLine {
                section: bar.section.as_deref(),
                bars: Vec::new(),
                end: String::new(),
            });
        }
        let Some(line) = lines.last_mut() else { break };
        let open = match before.filter(|_| !new).and_then(|bar| bar.repeat_end) {
            Some(2) => if bar.repeat_start { ":|:" } else { ":|" }.to_owned(),
            Some(times) => format!(":| x{times} {}", if bar.repeat_start { "|:" } else { "|" }),
            None => if bar.repeat_start { "|:" } else { "|" }.to_owned(),
        };
        line.bars.push((open, content(bar, metre)));
        line.end = match bar.repeat_end {
            Some(2) => ":|".to_owned(),
            Some(times) => format!(":| x{times}"),
            None => "|".to_owned(),
        };
        metre = bar.metre;
        before = Some(bar);
    }
    lines
}

fn content(bar: &Bar, before: Metre) -> String {
    let mut words = Vec::new();
    if !bar.ending.is_empty() {
        let passes: Vec<_> = bar.ending.iter().map(ToString::to_string).collect();
        words.push(format!("{}.", passes.join(",")));
    }
    words.extend(bar.signs.before().into_iter().map(str::to_owned));
    if bar.metre != before {
        words.push(format!("{}/{}", bar.metre.beats(), bar.metre.unit()));
    }
    match &bar.content {
        Content::Same => words.push("%".to_owned()),
        Content::Places(cells) => words.extend(cells.iter().map(|cell| match cell {
            Cell::Hold => ".".to_owned(),
            Cell::NoChord => "N.C.".to_owned(),
            Cell::Chord(symbol) => symbol.ascii(),
        })),
    }
    words.extend(bar.signs.behind());
    words.join(" ")
}
