//! Our own damper pedal, changed with the harmony as pianists change it: up as the
//! new chord is struck, down again after it. What is down comes up, whatever stops.

use super::{Message, Output, Timed};
use crate::chord::Chord;
use crate::midi::{ChannelMode, SUSTAIN};
use crate::play::Role;
use crate::time::Ticks;

/// How long after a stroke the pedal goes down, in milliseconds: late enough that
/// nothing of the chord before is caught. From memory: syncopated pedalling.
const AFTER_MS: f64 = 90.0;

/// The longest that it stays down after the last stroke, in bars.
const LONGEST: i64 = 2;

/// A stroke of ours, as far as the pedal cares.
#[derive(Clone, Copy, Debug)]
pub struct PedalledStroke {
    /// When it is struck.
    pub at: Ticks,
    /// What it is struck to.
    pub chord: Chord,
    /// What its lowest note is to that.
    pub role: Role,
    /// When its first note ends.
    pub until: Ticks,
    /// When the harmony surely changes, or ends.
    pub changes: Ticks,
    /// A bar.
    pub bar: Ticks,
    /// Quarter notes a minute.
    pub tempo: f64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum PedalState {
    #[default]
    Up,
    /// Down on this channel.
    Down(u8),
    /// The player's own went down on that channel: ours comes up with theirs.
    Lent(u8),
    /// The home refused that it comes up.
    Owed(u8),
}

/// Where the pedal is, and what it does next. Real-time safe.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pedal {
    state: PedalState,
    /// The chord that it is held for, or will be.
    chord: Option<Chord>,
    /// When it goes down.
    down_at: Option<Ticks>,
    /// When it comes up if nothing else happens.
    up_at: Option<Ticks>,
    /// Channels on which the player's own is down, a bit each.
    theirs: u16,
}

impl Pedal {
    /// When it moves by itself.
    pub fn due(&self) -> Option<Ticks> {
        let up = self.up_at.filter(|_| matches!(self.state, PedalState::Down(_)));
        [self.down_at, up].into_iter().flatten().min()
    }

    /// Whether it is down, or its end is owed.
    pub fn is_down(&self) -> bool {
        self.state != PedalState::Up
    }

    /// Our hand strikes: it changes with a new chord, and leaves passing notes dry.
    pub fn stroke(&mut self, stroke: &PedalledStroke, frame: u32, out: &mut impl Output) {
        let PedalledStroke { at, chord, role, .. } = *stroke;
        let passes = role == Role::Passing;
        if passes || !self.is_for(chord) {
            self.lift(frame, out);
        }
        let after = Ticks::of_ms(AFTER_MS, stroke.tempo).min(Ticks((stroke.until - at).0 / 2));
        if !passes && stroke.changes > at + after {
            self.chord = Some(chord);
            self.up_at = Some(stroke.changes.min(at + Ticks(LONGEST * stroke.bar.0)));
            if self.state == PedalState::Up && self.down_at.is_none() {
                self.down_at = Some(at + after);
            }
        }
    }

    /// The harmony is `chord` now, whether we strike or not.
    pub fn harmony(&mut self, chord: Chord, frame: u32, out: &mut impl Output) {
        if !self.is_for(chord) {
            self.lift(frame, out);
        }
    }

    /// Whether it is held for `chord`: the same bass, and no tone that is foreign to
    /// the other. A seventh that comes in may ring with its triad.
    fn is_for(&self, chord: Chord) -> bool {
        self.chord.is_none_or(|held| {
            let (ours, theirs) = (held.tones(), chord.tones());
            let within = ours.minus(theirs).is_empty() || theirs.minus(ours).is_empty();
            held.bass == chord.bass && within
        })
    }

    /// Does what is due at `now`, on `channel`.
    pub fn act(&mut self, now: Ticks, channel: u8, frame: u32, out: &mut impl Output) {
        if self.down_at.is_some_and(|at| at <= now) {
            self.down_at = None;
            let free = self.theirs & (1 << channel) == 0;
            if free && out.send(Timed { frame, message: moved(channel, 127) }) {
                self.state = PedalState::Down(channel);
            }
        }
        if self.up_at.is_some_and(|at| at <= now) {
            self.lift(frame, out);
        }
    }

    /// It comes up, unless the player's own holds what ours held.
    pub fn lift(&mut self, frame: u32, out: &mut impl Output) {
        (self.chord, self.down_at, self.up_at) = (None, None, None);
        if let PedalState::Down(channel) = self.state {
            self.end(channel, frame, out);
        }
    }

    /// It comes up, come what may: stop, panic, bypass.
    pub fn let_go(&mut self, frame: u32, out: &mut impl Output) {
        self.lift(frame, out);
        if let PedalState::Lent(channel) = self.state {
            self.end(channel, frame, out);
        }
    }

    /// Offers again what was refused.
    pub fn pay(&mut self, out: &mut impl Output) {
        if let PedalState::Owed(channel) = self.state {
            self.end(channel, 0, out);
        }
    }

    /// The player moved a controller.
    pub fn hear(
        &mut self,
        (channel, controller, value): (u8, u8, u8),
        frame: u32,
        out: &mut impl Output,
    ) {
        let bit = 1u16.checked_shl(channel.into()).unwrap_or(0);
        let lifts = ChannelMode::of(controller).is_some_and(ChannelMode::lifts_pedals);
        let down = controller == SUSTAIN && value >= 64;
        if down {
            self.theirs |= bit;
            if self.state == PedalState::Down(channel) {
                self.state = PedalState::Lent(channel);
            }
        } else if lifts || controller == SUSTAIN {
            self.theirs &= !bit;
            let ours = [PedalState::Lent(channel), PedalState::Down(channel)].contains(&self.state);
            if ours && (lifts || self.state == PedalState::Lent(channel)) {
                self.end(channel, frame, out);
            }
        }
    }

    fn end(&mut self, channel: u8, frame: u32, out: &mut impl Output) {
        let sent = out.send(Timed { frame, message: moved(channel, 0) });
        self.state = if sent { PedalState::Up } else { PedalState::Owed(channel) };
    }
}

fn moved(channel: u8, value: u8) -> Message {
    Message::Control { channel, controller: SUSTAIN, value }
}
