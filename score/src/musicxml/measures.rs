//! Measures as bars: where their chords stand, how they repeat.

use roxmltree::Node;

use super::{SourceText, child, harmony, head, number, text_of};
use crate::Fault;
use crate::chart::{Bar, Cell, Content, JumpBack, JumpEnd, RoadSigns, fewest_places, jump};
use sinistra_core::chord::Symbol;
use sinistra_core::key::{Key, WrittenKey};
use sinistra_core::time::{Metre, Ticks};

/// Everything that the measures tell.
pub(super) struct Measures {
    pub key: Option<Key>,
    /// Felt beats a minute.
    pub tempo: Option<f64>,
    pub pick_up: Option<u8>,
    pub bars: Vec<Bar>,
}

/// The measures of the first part that has chord symbols.
pub(super) fn with_harmony<'a, 'i>(root: Node<'a, 'i>) -> Option<Vec<Node<'a, 'i>>> {
    let elements = |node: Node<'a, 'i>, name: &'static str| {
        node.children().filter(move |child| child.has_tag_name(name))
    };
    let has_harmony = |measures: &Vec<Node<'a, 'i>>| {
        measures.iter().any(|measure| child(*measure, "harmony").is_some())
    };
    if root.has_tag_name("score-partwise") {
        return elements(root, "part")
            .map(|part| elements(part, "measure").collect::<Vec<_>>())
            .find(has_harmony);
    }
    // Time-wise: the parts stand inside each measure.
    let first = child(root, "measure")?;
    let ids: Vec<_> = elements(first, "part").filter_map(|part| part.attribute("id")).collect();
    ids.into_iter()
        .map(|id| {
            elements(root, "measure")
                .filter_map(|measure| {
                    elements(measure, "part").find(|part| part.attribute("id") == Some(id))
                })
                .collect::<Vec<_>>()
        })
        .find(has_harmony)
}

/// What holds from measure to measure.
struct MeasureState {
    /// Of a quarter note.
    divisions: f64,
    metre: Metre,
    /// As it sounds.
    key: Option<Key>,
    /// The same as the part writes it.
    written: Option<WrittenKey>,
    /// Semitones from written to sounding pitch.
    transpose: i32,
    /// Quarter notes a minute, as first told.
    tempo: Option<f64>,
    /// Whether `%` signs stand here.
    repeats_bar: bool,
    /// Whether an ending is open.
    in_ending: bool,
}

pub(super) fn bars(
    page: &SourceText<'_>,
    measures: &[Node<'_, '_>],
    faults: &mut Vec<Fault>,
) -> Measures {
    let mut state = MeasureState {
        divisions: 1.0,
        metre: Metre::COMMON,
        key: None,
        written: None,
        transpose: 0,
        tempo: None,
        repeats_bar: false,
        in_ending: false,
    };
    let mut bars: Vec<Bar> = Vec::new();
    let mut pick_up = None;
    let systems = measures.iter().any(|measure| new_system(*measure));
    for (index, measure) in measures.iter().enumerate() {
        let mut read = Measure::read(page, *measure, &mut state, faults);
        let (units, metre) = read.units(state.metre, index == 0);
        if index == 0 {
            pick_up = Some(units).filter(|units| *units < metre.beats());
        }
        let mut bar = Bar::plain(metre, Vec::new());
        let same = state.repeats_bar
            && read.chords.is_empty()
            && bars.last().is_some_and(|before: &Bar| before.metre == metre)
            && !(index == 1 && pick_up.is_some());
        bar.content = if same {
            Content::Same
        } else {
            Content::Places(cells(&read.chords, units, metre, index == 0))
        };
        bar.section = read.section;
        bar.starts_line = if systems { new_system(*measure) } else { index % 4 == 0 };
        bar.starts_line |= index == 0 || bar.section.is_some();
        bar.repeat_start = read.repeat_start;
        bar.ending = read.ending;
        bar.signs = read.signs;
        state.in_ending |= !bar.ending.is_empty();
        bar.repeat_end = read.repeat_end.map(|times| if state.in_ending { 2 } else { times });
        state.in_ending &= !read.ending_stops;
        bars.push(bar);
    }
    until(&mut bars);
    let first = bars.first().map_or(Metre::COMMON, |bar| bar.metre);
    let tempo = state.tempo.map(|quarters| quarters / first.pulse().beats());
    let tempo = tempo.map(|tempo| (tempo * 10.0).round() / 10.0);
    Measures { key: state.key, tempo: tempo.filter(|t| (20.0..=400.0).contains(t)), pick_up, bars }
}

/// How far it is played after a jump: MusicXML has the signs alone.
fn until(bars: &mut [Bar]) {
    let has = |wanted: fn(&RoadSigns) -> bool| bars.iter().any(|bar| wanted(&bar.signs));
    let (coda, fine) = (has(|signs| signs.to_coda), has(|signs| signs.fine));
    let until = match (coda, fine) {
        (true, _) => JumpEnd::Coda,
        (_, true) => JumpEnd::Fine,
        _ => JumpEnd::End,
    };
    bars.iter_mut().filter_map(|bar| bar.signs.back.as_mut()).for_each(|back| back.until = until);
    if jump(bars).is_err() {
        bars.iter_mut().for_each(|bar| bar.signs = RoadSigns::default());
    }
}

fn new_system(measure: Node<'_, '_>) -> bool {
    measure.children().any(|print| {
        print.has_tag_name("print")
            && (print.attribute("new-system") == Some("yes")
                || print.attribute("new-page") == Some("yes"))
    })
}

/// Ticks by which the durations of a full measure may be rounded: half a 32nd.
const SLACK: f64 = Ticks::PER_BEAT as f64 / 16.0;

/// The metre of a bar that is so many ticks long where it is short of `metre`:
/// in the coarsest notes that it is whole in, 7/8 for three and a half of 4/4.
fn of_length(ticks: f64, metre: Metre) -> Metre {
    let of_unit = |unit: u8| {
        let beats = ticks / Metre::new(1, unit)?.unit_ticks().0 as f64;
        let whole = (beats - beats.round()).abs() < 0.01 || unit == 32;
        Metre::new(beats.round().clamp(1.0, 32.0) as u8, unit).filter(|_| whole)
    };
    let units = [1, 2, 4, 8, 16, 32].into_iter().filter(|unit| *unit >= metre.unit());
    units.into_iter().find_map(of_unit).unwrap_or(metre)
}

/// The chords at the nearest places that can be written.
fn cells(chords: &[(f64, Option<Symbol>)], units: u8, metre: Metre, first: bool) -> Vec<Cell> {
    let finest = 4 * usize::from(units);
    let mut cells = vec![Cell::Hold; finest];
    let step = metre.unit_ticks().0 as f64 / 4.0;
    for (at, symbol) in chords {
        let place = ((at / step).round().max(0.0) as usize).min(finest - 1);
        let cell = symbol.map_or(Cell::NoChord, Cell::Chord);
        // Two at one place: the second stands behind the first.
        let free = (place..finest).find(|n| cells.get(*n) == Some(&Cell::Hold));
        if let Some(there) = free.and_then(|n| cells.get_mut(n)) {
            *there = cell;
        }
    }
    if first && let Some(start) = cells.first_mut().filter(|cell| **cell == Cell::Hold) {
        *start = Cell::NoChord;
    }
    fewest_places(&cells, units)
}

/// What one measure says.
#[derive(Default)]
struct Measure {
    /// From the bar line, in our ticks.
    chords: Vec<(f64, Option<Symbol>)>,
    /// In our ticks; 0 if nothing in it has a length.
    length: f64,
    section: Option<String>,
    repeat_start: bool,
    repeat_end: Option<u8>,
    ending: Vec<u8>,
    ending_stops: bool,
    signs: RoadSigns,
}

impl Measure {
    fn read(
        page: &SourceText<'_>,
        measure: Node<'_, '_>,
        state: &mut MeasureState,
        faults: &mut Vec<Fault>,
    ) -> Self {
        let mut read = Self::default();
        let mut at = 0.0f64;
        for node in measure.children().filter(Node::is_element) {
            let ticks = |divisions: f64| divisions / state.divisions * Ticks::PER_BEAT as f64;
            let duration = || ticks(number(node, "duration").unwrap_or(0.0));
            match node.tag_name().name() {
                "attributes" => state.attributes(page, node, faults),
                "note" if child(node, "chord").is_none() && child(node, "grace").is_none() => {
                    at += duration();
                }
                "forward" => at += duration(),
                "backup" => at = (at - duration()).max(0.0),
                "harmony" => {
                    let offset = ticks(number(node, "offset").unwrap_or(0.0));
                    match harmony::symbol(node) {
                        Ok(symbol) => {
                            let sounding = symbol.map(|symbol| state.sounding(symbol));
                            read.chords.push((at + offset, sounding));
                        }
                        Err(what) => faults.push(page.fault(node, what)),
                    }
                }
                "direction" | "sound" => {
                    state.tempo = state.tempo.or_else(|| head::tempo(node));
                    read.jump(node);
                    let mark = node.descendants().find(|n| n.has_tag_name("rehearsal"));
                    if let Some(text) = mark.and_then(|mark| mark.text()) {
                        let name: String = text
                            .chars()
                            .filter(|c| !c.is_control() && *c != ']')
                            .take(60)
                            .collect();
                        let name = name.trim().to_owned();
                        read.section = (!name.is_empty()).then_some(name);
                    }
                }
                "barline" => read.bar_line(node),
                _ => {}
            }
            read.length = read.length.max(at);
            if !at.is_finite() {
                at = 0.0;
                read.length = 0.0;
            }
        }
        read.chords.retain(|(at, _)| at.is_finite());
        read.chords.sort_by(|a, b| a.0.total_cmp(&b.0));
        read
    }

    /// How many units of its metre it has: fewer in a pick-up. A bar that is split at a
    /// repeat or shortened at the end has a metre of its own.
    fn units(&mut self, metre: Metre, first: bool) -> (u8, Metre) {
        let (ticks, full) = (self.length, metre.bar().0 as f64);
        if !(SLACK..full - SLACK).contains(&ticks) {
            return (metre.beats(), metre);
        }
        if !first {
            let metre = of_length(ticks, metre);
            return (metre.beats(), metre);
        }
        // A chart's pick-up is whole beats: one of half a beat waits for the other half.
        let beat = metre.unit_ticks().0 as f64;
        let units = (ticks / beat - 0.01).ceil().max(1.0);
        self.chords.iter_mut().for_each(|(at, _)| *at += units * beat - ticks);
        (units as u8, metre)
    }

    /// Signs by their meaning for players (`sound`), not by how they are drawn.
    fn jump(&mut self, node: Node<'_, '_>) {
        let sounds = node.descendants().filter(|node| node.has_tag_name("sound"));
        for sound in sounds {
            let has = |name: &str| sound.attribute(name).is_some_and(|value| value != "no");
            let signs = &mut self.signs;
            signs.segno |= has("segno");
            signs.coda |= has("coda");
            signs.to_coda |= has("tocoda");
            signs.fine |= has("fine");
            if has("dacapo") || has("dalsegno") {
                let to_segno = has("dalsegno");
                signs.back = Some(JumpBack { to_segno, until: JumpEnd::End });
            }
        }
    }

    fn bar_line(&mut self, node: Node<'_, '_>) {
        if let Some(repeat) = child(node, "repeat") {
            let times = repeat.attribute("times").and_then(|times| times.parse().ok());
            match repeat.attribute("direction") {
                Some("forward") => self.repeat_start = true,
                Some("backward") => self.repeat_end = Some(times.unwrap_or(2).clamp(2, 99)),
                _ => {}
            }
        }
        if let Some(ending) = child(node, "ending") {
            match ending.attribute("type") {
                Some("start") => {
                    let numbers = ending.attribute("number").unwrap_or("").split([',', ' ']);
                    self.ending = numbers.filter_map(|n| n.trim().parse().ok()).take(99).collect();
                }
                Some("stop" | "discontinue") => self.ending_stops = true,
                _ => {}
            }
        }
    }
}

impl MeasureState {
    fn attributes(&mut self, page: &SourceText<'_>, node: Node<'_, '_>, faults: &mut Vec<Fault>) {
        if let Some(divisions) = child(node, "divisions") {
            match head::divisions(divisions) {
                Ok(divisions) => self.divisions = divisions,
                Err(what) => faults.push(page.fault(divisions, what).hint("1 or more are meant")),
            }
        }
        if let Some(chromatic) =
            child(node, "transpose").and_then(|node| number::<i32>(node, "chromatic"))
        {
            self.transpose = chromatic.clamp(-36, 36);
        }
        if self.key.is_none() {
            self.written = child(node, "key").and_then(head::key);
            self.key = self.written.map(|written| self.moved(written.key()));
        }
        // Music without a metre (`senza-misura`) says no beats; the metre before holds.
        if let Some(time) = child(node, "time").filter(|time| child(*time, "beats").is_some()) {
            match head::metre(time) {
                Ok(metre) => self.metre = metre,
                Err(what) => {
                    let fault = page.fault(time, what);
                    faults.push(fault.hint("metres are such as 4/4, 3/4 or 12/8"));
                }
            }
        }
        for style in node.children().filter(|node| node.has_tag_name("measure-style")) {
            if let Some(repeat) = child(style, "measure-repeat") {
                let one = text_of(style, "measure-repeat").is_none_or(|n| n.is_empty() || n == "1");
                self.repeats_bar = repeat.attribute("type") == Some("start") && one;
            }
        }
    }

    fn moved(&self, key: Key) -> Key {
        Key { tonic: key.tonic.transpose(sinistra_core::pitch::Semitones(self.transpose)), ..key }
    }

    /// A part for a transposing instrument writes its chords as it reads them.
    fn sounding(&self, symbol: Symbol) -> Symbol {
        if self.transpose % 12 == 0 {
            return symbol;
        }
        let written = self.written.unwrap_or(Key::C_MAJOR.into());
        symbol.transpose(written, self.moved(written.key()))
    }
}
