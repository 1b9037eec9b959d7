//! Striking together: how late this right hand is, where in the bar it is used
//! to strike, how many keys it takes, and what waits for it.

use crate::maths;
use crate::play::SlotAt;
use crate::time::{Place, Ticks};

/// A slot whose time has come while the right hand has not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaitingSlot {
    /// What will be struck.
    pub slot: SlotAt,
    /// When the grid wins.
    pub until: Ticks,
}

/// How this right hand strikes, learned as it plays.
#[derive(Clone, Copy, Debug)]
pub struct RightHand {
    punctuality: Punctuality,
    lateness: Lateness,
    /// When its last stroke began.
    stroke: Ticks,
    /// Where in the bar it is used to strike.
    pub habit: Habit,
    /// How many keys it strikes a chord with.
    pub grip: ChordSize,
    /// When it last struck.
    pub struck: Option<Ticks>,
    /// The channel of its last note.
    pub channel: u8,
}

impl RightHand {
    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self {
            punctuality: Punctuality::new(),
            lateness: Lateness::new(),
            stroke: Ticks(i64::MIN / 2),
            habit: Habit::new(),
            grip: ChordSize::new(),
            struck: None,
            channel: 0,
        }
    }

    /// It strikes at `at`, in truth `exact` ticks later, in the bar `place`.
    pub fn struck(&mut self, at: Ticks, exact: f32, place: Place) {
        let pulse = place.metre.pulse().0.max(1);
        let into = place.of(at).offset(at).0.rem_euclid(pulse);
        let from_beat = if into * 2 > pulse { into - pulse } else { into };
        self.punctuality.struck(from_beat as f32 + exact);
        self.habit.struck(at, place);
        if at - self.stroke > Ticks(Ticks::PER_BEAT / 8) {
            self.stroke = at;
        }
        self.struck = Some(at);
    }

    /// Its stroke, of so many keys, is over.
    pub fn stroke_over(&mut self, keys: usize, place: Place) {
        self.grip.struck(keys);
        if keys >= 2 && self.grip.is_full(keys) {
            let pulse = place.metre.pulse().0.max(1);
            let into = place.of(self.stroke).offset(self.stroke).0.rem_euclid(pulse);
            let early = into * 4 > pulse * 3;
            self.lateness.chord((if early { into - pulse } else { into }) as f32);
        }
    }

    /// How late its chords come by habit; early is negative.
    pub fn lateness(&self) -> Ticks {
        self.lateness.ticks()
    }

    /// Whether it comes later, by habit, than a slot waits for a hand that is in
    /// time: `most`.
    pub fn is_late(&self, most: Ticks) -> bool {
        self.lateness().0 * 4 > most.0 * 3
    }

    /// How long to wait for it: for a hand that is in time, `most` at the longest,
    /// for one that is late by habit so much longer.
    pub fn window(&self, most: Ticks) -> Ticks {
        self.punctuality.window(most).max(self.lateness.window(most))
    }

    /// Whether it is a recording that falls some samples late.
    pub fn is_some_samples_late(&self) -> bool {
        self.punctuality.is_some_samples_late()
    }

    /// Whether so many keys may be the beginning of a strum: fewer than it is used
    /// to strike, and it is no recording on the grid.
    pub fn is_part_of_a_strum(&self, keys: usize) -> bool {
        self.window(Ticks(1)) > Ticks::ZERO && !self.grip.is_full(keys)
    }
}

/// How far from the beat this player strikes, learned as they play: a right
/// hand that is always exact (a recording on the grid) is not waited for.
#[derive(Clone, Copy, Debug)]
struct Punctuality {
    /// Mean distance from the beat, in ticks.
    spread: f32,
    /// The same with its sign: late is positive.
    lean: f32,
    /// Strikes heard, up to [`Self::MEMORY`].
    heard: u16,
}

impl Punctuality {
    /// Strikes that the mean looks back on. By ear: some eight bars.
    const MEMORY: u16 = 16;

    /// Strikes further from the beat than this (a sixteenth's half) are not
    /// meant for it.
    const NEAR: f32 = (Ticks::PER_BEAT / 8) as f32;

    /// A hand that is never further from the beat than this, in ticks, is a
    /// recording on the grid whose beats its host rounds to other samples.
    const RECORDED: f32 = 0.25;

    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self { spread: 0.0, lean: 0.0, heard: 0 }
    }

    /// A strike of the right hand at `from_beat` ticks from the nearest beat.
    pub fn struck(&mut self, from_beat: f32) {
        if from_beat.abs() > Self::NEAR {
            return;
        }
        self.heard = (self.heard + 1).min(Self::MEMORY);
        self.spread += (from_beat.abs() - self.spread) / f32::from(self.heard);
        self.lean += (from_beat - self.lean) / f32::from(self.heard);
    }

    /// How long to wait for this hand: three times its mean distance holds
    /// nearly all strokes of a normal spread (99 % within 3.2 mean absolute
    /// deviations), `most` at the longest.
    pub fn window(&self, most: Ticks) -> Ticks {
        Ticks(maths::whole(libm::ceilf(self.spread * 3.0).into()).clamp(0, most.0.max(0)))
    }

    /// Whether it is a recording that falls some samples late.
    pub fn is_some_samples_late(&self) -> bool {
        self.lean > 0.0 && self.spread <= Self::RECORDED
    }
}

/// How late this player strikes chords, and how evenly: learned as they play. Who
/// plays off the beat is not late, and a stroke further from it is none of this.
#[derive(Clone, Copy, Debug)]
struct Lateness {
    /// Mean distance of chords from the beat, in ticks.
    mean: f32,
    /// Mean distance from that.
    spread: f32,
    /// Mean distance from a fine grid, which a recording never leaves.
    loose: f32,
    /// Chords heard, up to [`Self::MEMORY`].
    heard: u16,
}

impl Lateness {
    /// Chords that the mean looks back on.
    const MEMORY: u16 = 12;

    /// Fewer tell nothing.
    const ENOUGH: u16 = 3;

    /// Chords that come later than this after a beat are not meant for it: two
    /// fifths of a beat, 200 ms at 120 a minute.
    const LATEST: f32 = (Ticks::PER_BEAT * 2 / 5) as f32;

    /// Whose spread is a larger part of the mean than this is not late but plays off
    /// the beat.
    const EVEN: f32 = 0.6;

    /// A grid that has all places of a beat that a host or a file rounds chords to.
    const GRID: f32 = (Ticks::PER_BEAT / 24) as f32;

    /// Who is on it nearer than this, on the average, is a recording.
    const RECORDED: f32 = 2.5;

    /// Less is as good as none: some 15 ms.
    const LEAST: f32 = (Ticks::PER_BEAT / 32) as f32;

    const fn new() -> Self {
        Self { mean: 0.0, spread: 0.0, loose: 0.0, heard: 0 }
    }

    /// A chord so many ticks after a beat.
    fn chord(&mut self, from_beat: f32) {
        if from_beat > Self::LATEST {
            return;
        }
        self.heard = (self.heard + 1).min(Self::MEMORY);
        let from_mean = (from_beat - self.mean).abs();
        if self.heard > 1 {
            self.spread += (from_mean - self.spread) / f32::from(self.heard - 1);
        }
        self.mean += (from_beat - self.mean) / f32::from(self.heard);
        let from_grid = from_beat - libm::roundf(from_beat / Self::GRID) * Self::GRID;
        self.loose += (from_grid.abs() - self.loose) / f32::from(self.heard);
    }

    /// The mean, where it is one.
    fn ticks(&self) -> Ticks {
        let even = self.spread <= self.mean.abs() * Self::EVEN;
        let known = self.heard >= Self::ENOUGH && even && self.loose > Self::RECORDED;
        let late = if known && self.mean.abs() >= Self::LEAST { self.mean } else { 0.0 };
        Ticks(maths::whole(libm::roundf(late).into()))
    }

    /// How long such a hand is waited for; see [`Punctuality::window`].
    fn window(&self, most: Ticks) -> Ticks {
        let spread = Ticks(maths::whole(libm::ceilf(self.spread * 3.0).into()));
        let spread = spread.max(Ticks(Ticks::PER_BEAT / 48));
        let late = self.ticks();
        if late > Ticks::ZERO && most > Ticks(1) { late + spread.min(most) } else { Ticks::ZERO }
    }
}

/// How many keys this hand strikes a chord with.
#[derive(Clone, Copy, Debug)]
pub struct ChordSize(usize);

impl ChordSize {
    /// Keys that show a chord whole, or nearly.
    const WHOLE: usize = 3;

    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self(Self::WHOLE)
    }

    /// A stroke of so many keys is over; one key alone is a melody's.
    pub fn struck(&mut self, keys: usize) {
        if keys >= 2 {
            self.0 = keys.min(Self::WHOLE);
        }
    }

    /// Whether so many keys are a chord of this hand, not a part of one.
    pub fn is_full(&self, keys: usize) -> bool {
        keys >= self.0
    }
}

/// Half beats of the longest bar that is looked at.
const PLACES: usize = 64;

/// Where in the bar the right hand is used to strike.
#[derive(Clone, Copy, Debug)]
pub struct Habit {
    /// The bar in which each half beat was last struck, and in how many in a
    /// row up to it.
    places: [(i64, u8); PLACES],
}

impl Habit {
    /// Bars in a row that make a habit.
    const BARS: u8 = 2;

    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self { places: [(i64::MIN, 0); PLACES] }
    }

    /// The right hand strikes at `at`, in or near the bar `place`.
    pub fn struck(&mut self, at: Ticks, place: Place) {
        let (index, bar) = nearest(at, place);
        let Some((last, bars)) = self.places.get_mut(index) else { return };
        if *last != bar {
            *bars = if last.checked_add(1) == Some(bar) { bars.saturating_add(1) } else { 1 };
            *last = bar;
        }
    }

    /// Whether it has struck at this half beat of the bars before.
    pub fn strikes_at(&self, at: Ticks, place: Place) -> bool {
        let (index, bar) = nearest(at, place);
        let before =
            |&(last, bars): &(i64, u8)| last.checked_add(1) == Some(bar) && bars >= Self::BARS;
        self.places.get(index).is_some_and(before)
    }
}

/// The half beat of a bar that is nearest to `at`, and the number of that bar.
fn nearest(at: Ticks, place: Place) -> (usize, i64) {
    let half = (place.metre.pulse().0 / 2).max(1);
    let at = at + Ticks(half / 2);
    let place = place.of(at);
    (usize::try_from(place.offset(at).0 / half).unwrap_or(0), place.number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_hand_is_not_waited_for() {
        let mut hand = Punctuality::new();
        for _ in 0..4 {
            hand.struck(0.0);
        }
        assert_eq!(hand.window(Ticks(115)), Ticks(0));
    }

    #[test]
    fn a_loose_hand_is_waited_for_up_to_the_window() {
        let mut hand = Punctuality::new();
        for late in [30.0, -20.0, 45.0, 60.0, 10.0] {
            hand.struck(late);
        }
        assert!(hand.window(Ticks(115)) > Ticks(60));
        assert_eq!(hand.window(Ticks(50)), Ticks(50));
    }

    #[test]
    fn a_recording_that_falls_a_sample_late_is_told_from_a_hand() {
        let hand = |late: f32| {
            let mut hand = Punctuality::new();
            hand.struck(late);
            hand
        };
        assert!(hand(0.04).is_some_samples_late());
        assert!(!hand(0.0).is_some_samples_late());
        assert!(!hand(-0.04).is_some_samples_late());
        assert!(!hand(4.0).is_some_samples_late());
        assert_eq!(hand(0.04).window(Ticks(115)), Ticks(1));
        for first in [0.04, -0.04] {
            let mut other_since = hand(first);
            for n in 2..20 {
                other_since.struck(-first);
                let late = other_since.is_some_samples_late();
                assert!(n == 2 || late == (first < 0.0), "{first}, then {n} the other way");
            }
        }
    }

    #[test]
    fn a_hand_is_late_that_is_so_evenly_and_no_recording() {
        let lateness = |chords: &[f32]| {
            let mut late = Lateness::new();
            chords.iter().for_each(|chord| late.chord(*chord));
            late.ticks().0
        };
        assert!((280..300).contains(&lateness(&[290.0, 275.0, 301.0, 288.0])));
        assert!((-70..-50).contains(&lateness(&[-61.0, -45.0, -72.0, -66.0])), "early too");
        assert_eq!(lateness(&[240.0; 8]), 0, "a recording that is off the beat");
        assert_eq!(lateness(&[0.0, 0.0, 240.0, 0.0, 0.0, 320.0]), 0, "one that changes");
        assert_eq!(lateness(&[7.0, 251.0, -9.0, 233.0, 3.0]), 0, "a player who does");
    }

    #[test]
    fn two_bars_in_a_row_make_a_habit() {
        let first = Place::first(crate::time::Metre::COMMON);
        let mut habit = Habit::new();
        let bar = |n: i64| Ticks(n * 3840);
        habit.struck(bar(0) + Ticks(20), first);
        assert!(!habit.strikes_at(bar(1), first.of(bar(1))));
        habit.struck(bar(1) + Ticks(-20), first); // early, so in the bar before
        assert!(habit.strikes_at(bar(2), first.of(bar(2))));
        assert!(!habit.strikes_at(bar(2) + Ticks(960), first.of(bar(2))));
        assert!(!habit.strikes_at(bar(3), first.of(bar(3))), "a bar without it ends it");
    }
}
