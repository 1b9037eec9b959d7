//! Both hands as they are written: values, heads, accidentals, beams and
//! fingers, the same for what is drawn and what is exported.

use std::collections::HashMap;

use super::accidentals::{Accidental, Accidentals, Head};
use super::fingering::{self, FingerGrip, Fingers};
use super::low;
use super::value::Value;
use super::voice::{self, Beam, Triplet, VoiceEvent, WrittenStroke};
use super::{Sheet, SheetBar, SheetNote};
use crate::count::Count;
use sinistra_core::pitch::KeyNumber;
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
    /// What is held while others are struck above it.
    held: Vec<WrittenStroke<SheetNote>>,
    /// By when it is struck: its keys, and how they are fingered.
    fingers: HashMap<Ticks, (Vec<KeyNumber>, Fingers)>,
    staff: Staff,
    accidentals: Accidentals,
}

/// The voices of a staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Layer {
    /// The only one here.
    Only,
    /// The upper of two: stems up.
    Upper,
    /// The lower of two, which is held: stems down, its rests not printed.
    Lower,
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
    /// Its part in a triplet.
    pub triplet: Option<Triplet>,
    /// Which voice of its staff it is in.
    pub layer: Layer,
    /// What stands under it: the roles of all that is struck here, from low to high;
    /// none where another voice says it.
    pub roles: Vec<Role>,
    /// Whether its count is printed.
    pub counted: bool,
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
        let all = strokes(notes);
        let fingers = match staff {
            Staff::Left => fingers(&all, &sheet.bars, ms),
            Staff::Right => HashMap::new(),
        };
        let (held, moving) = match staff {
            Staff::Left => voices(&all),
            Staff::Right => (Vec::new(), all),
        };
        let others: Vec<i64> = held.iter().map(|stroke| stroke.at).collect();
        let strokes = voice::settle_among(moving, &others, end);
        let held = voice::settle(held, end);
        Self { strokes, held, fingers, staff, accidentals: Accidentals::of(sheet.key) }
    }

    /// All bars of `sheet`, in order.
    pub fn bars(mut self, sheet: &Sheet) -> Vec<Vec<WrittenEvent>> {
        let mut bars: Vec<_> = sheet.bars.iter().map(|bar| self.bar(sheet, bar)).collect();
        if self.staff == Staff::Left {
            low::mark(&mut bars);
        }
        bars
    }

    /// One bar. Bars are to be asked for in order: a tied head repeats no
    /// accidental, and a bar line ends them.
    fn bar(&mut self, sheet: &Sheet, bar: &SheetBar) -> Vec<WrittenEvent> {
        self.accidentals.new_bar();
        let place = (bar.at.0, bar.end.0);
        let upper = voice::bar(&self.strokes, bar.metre, place, bar.missing().0);
        let lower = voice::bar(&self.held, bar.metre, place, bar.missing().0);
        let rests = |events: &[VoiceEvent]| events.iter().all(|event| event.stroke.is_none());
        let mut events: Vec<(VoiceEvent, Layer, bool)> = match (rests(&upper), rests(&lower)) {
            (_, true) => upper.into_iter().map(|event| (event, Layer::Only, false)).collect(),
            (true, false) => lower.into_iter().map(|event| (event, Layer::Only, true)).collect(),
            (false, false) => {
                let sounds = lower.into_iter().filter(|event| event.stroke.is_some());
                let lower = sounds.map(|event| (event, Layer::Lower, true));
                upper.into_iter().map(|event| (event, Layer::Upper, false)).chain(lower).collect()
            }
        };
        // Accidentals are told in the order in which they are read.
        events.sort_by_key(|(event, layer, _)| (event.offset, *layer == Layer::Upper));
        let mut written: Vec<WrittenEvent> = events
            .into_iter()
            .map(|(event, layer, held)| self.written(sheet, bar, event, (layer, held)))
            .collect();
        say_once(&mut written);
        written.sort_by_key(|event| (event.layer == Layer::Lower, event.offset));
        written
    }

    fn written(
        &mut self,
        sheet: &Sheet,
        bar: &SheetBar,
        event: VoiceEvent,
        (layer, held): (Layer, bool),
    ) -> WrittenEvent {
        let of_voice = if held { &self.held } else { &self.strokes };
        let stroke = event.stroke.and_then(|index| of_voice.get(index));
        let struck = stroke.and_then(|stroke| stroke.notes.first()).map(|note| note.at);
        let fingers = struck.and_then(|at| self.fingers.get(&at)).filter(|_| !event.tied_from);
        let mut notes = Vec::new();
        for note in stroke.iter().flat_map(|stroke| &stroke.notes) {
            let head = sheet.head(note);
            let accidental = if event.tied_from { None } else { self.accidentals.before(head) };
            let finger = fingers.and_then(|(keys, fingers)| {
                let place = keys.iter().position(|key| *key == note.key)?;
                fingers.fingers.get(place).copied()
            });
            notes.push(WrittenNote { head, note: *note, accidental, finger });
        }
        let VoiceEvent { offset, length, value, triplet, tied_from, tied_on, beams, .. } = event;
        let roles = notes.iter().filter_map(|note: &WrittenNote| note.note.role).collect();
        WrittenEvent {
            offset,
            length,
            value,
            triplet,
            layer,
            roles,
            counted: true,
            notes,
            tied_from,
            tied_on,
            beams,
            moves: fingers.is_some_and(|(_, fingers)| fingers.moves),
            wide: fingers.is_some_and(|(_, fingers)| fingers.wide),
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

/// By when it is struck, the keys of a stroke and their fingers: none where the same keys
/// are struck again in the bar by the same ones, as is printed (common practice).
fn fingers(
    strokes: &[WrittenStroke<SheetNote>],
    bars: &[SheetBar],
    ms: impl Fn(i64) -> f64,
) -> HashMap<Ticks, (Vec<KeyNumber>, Fingers)> {
    let keys = |s: &WrittenStroke<SheetNote>| s.notes.iter().map(|n| n.key).collect::<Vec<_>>();
    let grips: Vec<FingerGrip> =
        strokes.iter().map(|s| FingerGrip { keys: keys(s), at_ms: ms(s.at) }).collect();
    let all = fingering::left_hand(&grips);
    let bar = |n: usize| bars.partition_point(|bar| bar.at.0 <= strokes[n].at);
    let again = |n: usize| {
        n.checked_sub(1).is_some_and(|last| {
            let same = (&grips[last].keys, &all[last].fingers) == (&grips[n].keys, &all[n].fingers);
            same && bar(last) == bar(n)
        })
    };
    let printed = (0..strokes.len()).map(|n| {
        let fingers = if again(n) { Vec::new() } else { all[n].fingers.clone() };
        let fingers = Fingers { fingers, ..all[n] };
        (Ticks(strokes[n].at), (grips[n].keys.clone(), fingers))
    });
    printed.collect()
}

/// A note that sounds on for more than a sixteenth after a higher one was struck is
/// held: the second voice of the hand.
fn voices(
    strokes: &[WrittenStroke<SheetNote>],
) -> (Vec<WrittenStroke<SheetNote>>, Vec<WrittenStroke<SheetNote>>) {
    let (mut held, mut moving) = (Vec::new(), Vec::new());
    for (index, stroke) in strokes.iter().enumerate() {
        let later = strokes.get(index + 1..).unwrap_or(&[]);
        let is_held = |note: &SheetNote| {
            let mut meanwhile =
                later.iter().take_while(|other| other.at + Ticks::PER_BEAT / 4 < note.until.0);
            meanwhile.any(|other| other.notes.iter().all(|above| above.key > note.key))
        };
        let (below, rest): (Vec<SheetNote>, Vec<SheetNote>) =
            stroke.notes.iter().partition(|note| is_held(note));
        for (notes, voice) in [(below, &mut held), (rest, &mut moving)] {
            if let Some(until) = notes.iter().map(|note| note.until.0).max() {
                voice.push(WrittenStroke { at: stroke.at, until, notes });
            }
        }
    }
    (held, moving)
}

/// Where both voices strike, the upper says what is struck in both.
fn say_once(events: &mut [WrittenEvent]) {
    let lower: Vec<(i64, Vec<Role>)> = events
        .iter()
        .filter(|event| event.layer == Layer::Lower && !event.tied_from)
        .map(|event| (event.offset, event.roles.clone()))
        .collect();
    for (offset, roles) in lower {
        let strikes = |event: &&mut WrittenEvent| {
            event.layer == Layer::Upper
                && event.offset == offset
                && !event.is_rest()
                && !event.tied_from
        };
        let Some(upper) = events.iter_mut().find(strikes) else { continue };
        upper.roles = [roles, std::mem::take(&mut upper.roles)].concat();
        let beneath =
            events.iter_mut().find(|event| event.layer == Layer::Lower && event.offset == offset);
        if let Some(event) = beneath {
            event.roles.clear();
            event.counted = false;
        }
    }
}
