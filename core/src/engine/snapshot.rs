//! What a window or a screen may show, copied out after a block.

use arrayvec::ArrayVec;

use super::{Block, Engine};
use crate::chord::Chord;
use crate::foresee::Forecast;
use crate::key::Key;
use crate::pitch::KeyNumber;
use crate::play::{Moment, Role};
use crate::time::{Place, Ticks};

/// How often a second the slots are looked at anew.
const VIEWS: f64 = 60.0;

/// A chord with how sure its naming is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// The chord.
    pub chord: Chord,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
}

/// A slot of the pattern in the present bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotView {
    /// When it sounds.
    pub at: Ticks,
    /// What was, or is likely to be, played there; `None` for a rest.
    pub role: Option<Role>,
    /// The (lowest) key that was played there, once it was.
    pub key: Option<KeyNumber>,
}

/// The state of the engine at the end of a block: plain, fixed size.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// Whether time moves.
    pub playing: bool,
    /// Musical time.
    pub at: Ticks,
    /// The bar.
    pub place: Place,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Keys of the right hand that are down or held by a pedal; bit n is key n.
    pub right: u128,
    /// Keys of the player's own left hand.
    pub own_left: u128,
    /// Notes of our left hand that sound.
    pub left: ArrayVec<(KeyNumber, Role), { crate::sound::MOST }>,
    /// The chord now.
    pub chord: Option<Heard>,
    /// The key of the song, as set or heard.
    pub key: Key,
    /// What comes next.
    pub next: Option<Forecast>,
    /// The pattern in this bar.
    pub slots: ArrayVec<SlotView, 48>,
    /// Index in the song's chords of the one that holds, with a chart.
    pub chart_chord: Option<usize>,
    /// Notes that could not be sent, since the start.
    pub dropped: u32,
}

impl Default for Snapshot {
    fn default() -> Self {
        Self {
            playing: false,
            at: Ticks::ZERO,
            place: Place { bar: Ticks::ZERO, metre: crate::time::Metre::COMMON, number: 0 },
            tempo: 120.0,
            right: 0,
            own_left: 0,
            left: ArrayVec::new(),
            chord: None,
            key: Key::C_MAJOR,
            next: None,
            slots: ArrayVec::new(),
            chart_chord: None,
            dropped: 0,
        }
    }
}

impl Engine {
    /// Copies out what a window may show. Real-time safe.
    pub(super) fn show(&mut self, block: &Block<'_>) {
        let at = self.clock.at(block.frames);
        let place = self.place_of(at);
        let hearing = self.listener.ear.hearing();
        let chord = hearing.chord.map(|chord| Heard { chord, certainty: hearing.certainty });
        let chart_chord = self.song.as_deref().and_then(|song| self.listener.chart_chord(at, song));
        let key = self.song_key();
        let snapshot = &mut self.snapshot;
        snapshot.playing = !self.clock.stands();
        snapshot.at = at;
        snapshot.tempo = self.clock.tempo();
        snapshot.place = place;
        snapshot.right = self.listener.ear.right();
        snapshot.own_left = self.listener.ear.own_left();
        snapshot.left = self.ledger.sounding().map(|note| (note.key, note.role)).collect();
        snapshot.chord = chord;
        snapshot.key = key;
        // While it is thought about, the last answer stays: nothing shall flicker.
        if !self.listener.is_thinking() {
            snapshot.next = self.listener.forecast();
        }
        snapshot.chart_chord = chart_chord;
        snapshot.dropped = self.ledger.dropped();
        self.preview(block, chord.map(|heard| heard.chord));
    }

    /// What the slots of this bar will hold; not more often than eyes see.
    fn preview(&mut self, block: &Block<'_>, chord: Option<Chord>) {
        self.unseen = self.unseen.saturating_add(block.frames);
        if f64::from(self.unseen) * VIEWS < block.rate {
            return;
        }
        self.unseen = 0;
        let Some(chord) = chord.filter(|_| !self.clock.stands()) else {
            self.snapshot.slots.clear();
            self.previewed = None;
            return;
        };
        // What a whole bar holds does not depend on where in it we are.
        let moment = self.moment(self.snapshot.at, chord, false);
        let moment = Moment { at: moment.place.bar, loudness: 0, ..moment };
        let basis = (self.hand, moment, self.settings);
        if self.previewed != Some(basis) || self.pattern.improvises(moment.place.metre) {
            let mut slots = if self.pattern.improvises(moment.place.metre) {
                self.free.preview(moment.place.bar, &self.settings)
            } else {
                self.hand.preview(&self.pattern, &moment, &self.settings)
            };
            for slot in slots.iter_mut().filter(|slot| self.tacet(slot.at)) {
                (slot.role, slot.key) = (None, None);
            }
            self.snapshot.slots = slots;
            self.previewed = Some(basis);
        }
    }
}
