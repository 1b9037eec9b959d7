//! Where the beat is: by a clock of our own, or by MIDI clock.

use sinistra_core::engine::Transport;
use sinistra_core::foresee::Song;
use sinistra_core::time::{Metre, Place, Ticks};

/// Clocks a quarter note (MIDI 1.0, system real-time messages).
const CLOCKS: f64 = 24.0;
const CLOCK: u8 = 0xF8;
const START: u8 = 0xFA;
const CONTINUE: u8 = 0xFB;
const STOP: u8 = 0xFC;
/// Without a clock for this long its sender is gone, seconds.
const GONE_S: f64 = 0.5;
/// How far a clock moves the tempo, and the place, of the way.
const TEMPO_BY: f64 = 0.12;
const PLACE_BY: f64 = 0.25;
/// Seconds of rest after which time stands by itself.
const REST_S: f64 = 8.0;
const TEMPOS: (f64, f64) = (20.0, 400.0);

/// The page's clock. All in seconds and quarter notes.
pub struct PageClock {
    playing: bool,
    beat: f64,
    tempo: f64,
    metre: Metre,
    start: f64,
    bars: Vec<(f64, Metre)>,
    by_midi: bool,
    /// Seconds since the page's start.
    now: f64,
    last_clock: Option<f64>,
    period: Option<f64>,
    clocks: f64,
    armed: bool,
    idle: f64,
}

impl Default for PageClock {
    fn default() -> Self {
        Self {
            playing: false,
            beat: 0.0,
            tempo: 120.0,
            metre: Metre::COMMON,
            start: 0.0,
            bars: Vec::new(),
            by_midi: false,
            now: 0.0,
            last_clock: None,
            period: None,
            clocks: 0.0,
            armed: false,
            idle: 0.0,
        }
    }
}

impl PageClock {
    pub fn play(&mut self, plays: bool) {
        if plays && !self.playing {
            self.beat = self.start;
        }
        self.playing = plays;
        self.idle = 0.0;
    }

    pub fn plays(&self) -> bool {
        self.playing
    }

    pub fn leads_by_midi(&self) -> bool {
        self.by_midi
    }

    pub fn lead_by_midi(&mut self, leads: bool) {
        self.by_midi = leads;
        self.playing &= !leads;
    }

    pub fn tempo(&mut self, tempo: f64) {
        if !self.by_midi {
            self.tempo = tempo.clamp(TEMPOS.0, TEMPOS.1);
        }
    }

    pub fn metre(&mut self, metre: Metre) {
        self.metre = metre;
    }

    /// Takes a chart's bars; allocates.
    pub fn song(&mut self, song: Option<&Song>) {
        self.bars.clear();
        self.start = 0.0;
        let Some(song) = song else { return };
        for (n, bar) in song.bars().iter().enumerate() {
            let end = song.bars().get(n + 1).map_or(song.end(), |next| next.at);
            // A pick-up lies at the end of a whole bar.
            let missing = bar.metre.bar() - (end - bar.at);
            let line = if bar.at < Ticks::ZERO { bar.at - missing } else { bar.at };
            self.bars.push((line.beats(), bar.metre));
        }
        self.start = song.start().beats();
        if let Some(tempo) = song.tempo {
            self.tempo(tempo);
        }
    }

    /// A system real-time message, `ahead` seconds into the block to come.
    pub fn hear(&mut self, status: u8, ahead: f64) {
        if !self.by_midi {
            return;
        }
        let at = self.now + ahead;
        match status {
            CLOCK => self.clock(at),
            START => (self.armed, self.clocks) = (true, 0.0),
            CONTINUE => self.armed = true,
            STOP => (self.armed, self.playing) = (false, false),
            _ => {}
        }
    }

    fn clock(&mut self, at: f64) {
        if let Some(last) = self.last_clock.filter(|last| at - last < GONE_S) {
            let gap = (at - last).max(1e-4);
            let period = *self.period.get_or_insert(gap);
            let by = if (gap / period - 1.0).abs() > 0.5 { 0.02 } else { TEMPO_BY };
            let period = period + (gap - period) * by;
            self.period = Some(period);
            self.tempo = (60.0 / (period * CLOCKS)).clamp(TEMPOS.0, TEMPOS.1);
        }
        self.last_clock = Some(at);
        if std::mem::take(&mut self.armed) {
            // Start and Continue take hold at this clock (MIDI 1.0).
            self.playing = true;
            self.beat = self.clocks / CLOCKS;
        } else if self.playing {
            self.clocks += 1.0;
            let here = self.beat + (at - self.now) * self.tempo / 60.0;
            let off = self.clocks / CLOCKS - here;
            self.beat += if off.abs() > 0.5 { off } else { off * PLACE_BY };
        }
    }

    /// The clock at the first frame of a block `seconds` long, and moves on.
    pub fn begin(&mut self, seconds: f64) -> Transport {
        if self.by_midi && self.last_clock.is_some_and(|last| self.now - last > GONE_S) {
            self.playing = false;
        }
        let place = self.place();
        let transport = Transport {
            playing: self.playing,
            beat: self.beat,
            tempo: self.tempo,
            metre: place.metre,
            bar: place.bar.beats(),
        };
        if self.playing {
            self.beat += seconds * self.tempo / 60.0;
        }
        self.now += seconds;
        transport
    }

    /// Whether the player has rested for so long, `seconds` more, that time may stand.
    pub fn has_rested(&mut self, seconds: f64) -> bool {
        self.idle += seconds;
        self.playing && !self.by_midi && self.idle > REST_S
    }

    /// The player does something.
    pub fn awake(&mut self) {
        self.idle = 0.0;
    }

    fn place(&self) -> Place {
        let at = Ticks::nearest(self.beat);
        let index = self.bars.partition_point(|bar| bar.0 <= self.beat + 1e-9);
        let known = index.checked_sub(1).and_then(|index| Some((index, *self.bars.get(index)?)));
        let (number, (bar, metre)) = known.unwrap_or((0, (0.0, self.metre)));
        Place { bar: Ticks::nearest(bar), metre, number: number as i64 }.of(at)
    }
}
