//! The ear: every note and pedal in, the chord at any moment out.

use super::naming::{Context, name_keys};
use super::{Expected, Hearing, Held};
use crate::engine::KeyChoice;
use crate::key::Key;
use crate::pitch::KeyNumber;
use crate::time::{Place, Ticks};

/// A chord is struck over 5–50 ms; after the last key of a stroke the ear
/// waits this long before it calls the stroke settled.
const SETTLING_MS: f64 = 30.0;

/// Hears the right hand. Fixed size; real-time safe throughout.
///
/// Feed every event in the order of time, then ask [`Ear::listen`] once all
/// events of one instant are in, at [`Ear::due`], and whenever an answer is
/// needed. The answers depend on what was fed and when it was asked, never on
/// how time was cut into blocks.
#[derive(Clone, Debug)]
pub struct Ear {
    split: KeyNumber,
    held: Held,
    key: KeyChoice,
    loudness: u8,
    struck: Option<Ticks>,
    due: Option<Ticks>,
    hearing: Hearing,
}

impl Ear {
    /// An ear that has heard nothing; keys at or above `split` are the right
    /// hand's.
    pub fn new(split: KeyNumber) -> Self {
        Self {
            split,
            held: Held::default(),
            key: KeyChoice::Auto,
            loudness: 64,
            struck: None,
            due: None,
            hearing: Hearing::default(),
        }
    }

    /// A key goes down; velocity 1..=127.
    pub fn note_on(&mut self, at: Ticks, key: KeyNumber, velocity: u8) {
        self.held.press(key);
        if key >= self.split {
            self.loudness = velocity;
            self.struck = Some(at);
        }
    }

    /// A key comes up.
    pub fn note_off(&mut self, _at: Ticks, key: KeyNumber) {
        self.held.release(key);
    }

    /// A controller moves: pedals and channel mode messages count.
    pub fn control(&mut self, _at: Ticks, controller: u8, value: u8) {
        self.held.control(controller, value);
    }

    /// The lowest key of the right hand from now on.
    pub fn set_split(&mut self, split: KeyNumber) {
        self.split = split;
    }

    /// The key of the song: given, or heard.
    pub fn set_key(&mut self, key: KeyChoice) {
        self.key = key;
    }

    /// A new song: forgets chords and key heard; keys that are down stay.
    pub fn forget(&mut self) {
        self.struck = None;
        self.due = None;
        self.hearing = Hearing::default();
    }

    /// Every key is up and every pedal off; what was heard stays.
    pub fn all_off(&mut self) {
        self.held = Held::default();
    }

    /// Keys of the right hand that are down or held by a pedal.
    pub fn right(&self) -> u128 {
        self.held.sounding() & (u128::MAX << self.split.number())
    }

    /// Keys of the player's own left hand, below the split.
    pub fn own_left(&self) -> u128 {
        self.held.sounding() & !(u128::MAX << self.split.number())
    }

    /// The lowest sounding key of the right hand.
    pub fn lowest_right(&self) -> Option<KeyNumber> {
        let right = self.right();
        (right != 0).then(|| KeyNumber::clamped(right.trailing_zeros() as i32))
    }

    /// How loud the right hand has lately been, velocity 1..=127.
    pub fn loudness(&self) -> u8 {
        self.loudness
    }

    /// The key of the song, as set or heard.
    pub fn key(&self) -> Key {
        match self.key {
            KeyChoice::Fixed(key) => key,
            KeyChoice::Auto => Key::C_MAJOR,
        }
    }

    /// When the last stroke will have settled and `listen` wants to be asked
    /// again; `None` if nothing is pending.
    pub fn due(&self) -> Option<Ticks> {
        self.due
    }

    /// The answer of the last [`Ear::listen`].
    pub fn hearing(&self) -> &Hearing {
        &self.hearing
    }

    /// The chord at `now`, all events up to and at `now` being in. `place` is
    /// the bar that holds `now`, `tempo` in quarter notes a minute.
    pub fn listen(
        &mut self,
        now: Ticks,
        _place: Place,
        tempo: f64,
        expected: &Expected,
    ) -> Hearing {
        if let Some(struck) = self.struck.take() {
            self.due = Some(struck + Ticks::of_ms(SETTLING_MS, tempo));
        }
        let settled = self.due.is_none_or(|due| now >= due);
        if settled {
            self.due = None;
        }
        let context = Context {
            key: Some(self.key()),
            before: self.hearing.chord,
            expected: Some(*expected),
        };
        let before = self.hearing.chord;
        if let Some(naming) = name_keys(self.right() | self.own_left(), &context) {
            let changed = before.is_none_or(|c| c.root != naming.chord.root);
            self.hearing.chord = Some(naming.chord);
            self.hearing.certainty = naming.certainty;
            self.hearing.changed = changed;
            if changed {
                self.hearing.since = now;
            }
        } else {
            self.hearing.changed = false;
        }
        self.hearing.settled = settled;
        self.hearing
    }
}
