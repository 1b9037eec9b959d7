//! Where the beat is: by a clock of our own, or by MIDI clock.

use sinistra_core::engine::Transport;
use sinistra_core::foresee::Song;
use sinistra_core::midi::Short;
use sinistra_core::midi_clock::{ClockChange, ClockIn, Steer, TempoLine};
use sinistra_core::time::{Metre, Place, Ticks};

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
    clock_in: ClockIn,
    steer: Steer,
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
            clock_in: ClockIn::default(),
            steer: Steer::default(),
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
            let line = song.bar_span(n).map_or(bar.at, |(line, _)| line);
            self.bars.push((line.beats(), bar.metre));
        }
        self.start = song.start().beats();
        if let Some(tempo) = song.tempo {
            self.tempo(tempo);
        }
    }

    /// A message of MIDI clock, `ahead` seconds into the block to come.
    pub fn hear(&mut self, message: Short, ahead: f64) {
        let change = self.clock_in.hear(self.now + ahead, message);
        if change == ClockChange::Started {
            // The very beat is played, and the moment since is made up.
            match self.clock_in.line() {
                Some(line) => self.steer.jump_to(TempoLine { at: self.now, ..line }),
                None => self.steer.jump(),
            }
        }
    }

    /// The clock at the first frame of a block `seconds` long, and moves on.
    pub fn begin(&mut self, seconds: f64) -> Transport {
        if self.by_midi {
            self.playing = self.clock_in.plays(self.now);
            if let Some(line) = self.clock_in.line().filter(|_| self.playing) {
                (self.beat, self.tempo) = self.steer.step(line, self.now, seconds);
            }
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

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::midi::{CLOCK, CONTINUE, STOP};

    #[test]
    fn a_sender_of_midi_clock_leads_from_the_place_that_it_names() {
        let mut clock = PageClock::default();
        clock.lead_by_midi(true);
        clock.hear(Short::song_position(8), 0.0); // the third beat
        clock.hear(Short::real_time(CONTINUE), 0.0);
        for _ in 0..96 {
            clock.hear(Short::real_time(CLOCK), 0.0); // 24 a beat at 120
            clock.begin(0.5 / 24.0);
        }
        let now = clock.begin(0.0);
        assert!(now.playing && (now.beat - 6.0).abs() < 0.1, "{now:?}");
        assert!((now.tempo - 120.0).abs() < 1.0, "{now:?}");
        clock.hear(Short::real_time(STOP), 0.0);
        assert!(!clock.begin(0.0).playing);
    }
}
