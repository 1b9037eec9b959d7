//! The ear: every note and pedal in, the chord at any moment out.

use crate::maths;
use alloc::boxed::Box;

mod circle;
mod colour;
mod decide;
mod felt;
mod hindsight;
mod likeness;
mod notes;
mod passing;
mod past;
mod recall;
mod scorer;
mod signs;
#[cfg(feature = "training")]
mod training;
mod twelve;
mod weights;

use once_cell::race::OnceBox;

use self::felt::Felt;
use self::likeness::Likeness;
use self::notes::Notes;
use self::past::Past;
use self::recall::JudgedPast;
use self::scorer::Scorer;
use self::signs::TOGETHER;
use super::{Expected, Hearing, HeldKeys, Tonality};
use crate::chord::{Chord, NamedChord};
use crate::key::Key;
use crate::pitch::{KeyNumber, PitchClass};
use crate::settings::KeyChoice;
use crate::time::{Metre, Place, Ticks};

/// A chord is struck over 5–50 ms; after the last key of a stroke the ear
/// waits this long before it calls the stroke settled.
const SETTLING_MS: f64 = 30.0;

/// The shipped scorers; made ready in [`Ear::new`].
static SCORER: OnceBox<Scorer> = OnceBox::new();
static HINDSIGHT: OnceBox<Scorer> = OnceBox::new();

/// Hears the right hand. Fixed size; real-time safe throughout.
///
/// Feed every event in the order of time, then ask [`Ear::listen`] once all
/// events of one instant are in, at [`Ear::due`], and whenever an answer is
/// needed. The answers depend on what was fed and when it was asked, never on
/// how time was cut into blocks.
#[derive(Clone, Debug)]
pub struct Ear {
    split: KeyNumber,
    held: HeldKeys,
    key: KeyChoice,
    tonality: Tonality,
    loudness: f32,
    notes: Notes,
    /// The bar as last told.
    place: Place,
    past: Box<Past>,
    felt: Felt,
    likeness: Likeness,
    judged: Box<JudgedPast>,
    /// How late this hand is by habit.
    lateness: Ticks,
    /// The next half beats to be judged, after two beats and after four.
    to_judge: [i64; 2],
    /// The time of the last event or question.
    time: Ticks,
    /// Up to here, what sounds has been told to `tonality`.
    accounted: Ticks,
    /// When the stroke that settles now began.
    stroke: Option<Ticks>,
    /// When the last key of that stroke fell.
    last_key: Option<Ticks>,
    due: Option<Ticks>,
    /// The chord now and when it began.
    present: Option<(Chord, Ticks)>,
    hearing: Hearing,
    scorer: &'static Scorer,
    hindsight: &'static Scorer,
}

impl Ear {
    /// An ear that has heard nothing; keys at or above `split` are the right
    /// hand's. Not for the audio thread: allocates.
    pub fn new(split: KeyNumber) -> Self {
        Self {
            split,
            held: HeldKeys::default(),
            key: KeyChoice::Auto,
            tonality: Tonality::default(),
            loudness: 64.0,
            notes: Notes::default(),
            place: Place::first(Metre::COMMON),
            past: Box::new(Past::new()),
            felt: Felt::new(&weights::BAR),
            likeness: Likeness::new(),
            judged: Box::new(JudgedPast::new()),
            lateness: Ticks::ZERO,
            to_judge: [0; 2],
            time: Ticks::ZERO,
            accounted: Ticks::ZERO,
            stroke: None,
            last_key: None,
            due: None,
            present: None,
            hearing: Hearing::default(),
            scorer: SCORER.get_or_init(|| {
                let w = &weights::NOW;
                Box::new(Scorer::new(w, signs::CLASSES, signs::STEPS))
            }),
            hindsight: HINDSIGHT.get_or_init(|| {
                let w = &weights::PAST;
                Box::new(Scorer::new(w, hindsight::CLASSES, hindsight::STEPS))
            }),
        }
    }

    /// A key goes down; velocity 1..=127.
    pub fn note_on(&mut self, at: Ticks, key: KeyNumber, velocity: u8) {
        self.pass(at);
        self.held.press(key);
        self.notes.strike(key, at);
        if key >= self.split {
            self.past.strike(key);
            // By ear: half of the way to each new key.
            self.loudness += (f32::from(velocity) - self.loudness) / 2.0;
        }
        if self.stroke.is_none_or(|stroke| at - stroke > TOGETHER) {
            self.stroke = Some(at);
        }
        self.last_key = Some(at);
    }

    /// A key comes up.
    pub fn note_off(&mut self, at: Ticks, key: KeyNumber) {
        self.pass(at);
        self.quieten(at, |held| held.release(key));
    }

    /// A controller moves: pedals and channel mode messages count.
    pub fn control(&mut self, at: Ticks, controller: u8, value: u8) {
        self.pass(at);
        self.quieten(at, |held| held.control(controller, value));
    }

    /// The lowest key of the right hand from now on.
    pub fn set_split(&mut self, split: KeyNumber) {
        self.split = split;
    }

    /// The lowest key of the right hand.
    pub fn split(&self) -> KeyNumber {
        self.split
    }

    /// The key of the song: given, or heard.
    pub fn set_key(&mut self, key: KeyChoice) {
        self.key = key;
    }

    /// A new song: forgets chords and key heard; keys that are down stay.
    pub fn forget(&mut self) {
        self.tonality.forget();
        self.notes.jump(self.time);
        self.jump(self.time);
        self.felt.forget();
        self.present = None;
        self.due = None;
        self.hearing = Hearing::default();
    }

    /// Keys of the right hand that are down or held by a pedal.
    pub fn right(&self) -> u128 {
        self.held.sounding() & (u128::MAX << self.split.number())
    }

    /// Keys of the player's own left hand, below the split.
    pub fn own_left(&self) -> u128 {
        self.held.sounding() & !(u128::MAX << self.split.number())
    }

    /// How many keys of the right hand were struck together with, or just
    /// before, `now`.
    pub fn struck_together(&self, now: Ticks) -> usize {
        let fresh = |note: &&notes::HeardNote| note.on >= now - TOGETHER && note.key >= self.split;
        self.notes.iter().filter(fresh).count()
    }

    /// The lowest sounding key of the right hand.
    pub fn lowest_right(&self) -> Option<KeyNumber> {
        let right = self.right();
        (right != 0).then(|| KeyNumber::clamped(right.trailing_zeros() as i32))
    }

    /// How loud the right hand has lately been, velocity 1..=127.
    pub fn loudness(&self) -> u8 {
        maths::velocity(self.loudness)
    }

    /// The key of the song, as set or heard.
    pub fn key(&self) -> Key {
        self.fixed_key().or(self.tonality.key()).unwrap_or(Key::C_MAJOR)
    }

    /// When the last stroke will have settled and `listen` wants to be asked
    /// again; `None` if nothing is pending.
    pub fn due(&self) -> Option<Ticks> {
        self.due
    }

    /// Time stands still: the last stroke has settled, and nothing is due when
    /// time starts again somewhere.
    pub fn settle(&mut self) {
        self.due = None;
    }

    /// The answer of the last [`Ear::listen`].
    pub fn hearing(&self) -> &Hearing {
        &self.hearing
    }

    /// The chord at `now`, all events up to and at `now` being in. `place` is
    /// the bar that holds `now`, `tempo` in quarter notes a minute.
    pub fn listen(&mut self, now: Ticks, place: Place, tempo: f64, expected: &Expected) -> Hearing {
        self.catch_up(now, place);
        if let Some(last) = self.last_key.take() {
            self.due = Some(last + Ticks::of_ms(SETTLING_MS, tempo));
        }
        let settled = self.due.is_none_or(|due| now >= due);
        if settled {
            self.due = None;
        }
        self.hearing.settled = settled;
        self.hearing.changed = false;
        self.hearing.revised = None;
        if self.notes.iter().next().is_some() {
            self.judge(now, place, expected);
        }
        self.hearing
    }

    /// Judges something that is past again, if anything waits for it: a part
    /// of the work that is done when nothing is struck.
    pub fn think(&mut self, now: Ticks, place: Place) -> bool {
        self.catch_up(now, place);
        self.judge_again()
    }

    /// When there is something to [`Ear::think`] about next: when the next half
    /// beat begins, and with it two more are long enough past.
    pub fn next_thought(&self) -> Ticks {
        self.past.half_ends()
    }

    /// Time goes on to `now`, and it is looked which places of the song are like it.
    fn catch_up(&mut self, now: Ticks, place: Place) {
        self.pass(now);
        self.place = place;
        self.past.align(now, place);
        self.likeness.set_bar(place.metre.bar().0 / past::FRAME);
        self.likeness.look(&self.past);
    }

    /// Odds of each root `at` by the places that are like the present, which
    /// add up to what is a repeat, and that sum.
    pub fn recalled(&self, at: Ticks) -> ([f32; 12], f32) {
        let frame = self.past.frame_of(at + Ticks(past::EARLY));
        let mut roots = [0.0; 12];
        for like in self.likeness.likes() {
            let there = self.judged.at(&self.past, frame - like.lag);
            roots.iter_mut().zip(there).for_each(|(root, odds)| *root += like.weight * odds);
        }
        (roots, roots.iter().sum())
    }

    /// How likely `root` was over a stretch that is past, as judged since; `None` where
    /// that is not known.
    pub fn was(&self, from: Ticks, until: Ticks, root: PitchClass) -> Option<f32> {
        let frame = |at: Ticks| self.past.frame_of(at + Ticks(past::EARLY));
        self.judged.odds_of(root, &self.past, frame(from), frame(until))
    }

    /// What else than a chord on `root` holds at `now` by these odds of each root, if
    /// anything is worth a word.
    pub fn other_than(&self, root: PitchClass, odds: &[f32; 12], now: Ticks) -> Option<NamedChord> {
        let (other, certainty) = PitchClass::likeliest(odds, |class| class == root)?;
        let since = self.present.map_or(now, |(_, since)| since);
        let chord = || self.coloured(other, since, now, &Expected::NOTHING);
        (certainty >= NamedChord::LEAST).then(|| NamedChord { chord: chord(), certainty })
    }

    /// How late this hand is by habit: what it strikes is meant so much earlier.
    pub fn set_lateness(&mut self, lateness: Ticks) {
        self.lateness = lateness;
    }

    /// What is struck at `at`, or was just before, was meant then.
    pub fn meant(&self, at: Ticks) -> Ticks {
        let fresh = self.stroke.is_some_and(|stroke| at - stroke <= TOGETHER + TOGETHER);
        if fresh { at - self.lateness } else { at }
    }

    /// The key that is set, if it is.
    fn fixed_key(&self) -> Option<Key> {
        match self.key {
            KeyChoice::Fixed(key) => Some(key),
            KeyChoice::Auto => None,
        }
    }
}

#[cfg(test)]
mod tests;
