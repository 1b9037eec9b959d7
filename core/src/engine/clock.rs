//! The engine's clock: the home's floating beats become ticks, and ticks
//! become frames of the block, in this one place.

use super::Block;
use crate::maths;
use crate::time::{Place, Ticks};

/// A smaller step than this between blocks is a correction of the host's
/// clock (drift, a tempo ramp), a larger one a jump; in quarter notes. By ear:
/// a thirty-second note is the shortest that a loop would cut.
const JUMP: f64 = 0.125;

/// The coarsest step to which a host is thought to round its beats, in quarter
/// notes; what is further from where it should be is a correction.
const COARSEST: f64 = 1.0 / 192.0;

/// How a block begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockStart {
    /// Time stands still.
    Stopped,
    /// Time starts.
    Started,
    /// Time goes on from another place.
    Jumped,
    /// Time goes on from where the last block ended.
    Rolling,
}

/// Position and speed of the present block.
#[derive(Clone, Debug)]
pub struct BlockClock {
    beat: f64,
    beats_a_frame: f64,
    /// Where the next block begins if time goes on; `None` while stopped.
    expected: Option<f64>,
    tempo: f64,
    place: Place,
    /// Frames in the present block.
    frames: u32,
    /// How far the home's beats were found from where they should be, at most,
    /// in quarter notes: a home that rounds them.
    rounding: f64,
}

impl BlockClock {
    /// Stopped, at the start of the song.
    pub const fn new() -> Self {
        Self {
            beat: 0.0,
            beats_a_frame: 0.0,
            expected: None,
            tempo: 120.0,
            place: Place::first(crate::time::Metre::COMMON),
            frames: 0,
            rounding: 0.0,
        }
    }

    /// Takes the block's transport. Values that no music has (not finite, no
    /// tempo, no rate) count as a stopped transport.
    pub fn begin(&mut self, block: &Block<'_>) -> BlockStart {
        let transport = &block.transport;
        self.frames = block.frames;
        let sound = [transport.beat, transport.tempo, block.rate].iter().all(|v| v.is_finite())
            && transport.beat.abs() < 1e9
            && (1.0..=1000.0).contains(&transport.tempo)
            && block.rate >= 1.0;
        if !(transport.playing && sound) {
            self.expected = None;
            if sound {
                self.beat = transport.beat;
                self.tempo = transport.tempo;
                self.beats_a_frame = 0.0;
                self.place = self.place_of(block);
            }
            return BlockStart::Stopped;
        }
        self.tempo = transport.tempo;
        self.beat = transport.beat;
        self.beats_a_frame = transport.tempo / (60.0 * block.rate);
        self.place = self.place_of(block);
        let after = transport.beat + f64::from(block.frames) * self.beats_a_frame;
        let before = self.expected.replace(after);
        match before {
            Some(expected) if (transport.beat - expected).abs() < JUMP => {
                let off = (transport.beat - expected).abs();
                if off <= COARSEST {
                    self.rounding = self.rounding.max(off);
                }
                BlockStart::Rolling
            }
            Some(_) => BlockStart::Jumped,
            None => BlockStart::Started,
        }
    }

    /// The bar by the host, if what it says can be: some deliver the next
    /// bar's start instead of this one's.
    fn place_of(&self, block: &Block<'_>) -> Place {
        let transport = &block.transport;
        let at = Ticks::nearest(transport.beat);
        let bar = if transport.bar.is_finite() && transport.bar.abs() < 1e9 {
            Ticks::nearest(transport.bar)
        } else {
            Ticks::ZERO
        };
        let metre = transport.metre;
        if self.place.bar == bar && self.place.metre == metre {
            return self.place.of(at);
        }
        // Bars are numbered as if this metre had held from the start.
        let number = bar.0.div_euclid(metre.bar().0);
        Place { bar, metre, number }.of(at)
    }

    /// The musical time of a frame of this block.
    pub fn at(&self, frame: u32) -> Ticks {
        Ticks::nearest(self.beat + f64::from(frame) * self.beats_a_frame)
    }

    /// The musical time of a frame of this block in ticks and parts of them; a
    /// time nearer to the tick than half a frame is that tick.
    pub fn within_a_tick(&self, frame: u32) -> f64 {
        let ticks = (self.beat + f64::from(frame) * self.beats_a_frame) * Ticks::PER_BEAT as f64;
        let frames = (ticks - libm::round(ticks)) / (self.beats_a_frame * Ticks::PER_BEAT as f64);
        // 1e-3 of a frame: as below, and for frames that lie between two.
        if frames.abs() <= 0.501 { libm::round(ticks) } else { ticks }
    }

    /// Whether a slot at `frame` may lie before what belongs to it only because
    /// the home rounds its beats: how long that may be, in frames.
    pub fn rounding(&self) -> Option<u32> {
        let frames = self.rounding / self.beats_a_frame;
        (frames.is_finite() && frames > 0.01).then(|| maths::frames(frames) + 1)
    }

    /// Frames in the present block.
    pub fn frames(&self) -> u32 {
        self.frames
    }

    /// The frame nearest to `at`, if it lies before frame `end`; 0 if it is
    /// past already. The same rounding in every block, so that it does not
    /// matter how time is cut.
    pub fn frame_before(&self, at: Ticks, end: u32) -> Option<u32> {
        if self.beats_a_frame <= 0.0 {
            return None;
        }
        // 1e-4 of a frame: far above the rounding of sums, far below hearing.
        let frame = (at.beats() - self.beat) / self.beats_a_frame + 0.5 + 1e-4;
        (frame < f64::from(end)).then_some(maths::frames(frame))
    }

    /// Whether time stands still.
    pub fn stands(&self) -> bool {
        self.expected.is_none()
    }

    /// Quarter notes a minute.
    pub fn tempo(&self) -> f64 {
        self.tempo
    }

    /// The bar at the first frame, by the host.
    pub fn place(&self) -> Place {
        self.place
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Transport;
    use crate::time::Metre;

    fn block(beat: f64, bar: f64, frames: u32) -> Block<'static> {
        let transport = Transport { playing: true, beat, tempo: 120.0, metre: Metre::COMMON, bar };
        Block { frames, rate: 48_000.0, transport, events: &[] }
    }

    #[test]
    fn a_beat_at_120_is_24000_samples() {
        let mut clock = BlockClock::new();
        assert_eq!(clock.begin(&block(0.0, 0.0, 48_000)), BlockStart::Started);
        assert_eq!(clock.frame_before(Ticks(960), 48_000), Some(24_000));
        assert_eq!(clock.frame_before(Ticks(960), 24_000), None);
        assert_eq!(clock.at(24_000), Ticks(960));
        assert_eq!(clock.begin(&block(2.0, 0.0, 64)), BlockStart::Rolling);
        assert_eq!(clock.begin(&block(0.0, 0.0, 64)), BlockStart::Jumped);
    }

    #[test]
    fn values_that_no_music_has_are_a_stopped_transport() {
        let begin = |beat, tempo, rate| {
            let sane = block(beat, 0.0, 64);
            let transport = Transport { tempo, ..sane.transport };
            BlockClock::new().begin(&Block { rate, transport, ..sane })
        };
        assert_eq!(begin(4.0, 120.0, 48_000.0), BlockStart::Started);
        for none in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(begin(none, 120.0, 48_000.0), BlockStart::Stopped);
            assert_eq!(begin(4.0, none, 48_000.0), BlockStart::Stopped);
            assert_eq!(begin(4.0, 120.0, none), BlockStart::Stopped);
        }
        for (beat, tempo, rate) in [
            (1e10, 120.0, 48_000.0),
            (-1e10, 120.0, 48_000.0),
            (4.0, 0.9, 48_000.0),
            (4.0, 1001.0, 48_000.0),
            (4.0, 120.0, 0.5),
        ] {
            assert_eq!(begin(beat, tempo, rate), BlockStart::Stopped, "{beat} {tempo} {rate}");
        }
    }

    #[test]
    fn a_home_that_rounds_its_beats_is_found_out() {
        let mut clock = BlockClock::new();
        let exact = |n: u32| f64::from(n * 64) / 24_000.0;
        (0..1000)
            .for_each(|n| assert_ne!(clock.begin(&block(exact(n), 0.0, 64)), BlockStart::Jumped));
        assert_eq!(clock.rounding(), None);
        let rounded = |n| (exact(n) * 1920.0_f64).round() / 1920.0;
        (1000..1100).for_each(|n| {
            assert_eq!(clock.begin(&block(rounded(n), 0.0, 64)), BlockStart::Rolling)
        });
        assert!(clock.rounding().is_some_and(|frames| (6..=14).contains(&frames)));
    }

    #[test]
    fn a_bar_start_that_lies_ahead_is_not_believed() {
        let mut clock = BlockClock::new();
        clock.begin(&block(3.0, 4.0, 64));
        assert_eq!(clock.place().bar, Ticks::ZERO);
    }

    #[test]
    fn an_eighth_of_a_beat_off_is_a_jump_and_less_is_none() {
        for (beat, start) in [
            (2.0 + JUMP, BlockStart::Jumped),
            (2.0 - JUMP, BlockStart::Jumped),
            (2.0 + JUMP / 2.0, BlockStart::Rolling),
            (2.0 - JUMP / 2.0, BlockStart::Rolling),
        ] {
            let mut clock = BlockClock::new();
            clock.begin(&block(0.0, 0.0, 48_000));
            assert_eq!(clock.begin(&block(beat, 0.0, 64)), start, "{beat}");
        }
    }

    #[test]
    fn the_bar_is_the_hosts_where_it_can_be() {
        let waltz = Metre::new(3, 4).expect("a metre");
        let mut clock = BlockClock::new();
        let mut bar_at = |beat, bar, metre| {
            let mut block = block(beat, bar, 64);
            block.transport.metre = metre;
            clock.begin(&block);
            (clock.place().bar.beats(), clock.place().metre)
        };
        let common = Metre::COMMON;
        assert_eq!(bar_at(5.0, 4.0, common), (4.0, common));
        // A pick-up of a beat: bars begin elsewhere from here on.
        assert_eq!(bar_at(5.0, 1.0, common), (5.0, common));
        assert_eq!(bar_at(8.0, 5.0, common), (5.0, common));
        // Another metre from the same bar line on.
        assert_eq!(bar_at(8.0, 5.0, waltz), (8.0, waltz));
        // No bar line at all: counted from the start of the song.
        for bar in [f64::NAN, f64::INFINITY, 1e9, -1e9, 1e300] {
            assert_eq!(bar_at(7.0, bar, common), (4.0, common), "{bar}");
        }
    }

    #[test]
    fn a_frame_lies_between_ticks_but_for_half_a_frame() {
        let mut clock = BlockClock::new();
        clock.begin(&block(1.0, 0.0, 64));
        // At 120 a tick has 25 frames.
        for (frame, ticks) in [(0, 960.0), (10, 960.4), (24, 960.96), (25, 961.0), (30, 961.2)] {
            assert!((clock.within_a_tick(frame) - ticks).abs() < 1e-6, "{frame}");
        }
        // Half a frame beside a tick is that tick.
        clock.begin(&block(1.0 + 0.5 / 24_000.0, 0.0, 64));
        assert_eq!(clock.within_a_tick(0), 960.0);
    }
}
