//! The host's clock, or our own where the host has none: where each stretch of
//! a block lies in the song.

use arrayvec::ArrayVec;
use nice_plug::prelude::Transport as HostTransport;
use sinistra_core::engine::Transport;
use sinistra_core::maths;
use sinistra_core::time::{Metre, Ticks, floor};

/// Rounding error that is forgiven at a bar line, in quarter notes.
const NEAR: f64 = 1e-6;

/// What the host says, as far as it can be trusted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HostTime {
    /// Whether its playhead moves.
    pub playing: bool,
    /// Quarter notes from the start of the song.
    pub beat: Option<f64>,
    /// Seconds from the start of the song, for hosts that count no beats.
    pub seconds: Option<f64>,
    /// Quarter notes a minute.
    pub tempo: Option<f64>,
    /// The metre at the position.
    pub metre: Option<Metre>,
    /// A bar line, in quarter notes; not always the last one.
    pub bar: Option<f64>,
    /// Start and end of the loop, if it is on.
    pub cycle: Option<(f64, f64)>,
}

impl HostTime {
    /// Takes over what makes sense.
    pub fn read(transport: &HostTransport) -> Self {
        let finite = |value: &f64| value.is_finite();
        let metre = transport.time_sig_numerator.zip(transport.time_sig_denominator);
        Self {
            playing: transport.playing,
            beat: transport.pos_beats.filter(finite),
            // One of the formats always gives samples, right or wrong, so
            // they count only if there is nothing better.
            seconds: transport.pos_seconds().filter(finite),
            tempo: transport.tempo.filter(|tempo| (1.0..=2000.0).contains(tempo)),
            metre: metre.and_then(|(beats, unit)| {
                Metre::new(u8::try_from(beats).ok()?, u8::try_from(unit).ok()?)
            }),
            bar: transport.bar_start_pos_beats.filter(finite),
            cycle: transport
                .loop_range_beats
                .filter(|(start, end)| start.is_finite() && end.is_finite() && end - start > 1e-3),
        }
    }

    /// No clock at all: neither moving nor anywhere.
    fn absent(&self) -> bool {
        !self.playing && self.beat.is_none() && self.tempo.is_none()
    }
}

/// What the player set for times when the host is of no help.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeRunning {
    /// Whether our own clock runs while the host stands still.
    pub standing: bool,
    /// Quarter notes a minute where the host gives none.
    pub tempo: f64,
    /// Bars without the right hand after which our own clock rests.
    pub rest_bars: f64,
}

/// What the right hand does in a block, for our own clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ClockTouch {
    /// Frame of the first key struck.
    pub struck: Option<u32>,
    /// Whether any key was touched.
    pub any: bool,
    /// Whether any key is down at the end.
    pub down: bool,
}

/// A stretch of a block with the clock at its first frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BlockStretch {
    /// First frame in the block.
    pub from: u32,
    /// The clock there.
    pub transport: Transport,
    /// What to add to its time so that it goes on from what was heard before,
    /// over every jump and loop; zero unless the right hand is delayed.
    pub offset: Ticks,
}

impl BlockStretch {
    /// The same clock read at a later frame.
    pub fn read_at(self, frame: u32, rate: f64) -> Self {
        let later = f64::from(frame.saturating_sub(self.from));
        let mut transport = self.transport;
        if transport.playing && later > 0.0 {
            transport.beat += later * transport.tempo / 60.0 / rate;
            transport.bar = bar_line(transport.beat, transport.metre, Some(transport.bar));
        }
        Self { from: frame, transport, ..self }
    }

    /// The clock with the time that goes on.
    pub fn unrolled(self) -> Transport {
        let mut transport = self.transport;
        transport.beat += self.offset.beats();
        transport.bar += self.offset.beats();
        transport
    }
}

/// Stretches of one block; a loop that is shorter is played through unlooped.
pub type Stretches = ArrayVec<BlockStretch, 16>;

/// Remembers what is needed from block to block.
#[derive(Clone, Debug, Default)]
pub struct HostClock {
    /// Where the next block starts if nothing unforeseen happens.
    beat: f64,
    /// The same in the host's seconds, where it gives no beats.
    seconds: Option<f64>,
    /// Whether the host was moving.
    moved: bool,
    /// Whether our own clock runs.
    running: bool,
    /// When the right hand was last felt, by our own clock.
    felt: f64,
    bars: HostBars,
    /// The present block.
    now: Stretches,
}

impl HostClock {
    /// The clock of a host that stands still.
    pub fn still(host: &HostTime) -> Transport {
        let metre = host.metre.unwrap_or(Metre::COMMON);
        let beat = host.beat.unwrap_or(0.0);
        let (tempo, bar) = (host.tempo.unwrap_or(120.0), bar_line(beat, metre, host.bar));
        Transport { playing: false, beat, tempo, metre, bar }
    }

    /// Cuts a block where the clock does not simply go on: at the end of a
    /// loop, and where our own clock starts or rests. Real-time safe.
    pub fn read(
        &mut self,
        host: &HostTime,
        own: FreeRunning,
        touch: ClockTouch,
        frames: u32,
        rate: f64,
        live: bool,
    ) -> &[BlockStretch] {
        self.now.clear();
        let tempo = host.tempo.unwrap_or(own.tempo);
        let beats_a_frame = tempo / 60.0 / rate.max(1.0);
        let pace =
            BlockPace { tempo, metre: host.metre.unwrap_or(Metre::COMMON), beats_a_frame, frames };
        if host.playing {
            self.running = false;
            self.by_the_host(host, pace, live);
        } else if own.standing || host.absent() {
            self.moved = false;
            self.by_ourselves(own, touch, pace);
        } else {
            self.running = false;
            self.moved = false;
            self.beat = host.beat.unwrap_or(self.beat);
            let bar = bar_line(self.beat, pace.metre, host.bar);
            self.now.push(pace.stretch(0, false, self.beat, bar));
        }
        &self.now
    }

    /// The block that was read last.
    pub fn now(&self) -> &[BlockStretch] {
        &self.now
    }

    fn by_the_host(&mut self, host: &HostTime, pace: BlockPace, live: bool) {
        let start = host.beat.unwrap_or_else(|| self.without_beats(host, pace));
        self.moved = true;
        let told = self.bars.believed(host.bar, start, pace.metre);
        let (mut frame, mut beat) = (0, start);
        loop {
            let bar = bar_line(beat, pace.metre, told);
            self.now.push(pace.stretch(frame, true, beat, bar));
            let left = f64::from(pace.frames - frame) * pace.beats_a_frame;
            // A host that cuts its blocks at the end of the loop never gets
            // here; offline, some play on beyond a loop that is marked as on.
            let wraps = host.cycle.filter(|(_, end)| {
                live && beat < end - NEAR && beat + left > end + NEAR && !self.now.is_full()
            });
            let Some((again, end)) = wraps else {
                self.beat = beat + left;
                self.seconds = host
                    .seconds
                    .map(|s| s + f64::from(pace.frames) * pace.beats_a_frame * 60.0 / pace.tempo);
                return;
            };
            // The first frame at or after the end.
            let step = ((end - beat - NEAR / 10.0) / pace.beats_a_frame).ceil().max(1.0);
            let step = maths::frames(step);
            let next = frame.saturating_add(step).min(pace.frames);
            if next >= pace.frames {
                self.beat = beat + left;
                return;
            }
            beat = again + (beat + f64::from(next - frame) * pace.beats_a_frame - end).max(0.0);
            frame = next;
        }
    }

    /// A position for hosts that count only seconds or nothing: on from the
    /// last block, unless the seconds jumped.
    fn without_beats(&self, host: &HostTime, pace: BlockPace) -> f64 {
        match (host.seconds, self.seconds) {
            (Some(now), Some(expected)) if self.moved && (now - expected).abs() < 2e-3 => self.beat,
            (Some(now), _) => now * pace.tempo / 60.0,
            (None, _) if self.moved => self.beat,
            (None, _) => 0.0,
        }
    }

    /// Starts on a bar line when the right hand strikes, rests some bars
    /// after it was last felt.
    fn by_ourselves(&mut self, own: FreeRunning, touch: ClockTouch, pace: BlockPace) {
        let bar_beats = pace.metre.bar().beats();
        let mut frame = 0;
        if self.running {
            let rest = self.felt + own.rest_bars * bar_beats;
            self.now.push(pace.stretch(0, true, self.beat, bar_line(self.beat, pace.metre, None)));
            let until = ((rest - self.beat) / pace.beats_a_frame).ceil().max(0.0);
            let felt_before = touch.struck.is_some_and(|struck| f64::from(struck) <= until);
            if !touch.down && !felt_before && until < f64::from(pace.frames) {
                frame = maths::frames(until);
                self.beat += f64::from(frame) * pace.beats_a_frame;
                self.running = false;
                if frame == 0 {
                    self.now.clear();
                }
                let bar = bar_line(self.beat, pace.metre, None);
                self.now.push(pace.stretch(frame, false, self.beat, bar));
            }
        } else {
            let bar = bar_line(self.beat, pace.metre, None);
            self.now.push(pace.stretch(0, false, self.beat, bar));
        }
        if !self.running
            && let Some(struck) = touch.struck.filter(|struck| *struck >= frame)
        {
            self.running = true;
            self.beat = ((self.beat - NEAR) / bar_beats).ceil() * bar_beats;
            if self.now.last().is_some_and(|last| last.from == struck) {
                self.now.pop();
            }
            self.now.push(pace.stretch(struck, true, self.beat, self.beat));
            frame = struck;
        }
        if self.running {
            let last =
                if self.now.len() > 1 { frame } else { self.now.first().map_or(0, |s| s.from) };
            self.beat += f64::from(pace.frames - last) * pace.beats_a_frame;
            if touch.any || touch.down {
                self.felt = self.beat;
            }
        }
    }
}

/// Whether the host's bar lines can be believed: one counts four quarter notes to
/// every bar, whatever the metre (Ardour 7's VST3).
#[derive(Clone, Copy, Debug, Default)]
struct HostBars {
    told: Option<f64>,
    strange: bool,
}

impl HostBars {
    /// The bar line that the host gives at `beat`, if it can be one.
    fn believed(&mut self, given: Option<f64>, beat: f64, metre: Metre) -> Option<f64> {
        let (given, length) = (given?, metre.bar().beats());
        let moved = self.told.replace(given).map(|told| given - told);
        let is = |span: f64| moved.is_some_and(|moved| (moved - span).abs() < NEAR);
        if given > beat + length + NEAR || is(COMMON) && length != COMMON {
            self.strange = true; // not even the next line
        } else if is(length) && length != COMMON {
            self.strange = false;
        }
        (!self.strange || length == COMMON).then_some(given)
    }
}

/// Quarter notes in a bar of 4/4.
const COMMON: f64 = 4.0;

/// What holds for a whole block.
#[derive(Clone, Copy)]
struct BlockPace {
    tempo: f64,
    metre: Metre,
    beats_a_frame: f64,
    frames: u32,
}

impl BlockPace {
    fn stretch(self, from: u32, playing: bool, beat: f64, bar: f64) -> BlockStretch {
        let transport = Transport { playing, beat, tempo: self.tempo, metre: self.metre, bar };
        BlockStretch { from, transport, offset: Ticks::ZERO }
    }
}

/// The bar line at or before `beat`, counted in whole bars from the one that
/// the host gave: some give the next one, some never move it.
fn bar_line(beat: f64, metre: Metre, given: Option<f64>) -> f64 {
    let length = metre.bar().beats();
    let anchor = given.unwrap_or(0.0);
    anchor + floor((beat - anchor + NEAR) / length) * length
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 48_000.0;
    const OWN: FreeRunning = FreeRunning { standing: false, tempo: 120.0, rest_bars: 2.0 };

    fn playing(beat: f64) -> HostTime {
        HostTime { playing: true, beat: Some(beat), tempo: Some(120.0), ..HostTime::default() }
    }

    fn read(clock: &mut HostClock, host: &HostTime, frames: u32) -> Vec<(u32, bool, f64, f64)> {
        with_touch(clock, host, OWN, ClockTouch::default(), frames)
    }

    fn with_touch(
        clock: &mut HostClock,
        host: &HostTime,
        own: FreeRunning,
        touch: ClockTouch,
        frames: u32,
    ) -> Vec<(u32, bool, f64, f64)> {
        let stretches = clock.read(host, own, touch, frames, RATE, true);
        let row =
            |s: &BlockStretch| (s.from, s.transport.playing, s.transport.beat, s.transport.bar);
        stretches.iter().map(row).collect()
    }

    #[test]
    fn the_bar_line_is_the_one_at_or_before() {
        let waltz = Metre::new(3, 4).expect("a metre");
        for (beat, metre, given, bar) in [
            (5.0, Metre::COMMON, None, 4.0),
            (4.0 - 1e-9, Metre::COMMON, None, 4.0), // a host's rounding error
            (-1.0, Metre::COMMON, None, -4.0),      // pre-roll
            (5.0, Metre::COMMON, Some(8.0), 4.0),   // a host that gives the next
            (21.0, waltz, Some(8.0), 20.0),         // bars counted from a change of metre
            (100.0, Metre::COMMON, Some(0.0), 100.0), // a host that never moves it
        ] {
            assert_eq!(bar_line(beat, metre, given), bar, "{beat} {given:?}");
        }
    }

    #[test]
    fn a_host_that_counts_four_to_every_bar_is_not_believed() {
        let waltz = Metre::new(3, 4);
        let mut clock = HostClock::default();
        for n in 0..36 {
            let beat = f64::from(n) / 4.0;
            let bar = ((beat / 3.0).floor() + 1.0) * 4.0; // Ardour's
            let host = HostTime { metre: waltz, bar: Some(bar), ..playing(beat) };
            let line = read(&mut clock, &host, 6_000)[0].3;
            assert_eq!(line, (beat / 3.0).floor() * 3.0, "beat {beat}");
        }
    }

    #[test]
    fn a_block_over_the_end_of_a_loop_is_cut_there() {
        let host = HostTime { cycle: Some((4.0, 8.0)), ..playing(7.5) };
        // Half a beat at 120 is a quarter of a second.
        let rows = read(&mut HostClock::default(), &host, 24_000);
        assert_eq!(rows, [(0, true, 7.5, 4.0), (12_000, true, 4.0, 4.0)]);
        // A host that cuts there itself gives no such block.
        assert_eq!(read(&mut HostClock::default(), &host, 12_000).len(), 1);
        // Beyond the loop it plays on.
        assert_eq!(
            read(&mut HostClock::default(), &HostTime { beat: Some(8.0), ..host }, 24_000).len(),
            1
        );
    }

    #[test]
    fn a_very_short_loop_does_not_run_away() {
        let host = HostTime { cycle: Some((4.0, 4.002)), ..playing(4.0) };
        assert!(read(&mut HostClock::default(), &host, 8192).len() <= 16);
    }

    #[test]
    fn without_a_position_the_beats_are_counted_from_the_start() {
        let host = HostTime { playing: true, ..HostTime::default() };
        let mut clock = HostClock::default();
        assert_eq!(read(&mut clock, &host, 24_000), [(0, true, 0.0, 0.0)]);
        assert_eq!(read(&mut clock, &host, 24_000), [(0, true, 1.0, 0.0)]);
        let stopped = HostTime { tempo: Some(120.0), ..HostTime::default() };
        read(&mut clock, &stopped, 64);
        assert_eq!(read(&mut clock, &host, 24_000), [(0, true, 0.0, 0.0)]);
    }

    #[test]
    fn seconds_serve_where_beats_are_missing_and_survive_a_tempo_change() {
        let at = |seconds, tempo| HostTime {
            playing: true,
            seconds: Some(seconds),
            tempo: Some(tempo),
            ..HostTime::default()
        };
        let mut clock = HostClock::default();
        assert_eq!(read(&mut clock, &at(2.0, 120.0), 48_000)[0].2, 4.0);
        assert_eq!(read(&mut clock, &at(3.0, 60.0), 48_000)[0].2, 6.0); // goes on
        assert_eq!(read(&mut clock, &at(10.0, 60.0), 48_000)[0].2, 10.0); // a jump
    }

    #[test]
    fn our_own_clock_starts_with_the_hand_and_rests_without_it() {
        let standing = FreeRunning { standing: true, ..OWN };
        let host = HostTime { tempo: Some(120.0), ..HostTime::default() };
        let mut clock = HostClock::default();
        assert_eq!(
            with_touch(&mut clock, &host, standing, ClockTouch::default(), 64),
            [(0, false, 0.0, 0.0)]
        );
        let strike = ClockTouch { struck: Some(10), any: true, down: false };
        assert_eq!(
            with_touch(&mut clock, &host, standing, strike, 24_010),
            [(0, false, 0.0, 0.0), (10, true, 0.0, 0.0)]
        );
        // Two bars from the touch at beat 1 is beat 9.
        for beat in 1..9 {
            let rows = with_touch(&mut clock, &host, standing, ClockTouch::default(), 24_000);
            assert_eq!(rows, [(0, true, f64::from(beat), f64::from(beat / 4 * 4))]);
        }
        let rows = with_touch(&mut clock, &host, standing, ClockTouch::default(), 24_000);
        assert_eq!(rows, [(0, false, 9.0, 8.0)]);
        // The next chord starts the next bar.
        let rows = with_touch(&mut clock, &host, standing, strike, 24_010);
        assert_eq!(rows[1], (10, true, 12.0, 12.0));
    }

    #[test]
    fn a_host_that_stands_still_is_silent_unless_asked() {
        let host = HostTime { tempo: Some(120.0), beat: Some(3.0), ..HostTime::default() };
        let strike = ClockTouch { struck: Some(0), any: true, down: true };
        let rows = with_touch(&mut HostClock::default(), &host, OWN, strike, 64);
        assert_eq!(rows, [(0, false, 3.0, 0.0)]);
    }

    #[test]
    fn without_any_clock_the_hand_starts_ours() {
        let strike = ClockTouch { struck: Some(0), any: true, down: true };
        let rows = with_touch(&mut HostClock::default(), &HostTime::default(), OWN, strike, 64);
        assert_eq!(rows, [(0, true, 0.0, 0.0)]);
    }
}
