//! The bars of a recording in which the right hand rests.
//!
//! Live, nobody can know that a rest will last a bar, and the left hand bridges
//! it. A recording is known whole: where its right hand rests for a bar, nobody
//! played a chord, so that none is played to it and none written down.

use super::{HeardChord, LeftNote, Timeline};
use sinistra_core::chord::Chord;
use sinistra_core::midi::{HeldKeys, Message};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// A hand that lets go so late or strikes so early still keeps to its bars: a
/// sixteenth. By ear.
const LOOSE: i64 = Ticks::PER_BEAT / 4;

/// Whole bars in which the right hand holds nothing, neighbours joined.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BarRests(Vec<(Ticks, Ticks)>);

impl BarRests {
    /// Finds them in what the right hand (keys from `split` on) did up to
    /// `end`, in time order.
    pub fn of(
        messages: &[(Ticks, Message)],
        timeline: &Timeline,
        split: KeyNumber,
        end: Ticks,
    ) -> Self {
        let mut rests: Vec<(Ticks, Ticks)> = Vec::new();
        for (from, to) in silences(messages, split, end) {
            let loose = from - Ticks(LOOSE);
            let mut bar = timeline.place(loose).bar;
            if bar < loose {
                bar += timeline.place(loose).metre.bar();
            }
            while bar < to {
                let next = bar + timeline.place(bar).metre.bar();
                if next > to + Ticks(LOOSE) {
                    break;
                }
                match rests.last_mut().filter(|last| last.1 == bar) {
                    Some(last) => last.1 = next,
                    None => rests.push((bar, next)),
                }
                bar = next;
            }
        }
        Self(rests)
    }

    /// The left hand without what was struck in them; what sounds ends where
    /// they start. `rate` is the notes' frames a second.
    #[must_use]
    pub fn hush(&self, notes: Vec<LeftNote>, timeline: &Timeline, rate: f64) -> Vec<LeftNote> {
        let frame = |at: Ticks| timeline.frame(at, rate);
        let rests: Vec<_> = self.0.iter().map(|(from, to)| (frame(*from), frame(*to))).collect();
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
        let mut written: Vec<_> = chords
            .iter()
            .filter(|heard| !self.0.iter().any(|(from, to)| (*from..*to).contains(&heard.at)))
            .map(|heard| (heard.at, Some(heard.chord)))
            .collect();
        for &(from, to) in &self.0 {
            written.push((from, None));
            // The chord after the rest may be the one that was held before it.
            let again = chords
                .iter()
                .rev()
                .find(|heard| heard.at < to)
                .filter(|_| !chords.iter().any(|heard| (heard.at - to).0.abs() <= LOOSE));
            written.extend(again.map(|heard| (to, Some(heard.chord))));
        }
        written.sort_by_key(|(at, _)| *at);
        written
    }
}

/// From when to when nothing sounds under the right hand.
fn silences(messages: &[(Ticks, Message)], split: KeyNumber, end: Ticks) -> Vec<(Ticks, Ticks)> {
    let mut keys = HeldKeys::default();
    let mut silences = Vec::new();
    let mut since = Some(Ticks::ZERO);
    for &(at, message) in messages {
        match message {
            Message::On { key, velocity: 1.., .. } if key >= split => keys.press(key),
            Message::On { key, .. } | Message::Off { key, .. } => keys.release(key),
            Message::Control { controller, value, .. } => keys.control(controller, value),
        }
        match since {
            Some(from) if keys.down() != 0 => {
                silences.push((from, at));
                since = None;
            }
            None if keys.sounding() == 0 => since = Some(at),
            _ => {}
        }
    }
    silences.extend(since.map(|from| (from, end)));
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
        let rests = BarRests::of(messages, &line, KeyNumber::MIDDLE_C, Ticks(20 * 960));
        rests.0.iter().map(|(from, to)| (from.0 / 960, to.0 / 960)).collect()
    }

    #[test]
    fn a_bar_in_which_nothing_is_held_is_a_rest_and_a_gap_is_none() {
        assert_eq!(rests(&played(&[(0.0, 3.9), (8.0, 20.0)])), [(4, 8)]);
        assert_eq!(rests(&played(&[(0.0, 4.1), (7.9, 20.0)])), [(4, 8)], "a human hand");
        assert_eq!(rests(&played(&[(0.0, 2.0), (6.0, 20.0)])), [], "half and half");
        assert_eq!(rests(&played(&[(0.0, 1.0), (12.0, 20.0)])), [(4, 12)]);
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
