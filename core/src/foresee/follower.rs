//! The place in a chart, followed by what the hand plays.
//!
//! A belief over the changes of the chart, moved on by each chord that is
//! heard: mostly to the next, sometimes over a bar or back over one, rarely
//! anywhere. Lost and found need no rule of their own: belief spreads where
//! the chords disagree and gathers where they agree again.

use alloc::vec::Vec;

use super::song_change::{CAPACITY, SongChange};
use super::{Forecast, Song, Source};
use crate::chord::Chord;
use crate::maths;
use crate::pitch::PitchSet;
use crate::time::Ticks;

// How a player moves on, by ear: nearly always to the next change.
const ON: f32 = 0.90;
const OVER_A_CHORD: f32 = 0.01;
const BACK_A_CHORD: f32 = 0.005;
const STAY: f32 = 0.015;
const BAR_AGAIN: f32 = 0.02;
const OVER_A_BAR: f32 = 0.02;
const ANYWHERE: f32 = 0.03;
/// The last jump back was one of a vamp, and this is its end again.
const VAMP: f32 = 0.45;
/// Beliefs below are not moved on one by one.
const FAINT: f32 = 1e-4;

/// A chord that was heard, with the time it came.
#[derive(Clone, Copy, Debug, PartialEq)]
struct FollowedChord {
    at: Ticks,
    chord: Chord,
}

/// Where the player is in the chart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartPosition {
    /// The moment of the song.
    pub at: Ticks,
    /// Index in the song's chords of the one that holds.
    pub chord: usize,
    /// How sure the place is, 0..=1.
    pub certainty: f32,
}

/// What is believed after one chord.
#[derive(Clone, Debug)]
struct PlaceOdds {
    /// How likely each change is the present one.
    places: Vec<f32>,
    /// The likeliest, and how likely it is.
    likeliest: Option<(usize, f32)>,
    /// Song ticks a tick of the clock.
    rate: f64,
    /// The last jump back: from this change to that one.
    vamp: Option<(usize, usize)>,
}

/// Follows the hand through a chart. Allocates in [`Follower::new`] and
/// never after; a chord costs one pass over the chart.
#[derive(Debug)]
pub struct Follower {
    /// The beliefs after the last three chords, the newest at `current`.
    beliefs: [PlaceOdds; 3],
    current: usize,
    /// The last three chords, the newest first.
    heard: [Option<FollowedChord>; 3],
}

impl Default for Follower {
    fn default() -> Self {
        Self::new()
    }
}

impl Follower {
    /// Follows nothing yet. Not for the audio thread: allocates.
    pub fn new() -> Self {
        let places = || Vec::with_capacity(CAPACITY);
        let belief = || PlaceOdds { places: places(), likeliest: None, rate: 1.0, vamp: None };
        Self { beliefs: [belief(), belief(), belief()], current: 0, heard: [None; 3] }
    }

    /// A new chart, or the same from anywhere: likeliest from its start.
    pub fn begin(&mut self, song: &Song) {
        self.heard = [None; 3];
        let len = song.changes().len();
        for belief in &mut self.beliefs {
            belief.places.clear();
            belief.places.resize(len, 0.0);
            belief.likeliest = None;
            belief.rate = 1.0;
            belief.vamp = None;
        }
    }

    /// The hand struck `chord` at `at` of the clock.
    pub fn hear(&mut self, song: &Song, at: Ticks, chord: Chord) {
        let last = self.heard[0];
        if last.is_some_and(|last| last.chord.same_bass(chord)) {
            return;
        }
        let next = (self.current + 1) % 3;
        if let Ok([old, new]) = self.beliefs.get_disjoint_mut([self.current, next]) {
            let steps = Steps { changes: song.changes() };
            match last {
                None => steps.start(new, chord),
                Some(last) => steps.step(old, new, at - last.at, chord),
            }
        }
        self.current = next;
        self.heard = [Some(FollowedChord { at, chord }), last, self.heard[1]];
    }

    /// The chord heard at `at`, one of the last two, was in truth `chord`.
    pub fn revise(&mut self, song: &Song, at: Ticks, chord: Chord) {
        let [present, previous, _] = self.heard;
        let is_it =
            |heard: Option<FollowedChord>| heard.is_some_and(|h| h.at == at && h.chord != chord);
        if is_it(present) {
            self.take_back();
            self.hear(song, at, chord);
        } else if let (true, Some(present)) = (is_it(previous), present) {
            self.take_back();
            self.take_back();
            self.hear(song, at, chord);
            self.hear(song, present.at, present.chord);
        }
    }

    /// As before the last chord.
    fn take_back(&mut self) {
        self.current = (self.current + 2) % 3;
        self.heard = [self.heard[1], self.heard[2], None];
    }

    fn belief(&self) -> &PlaceOdds {
        super::history::turn(&self.beliefs, self.current)
    }

    /// The likeliest place at `now` of the clock; at most up to the next
    /// change, where the chart waits for the hand. `None` before the first chord.
    pub fn position(&self, song: &Song, now: Ticks) -> Option<ChartPosition> {
        let (k, certainty) = self.belief().likeliest?;
        let change = song.changes().get(k)?;
        let gone = (now - self.heard[0]?.at).0.max(0) as f64 * self.belief().rate;
        let most = after(song, k).map_or(Ticks(i64::MAX / 4), |(_, apart)| apart);
        let gone = Ticks(maths::whole(gone).min(most.0 - 1).max(0));
        let at = super::chart::fold(song, change.at + gone);
        Some(ChartPosition { at, chord: change.index, certainty })
    }

    /// What comes next in the chart. Its certainty gathers every place that
    /// leads to the same root; a root that is already heard never comes.
    pub fn forecast(&self, song: &Song, now: Ticks) -> Option<Forecast> {
        let heard = self.heard[0]?;
        let belief = self.belief();
        let mut roots = [0.0f32; 12];
        let mut likeliest: Option<(f32, Chord, Ticks)> = None;
        for (k, &here) in belief.places.iter().enumerate().filter(|(_, here)| **here > FAINT) {
            let Some((next, apart)) = after(song, k) else { continue };
            if next.chord.same_bass(heard.chord)
                || next.chord.root == heard.chord.root && here < 0.5
            {
                continue;
            }
            *next.chord.root.of_mut(&mut roots) += here;
            if likeliest.is_none_or(|(most, ..)| here > most) {
                likeliest = Some((here, next.chord, apart));
            }
        }
        let (_, chord, apart) = likeliest?;
        let wait = Ticks(maths::whole(apart.0 as f64 / belief.rate.max(0.1)));
        let at = heard.at + wait;
        let certainty = surer(chord.root.of(&roots)).min(0.98);
        // A hand that waits longer than written may go on at any moment.
        let late = (now - at).0 > Ticks::PER_BEAT / 4;
        let when_certainty = if late { 0.2 } else { 0.8 * certainty };
        Some(Forecast {
            chord,
            at,
            certainty,
            when_certainty,
            together: certainty.min(when_certainty),
            other: None,
            source: Source::Chart,
        })
    }
}

/// Belief spreads wider than players stray: what it gives even odds comes three
/// times in four. Measured on players of our own making (the tests show the
/// table), skipping, repeating and playing wrong chords more than most.
fn surer(belief: f32) -> f32 {
    3.0 * belief / (1.0 + 2.0 * belief)
}

/// The change after the `k`th, going round at the end, and the song's ticks to it.
fn after(song: &Song, k: usize) -> Option<(&SongChange, Ticks)> {
    let change = song.changes().get(k)?;
    let next = song.changes().get(usize::from(change.next))?;
    (!next.chord.same_bass(change.chord)).then_some((next, change.apart))
}

/// How well the chord `heard`, of those `tones`, agrees with what is written, 0..=1.
fn agreement(written: &SongChange, heard: Chord, tones: PitchSet) -> f32 {
    let common = written.tones.and(tones).len() as f32;
    if written.chord.root == heard.root {
        let all = written.tones.or(tones).len().max(1) as f32;
        0.75 + 0.2 * common / all
    } else if common >= 3.0 {
        0.25 // C6 for Am7, a chord named by another of its roots
    } else if common >= 2.0 {
        0.03
    } else {
        0.015
    }
}

/// Moves belief on through one chart.
struct Steps<'a> {
    changes: &'a [SongChange],
}

impl Steps<'_> {
    /// Nothing was heard before: the start of the song or anywhere.
    fn start(&self, new: &mut PlaceOdds, chord: Chord) {
        let (len, tones) = (self.changes.len().max(1) as f32, chord.tones());
        for ((place, change), k) in new.places.iter_mut().zip(self.changes).zip(0..) {
            let prior = if k == 0 { 0.5 } else { 0.5 / len };
            *place = prior * agreement(change, chord, tones);
        }
        new.rate = 1.0;
        new.vamp = None;
        normalise(&mut new.places);
        new.likeliest = likeliest(&new.places);
    }

    /// `chord` came `passed` ticks of the clock after the one before.
    fn step(&self, old: &PlaceOdds, new: &mut PlaceOdds, passed: Ticks, chord: Chord) {
        self.spread(old, new, passed);
        self.agree(new, chord);
        new.rate = old.rate;
        new.vamp = old.vamp;
        new.likeliest = likeliest(&new.places);
        if let (Some((from, _)), Some((to, _))) = (old.likeliest, new.likeliest) {
            self.learn(old, new, (from, to), passed);
        }
    }

    fn spread(&self, old: &PlaceOdds, new: &mut PlaceOdds, passed: Ticks) {
        let len = self.changes.len().max(1) as f32;
        new.places.iter_mut().for_each(|place| *place = ANYWHERE / len);
        // Most stretches are as long as the one before.
        let mut in_time = (Ticks::ZERO, in_time(Ticks::ZERO, passed, old.rate));
        for ((k, &here), change) in old.places.iter().enumerate().zip(self.changes) {
            if here <= FAINT {
                continue;
            }
            let mut give = |to: usize, share: f32| {
                if let Some(place) = new.places.get_mut(to) {
                    *place += here * share;
                }
            };
            let next = usize::from(change.next);
            if in_time.0 != change.apart {
                in_time = (change.apart, self::in_time(change.apart, passed, old.rate));
            }
            let due = in_time.1;
            let vamp = old.vamp.filter(|(from, _)| *from == k);
            give(next, if vamp.is_some() { ON - VAMP } else { ON } * due);
            if let Some((_, to)) = vamp {
                give(to, VAMP * due);
            }
            give(k, STAY);
            if let Some(next) = self.changes.get(next) {
                give(next.next.into(), OVER_A_CHORD);
            }
            if let Some(before) = k.checked_sub(1) {
                give(before, BACK_A_CHORD);
            }
            give(change.bar.into(), BAR_AGAIN * due);
            for ((bars, over), back) in
                [1.0, 2.0, 4.0].into_iter().zip(change.over).zip(change.back)
            {
                give(over.into(), OVER_A_BAR / bars);
                give(back.into(), BAR_AGAIN / 4.0 * due);
            }
        }
    }

    fn agree(&self, new: &mut PlaceOdds, chord: Chord) {
        let tones = chord.tones();
        for (place, change) in new.places.iter_mut().zip(self.changes) {
            *place *= agreement(change, chord, tones);
        }
        normalise(&mut new.places);
    }

    /// The player's tempo from a plain step, a vamp from a jump back.
    fn learn(
        &self,
        old: &PlaceOdds,
        new: &mut PlaceOdds,
        (from, to): (usize, usize),
        passed: Ticks,
    ) {
        let Some(change) = self.changes.get(from) else { return };
        if to == usize::from(change.next) && passed.0 > 0 {
            let rate = (change.apart.0 as f64 / passed.0 as f64).clamp(0.4, 2.5);
            if libm::log(rate / old.rate).abs() < 0.4 {
                new.rate = (old.rate * libm::pow(rate / old.rate, 0.3)).clamp(0.5, 2.0);
            }
        } else if to < from {
            new.vamp = Some((from, to));
        }
    }
}

/// How well the time that passed fits the written one; a long wait is not
/// held against it as much as haste.
fn in_time(written: Ticks, passed: Ticks, rate: f64) -> f32 {
    let played = passed.0.max(1) as f64 * rate;
    let off = maths::single(libm::log(played / written.0.max(1) as f64));
    let slack = if off > 0.0 { 0.5 } else { 0.3 };
    maths::exp(-(off.abs() - 0.1).max(0.0) / slack).max(0.05)
}

/// The likeliest change and how likely it is.
fn likeliest(places: &[f32]) -> Option<(usize, f32)> {
    let places = places.iter().copied().enumerate();
    places.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, belief)| *belief > 0.0)
}

fn normalise(places: &mut [f32]) {
    let sum: f32 = places.iter().sum();
    if sum > 0.0 {
        places.iter_mut().for_each(|place| *place /= sum);
    }
}

#[cfg(test)]
mod tests;
