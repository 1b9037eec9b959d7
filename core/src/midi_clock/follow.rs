//! MIDI clock in: 24 a quarter note, start, stop, continue, song position.
//!
//! Source: The Complete MIDI 1.0 Detailed Specification 96.1, "System
//! real-time messages" and "Song position pointer": Start and Continue take
//! hold at the next clock; a song position unit is six clocks.

use super::filter::Filter;
use super::line::TempoLine;
use crate::midi::{CLOCK, CONTINUE, SONG_POSITION, START, STOP, Short};

/// Clocks a quarter note.
pub const A_BEAT: f64 = 24.0;

/// Without a clock for this long, the sender is gone (at 20 beats a minute
/// clocks are 125 ms apart).
pub const GONE_S: f64 = 0.5;

/// What a sender of MIDI clock says.
#[derive(Clone, Copy, Debug, Default)]
pub struct ClockIn {
    filter: Option<Filter>,
    last_heard: f64,
    /// Clocks from the start of the song to the last one heard.
    count: i64,
    /// Start or continue was sent, its clock not yet.
    armed: bool,
    playing: bool,
}

/// What changed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ClockChange {
    /// Nothing but the line, a little.
    Steady,
    /// It plays from here.
    Started,
    /// It stopped.
    Stopped,
}

impl ClockIn {
    /// Hears a message that came at `at` seconds.
    pub fn hear(&mut self, at: f64, message: Short) -> ClockChange {
        match message.status() {
            CLOCK => return self.clock(at),
            START => (self.armed, self.count) = (true, 0),
            CONTINUE => self.armed = true,
            STOP => {
                let was = self.playing || self.armed;
                (self.playing, self.armed) = (false, false);
                return if was { ClockChange::Stopped } else { ClockChange::Steady };
            }
            // While it plays the pointer must be left alone (specification).
            SONG_POSITION if !self.playing => self.count = i64::from(message.fourteen()) * 6,
            _ => {}
        }
        ClockChange::Steady
    }

    fn clock(&mut self, at: f64) -> ClockChange {
        let gone = at - self.last_heard > GONE_S;
        self.last_heard = at;
        match &mut self.filter {
            Some(filter) if !gone => filter.tick(at),
            none => *none = Some(Filter::new(at, 0.5 / A_BEAT)),
        }
        if self.armed {
            (self.armed, self.playing) = (false, true);
            return ClockChange::Started; // this clock is the position itself
        }
        if self.playing {
            self.count += 1;
        }
        ClockChange::Steady
    }

    /// Starts by the player's wish, for a sender that was started before we
    /// were there: the next clock is the start of the song.
    pub fn start_here(&mut self) {
        (self.armed, self.count) = (true, 0);
    }

    /// Whether time moves; false if the sender is gone.
    pub fn plays(&self, now: f64) -> bool {
        self.playing && self.is_there(now)
    }

    /// Whether it played, and is gone without having said stop.
    pub fn is_lost(&self, now: f64) -> bool {
        self.playing && !self.is_there(now)
    }

    /// Whether clocks come.
    pub fn is_there(&self, now: f64) -> bool {
        self.filter.is_some() && now - self.last_heard < GONE_S
    }

    /// Where the song is. `None` before two clocks were heard.
    pub fn line(&self) -> Option<TempoLine> {
        let filter = self.filter?;
        Some(TempoLine {
            at: filter.last(),
            beat: self.count as f64 / A_BEAT,
            tempo: 60.0 / (filter.period() * A_BEAT),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn real_time(status: u8) -> Short {
        Short::real_time(status)
    }

    #[test]
    fn start_takes_hold_at_the_next_clock() {
        let mut clock = ClockIn::default();
        for n in 0..48 {
            clock.hear(f64::from(n) / 48.0, real_time(CLOCK));
        }
        assert!(!clock.plays(1.0));
        clock.hear(0.985, real_time(START));
        assert!(!clock.plays(0.99));
        assert_eq!(clock.hear(1.0, real_time(CLOCK)), ClockChange::Started);
        assert!(clock.plays(1.0));
        let line = clock.line().expect("a line");
        assert!(line.beat(1.0).abs() < 0.01, "{line:?}");
        assert!((line.tempo - 120.0).abs() < 0.1, "{line:?}");
    }

    #[test]
    fn continue_goes_on_from_the_song_position() {
        let mut clock = ClockIn::default();
        for n in 0..24 {
            clock.hear(f64::from(n) / 48.0, real_time(CLOCK));
        }
        clock.hear(0.49, Short::song_position(10)); // the third eighth of beat 3
        clock.hear(0.495, real_time(CONTINUE));
        assert_eq!(clock.hear(0.5, real_time(CLOCK)), ClockChange::Started);
        assert!((clock.line().expect("a line").beat(0.5) - 2.5).abs() < 0.01);
        assert_eq!(clock.line().map(|line| line.beat), Some(2.5));
        clock.hear(0.51, real_time(STOP));
        clock.hear(0.515, real_time(CONTINUE)); // no pointer: from where it stopped
        clock.hear(0.520833, real_time(CLOCK));
        assert!((clock.line().expect("a line").beat(0.520833) - 2.5).abs() < 0.05);
    }

    #[test]
    fn a_sender_that_is_unplugged_stops_the_music() {
        let mut clock = ClockIn::default();
        clock.hear(0.0, real_time(START));
        clock.hear(0.0, real_time(CLOCK));
        clock.hear(0.02, real_time(CLOCK));
        assert!(clock.plays(0.1) && !clock.is_lost(0.1));
        assert!(!clock.plays(0.6) && clock.is_lost(0.6));
        clock.hear(0.7, real_time(STOP));
        assert!(!clock.is_lost(0.8), "it was told to stop after all");
    }

    #[test]
    fn of_a_sender_that_was_there_before_the_next_clock_is_the_start() {
        let mut clock = ClockIn::default();
        clock.hear(0.0, real_time(CLOCK));
        assert_eq!(clock.line().map(|line| line.tempo), Some(120.0)); // until a second says more
        clock.start_here();
        assert_eq!(clock.hear(0.02, real_time(CLOCK)), ClockChange::Started);
        assert_eq!(clock.line().map(|line| line.beat), Some(0.0));
    }

    #[test]
    fn a_start_that_is_taken_back_is_a_stop() {
        let mut clock = ClockIn::default();
        clock.hear(0.0, real_time(START));
        assert_eq!(clock.hear(0.01, real_time(STOP)), ClockChange::Stopped);
        assert_eq!(clock.hear(0.02, real_time(STOP)), ClockChange::Steady);
        assert_eq!(clock.hear(0.03, real_time(CLOCK)), ClockChange::Steady);
    }

    #[test]
    fn a_sender_that_comes_back_is_followed_from_its_second_clock_on() {
        let mut clock = ClockIn::default();
        clock.hear(0.0, real_time(START));
        for n in 0..24 {
            clock.hear(f64::from(n) / 48.0, real_time(CLOCK));
        }
        for n in 0..2 {
            clock.hear(5.0 + f64::from(n) / 60.0, real_time(CLOCK)); // 150 to the minute
        }
        let tempo = clock.line().expect("a line").tempo;
        assert!((tempo - 150.0).abs() < 0.01, "{tempo}");
    }

    #[test]
    fn song_position_is_left_alone_while_it_plays() {
        let mut clock = ClockIn::default();
        clock.hear(0.0, real_time(START));
        clock.hear(0.0, real_time(CLOCK));
        clock.hear(0.01, Short::song_position(64));
        clock.hear(0.02, real_time(CLOCK));
        assert!(clock.line().expect("a line").beat < 1.0);
    }

    /// Even jitter of ±`ms`, seeded.
    fn jitter(seed: &mut u64, ms: f64) -> f64 {
        *seed =
            seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((*seed >> 33) as f64 / f64::from(1u32 << 31) - 0.5) * 0.002 * ms
    }

    /// How far from the grid a sender at 120 with such jitter is followed, in
    /// ms, sorted; after 100 beats it goes on at 132.
    fn errors(ms: f64, within: f64) -> Vec<f64> {
        let (mut clock, mut seed) = (ClockIn::default(), 7);
        clock.hear(0.0, real_time(START));
        let (mut at, mut tempo) = (1.0, 120.0);
        let mut errors = Vec::new();
        let mut beats_since = 0.0;
        for tick in 0..24 * 200 {
            if tick == 24 * 100 {
                (tempo, beats_since) = (132.0, 0.0);
            }
            clock.hear(at + jitter(&mut seed, ms), real_time(CLOCK));
            let line = clock.line().expect("a line");
            if beats_since >= 1.0 && tick >= 24 * 100 {
                // A beat after the change (by a tenth) the tempo is there.
                assert!((line.tempo - tempo).abs() < within, "tick {tick}: {}", line.tempo);
            }
            if beats_since > 8.0 {
                errors.push((line.beat(at) - f64::from(tick) / 24.0).abs() * 60_000.0 / tempo);
            }
            at += 60.0 / tempo / 24.0;
            beats_since += 1.0 / 24.0;
        }
        errors.sort_by(f64::total_cmp);
        errors
    }

    #[test]
    fn jitter_of_3_ms_is_smoothed_and_a_new_tempo_is_followed_within_a_beat() {
        let errors = errors(3.0, 6.0);
        let p99 = errors[errors.len() * 99 / 100];
        assert!(p99 < 1.5, "99 % within {p99} ms");
        println!("clock in, ±3 ms jitter: 99 % within {p99:.2} ms of the grid");
    }

    #[test]
    fn jitter_of_10_ms_is_no_change_of_tempo() {
        let errors = errors(10.0, 12.0);
        let p95 = errors[errors.len() * 95 / 100];
        assert!(p95 < 2.0, "95 % within {p95} ms");
        println!("clock in, ±10 ms jitter: 95 % within {p95:.2} ms of the grid");
    }
}
