//! One answer from chart, memory and odds: what comes, when, how surely.

use super::history::{Event, History};
use super::{Forecast, Song, Source, chart};
use crate::chord::Chord;
use crate::hear::Expected;
use crate::key::Key;
use crate::time::{Place, Ticks};

/// A chord as it was told, with the length of the history before it.
#[derive(Clone, Copy, Debug)]
struct Told {
    at: Ticks,
    chord: Chord,
    place: Place,
    before: usize,
}

/// Knows the song so far and says what comes. Allocates in
/// [`Foresight::new`] and never after; everything else is real-time safe.
#[derive(Debug)]
pub struct Foresight {
    history: History,
    present: Option<Told>,
    previous: Option<Told>,
}

impl Default for Foresight {
    fn default() -> Self {
        Self::new()
    }
}

impl Foresight {
    /// Has heard nothing yet. Not for the audio thread: allocates.
    pub fn new() -> Self {
        Self { history: History::new(), present: None, previous: None }
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.history.clear();
        self.present = None;
        self.previous = None;
    }

    /// A chord was struck at `at`, whose bar is `place`. Also tells a change
    /// of colour or bass above the same root.
    pub fn chord_started(&mut self, at: Ticks, chord: Chord, place: Place) {
        self.previous = self.present;
        self.present = Some(Told { at, chord, place, before: self.history.events().len() });
        self.history.push(Event { at, chord, place, ended: None });
    }

    /// The chord before the present one was in truth `chord`: judged again
    /// when the whole of it had sounded.
    pub fn revise(&mut self, chord: Chord) {
        let (Some(previous), Some(present)) = (&mut self.previous, self.present) else { return };
        if previous.chord == chord {
            return;
        }
        previous.chord = chord;
        self.history.truncate(previous.before);
        for told in [*previous, present] {
            let Told { at, chord, place, .. } = told;
            self.history.push(Event { at, chord, place, ended: None });
        }
    }

    /// The hand let go at `at` and holds no chord.
    pub fn chord_ended(&mut self, at: Ticks) {
        self.history.end(at);
    }

    /// What comes after `now`. `place` is the bar of `now`; `key` is the key
    /// where the player or the chart set it (`None`: it is heard from the
    /// chords); `song` is a chart whose position is trusted (a host's bars).
    pub fn forecast(
        &mut self,
        now: Ticks,
        place: Place,
        key: Option<Key>,
        song: Option<&Song>,
    ) -> Option<Forecast> {
        let _ = (place, key);
        if let Some((chord, at, _)) = song.and_then(|song| chart::next(song, now)) {
            let source = Source::Chart;
            return Some(Forecast { chord, at, certainty: 1.0, when_certainty: 1.0, source });
        }
        self.recall(now)
    }

    /// What to expect of a chord that is being struck at `at`.
    pub fn expected(
        &mut self,
        at: Ticks,
        place: Place,
        key: Option<Key>,
        song: Option<&Song>,
    ) -> Expected {
        let mut expected = Expected::NOTHING;
        // Asked just before `at`: a chart's change at `at` itself is to come.
        if let Some(next) = self.forecast(at + Ticks(-1), place, key, song) {
            let root = next.chord.root.index();
            let rest = (1.0 - next.certainty) / 11.0;
            for (class, (odds, chord)) in
                expected.odds.iter_mut().zip(&mut expected.chords).enumerate()
            {
                *odds = if class == root { next.certainty } else { rest };
                *chord = (class == root).then_some(next.chord);
            }
            let near = (next.at - at).0.abs() <= Ticks::PER_BEAT / 8;
            expected.change = near.then_some(next.when_certainty);
        }
        expected
    }

    /// The longest repeat of the chords so far says what followed.
    fn recall(&self, now: Ticks) -> Option<Forecast> {
        let events = self.history.events();
        let (present, past) = events.split_last()?;
        let same = |a: &Event, b: &Event| a.chord.root == b.chord.root;
        let mut best: Option<(usize, usize)> = None;
        for (j, event) in past.iter().enumerate().filter(|(_, event)| same(event, present)) {
            let run = past[..j].iter().rev().zip(past.iter().rev());
            let length = 1 + run.take_while(|(a, b)| same(a, b)).take(16).count();
            let _ = event;
            if best.is_none_or(|(longest, _)| length >= longest) {
                best = Some((length, j));
            }
        }
        let (length, j) = best?;
        let (then, next) = (events.get(j)?, events.get(j + 1)?);
        let at = present.at + (next.at - then.at);
        // Right by length of the repeat, on the training songs.
        let certainty = [0.38, 0.53, 0.62, 0.70, 0.78, 0.82, 0.86, 0.90][length.min(8) - 1];
        let at = at.max(now + Ticks(1));
        let source = Source::Memory;
        Some(Forecast { chord: next.chord, at, certainty, when_certainty: certainty, source })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::pitch::PitchClass;
    use crate::time::Metre;

    fn place(beat: i64) -> Place {
        Place { bar: Ticks::ZERO, metre: Metre::COMMON, number: 0 }.of(Ticks(beat * 960))
    }

    fn hear(foresight: &mut Foresight, beat: i64, root: i32) {
        let chord = Chord::new(PitchClass::new(root), Kind::Major);
        foresight.chord_started(Ticks(beat * 960), chord, place(beat));
    }

    #[test]
    fn the_second_time_round_it_knows() {
        let mut foresight = Foresight::new();
        for (bar, root) in [0, 9, 5, 7, 0].into_iter().enumerate() {
            hear(&mut foresight, bar as i64 * 4, root);
        }
        let next = foresight.forecast(Ticks(16 * 960), place(16), None, None).expect("a forecast");
        assert_eq!((next.chord.root, next.at), (PitchClass::new(9), Ticks(20 * 960)));
    }

    #[test]
    fn a_chord_judged_again_is_remembered_as_judged() {
        let mut foresight = Foresight::new();
        for (bar, root) in [0, 5, 0, 4, 7, 0].into_iter().enumerate() {
            hear(&mut foresight, bar as i64 * 4, root);
            if bar == 4 {
                foresight.revise(Chord::new(PitchClass::new(5), Kind::Major));
            }
        }
        hear(&mut foresight, 24, 5);
        let next = foresight.forecast(Ticks(24 * 960), place(24), None, None).expect("a forecast");
        assert_eq!(next.chord.root, PitchClass::new(7));
    }
}
