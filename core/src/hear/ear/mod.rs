//! The ear: every note and pedal in, the chord at any moment out.

mod colour;
mod notes;
mod scorer;
mod signs;
mod weights;

use self::notes::Notes;
use self::scorer::Weights;
use self::signs::{Bounds, Signs, TOGETHER};
use super::{Expected, Hearing, Held, Tonality};
use crate::chord::Chord;
use crate::engine::KeyChoice;
use crate::key::Key;
use crate::pitch::{KeyNumber, PitchClass, PitchSet, Semitones};
use crate::time::{Place, Ticks};

/// A chord is struck over 5–50 ms; after the last key of a stroke the ear
/// waits this long before it calls the stroke settled.
const SETTLING_MS: f64 = 30.0;

/// From this certainty on a new chord is believed before it has settled.
const SURE: f32 = 0.85;

/// How much likelier than the present root another must be before the chord
/// changes: at the bar line, the half bar, another beat, the half of a beat,
/// elsewhere (by ear).
const DOUBT: [f32; 5] = [1.0, 1.0, 1.2, 1.6, 2.0];

/// How much is believed of a chord that the hand shows whole.
const WHOLE: f32 = 0.9;

/// What the own left hand's lowest tone is to its chord, in semitones above
/// the root, and how much oftener than a tone of another kind: root 80 %,
/// fifth 11 %, third 5 % of the left hands of POP909-CL, else 4 % over eight.
const PLAYED_BELOW: [(i32, f32); 4] = [(0, 160.0), (7, 22.0), (4, 6.0), (3, 6.0)];

/// After a gap like this the time has jumped, or the song is another one.
const GAP: Ticks = Ticks(64 * Ticks::PER_BEAT);

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
    tonality: Tonality,
    loudness: f32,
    notes: Notes,
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
    /// The chord before it.
    before: Option<Chord>,
    hearing: Hearing,
    weights: &'static Weights,
}

impl Ear {
    /// An ear that has heard nothing; keys at or above `split` are the right
    /// hand's.
    pub fn new(split: KeyNumber) -> Self {
        Self {
            split,
            held: Held::default(),
            key: KeyChoice::Auto,
            tonality: Tonality::default(),
            loudness: 64.0,
            notes: Notes::default(),
            time: Ticks::ZERO,
            accounted: Ticks::ZERO,
            stroke: None,
            last_key: None,
            due: None,
            present: None,
            before: None,
            hearing: Hearing::default(),
            weights: &weights::WEIGHTS,
        }
    }

    /// A key goes down; velocity 1..=127.
    pub fn note_on(&mut self, at: Ticks, key: KeyNumber, velocity: u8) {
        self.pass(at);
        self.held.press(key);
        self.notes.strike(key, at);
        if key >= self.split {
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

    /// The key of the song: given, or heard.
    pub fn set_key(&mut self, key: KeyChoice) {
        self.key = key;
    }

    /// A new song: forgets chords and key heard; keys that are down stay.
    pub fn forget(&mut self) {
        self.tonality.forget();
        self.notes.jump(self.time);
        self.present = None;
        self.before = None;
        self.due = None;
        self.hearing = Hearing::default();
    }

    /// Every key is up and every pedal off; what was heard stays.
    pub fn all_off(&mut self) {
        let at = self.time;
        self.quieten(at, |held| *held = Held::default());
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
        self.loudness.round().clamp(1.0, 127.0) as u8
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

    /// The answer of the last [`Ear::listen`].
    pub fn hearing(&self) -> &Hearing {
        &self.hearing
    }

    /// The chord at `now`, all events up to and at `now` being in. `place` is
    /// the bar that holds `now`, `tempo` in quarter notes a minute.
    pub fn listen(&mut self, now: Ticks, place: Place, tempo: f64, expected: &Expected) -> Hearing {
        self.pass(now);
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

    /// Decides what the chord is.
    fn judge(&mut self, now: Ticks, place: Place, expected: &Expected) {
        let signs = Signs::gather(self, now, place, expected);
        let exact = signs.exact();
        let odds = prefer(exact, self.with_left(scorer::odds(&signs, self.weights)));
        let (mut best, _) = likeliest(&odds);
        let told = signs.agrees(expected);
        if let Some(root) = told {
            best = root;
        } else if let Some(root) = self.held_whole(now) {
            best = root.index();
        } else if let Some((present, _)) = self.present {
            let stays = odds[present.root.index()];
            // What the hand shows whole is believed at once; else a change
            // needs the more evidence the less it is to be expected here.
            let needs = if exact != 0 { 1.0 } else { DOUBT[Bounds::of(now, place).rank] };
            if odds[best] < stays * needs {
                best = present.root.index();
            }
        }
        let certainty = if told.is_some() { odds[best].max(WHOLE) } else { odds[best] };
        let root = PitchClass::new(best as i32);
        self.hearing.certainty = certainty;
        let same = self.present.is_some_and(|(chord, _)| chord.root == root);
        if !same && (self.hearing.settled || certainty >= SURE || self.present.is_none()) {
            self.change(root, now, place, expected);
        } else {
            // The same chord, or a stroke that may still become another one.
            let since = self.present.map_or(now, |(_, since)| since);
            let chord = self.coloured(root, since, now, expected);
            if same {
                self.hearing.changed =
                    self.present.is_some_and(|(present, _)| present.bass != chord.bass);
                self.present = Some((chord, since));
            }
            self.hearing.chord = Some(chord);
        }
    }

    /// The root of the present chord, if the keys that were struck with it are
    /// still held and show it whole: neither a melody note above it nor what
    /// is foreseen makes it another one. Three classes with root and third; a
    /// bass of the player's own left hand may well.
    fn held_whole(&self, now: Ticks) -> Option<PitchClass> {
        let (chord, since) = self.present?;
        if now <= since + TOGETHER + TOGETHER || self.own_left() != 0 {
            return None; // it may still be being struck
        }
        let held: PitchSet = self
            .notes
            .iter()
            .filter(|note| note.off.is_none() && note.key >= self.split)
            .filter(|note| note.on <= since + TOGETHER)
            // What only a pedal holds is past.
            .filter(|note| self.held.down() >> note.key.number() & 1 == 1)
            .map(|note| note.class())
            .collect();
        let whole = held.and(chord.tones()).len() >= 3
            && held.has(chord.root)
            && chord.third().is_some_and(|third| held.has(third));
        whole.then_some(chord.root)
    }

    /// The odds with the own left hand's lowest tone heard too.
    fn with_left(&self, mut odds: [f32; 12]) -> [f32; 12] {
        let left = self.own_left();
        if left != 0 {
            let lowest = KeyNumber::clamped(left.trailing_zeros() as i32).class();
            for (root, share) in PLAYED_BELOW {
                odds[lowest.transpose(Semitones(-root)).index()] *= share;
            }
            let sum: f32 = odds.iter().sum();
            odds.iter_mut().for_each(|odd| *odd /= sum.max(f32::MIN_POSITIVE));
        }
        odds
    }

    /// A new chord has begun.
    fn change(&mut self, root: PitchClass, now: Ticks, place: Place, expected: &Expected) {
        let since = self.began(now, place);
        if let Some((old, old_since)) = self.present {
            let end = since - TOGETHER;
            let revised = self.coloured(old.root, old_since, end, &Expected::NOTHING);
            // What is told again may not sound worse: the bass stays.
            self.hearing.revised = Some(revised.over(old.bass));
            self.before = Some(revised);
        }
        let chord = self.coloured(root, since, now, expected);
        self.present = Some((chord, since));
        self.hearing.chord = Some(chord);
        self.hearing.since = since;
        self.hearing.changed = true;
    }

    /// When the chord that is new at `now` began: with its stroke, if that
    /// showed three tones at once; else on the beat, where chords change.
    fn began(&self, now: Ticks, place: Place) -> Ticks {
        let stroke = self.stroke.filter(|&stroke| now - stroke <= TOGETHER + TOGETHER);
        let first = stroke.unwrap_or(now);
        let together = self
            .notes
            .iter()
            .filter(|note| note.on >= first - TOGETHER && note.key >= self.split)
            .count();
        let beat = Bounds::of(first, place).beat;
        let old = self.present.map_or(Ticks(i64::MIN / 2), |(_, since)| since);
        if together >= 3 && Bounds::of(first, place).rank > 2 || beat <= old {
            first.max(old)
        } else {
            beat
        }
    }

    /// Tells the ear what the chord is: for training and for measuring.
    #[doc(hidden)]
    pub fn correct(&mut self, chord: Chord, since: Ticks) {
        if self.present.is_some_and(|(present, _)| present.root != chord.root) {
            self.before = self.present.map(|(present, _)| present);
        }
        self.present = Some((chord, since));
    }

    /// With other weights, in a row: for training. Allocates, and never frees.
    #[doc(hidden)]
    #[must_use]
    pub fn trained(self, weights: impl IntoIterator<Item = f32>) -> Self {
        Self { weights: Box::leak(Box::new(Weights::from_row(weights))), ..self }
    }

    /// What the scorer would look at, as one row: classes, steps, scalars and
    /// globals. For training; not for the audio thread.
    #[doc(hidden)]
    pub fn signs(&self, now: Ticks, place: Place, expected: &Expected) -> Vec<f32> {
        let signs = Signs::gather(self, now, place, expected);
        let blocks = signs.classes.iter().chain(&signs.steps).flatten();
        blocks.chain(signs.scalars.iter().flatten()).chain(&signs.globals).copied().collect()
    }

    /// The key that is set, if it is.
    fn fixed_key(&self) -> Option<Key> {
        match self.key {
            KeyChoice::Fixed(key) => Some(key),
            KeyChoice::Auto => None,
        }
    }

    /// Time goes on to `at`, or jumps there.
    fn pass(&mut self, at: Ticks) {
        let step = at - self.time;
        if step < Ticks::ZERO - TOGETHER || step > GAP {
            self.notes.jump(at);
            self.present = self.present.map(|(chord, _)| (chord, at));
            self.accounted = at;
            self.due = None;
            self.stroke = None;
        }
        self.time = at;
        let beats = (at - self.accounted).beats() as f32;
        if beats > 0.0 {
            self.tonality.fade(beats);
            let mut keys = self.held.sounding();
            while keys != 0 {
                let key = KeyNumber::clamped(keys.trailing_zeros() as i32);
                self.tonality.hear(key.class(), beats.min(4.0));
                keys &= keys - 1;
            }
            self.tonality.decide();
            self.accounted = at;
        }
    }

    /// Keys come up: the notes that sound no more end at `at`.
    fn quieten(&mut self, at: Ticks, act: impl FnOnce(&mut Held)) {
        let sounding = self.held.sounding();
        act(&mut self.held);
        self.notes.end(sounding & !self.held.sounding(), at);
    }
}

/// Where one stroke is exactly a complete chord (bit n: on root n), that
/// decides, and the scorer decides among its roots.
fn prefer(exact: u16, odds: [f32; 12]) -> [f32; 12] {
    if exact == 0 {
        return odds;
    }
    let fits = |root: usize| exact >> root & 1 == 1;
    let sum: f32 = (0..12).filter(|&root| fits(root)).map(|root| odds[root]).sum();
    std::array::from_fn(|root| {
        let whole = match (fits(root), sum > 1e-6) {
            (true, true) => odds[root] / sum,
            (true, false) => 1.0 / exact.count_ones() as f32,
            (false, _) => 0.0,
        };
        WHOLE * whole + (1.0 - WHOLE) * odds[root]
    })
}

/// The likeliest root with its odds; the lower one of two that are equal.
fn likeliest(odds: &[f32; 12]) -> (usize, f32) {
    odds.iter().copied().enumerate().fold(
        (0, 0.0),
        |best, (root, odds)| {
            if odds > best.1 { (root, odds) } else { best }
        },
    )
}

#[cfg(test)]
mod tests;
