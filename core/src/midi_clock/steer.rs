//! Follows a line without a jump: what the engine is given.

use super::line::TempoLine;

/// How fast a distance to the line is made up: to 1/e in this many seconds.
const CATCH_UP_S: f64 = 0.08;

/// The tempo while catching up stays within these parts of the line's.
const SLOWEST: f64 = 0.6;
/// See [`SLOWEST`].
const FASTEST: f64 = 1.6;

/// Farther from the line than this, in quarter notes, it jumps.
const JUMP: f64 = 0.75;

/// Nearer than this, it is on the line (rounding of sums is a thousandth).
const ON: f64 = 1e-7;

/// The position that is played. It runs on the line, or toward it: always
/// forward, unless the line itself jumps.
#[derive(Clone, Copy, Debug, Default)]
pub struct Steer {
    /// Where the last step began and how fast it goes; it may be cut short.
    last: Option<TempoLine>,
}

impl Steer {
    /// From the next step on, exactly on the line.
    pub fn jump(&mut self) {
        self.last = None;
    }

    /// From the next step on, from here toward the line.
    pub fn jump_to(&mut self, here: TempoLine) {
        self.last = Some(here);
    }

    /// The played position is renamed: `beats` are added.
    pub fn shift(&mut self, beats: f64) {
        self.last = self.last.map(|last| last.shift(beats));
    }

    /// Beat and tempo for the span of `seconds` from `now`, to be held
    /// through the span.
    pub fn step(&mut self, line: TempoLine, now: f64, seconds: f64) -> (f64, f64) {
        let on = line.beat(now);
        let distance = self.last.map_or(0.0, |last| last.beat(now) - on);
        let distance = if (ON..JUMP).contains(&distance.abs()) { distance } else { 0.0 };
        let beat = on + distance;
        let mut tempo = line.tempo;
        if distance != 0.0 && seconds > 0.0 {
            let wanted = distance * libm::exp(-seconds / CATCH_UP_S);
            tempo = (line.tempo + (wanted - distance) * 60.0 / seconds)
                .clamp(line.tempo * SLOWEST, line.tempo * FASTEST);
        }
        self.last = Some(TempoLine { at: now, beat, tempo });
        (beat, tempo)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moved_line_is_caught_up_with_smoothly_and_forward() {
        let mut line = TempoLine { at: 0.0, beat: 0.0, tempo: 120.0 };
        let mut steer = Steer::default();
        let (mut now, mut expected) = (0.0, 0.0);
        for block in 0..1000 {
            if block == 100 || block == 500 {
                line = line.shift(if block == 100 { 0.1 } else { -0.1 });
            }
            let (beat, tempo) = steer.step(line, now, 0.001);
            assert!((beat - expected).abs() < 1e-6, "block {block}: {beat} after {expected}");
            assert!(tempo > 60.0);
            expected = beat + tempo / 60_000.0;
            now += 0.001;
        }
        assert!((expected - line.beat(now)).abs() < 1e-3);
    }

    /// On the line at first; the line then moves by `beats`, and this is how it goes on
    /// for `seconds`.
    fn after_a_move(beats: f64, seconds: f64) -> (f64, f64) {
        let line = TempoLine { at: 0.0, beat: 8.0, tempo: 120.0 };
        let mut steer = Steer::default();
        steer.step(line, 0.0, 0.5);
        steer.step(line.shift(beats), 0.5, seconds)
    }

    #[test]
    fn a_distance_is_made_up_to_1_of_e_in_its_time() {
        let (beat, tempo) = after_a_move(-0.01, 0.08);
        assert!((beat - 9.0).abs() < 1e-12); // goes on where it was
        // Of .01 beats 1 - 1/e less than 120 a minute's .16.
        let less = 0.01 * (1.0 - (-1.0f64).exp());
        assert!((tempo * 0.08 / 60.0 - (0.16 - less)).abs() < 1e-9, "{tempo}");
        assert_eq!(after_a_move(-0.7, 0.01).1, 120.0 * SLOWEST);
        assert_eq!(after_a_move(0.7, 0.01).1, 120.0 * FASTEST);
        assert_eq!(after_a_move(1.0, 0.01), (10.0, 120.0)); // too far: a jump
    }

    #[test]
    fn for_no_time_at_all_the_tempo_is_the_lines() {
        assert_eq!(after_a_move(-0.01, 0.0).1, 120.0);
        assert_eq!(after_a_move(-0.01, -1.0).1, 120.0);
    }

    #[test]
    fn it_jumps_when_it_is_told_to() {
        let line = TempoLine { at: 0.0, beat: 8.0, tempo: 120.0 };
        let mut steer = Steer::default();
        steer.step(line, 0.0, 0.5);
        steer.jump();
        assert_eq!(steer.step(line.shift(0.25), 0.5, 0.5), (9.25, 120.0));
        steer.jump_to(line.shift(0.5));
        assert_eq!(steer.step(line, 1.0, 0.5).0, 10.5);
    }

    #[test]
    fn renamed_with_its_line_it_stays_on_it() {
        let line = TempoLine { at: 0.0, beat: 8.0, tempo: 120.0 };
        let mut steer = Steer::default();
        steer.step(line, 0.0, 0.5);
        steer.shift(0.5);
        assert_eq!(steer.step(line.shift(0.5), 0.5, 0.5), (9.5, 120.0));
    }

    #[test]
    fn an_hour_on_our_own_clock_ends_where_it_should() {
        let line = TempoLine { at: 17.0, beat: 0.0, tempo: 97.0 };
        let mut steer = Steer::default();
        for block in 0..=3_600_000 {
            let now = 17.0 + f64::from(block) / 1000.0;
            assert_eq!(steer.step(line, now, 0.001), (line.beat(now), 97.0));
        }
        assert!((line.beat(3617.0) - 5820.0).abs() < 1e-9); // 97 a minute for 60 minutes
    }
}
