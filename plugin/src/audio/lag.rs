//! The clock as it was some frames ago: the left hand plays by it while the
//! right hand is delayed.

use std::collections::VecDeque;

use arrayvec::ArrayVec;
use sinistra_core::engine::Transport;
use sinistra_core::time::Ticks;

use super::clock::BlockStretch;

/// Stretches that are remembered; neighbours that go on are one.
const ROOM: usize = 4096;
/// A larger step than this is a jump, as for the engine; in quarter notes.
const JUMP: f64 = 0.125;

type LaggedStretches = ArrayVec<BlockStretch, 256>;

/// What lies between the clock that is heard and the one that is played by.
pub struct Lag {
    /// Oldest first; `from` is 0 in all of them.
    past: VecDeque<(u64, BlockStretch)>,
    /// Where the clock that is heard is next if it goes on.
    expected: Option<f64>,
    offset: Ticks,
    /// The last block as it is heard and as it is played.
    heard: LaggedStretches,
    played: LaggedStretches,
}

impl Default for Lag {
    fn default() -> Self {
        Self {
            past: VecDeque::with_capacity(ROOM),
            expected: None,
            offset: Ticks::ZERO,
            heard: LaggedStretches::new(),
            played: LaggedStretches::new(),
        }
    }
}

impl Lag {
    /// From now on `frames` behind; until those have gone by, time stands
    /// still where `transport` is. Real-time safe.
    pub fn restart(&mut self, frames: u32, transport: Transport) {
        self.past.clear();
        (self.expected, self.offset) = (None, Ticks::ZERO);
        let transport = Transport { playing: false, ..transport };
        let still = BlockStretch { from: 0, transport, offset: Ticks::ZERO };
        self.past.push_back((frames.into(), still));
    }

    /// Takes in a block's clock. Real-time safe.
    pub fn push(&mut self, stretches: &[BlockStretch], frames: u32, rate: f64) {
        self.heard.clear();
        for (n, stretch) in stretches.iter().enumerate() {
            let end = stretches.get(n + 1).map_or(frames, |next| next.from);
            let transport = &stretch.transport;
            if transport.playing {
                let step = self.expected.map_or(0.0, |expected| expected - transport.beat);
                if step.abs() >= JUMP {
                    self.offset += Ticks::nearest(step);
                }
            }
            let stretch = BlockStretch { offset: self.offset, ..*stretch };
            self.expected = transport.playing.then(|| stretch.read_at(end, rate).transport.beat);
            let _ = self.heard.try_push(stretch); // the clock gives far fewer
            self.remember(end.saturating_sub(stretch.from), stretch, rate);
        }
    }

    /// Takes in a block's clock where it is the clock of what sounds: what is heard
    /// lies `ahead` frames further on. Real-time safe.
    pub fn push_sounding(
        &mut self,
        stretches: &[BlockStretch],
        frames: u32,
        ahead: u32,
        rate: f64,
    ) {
        self.push(stretches, frames, rate);
        self.past.clear();
        self.played.clear();
        for stretch in &mut self.heard {
            let _ = self.played.try_push(*stretch);
            let heard = BlockStretch { from: 0, ..*stretch }.read_at(ahead, rate);
            *stretch = BlockStretch { from: stretch.from, ..heard };
        }
    }

    fn remember(&mut self, frames: u32, mut stretch: BlockStretch, rate: f64) {
        stretch.from = 0;
        let full = self.past.len() >= ROOM;
        if let Some((length, last)) = self.past.back_mut() {
            // A clock that is written too finely to be kept is kept coarsely.
            if full || goes_on(last, *length, &stretch, rate) {
                *length += u64::from(frames);
                return;
            }
        }
        if frames > 0 || self.past.is_empty() {
            self.past.push_back((frames.into(), stretch));
        }
    }

    /// The last block that was taken in, with its offsets.
    pub fn heard(&self) -> &[BlockStretch] {
        &self.heard
    }

    /// The clock of a block of `frames`, from the oldest that is remembered.
    /// Real-time safe.
    pub fn pull(&mut self, frames: u32, rate: f64) {
        self.played.clear();
        let mut from = 0;
        while let Some((length, first)) = self.past.front_mut() {
            let taken = u32::try_from(*length).map_or(frames - from, |all| all.min(frames - from));
            // A tempo that moves all the time goes on as it is when there is no
            // room for its next step in this block.
            let _ = self.played.try_push(BlockStretch { from, ..*first });
            from += taken;
            *length -= u64::from(taken);
            if *length > 0 {
                *first = BlockStretch { from: 0, ..first.read_at(taken, rate) };
                return;
            }
            if self.past.len() == 1 {
                return; // goes on in what comes
            }
            self.past.pop_front();
            if from >= frames {
                return;
            }
        }
    }

    /// The last block that was pulled.
    pub fn played(&self) -> &[BlockStretch] {
        &self.played
    }

    /// How far the one is ahead of the other where stretch `n` of what is
    /// played starts.
    pub fn ahead(&self, n: usize, rate: f64) -> Ticks {
        let Some(played) = self.played.get(n) else { return Ticks::ZERO };
        let heard = self.heard.iter().rev().find(|heard| heard.from <= played.from);
        let Some(heard) = heard else { return Ticks::ZERO };
        let heard = heard.read_at(played.from, rate).unrolled().beat;
        Ticks::nearest(heard - played.unrolled().beat)
    }
}

/// Whether `next` is what `last` comes to after `length` frames.
fn goes_on(last: &BlockStretch, length: u64, next: &BlockStretch, rate: f64) -> bool {
    let (a, b) = (&last.transport, &next.transport);
    let frame = b.tempo / 60.0 / rate.max(1.0);
    let moved = if a.playing { length as f64 * frame } else { 0.0 };
    let bars = (b.bar - a.bar) / a.metre.bar().beats();
    last.offset == next.offset
        && (a.playing, a.metre) == (b.playing, b.metre)
        && a.tempo == b.tempo
        && (a.beat + moved - b.beat).abs() < frame / 100.0
        && (bars - bars.round()).abs() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::time::Metre;

    const RATE: f64 = 48_000.0;

    fn stretch(from: u32, playing: bool, beat: f64, tempo: f64) -> BlockStretch {
        let transport = Transport { playing, ..Transport::moving(beat, tempo, Metre::COMMON) };
        BlockStretch { from, transport, offset: Ticks::ZERO }
    }

    /// Frame, beat and offset of what moves.
    fn rows(stretches: &[BlockStretch]) -> Vec<(u32, f64, i64)> {
        let moves = stretches.iter().filter(|stretch| stretch.transport.playing);
        moves.map(|s| (s.from, s.transport.beat, s.offset.0)).collect()
    }

    fn restarted(frames: u32, beat: f64) -> Lag {
        let mut lag = Lag::default();
        lag.restart(frames, stretch(0, false, beat, 120.0).transport);
        lag
    }

    #[test]
    fn the_clock_comes_out_as_it_went_in() {
        let mut lag = restarted(100, 0.0);
        let mut starts = vec![];
        for block in 0..4 {
            let beat = f64::from(block * 64) / 24_000.0;
            lag.push(&[stretch(0, true, beat, 120.0)], 64, RATE);
            lag.pull(64, RATE);
            starts.extend(rows(lag.played()).iter().map(|row| (block * 64 + row.0, row.1)));
        }
        // 100 frames later it starts at beat 0, and goes on.
        for ((frame, beat), expected) in starts.iter().zip([100, 128, 192]) {
            assert_eq!(*frame, expected);
            assert!((beat - f64::from(expected - 100) / 24_000.0).abs() < 1e-9, "{beat}");
        }
        assert_eq!(starts.len(), 3);
    }

    #[test]
    fn over_a_loop_the_heard_time_goes_on_and_the_played_time_jumps_later() {
        let mut lag = restarted(24_000, 6.0);
        lag.push(&[stretch(0, true, 6.0, 120.0)], 36_000, RATE);
        lag.pull(36_000, RATE);
        // Beat 7.5; the loop of 4 to 8 ends in the middle of the block.
        let wrap = [stretch(0, true, 7.5, 120.0), stretch(12_000, true, 4.0, 120.0)];
        lag.push(&wrap, 24_000, RATE);
        assert_eq!(rows(lag.heard()), [(0, 7.5, 0), (12_000, 4.0, 3840)]);
        assert_eq!(lag.heard()[1].unrolled().beat, 8.0);
        lag.pull(24_000, RATE);
        assert_eq!(rows(lag.played()), [(0, 6.5, 0)]);
        lag.push(&[stretch(0, true, 4.5, 120.0)], 24_000, RATE);
        lag.pull(24_000, RATE);
        assert_eq!(rows(lag.played()), [(0, 7.5, 0), (12_000, 4.0, 3840)]);
        assert_eq!((lag.ahead(0, RATE), lag.ahead(1, RATE)), (Ticks(960), Ticks(960)));
    }

    #[test]
    fn the_clock_of_what_sounds_is_played_by_at_once() {
        let mut lag = restarted(24_000, 6.0);
        lag.push_sounding(&[stretch(0, true, 6.0, 120.0)], 512, 24_000, RATE);
        assert_eq!(rows(lag.played()), [(0, 6.0, 0)]);
        assert_eq!(rows(lag.heard()), [(0, 7.0, 0)]);
        assert_eq!(lag.ahead(0, RATE), Ticks(960));
    }

    #[test]
    fn a_slower_tempo_brings_the_one_nearer_to_the_other() {
        let mut lag = restarted(24_000, 0.0);
        for (beat, tempo) in [(0.0, 120.0), (1.0, 60.0), (1.5, 60.0)] {
            lag.push(&[stretch(0, true, beat, tempo)], 24_000, RATE);
            lag.pull(24_000, RATE);
        }
        assert_eq!(lag.ahead(0, RATE), Ticks(480));
    }

    #[test]
    fn a_tempo_that_moves_in_every_block_is_kept_within_the_room() {
        let mut lag = restarted(48_000, 0.0);
        for block in 0..20_000_u32 {
            let tempo = 60.0 + f64::from(block % 100);
            lag.push(&[stretch(0, true, f64::from(block) / 100.0, tempo)], 4, RATE);
            lag.pull(4, RATE);
            assert!(!lag.played().is_empty() && lag.past.len() <= ROOM, "block {block}");
        }
        let held: u64 = lag.past.iter().map(|(length, _)| length).sum();
        assert_eq!(held, 48_000);
    }

    #[test]
    fn an_empty_block_has_a_clock_too() {
        let mut lag = restarted(10, 3.0);
        lag.push(&[stretch(0, true, 3.0, 120.0)], 0, RATE);
        lag.pull(0, RATE);
        assert_eq!(lag.played().len(), 1);
    }
}
