//! What happens in each period of the JACK server: through, sample for
//! sample; then the stage.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use arrayvec::ArrayVec;
use jack::{Client, Control, MidiIn, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi};
use rtrb::{Consumer, Producer};

use crate::bridge::intake::SENSING_MS;
use crate::bridge::midi::{ACTIVE_SENSING, Down, Short};
use crate::bridge::run::{After, Guard, Player};
use crate::bridge::stage::{Command, Heard, MOST_HEARD, Stage};
use crate::bridge::withheld::Withheld;

use super::again::Again;
use super::jack_sound::JackSound;

/// What the process and the free world share.
#[derive(Default)]
pub struct Flags {
    /// The keyboard is gone: end what it holds.
    pub lost: AtomicBool,
    /// A module was connected: it must not sound what it was left with.
    pub greet: AtomicBool,
    /// Somebody on the graph missed a period: what was ended in it may sound.
    pub missed: AtomicBool,
    /// A keyboard that promised to be heard of was not.
    pub fell_silent: AtomicBool,
    /// Every note, now.
    pub panic: AtomicBool,
    /// The end: every note, then nothing more.
    pub end: AtomicBool,
    /// The end was reached: nothing sounds.
    pub ended: AtomicBool,
    /// Our own code failed.
    pub failed: AtomicBool,
    /// The server is gone.
    pub server_gone: AtomicBool,
    /// Messages given up.
    pub dropped: AtomicU32,
}

/// Lives in the server's thread. Real-time safe.
pub struct Process {
    /// What is heard.
    pub input: Port<MidiIn>,
    /// What is sent.
    pub output: Port<MidiOut>,
    /// The built-in sound.
    pub sound: Option<JackSound>,
    /// Stage and links.
    pub player: Player,
    /// What is kept from the output.
    pub withheld: Arc<Withheld>,
    /// Shared with the free world.
    pub flags: Arc<Flags>,
    /// Frames since the start, and the frame time of the last period.
    pub frames: u64,
    /// See [`Self::frames`].
    pub last: Option<u32>,
    /// Counts failures of the stage.
    pub guard: Guard,
    /// Watches over the keyboard's promise.
    pub sensing: Sensing,
    /// A fresh stage for when this one fails, and the way home of that one.
    pub spare: Consumer<Box<Stage>>,
    /// See [`Self::spare`].
    pub old: Producer<Box<Stage>>,
    /// The stage failed and is to be exchanged.
    pub broken: bool,
    /// Periods until a module that was connected is told to be silent.
    pub greet_in: u8,
    /// Keys and pedals of the player, of ours, and what was delivered.
    pub player_down: Down,
    /// See [`Self::player_down`].
    pub ours_down: Down,
    /// See [`Self::player_down`].
    pub delivered: Down,
    /// What was ended lately, to be said again.
    pub again: Again,
    /// Refused note-offs are owed.
    pub owes: bool,
    /// The stage failed too often: through alone goes on.
    pub given_up: bool,
}

/// A connection is made between two periods, some time after it was asked for.
const GREET_IN: u8 = 4;

/// The promise of a keyboard that it will be heard of (MIDI 1.0 detailed
/// specification, "Active sensing"). Real-time safe.
#[derive(Debug)]
pub struct Sensing {
    /// Frames that a keyboard may be silent for.
    most: u64,
    promised: bool,
    last: u64,
}

impl Sensing {
    /// At `rate` frames a second; nothing is promised yet.
    pub fn new(rate: u32) -> Self {
        Self { most: u64::from(rate) * SENSING_MS / 1000, promised: false, last: 0 }
    }

    /// Something came at this frame.
    pub fn hear(&mut self, bytes: &[u8], frame: u64) {
        self.last = frame;
        self.promised |= bytes.first() == Some(&ACTIVE_SENSING);
    }

    /// Whether the promise is broken now.
    pub fn fell_silent(&self, frame: u64) -> bool {
        self.promised && frame.saturating_sub(self.last) > self.most
    }

    /// Nothing is promised any more.
    pub fn forget(&mut self) {
        self.promised = false;
    }
}

/// The most messages of one period that are put in order.
const MOST: usize = 1024;

/// A message on its way out, and its frame.
type Out<'a> = (u32, Bytes<'a>);

#[derive(Clone, Copy)]
enum Bytes<'a> {
    Player(&'a [u8]),
    Ours(Short),
}

impl ProcessHandler for Process {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let frames = scope.n_frames();
        let rate = f64::from(client.sample_rate());
        self.count(scope.last_frame_time(), frames);
        let now = self.frames as f64 / rate;
        self.exchange();

        let mut out: ArrayVec<Out<'_>, MOST> = ArrayVec::new();
        let mut heard: ArrayVec<Heard, MOST_HEARD> = ArrayVec::new();
        let mut own: ArrayVec<Short, 256> = ArrayVec::new();
        let mut lost_some = false;
        for event in self.input.iter(scope) {
            self.sensing.hear(event.bytes, self.frames + u64::from(event.time));
            if !self.withheld.has(event.bytes)
                && out.try_push((event.time, Bytes::Player(event.bytes))).is_err()
            {
                self.flags.dropped.fetch_add(1, Ordering::Relaxed);
            }
            if let Some(message) = Short::new(event.bytes) {
                self.player_down.note(message);
                let at = now + f64::from(event.time) / rate;
                lost_some |= heard.try_push(Heard { at, frame: event.time, message }).is_err();
            }
        }
        let silent = self.sensing.fell_silent(self.frames);
        if silent {
            self.flags.fell_silent.store(true, Ordering::Release);
        }
        if self.flags.lost.swap(false, Ordering::AcqRel) || silent {
            self.sensing.forget();
            self.player_down.release(|off| {
                let _ = own.try_push(off);
                lost_some |= heard.try_push(Heard { at: now, frame: 0, message: off }).is_err();
                true
            });
        }
        heard.sort_by_key(|heard| heard.frame);
        let ending = self.flags.end.load(Ordering::Acquire);
        if !ending && !self.given_up && !self.broken {
            let player = &mut self.player;
            if lost_some {
                // A note-off may be among it: for the stage nothing is down.
                player.stage.command(Command::LetGo, now, &mut player.sink);
            }
            let work = || player.block(now, frames, rate, &heard);
            if let Err(after) = self.guard.run(now, work) {
                self.flags.failed.store(true, Ordering::Release);
                self.player.sink.due.clear();
                self.ours_down = Down::default();
                self.owes = true;
                self.broken = true;
                self.given_up = after == After::GiveUp;
            }
        }
        for due in &self.player.sink.due {
            if !ending {
                self.ours_down.note(due.message);
                let frame = due.frame.min(frames.saturating_sub(1));
                let _ = out.try_push((frame, Bytes::Ours(due.message)));
            }
        }
        out.sort_by_key(|(frame, _)| *frame);
        let panic = self.flags.panic.swap(false, Ordering::AcqRel);
        if panic || ending {
            out.retain(|(_, bytes)| !begins(bytes));
            (self.player_down, self.ours_down) = Default::default();
            self.owes = true;
        }

        let mut writer = self.output.writer(scope);
        let (delivered, owes) = (&mut self.delivered, &mut self.owes);
        let (again, start) = (&mut self.again, self.frames);
        let sound = &mut self.sound;
        let mut write = |frame: u32, bytes: &[u8]| {
            if let (Some(sound), Some(message)) = (sound.as_mut(), Short::new(bytes)) {
                sound.play(frame, message, scope);
            }
            let sent = writer.write(&RawMidi { time: frame, bytes }).is_ok();
            match (sent, Short::new(bytes)) {
                (true, Some(message)) => {
                    delivered.note(message);
                    again.note(message, start);
                }
                (false, _) => {
                    *owes = true; // what was lost may have been a note-off
                    self.flags.dropped.fetch_add(1, Ordering::Relaxed);
                }
                _ => {}
            }
        };
        if self.flags.greet.swap(false, Ordering::AcqRel) {
            self.greet_in = GREET_IN;
        } else if self.greet_in > 0 {
            self.greet_in -= 1;
            if self.greet_in == 0 {
                all_notes_off(|off| write(0, off.bytes()));
            }
        }
        own.iter().for_each(|off| write(0, off.bytes()));
        for (frame, bytes) in &out {
            match bytes {
                Bytes::Player(bytes) => write(*frame, bytes),
                Bytes::Ours(message) => write(*frame, message.bytes()),
            }
        }
        let last = frames.saturating_sub(1);
        let mut end =
            |end: Short| writer.write(&RawMidi { time: last, bytes: end.bytes() }).is_ok();
        if self.owes {
            let (delivered, again) = (&mut self.delivered, &mut self.again);
            self.owes = !pay(delivered, &self.player_down, &self.ours_down, |off| {
                let sent = end(off);
                if sent {
                    again.note(off, start);
                }
                sent
            });
        }
        if panic {
            all_notes_off(|off| {
                end(off);
            });
        }
        if self.flags.missed.swap(false, Ordering::AcqRel) {
            self.again.say(|off| {
                end(off);
            });
        }
        if let Some(sound) = &mut self.sound {
            sound.finish(ending, scope);
        }
        let silent = self.sound.as_ref().is_none_or(JackSound::is_silent);
        if ending && silent && self.delivered.is_empty() {
            let over = self.again.farewell(start, |off| {
                end(off);
            });
            self.flags.ended.store(over, Ordering::Release);
        }
        Control::Continue
    }
}

impl Process {
    /// A stage that failed is exchanged for a fresh one, once it is there.
    fn exchange(&mut self) {
        if self.broken
            && !self.given_up
            && let Ok(fresh) = self.spare.pop()
        {
            let failed = self.player.exchange(fresh);
            let _ = self.old.push(failed);
            self.broken = false;
        }
    }

    /// Counts frames over the wrap of the server's 32 bits, and over periods
    /// that the server left out.
    fn count(&mut self, at: u32, frames: u32) {
        let passed = self.last.map_or(frames, |last| at.wrapping_sub(last));
        self.frames += u64::from(passed);
        self.last = Some(at);
    }
}

/// All notes off, on every channel.
fn all_notes_off(mut send: impl FnMut(Short)) {
    (0..16).for_each(|c| send(Short::all_notes_off(c)));
}

/// Whether a message begins something: not sent any more at the end.
fn begins(bytes: &Bytes<'_>) -> bool {
    let message = match bytes {
        Bytes::Player(bytes) => Short::new(bytes),
        Bytes::Ours(message) => Some(*message),
    };
    message.is_some_and(|m| m.status() & 0xF0 == 0x90 && m.two() > 0)
}

/// Ends what sounds and should not. True when all of it was taken.
fn pay(
    delivered: &mut Down,
    player: &Down,
    ours: &Down,
    mut send: impl FnMut(Short) -> bool,
) -> bool {
    let mut stuck = delivered.without(player).without(ours);
    stuck.release(|off| {
        let sent = send(off);
        if sent {
            delivered.note(off);
        }
        sent
    })
}
