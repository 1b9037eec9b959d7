//! Both hands as they are written: values, heads, accidentals, beams and
//! fingers, the same for what is drawn and what is exported.

use super::accidentals::{Accidental, Accidentals, Head};
use super::fingering::{self, Fingers, Grip};
use super::low::is_low;
use super::value::{self, Value};
use super::voice::{self, Beam, VoiceEvent, WrittenStroke};
use super::{Sheet, SheetBar, SheetNote};
use crate::count::Count;
use sinistra_core::play::Role;
use sinistra_core::time::Ticks;

/// The staves of a grand staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Staff {
    /// The right hand, in the treble clef.
    Right,
    /// The left hand, in the bass clef.
    Left,
}

/// Steps above (below: negative) the middle line of the staff: B4 in the
/// treble clef, D3 in the bass clef.
pub(super) fn step(head: Head, staff: Staff) -> i32 {
    let middle = match staff {
        Staff::Right => 7 * 4 + 6,
        Staff::Left => 7 * 3 + 1,
    };
    7 * head.octave + head.spelled.letter as i32 - middle
}

/// One hand, ready to be cut into bars.
pub(super) struct HandPart {
    strokes: Vec<WrittenStroke<SheetNote>>,
    fingers: Vec<Fingers>,
    staff: Staff,
    accidentals: Accidentals,
}

/// A stroke or rest with everything that is printed of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct WrittenEvent {
    /// Ticks after the bar line of the full bar (a pick-up starts later).
    pub offset: i64,
    /// Ticks.
    pub length: i64,
    /// `None` if no single value has this length.
    pub value: Option<Value>,
    /// From low to high; none is a rest.
    pub notes: Vec<WrittenNote>,
    /// It goes on from the event before, or into the next.
    pub tied_from: bool,
    pub tied_on: bool,
    /// A level each.
    pub beams: Vec<Beam>,
    /// The hand moves to get here.
    pub moves: bool,
    /// Wider than a hand strikes at once.
    pub wide: bool,
    /// Printed an octave higher than it sounds, over an 8vb.
    pub low: bool,
    /// Where it is counted.
    pub count: Count,
}

/// One head.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WrittenNote {
    pub head: Head,
    pub note: SheetNote,
    /// Printed before it.
    pub accidental: Option<Accidental>,
    /// 1..=5, the left hand's, where it is struck.
    pub finger: Option<u8>,
}

impl WrittenEvent {
    pub fn is_rest(&self) -> bool {
        self.notes.is_empty()
    }

    /// Roles of its notes, from low to high, where it is struck.
    pub fn roles(&self) -> impl Iterator<Item = Role> + '_ {
        self.notes.iter().filter_map(|note| note.note.role)
    }
}

impl HandPart {
    /// A hand of `sheet`.
    pub fn of(sheet: &Sheet, staff: Staff) -> Self {
        let end = sheet.bars.last().map_or(0, |bar| bar.end.0);
        let ms = |ticks: i64| Ticks(ticks).beats() * 60_000.0 / sheet.tempo;
        let notes = match staff {
            Staff::Right => &sheet.right,
            Staff::Left => &sheet.left,
        };
        let strokes = voice::settle(strokes(notes), end);
        let fingers = if staff == Staff::Left { fingers(&strokes, ms) } else { Vec::new() };
        Self { strokes, fingers, staff, accidentals: Accidentals::of(sheet.key) }
    }

    /// One bar. Bars are to be asked for in order: a tied head repeats no
    /// accidental, and a bar line ends them.
    pub fn bar(&mut self, sheet: &Sheet, bar: &SheetBar) -> Vec<WrittenEvent> {
        self.accidentals.new_bar();
        let events = voice::bar(&self.strokes, bar.metre, (bar.at.0, bar.end.0), bar.missing().0);
        let mut written: Vec<WrittenEvent> =
            events.into_iter().map(|event| self.written(sheet, bar, event)).collect();
        if self.staff == Staff::Left && is_low(&written) {
            written.iter_mut().for_each(|event| event.low = true);
        }
        written
    }

    fn written(&mut self, sheet: &Sheet, bar: &SheetBar, event: VoiceEvent) -> WrittenEvent {
        let stroke = event.stroke.and_then(|index| self.strokes.get(index));
        let fingers = event.stroke.and_then(|index| self.fingers.get(index));
        let fingers = fingers.filter(|_| !event.tied_from);
        let mut notes = Vec::new();
        for (place, note) in stroke.iter().flat_map(|stroke| &stroke.notes).enumerate() {
            let head = sheet.head(note);
            let accidental = if event.tied_from { None } else { self.accidentals.before(head) };
            let finger = fingers.and_then(|fingers| fingers.fingers.get(place)).copied();
            notes.push(WrittenNote { head, note: *note, accidental, finger });
        }
        let VoiceEvent { offset, length, tied_from, tied_on, beams, .. } = event;
        WrittenEvent {
            offset,
            length,
            value: value::value(length),
            notes,
            tied_from,
            tied_on,
            beams,
            moves: fingers.is_some_and(|fingers| fingers.moves),
            wide: fingers.is_some_and(|fingers| fingers.wide),
            low: false,
            count: Count::of(bar.metre, Ticks(offset)),
        }
    }

    /// The number of the staff, from 1.
    pub fn number(&self) -> u8 {
        match self.staff {
            Staff::Right => 1,
            Staff::Left => 2,
        }
    }
}

impl SheetBar {
    /// What a pick-up bar lacks before it, so that it ends where a full bar
    /// does; nothing in other bars.
    #[must_use]
    pub fn missing(&self) -> Ticks {
        let full = self.metre.bar() - (self.end - self.at);
        if self.number == 0 && full > Ticks::ZERO { full } else { Ticks::ZERO }
    }
}

/// Notes struck together, from low to high.
fn strokes(notes: &[SheetNote]) -> Vec<WrittenStroke<SheetNote>> {
    let mut notes = notes.to_vec();
    notes.sort_by_key(|note| (note.at, note.key));
    notes.dedup_by_key(|note| (note.at, note.key));
    notes
        .chunk_by(|a, b| a.at == b.at)
        .filter_map(|together| {
            let at = together.first()?.at.0;
            let until = together.iter().map(|note| note.until.0).max()?;
            Some(WrittenStroke { at, until, notes: together.to_vec() })
        })
        .collect()
}

fn fingers(strokes: &[WrittenStroke<SheetNote>], ms: impl Fn(i64) -> f64) -> Vec<Fingers> {
    let grips: Vec<Grip> = strokes
        .iter()
        .map(|s| Grip { keys: s.notes.iter().map(|n| n.key).collect(), at_ms: ms(s.at) })
        .collect();
    fingering::left_hand(&grips)
}
