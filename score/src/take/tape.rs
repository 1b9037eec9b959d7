//! What is sent also goes to the log, by the time that was played.

use sinistra_core::engine::Transport;
use sinistra_core::time::Ticks;

use super::{LoggedEvent, LoggedStroke, Owner, TakeLog, What};

/// Counts the beats that were played, across jumps.
#[derive(Default)]
pub struct Tape {
    /// Quarter notes played before this block.
    played: f64,
    tempo: f32,
    /// The bar line written last, in song time.
    bar: Option<f64>,
    /// Where the song goes on if it does not jump.
    next: f64,
}

impl Tape {
    /// A tape that goes on where `log` ends.
    pub fn after(log: &TakeLog) -> Self {
        let played = log.end().beats().ceil();
        Self { played, ..Self::default() }
    }

    /// Writes the tempo and the bar lines of a stretch of `frames` frames that
    /// begins as `transport` says, and counts it. Real-time safe.
    pub fn run(&mut self, transport: &Transport, frames: u32, rate: f64, log: &TakeLog) {
        if !transport.playing {
            self.bar = None;
            return;
        }
        let beats = f64::from(frames) * transport.tempo / 60.0 / rate;
        if self.tempo != transport.tempo as f32 {
            self.tempo = transport.tempo as f32;
            log.write(LoggedEvent { at: self.now(), what: What::Tempo(self.tempo) });
        }
        if (transport.beat - self.next).abs() > 1e-3 {
            self.bar = None; // a loop of one bar comes to the same line again
        }
        let length = transport.metre.bar().beats();
        let mut bar = transport.bar;
        let end = transport.beat + beats;
        while bar < end {
            // Where playing starts inside a bar, its line is written at the start.
            if self.bar != Some(bar) {
                let at = self.played + (bar - transport.beat).max(0.0);
                log.write(LoggedEvent { at: Ticks::nearest(at), what: What::Bar(transport.metre) });
                self.bar = Some(bar);
            }
            bar += length;
        }
        self.next = end;
        self.played += beats;
    }

    /// Writes a message that was played `seconds` before the end of what was
    /// counted; nothing is written while time stands still. Real-time safe.
    pub fn note(&self, seconds: f64, hand: Owner, message: [u8; 3], log: &TakeLog) {
        self.write(seconds, What::Message(hand, message), log);
    }

    /// Writes what is known of a note of the left hand, likewise. Real-time safe.
    pub fn stroke(&self, seconds: f64, stroke: LoggedStroke, log: &TakeLog) {
        self.write(seconds, What::Stroke(stroke), log);
    }

    fn write(&self, seconds: f64, what: What, log: &TakeLog) {
        if self.bar.is_some() {
            let beats = seconds * f64::from(self.tempo) / 60.0;
            let at = Ticks::nearest((self.played - beats).max(0.0));
            log.write(LoggedEvent { at, what });
        }
    }

    fn now(&self) -> Ticks {
        Ticks::nearest(self.played)
    }
}
