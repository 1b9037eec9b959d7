//! MIDI clock out: when each message is due.

use crate::bridge::midi::{CLOCK, CONTINUE, START, STOP, Short};
use sinistra_core::maths;
use sinistra_core::midi_clock::A_BEAT;

/// Sends what a follower needs to run with us.
#[derive(Clone, Copy, Debug, Default)]
pub struct ClockOut {
    playing: bool,
    /// The number of the next clock, from the start of the song.
    next: Option<i64>,
}

impl ClockOut {
    /// What is due in the span from `beat` on for `beats`: each message with
    /// its distance from the start of the span, in beats. `counts` while time
    /// moves at all (a count-in too), `playing` in the song itself.
    pub fn span(
        &mut self,
        (beat, beats): (f64, f64),
        counts: bool,
        playing: bool,
        mut send: impl FnMut(f64, Short),
    ) {
        if self.playing && !playing {
            send(0.0, Short::real_time(STOP));
            self.playing = false;
        }
        if !counts {
            self.next = None;
            return;
        }
        let first = maths::whole((beat * A_BEAT - 1e-6).ceil());
        // A jump, back or far ahead, starts the count afresh.
        let mut next =
            self.next.filter(|next| (first - 2..=first + 6).contains(next)).unwrap_or(first);
        if playing && !self.playing {
            self.playing = true;
            if next <= 0 {
                send(0.0, Short::real_time(START));
            } else {
                // Song position counts in six clocks; go on at the next one.
                let sixteenth = next.div_euclid(6) + i64::from(next.rem_euclid(6) != 0);
                send(0.0, Short::song_position(u32::try_from(sixteenth).unwrap_or(0)));
                send(0.0, Short::real_time(CONTINUE));
                next = sixteenth * 6;
            }
        }
        while (next as f64) < (beat + beats) * A_BEAT - 1e-6 {
            send((next as f64 / A_BEAT - beat).max(0.0), Short::real_time(CLOCK));
            next += 1;
        }
        self.next = Some(next);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bridge::midi::SONG_POSITION;

    /// The status bytes sent over `spans`, with their beats in 24ths.
    fn sent(spans: &[(f64, f64, bool)]) -> Vec<(u8, i64)> {
        let mut clock = ClockOut::default();
        let mut sent = Vec::new();
        for &(from, to, playing) in spans {
            let mut beat = from;
            while beat < to - 1e-9 {
                clock.span((beat, 0.002), true, playing, |after, m| {
                    sent.push((m.status(), ((beat + after) * 24.0).round() as i64));
                });
                beat += 0.002;
            }
        }
        sent
    }

    #[test]
    fn twenty_four_clocks_a_quarter_note_whatever_the_span() {
        let clocks = sent(&[(0.0, 4.0, true)]);
        assert_eq!(clocks.len(), 97);
        assert_eq!(clocks[0], (START, 0));
        assert!(clocks[1..].iter().enumerate().all(|(n, &c)| c == (CLOCK, n as i64)));
    }

    #[test]
    fn a_count_in_sends_clocks_before_the_start() {
        let clocks = sent(&[(-1.0, 0.0, false), (0.0, 1.0, true)]);
        let start = clocks.iter().position(|c| c.0 == START);
        assert_eq!(start, Some(24));
        assert_eq!(clocks[25], (CLOCK, 0));
    }

    #[test]
    fn in_the_middle_it_goes_on_from_a_song_position() {
        let clocks = sent(&[(2.6, 3.0, true)]);
        assert_eq!((clocks[0].0, clocks[1].0), (SONG_POSITION, CONTINUE));
        assert_eq!(clocks[2], (CLOCK, 66)); // sixteenth 11
    }
}
