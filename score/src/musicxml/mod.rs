//! MusicXML 4.0 lead sheets as charts: what stands in `harmony` elements.
//!
//! Source: the MusicXML 4.0 W3C Community Group Final Report. Jumps (D.C.,
//! D.S., coda) are followed by what `sound` says of them; where they make no sense the
//! bars are taken as they stand.

mod archive;
mod harmony;
mod head;
mod measures;

use roxmltree::{Document, Node, ParsingOptions};

use super::chart::{Chart, Draft};
use super::{Fault, Faults, Spot, limits};

pub use archive::unpacked;

/// Reads a lead sheet from MusicXML text; `file` is for messages.
///
/// # Errors
/// If it is no XML, no MusicXML score, or has no chord symbols; and every
/// chord symbol or bar that makes no sense, with its line.
pub fn chart(file: &str, text: &str) -> Result<Chart, Faults> {
    if text.len() as u64 > limits::MUSICXML {
        let what = format!("{} MiB are too long for a lead sheet (16 MiB)", text.len() >> 20);
        return Err(Fault::new(what).of_file(file).into());
    }
    let page = SourceText { file, text: text.strip_prefix('\u{feff}').unwrap_or(text) };
    let document = page.document()?;
    let root = document.root_element();
    if !matches!(root.tag_name().name(), "score-partwise" | "score-timewise") {
        return Err(page
            .fault(root, format!("`{}` is no MusicXML score", root.tag_name().name()))
            .hint("a score starts with <score-partwise>")
            .into());
    }
    let measures = measures::with_harmony(root).ok_or_else(|| {
        Fault::new("no chord symbols in this score")
            .of_file(file)
            .hint("a lead sheet has chord symbols above the staff, <harmony> in MusicXML")
    })?;
    let mut faults = Vec::new();
    let bars = measures::bars(&page, &measures, &mut faults);
    let draft = Draft {
        title: head::title(root),
        key: bars.key,
        metre: bars.bars.first().map_or(sinistra_core::time::Metre::COMMON, |bar| bar.metre),
        tempo: bars.tempo,
        swing: head::swing(root),
        pick_up: bars.pick_up,
        bars: bars.bars,
    };
    match Chart::new(draft) {
        Ok(chart) if faults.is_empty() => return Ok(chart),
        Ok(_) => {}
        Err(problems) => faults.extend(problems.into_iter().map(|problem| {
            let measure = problem.bar.and_then(|bar| measures.get(bar)).copied();
            page.fault(measure.unwrap_or(root), problem.what).hint(problem.hint)
        })),
    }
    match Faults::or_ok(faults) {
        Err(faults) => Err(faults),
        Ok(()) => Err(Fault::new("no chart comes of this score").of_file(file).into()),
    }
}

/// The text, for pointing at its lines.
struct SourceText<'a> {
    file: &'a str,
    text: &'a str,
}

impl<'a> SourceText<'a> {
    fn document(&self) -> Result<Document<'a>, Fault> {
        let options = ParsingOptions {
            allow_dtd: true,
            nodes_limit: limits::MUSICXML_NODES,
            ..ParsingOptions::default()
        };
        Document::parse_with_options(self.text, options).map_err(|error| {
            let place = error.pos();
            let line = self.text.lines().nth(place.row.saturating_sub(1) as usize).unwrap_or("");
            let spot = Spot {
                file: self.file.to_owned(),
                line: place.row as usize,
                column: place.col as usize,
                width: 1,
                text: line.to_owned(),
            };
            // The library puts the place behind its words; ours stands before.
            let what = error.to_string();
            let what = what.split(" at ").next().unwrap_or("no XML").to_owned();
            Fault::new(format!("no XML that can be read: {what}")).at(spot)
        })
    }

    /// A fault of an element, at its tag.
    fn fault(&self, node: Node<'_, '_>, what: impl Into<String>) -> Fault {
        let from = node.range().start;
        let to = from + 1 + node.tag_name().name().len();
        Fault::new(what).at(Spot::in_text(self.file, self.text, from, to))
    }
}

/// The first child element of that name.
fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    node.children().find(|child| child.has_tag_name(name))
}

/// The text of the first child of that name.
fn text_of<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name).and_then(|child| child.text()).map(str::trim)
}

/// The number in the first child of that name.
fn number<T: std::str::FromStr>(node: Node<'_, '_>, name: &str) -> Option<T> {
    text_of(node, name)?.parse().ok()
}

#[cfg(test)]
mod tests;
