//! Where the right hand of a recording rests.
//!
//! Live, nobody can know that a rest will last a bar, and the left hand bridges
//! it. A recording is known whole: where its right hand rests for a bar and until it
//! plays again, nobody played a chord, so that none is played to it and none written
//! down. Where it rests for less, the chord before holds.

use super::{HeardChord, LeftNote, Timeline};
use sinistra_core::chord::Chord;
use sinistra_core::foresee::chart::silent;
use sinistra_core::foresee::{Song, event::snap};
use sinistra_core::midi::{HeldKeys, Message};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// A hand that lets go so late or strikes so early still keeps to its bars: a
/// sixteenth. By ear.
const LOOSE: i64 = Ticks::PER_BEAT / 4;
/// The chord of a late hand is told of from the beat that it was meant for, so long
/// before it is struck.
const LATE: i64 = Ticks::PER_BEAT / 2;

/// Where a right hand rests.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RightHandRests {
    rests: Vec<Rest>,
    /// Moments at which nobody can have struck a chord, in order and apart.
    unplayed: Vec<(Ticks, Ticks)>,
}

/// No chord holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Rest {
    from: Ticks,
    /// As it is written.
    to: Ticks,
    /// The right hand plays again, a little early perhaps.
    played: Ticks,
}

impl RightHandRests {
    /// Finds them in what the right hand (keys from `split` on) did up to
    /// `end`, in time order: from the first bar in which it holds nothing until it
    /// plays again.
    pub fn of(
        messages: &[(Ticks, Message)],
        timeline: &Timeline,
        split: KeyNumber,
        end: Ticks,
    ) -> Self {
        let silences = silences(messages, split, end);
        let rest = |silence: &Silence| {
            let loose = silence.from - Ticks(LOOSE);
            let mut bar = timeline.place(loose).bar;
            if bar < loose {
                bar += timeline.place(loose).metre.bar();
            }
            let whole = bar + timeline.place(bar).metre.bar() <= silence.to + Ticks(LOOSE);
            let to = snap(silence.to, timeline.place(silence.to));
            whole.then_some(Rest { from: bar, to, played: silence.to })
        };
        let unplayed = |silence: &Silence| {
            let struck = silence.struck.map_or(silence.from, |struck| struck + Ticks(LOOSE));
            (silence.from.max(struck), silence.to - Ticks(LATE))
        };
        // What is held on is no new chord either.
        let played = || messages.iter().map(|(at, _)| *at);
        let held = played().zip(played().skip(1).chain([end]));
        let held = held.map(|(from, to)| (from + Ticks(LOOSE), to - Ticks(LATE)));
        Self {
            rests: silences.iter().filter_map(rest).collect(),
            unplayed: joined(silences.iter().map(unplayed).chain(held)),
        }
    }

    /// Where the chart says no chord, and the right hand holds none either. In its other
    /// rests the chart says what holds.
    pub fn of_chart(
        song: &Song,
        messages: &[(Ticks, Message)],
        split: KeyNumber,
        end: Ticks,
    ) -> Self {
        let mut rests: Vec<Rest> = Vec::new();
        for Silence { from, to, .. } in silences(messages, split, end) {
            // A chord that is struck short has no rest after it.
            let short = (to - from).0 < Ticks::PER_BEAT - LOOSE;
            let first = (from.0 - 1).div_euclid(LOOSE) * LOOSE;
            for at in (first..).step_by(LOOSE as usize).map(Ticks) {
                let next = at + Ticks(LOOSE);
                if short || next > to + Ticks(LOOSE) {
                    break;
                }
                match rests.last_mut().filter(|last| last.to == at) {
                    _ if !silent(song, at) => {}
                    Some(last) => (last.to, last.played) = (next, next.min(to)),
                    None => rests.push(Rest { from: at, to: next, played: next.min(to) }),
                }
            }
        }
        Self { rests, unplayed: Vec::new() }
    }

    /// The left hand without what was struck in them; what sounds ends where
    /// they start. `rate` is the notes' frames a second.
    #[must_use]
    pub fn hush(&self, notes: Vec<LeftNote>, timeline: &Timeline, rate: f64) -> Vec<LeftNote> {
        let frame = |at: Ticks| timeline.frame(at, rate);
        let end = |rest: &Rest| rest.to.min(rest.played);
        let rests: Vec<_> =
            self.rests.iter().map(|rest| (frame(rest.from), frame(end(rest)))).collect();
        let kept = notes.into_iter().filter_map(|mut note| {
            for &(from, to) in &rests {
                if (from..to).contains(&note.on) {
                    return None;
                }
                if note.on < from {
                    note.off = note.off.min(from);
                }
            }
            Some(note)
        });
        kept.collect()
    }

    /// Chords as they were heard, and silence (`None`) in the rests.
    #[must_use]
    pub fn write(&self, chords: &[HeardChord]) -> Vec<(Ticks, Option<Chord>)> {
        let rests = self.rests.iter().map(|rest| (rest.from, rest.to.min(rest.played)));
        let nobodys = joined(rests.chain(self.unplayed.iter().copied()));
        let played = |at: Ticks| {
            let last = nobodys.partition_point(|span| span.0 <= at).checked_sub(1);
            last.and_then(|last| nobodys.get(last)).is_none_or(|span| at >= span.1)
        };
        let heard: Vec<_> = chords.iter().filter(|heard| played(heard.at)).collect();
        let mut written: Vec<_> = heard.iter().map(|heard| (heard.at, Some(heard.chord))).collect();
        for &Rest { from, to, .. } in &self.rests {
            written.push((from, None));
            // The chord after the rest may be the one that was held before it.
            let again = heard
                .iter()
                .rfind(|heard| heard.at < to)
                .filter(|_| !heard.iter().any(|heard| (heard.at - to).0.abs() <= LOOSE));
            written.extend(again.map(|heard| (to, Some(heard.chord))));
        }
        written.sort_by_key(|(at, _)| *at);
        written
    }
}

/// Spans in order, those that overlap made one.
fn joined(spans: impl Iterator<Item = (Ticks, Ticks)>) -> Vec<(Ticks, Ticks)> {
    let mut spans: Vec<_> = spans.filter(|(from, to)| from < to).collect();
    spans.sort_unstable();
    spans.dedup_by(|next, last| {
        let one = next.0 <= last.1;
        if one {
            last.1 = last.1.max(next.1);
        }
        one
    });
    spans
}

/// Nothing sounds under the right hand.
struct Silence {
    /// When a key was last struck before it.
    struck: Option<Ticks>,
    from: Ticks,
    to: Ticks,
}

/// From when to when nothing sounds under the right hand.
fn silences(messages: &[(Ticks, Message)], split: KeyNumber, end: Ticks) -> Vec<Silence> {
    let mut keys = HeldKeys::default();
    let mut silences = Vec::new();
    let mut since = Some(Ticks::ZERO);
    let mut last = None;
    for &(at, message) in messages {
        let mut struck = last;
        match message {
            Message::On { key, velocity: 1.., .. } if key >= split => {
                keys.press(key);
                struck = Some(at);
            }
            Message::On { key, .. } | Message::Off { key, .. } => keys.release(key),
            Message::Control { controller, value, .. } => keys.control(controller, value),
        }
        match since {
            Some(from) if keys.down() != 0 => {
                silences.push(Silence { struck: last, from, to: at });
                since = None;
            }
            None if keys.sounding() == 0 => since = Some(at),
            _ => {}
        }
        last = struck;
    }
    silences.extend(since.map(|from| Silence { struck: last, from, to: end }));
    silences
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::midi::SUSTAIN;
    use sinistra_core::time::Metre;

    /// A key from beat to beat.
    fn played(spans: &[(f64, f64)]) -> Vec<(Ticks, Message)> {
        let key = KeyNumber::MIDDLE_C;
        let at = Ticks::nearest;
        spans
            .iter()
            .flat_map(|&(from, to)| {
                [
                    (at(from), Message::On { channel: 0, key, velocity: 80 }),
                    (at(to), Message::off(0, key)),
                ]
            })
            .collect()
    }

    fn rests(messages: &[(Ticks, Message)]) -> Vec<(i64, i64)> {
        let line = Timeline::constant(90.0, Metre::COMMON);
        let rests = RightHandRests::of(messages, &line, KeyNumber::MIDDLE_C, Ticks(20 * 960));
        rests.rests.iter().map(|rest| (rest.from.0 / 960, rest.to.0 / 960)).collect()
    }

    #[test]
    fn a_bar_in_which_nothing_is_held_is_a_rest_and_a_gap_is_none() {
        assert_eq!(rests(&played(&[(0.0, 3.9), (8.0, 20.0)])), [(4, 8)]);
        assert_eq!(rests(&played(&[(0.0, 4.1), (7.9, 20.0)])), [(4, 8)], "a human hand");
        assert_eq!(rests(&played(&[(0.0, 2.0), (6.0, 20.0)])), [], "half and half");
        assert_eq!(rests(&played(&[(0.0, 1.0), (12.0, 20.0)])), [(4, 12)]);
        assert_eq!(rests(&played(&[(0.0, 4.0), (10.0, 20.0)])), [(4, 10)], "until it plays");
    }

    #[test]
    fn the_pedal_holds() {
        let mut messages = played(&[(0.0, 3.0), (8.0, 20.0)]);
        let pedal = |value| Message::Control { channel: 0, controller: SUSTAIN, value };
        messages.insert(1, (Ticks(960), pedal(127)));
        assert_eq!(rests(&messages), []);
        messages.insert(3, (Ticks(4 * 960), pedal(0)));
        assert_eq!(rests(&messages), [(4, 8)]);
    }
}
