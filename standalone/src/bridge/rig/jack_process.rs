//! What happens in each period of the JACK server: the bridge's period, on the
//! server's buffers.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};

use jack::{Client, Control, MidiIn, MidiOut, MidiWriter, Port, ProcessHandler, ProcessScope};

use crate::bridge::midi::Short;
use crate::bridge::outlet::{Outlet, Refused, Wire};
use crate::bridge::period::{Bridge, Time};

use super::again::Again;
use super::jack_sound::JackSound;
use super::sound::levels;

/// What this rig and its process share, beside the bridge's own.
#[derive(Default)]
pub struct Graph {
    /// The keyboard is gone: end what it holds.
    pub lost: AtomicBool,
    /// A module was connected: it must not sound what it was left with.
    pub greet: AtomicBool,
    /// Somebody on the graph missed a period: what was ended in it may sound.
    pub missed: AtomicBool,
    /// The end: every note, then nothing more.
    pub end: AtomicBool,
    /// The end was reached: nothing sounds.
    pub ended: AtomicBool,
    /// A loudness for the built-in sound, in percent and one more; 0 for none.
    pub loudness: AtomicU8,
    pub server_gone: AtomicBool,
}

/// Lives in the server's thread. Real-time safe.
pub struct Process {
    /// What is heard.
    pub input: Port<MidiIn>,
    /// What is sent.
    pub output: Port<MidiOut>,
    /// The built-in sound.
    pub sound: Option<JackSound>,
    /// Hears and plays.
    pub bridge: Bridge,
    /// What sounds on the other side.
    pub outlet: Outlet,
    /// Shared with the free world.
    pub graph: Arc<Graph>,
    /// Frames since the start, and the frame time of the last period.
    pub frames: u64,
    /// See [`Self::frames`].
    pub last: Option<u32>,
    /// Periods until a module that was connected is told to be silent.
    pub greet_in: u8,
    /// What was ended lately, to be said again.
    pub again: Again,
}

/// A connection is made between two periods, some time after it was asked for.
const GREET_IN: u8 = 4;

/// The server's buffer for this period, the built-in sound, and the memory of
/// what was ended.
struct Buffer<'a, 'b> {
    writer: MidiWriter<'a>,
    sound: Option<&'b mut JackSound>,
    again: &'b mut Again,
    scope: &'a ProcessScope,
    start: u64,
    /// A module is greeted: that ends nothing of ours.
    greets: bool,
}

impl Wire for Buffer<'_, '_> {
    fn send(&mut self, frame: u32, message: &[u8]) -> Result<(), Refused> {
        let raw = jack::RawMidi { time: frame, bytes: message };
        self.writer.write(&raw).map_err(|_| Refused)?;
        if let Some(message) = Short::new(message) {
            if !self.greets {
                self.again.note(message, self.start);
            }
            if let Some(sound) = &mut self.sound {
                sound.play(frame, message, self.scope);
            }
        }
        Ok(())
    }
}

impl ProcessHandler for Process {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let rate = f64::from(client.sample_rate());
        let missed = self.count(scope.last_frame_time(), scope.n_frames());
        let time = Time { now: self.frames as f64 / rate, frames: scope.n_frames(), rate };
        let graph = Arc::clone(&self.graph);
        let missed = graph.missed.swap(false, Ordering::AcqRel) || missed;
        let ending = graph.end.load(Ordering::Acquire);
        let mut buffer = Buffer {
            writer: self.output.writer(scope),
            sound: self.sound.as_mut(),
            again: &mut self.again,
            scope,
            start: self.frames,
            greets: false,
        };
        if missed {
            // Before this period's own ends are noted.
            said_again(&mut buffer, &self.outlet, (self.frames, time.frames));
        }
        if graph.greet.swap(false, Ordering::AcqRel) {
            self.greet_in = GREET_IN;
        } else if self.greet_in > 0 {
            self.greet_in -= 1;
            if self.greet_in == 0 {
                buffer.greets = true;
                self.outlet.plug(&mut buffer);
                buffer.greets = false;
            }
        }
        if graph.lost.swap(false, Ordering::AcqRel) {
            let Self { bridge, outlet, .. } = self;
            bridge.lost(0, time.now, |_, end| outlet.end(end, &mut buffer));
        }
        if let Some(percent) = graph.loudness.swap(0, Ordering::AcqRel).checked_sub(1)
            && let Some(sound) = &mut buffer.sound
        {
            levels(percent).for_each(|level| sound.play(0, level, scope));
        }
        let came = self.input.iter(scope).map(|event| (event.time, event.bytes));
        self.bridge.period(time, came, (&mut self.outlet, &mut buffer), ending);
        if let Some(sound) = &mut buffer.sound {
            sound.finish(ending, scope);
        }
        let silent = buffer.sound.as_ref().is_none_or(|sound| sound.is_silent());
        if ending && silent && self.outlet.is_silent() {
            let Buffer { writer, again, .. } = &mut buffer;
            let over = again.farewell(self.frames, || {
                self.outlet.farewell(|end| {
                    let _ = writer.write(&jack::RawMidi { time: 0, bytes: end.bytes() });
                });
            });
            graph.ended.store(over, Ordering::Release);
        }
        Control::Continue
    }
}

/// Ends that were due in a period that was missed. They say nothing new: what
/// sounds is known.
fn said_again(buffer: &mut Buffer<'_, '_>, outlet: &Outlet, period: (u64, u32)) {
    let Buffer { writer, again, .. } = buffer;
    again.say(
        period,
        |end| outlet.sounds(end),
        |end| {
            let _ = writer.write(&jack::RawMidi { time: 0, bytes: end.bytes() });
        },
    );
}

impl Process {
    /// Counts frames over the wrap of the server's 32 bits, and over periods
    /// that the server left out; whether there were any.
    fn count(&mut self, at: u32, frames: u32) -> bool {
        let passed = self.last.map_or(frames, |last| at.wrapping_sub(last));
        let left_out = self.last.is_some() && passed > frames;
        self.frames += u64::from(passed);
        self.last = Some(at);
        left_out
    }
}
