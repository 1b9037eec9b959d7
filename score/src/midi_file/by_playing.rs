//! A recording without a grid: its beats are found in what was played.

use midly::num::u15;
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEventKind};

use super::write::{tempo, time_signature, unnamed_track};
use super::{HandTrack, MidiFile};
use sinistra_core::beat::{PlayerStroke, Tracker};
use sinistra_core::midi::{Message, SUSTAIN};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};

/// Keys struck within this many seconds are one stroke.
const TOGETHER_S: f64 = 0.06;
/// A stroke is known, live, so long after its first key.
const KNOWN_S: f64 = 0.035;
/// How finely time goes by.
const STEP_S: f64 = 0.005;
/// Beats are no nearer than this, as a part of the one before.
const NEAREST: f64 = 0.3;

impl MidiFile<'_> {
    /// The file on the beats of what `part` plays, as they would be followed
    /// live: every event at its second still, the ticks those of the music. The
    /// first stroke is the first beat of a bar. `hint` is the tempo to expect, in
    /// quarter notes a minute. Tempo and metre of the file do not count. `None`
    /// where nothing is played.
    pub fn by_playing(&self, part: &HandTrack, hint: f64, metre: Metre) -> Option<Vec<u8>> {
        let grid = Grid::of(&self.playing(part, KeyNumber::clamped(0)), hint, metre)?;
        let mut tracks: Vec<Vec<(u64, TrackEventKind<'_>)>> = self
            .tracks
            .iter()
            .map(|track| {
                let stays = |kind: &TrackEventKind<'_>| {
                    use MetaMessage::{EndOfTrack, Tempo, TimeSignature};
                    !matches!(kind, TrackEventKind::Meta(Tempo(_) | TimeSignature(..) | EndOfTrack))
                };
                track
                    .events()
                    .filter(|(_, kind)| stays(kind))
                    .map(|(tick, kind)| (grid.tick(self.seconds(tick)), kind))
                    .collect()
            })
            .collect();
        let first = tracks.first_mut()?;
        first.extend(grid.tempos().map(|(at, pace)| (at, TrackEventKind::Meta(tempo(pace)))));
        first.push((0, TrackEventKind::Meta(time_signature(metre))));
        first.sort_by_key(|(at, _)| *at);
        let division = u15::new(u16::try_from(Ticks::PER_BEAT).unwrap_or(960));
        let mut smf = Smf::new(Header::new(Format::Parallel, Timing::Metrical(division)));
        smf.tracks = tracks.into_iter().map(|events| unnamed_track(events, 0)).collect();
        let mut bytes = Vec::new();
        smf.write_std(&mut bytes).ok()?;
        Some(bytes)
    }

    /// What the part strikes from the key `lowest` up, and its pedal.
    pub fn playing(&self, part: &HandTrack, lowest: KeyNumber) -> Playing {
        let mut playing = Playing::default();
        for (at, message) in self.messages(part) {
            let at = self.timeline.seconds(at);
            match message {
                Message::On { key, velocity: 1.., .. } if key >= lowest => playing.strike(at, key),
                Message::Control { controller: SUSTAIN, value, .. } => {
                    playing.press(at, value >= 64);
                }
                _ => {}
            }
        }
        playing
    }
}

/// What tells a player's beat, in order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Playing {
    /// What is struck.
    pub strokes: Vec<PlayerStroke>,
    /// The seconds at which the pedal goes down (`true`) or comes up.
    pub pedal: Vec<(f64, bool)>,
}

impl Playing {
    fn strike(&mut self, at: f64, key: KeyNumber) {
        match self.strokes.last_mut().filter(|last| at - last.at <= TOGETHER_S) {
            Some(last) => *last = last.and(key),
            None => self.strokes.push(PlayerStroke::of_key(at, key)),
        }
    }

    fn press(&mut self, at: f64, down: bool) {
        if self.pedal.last().is_some_and(|(_, is)| *is) != down {
            self.pedal.push((at, down));
        }
    }
}

/// Beats against seconds: straight between knots.
struct Grid {
    /// Second and quarter note, both growing.
    knots: Vec<(f64, f64)>,
}

impl Grid {
    fn of(playing: &Playing, hint: f64, metre: Metre) -> Option<Self> {
        let first = playing.strokes.first()?.at;
        let pulse = metre.pulse().beats();
        let bar = metre.felt_beats();
        let beats = beats(playing, hint / pulse, usize::try_from(bar).ok()?);
        // Whole bars before the first stroke, at about its tempo.
        let length = beats.get(1).map_or(60.0 * pulse / hint, |second| second - first);
        let bars = (first / (length * bar as f64)).ceil();
        let lead = bars * bar as f64 * pulse;
        let before = (bars > 0.0).then_some((0.0, 0.0));
        let on = (0..).zip(beats).map(|(n, at)| (at, lead + f64::from(n) * pulse));
        Some(Self { knots: before.into_iter().chain(on).collect() })
    }

    fn tick(&self, second: f64) -> u64 {
        let after = self.knots.partition_point(|(at, _)| *at <= second);
        let pair = self.pair(after.saturating_sub(1));
        let Some([(at, beat), (then, next)]) = pair else { return 0 };
        let part = (second - at) / (then - at);
        ((beat + part * (next - beat)) * Ticks::PER_BEAT as f64).round().max(0.0) as u64
    }

    /// A knot and the next; after the last the tempo stays.
    fn pair(&self, n: usize) -> Option<[(f64, f64); 2]> {
        let n = n.min(self.knots.len().checked_sub(2)?);
        Some([*self.knots.get(n)?, *self.knots.get(n + 1)?])
    }

    /// Each tempo with its tick, quarter notes a minute.
    fn tempos(&self) -> impl Iterator<Item = (u64, f64)> {
        self.knots.windows(2).map(|pair| {
            let pace = (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0) * 60.0;
            ((pair[0].1 * Ticks::PER_BEAT as f64).round() as u64, pace)
        })
    }
}

/// When each beat falls, in seconds, as it would be played live; two at least, if
/// anything is struck. `hint` is the tempo to expect, in beats a minute, `bar` the beats
/// of a bar.
pub fn beats(playing: &Playing, hint: f64, bar: usize) -> Vec<f64> {
    let Playing { strokes, pedal } = playing;
    let (Some(first), Some(last)) = (strokes.first(), strokes.last()) else { return Vec::new() };
    let mut tracker = Tracker::new(first.at, 0.0, hint, bar);
    let mut waiting = strokes.iter().skip(1).peekable();
    let mut pedal = pedal.iter().skip_while(|(at, _)| *at < first.at).peekable();
    let (mut beats, mut next, mut now) = (vec![first.at], 1.0, first.at);
    while now < last.at + KNOWN_S || beats.len() < 2 {
        now += STEP_S;
        while let Some(stroke) = waiting.next_if(|stroke| stroke.at + KNOWN_S < now) {
            tracker.hear(*stroke, |_| false);
        }
        while let Some((at, down)) = pedal.next_if(|(at, _)| *at < now) {
            tracker.pedal(*at, *down);
        }
        let at = tracker.beat(now);
        let since = beats.last().map_or(f64::MAX, |last| now - last);
        if at.beat >= next {
            // A beat that has just been does not come again.
            if since > NEAREST * 60.0 / at.tempo {
                beats.push(now - (at.beat - next).min(1.0) * STEP_S.min(60.0 / at.tempo));
            }
            next = at.beat.floor() + 1.0;
        } else if at.beat < next - 1.6 {
            next = at.beat.floor() + 1.0;
        }
    }
    beats
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Timeline;
    use crate::midi_file::{NewTrack, write_tracks};

    /// Chords a beat at 72, written on the grid of 120 as a recorder does that
    /// knows no beat.
    fn recorded() -> Vec<u8> {
        let mut messages = Vec::new();
        for n in 0..40 {
            let at = Ticks::nearest(1.3 + f64::from(n) * 120.0 / 72.0);
            for key in [60, 64, 67] {
                let key = KeyNumber::clamped(key);
                messages.push((at, Message::On { channel: 0, key, velocity: 80 }));
                messages.push((at + Ticks(700), Message::off(0, key)));
            }
        }
        messages.sort_by_key(|(at, _)| *at);
        let timeline = Timeline::constant(120.0, Metre::COMMON);
        let track = NewTrack { name: "Right hand", program: None, messages: &messages };
        write_tracks("Recorded", None, &timeline, (Ticks(0), Ticks(960 * 80)), &[track])
    }

    #[test]
    fn a_recording_without_a_grid_gets_the_grid_of_its_player() {
        let bytes = recorded();
        let file = MidiFile::read("recorded.mid", &bytes).expect("a file");
        let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
        let bytes = file.by_playing(&part, 80.0, Metre::COMMON).expect("played");
        let found = MidiFile::read("found.mid", &bytes).expect("a file");
        let ons = |file: &MidiFile<'_>| -> Vec<(f64, f64)> {
            let messages = file.messages(&part).into_iter();
            messages
                .filter(|(_, message)| matches!(message, Message::On { .. }))
                .map(|(at, _)| (file.timeline().seconds(at), at.beats()))
                .collect()
        };
        let (before, after) = (ons(&file), ons(&found));
        assert_eq!(before.len(), after.len());
        for ((was, _), (is, beat)) in before.iter().zip(&after) {
            assert!((was - is).abs() < 0.002, "every note at its second: {was} {is}");
            assert!(*was < 5.0 || (beat - beat.round()).abs() < 0.03, "on a beat: {beat}");
        }
        let first = after[0].1;
        assert!((first / 4.0 - (first / 4.0).round()).abs() < 1e-6, "on a bar line: {first}");
    }
}
