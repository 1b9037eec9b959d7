//! Both hands in one sorted stream to the host.

use arrayvec::ArrayVec;
use nice_plug::midi::{Channel, Key, MidiResult, VoiceID};
use nice_plug::prelude::NoteEvent;
use sinistra_core::engine::{Message, Output, Played, Timed};
use sinistra_core::midi::{ChannelMode, Ledger, Short};
use sinistra_core::pitch::KeyNumber;
use sinistra_panel::take::{LoggedStroke, Owner};

use super::mark::{marked, marked_control};
use super::through::HostEvent;

/// Left-hand events that one chunk may hold; the engine keeps the rest.
const ROOM: usize = 1024;
/// Its strokes in a stretch of which more is remembered than the note.
const STROKES: usize = 64;

/// What the left hand plays in a chunk, at frames of the host's block.
#[derive(Default)]
pub struct LeftOutput {
    events: ArrayVec<Timed, ROOM>,
    /// What is known of this stretch's strokes, with their frames in it.
    pub strokes: ArrayVec<(u32, LoggedStroke), STROKES>,
    /// Frame of the block at which the engine's stretch starts.
    offset: u32,
}

impl LeftOutput {
    /// From here on, the engine's frame 0 is `offset`.
    pub fn start_at(&mut self, offset: u32) {
        self.offset = offset;
    }
}

impl Output for LeftOutput {
    fn send(&mut self, event: Timed) -> bool {
        let frame = event.frame.saturating_add(self.offset);
        self.events.try_push(Timed { frame, ..event }).is_ok()
    }

    fn played(&mut self, note: &Played) {
        // Of more at once, a kept take knows the notes alone.
        let _ = self.strokes.try_push((note.frame, LoggedStroke::of(note)));
    }
}

/// Where the merged stream goes.
pub trait MergedOutput {
    /// `false` if it was refused.
    fn take(&mut self, event: HostEvent) -> bool;
    /// Told of every channel message that was taken.
    fn tell(&mut self, frame: u32, hand: Owner, message: [u8; 3]);
}

/// Remembers what each hand has on at the host's end.
#[derive(Default)]
pub struct Merge {
    /// What the left hand has on, by output.
    left: [Ledger; 2],
    right: Ledger,
    /// Where the left hand's next notes go.
    apart: bool,
    dropped: u32,
}

impl Merge {
    /// Sends what the player did and what the left hand plays, sorted. At the
    /// same frame the left hand's releases go first and its strokes last, so
    /// that a key that changes hands ends before it starts again. Empties
    /// both. Real-time safe.
    pub fn send(
        &mut self,
        through: &mut Vec<HostEvent>,
        passes: bool,
        left: &mut LeftOutput,
        host: &mut impl MergedOutput,
    ) {
        self.settle(host);
        let mut ours = left.events.iter().copied().peekable();
        for event in through.drain(..) {
            let frame = event.timing();
            while let Some(next) = ours.next_if(|next| {
                let ends = matches!(next.message, Message::Off { .. });
                next.frame < frame || (next.frame == frame && ends)
            }) {
                self.send_left(next, host);
            }
            self.send_right(event, passes, host);
        }
        for next in ours {
            self.send_left(next, host);
        }
        left.events.clear();
    }

    /// From now on the left hand strikes notes on an output of its own, or not;
    /// what sounds ends where it began. Real-time safe.
    pub fn set_apart(&mut self, apart: bool) {
        self.apart = apart;
    }

    /// Notes that the host refused since the start.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }

    /// A note-on of the right hand is not to sound; nor is its end to be sent.
    pub fn refuse(&mut self, event: &HostEvent) {
        if let NoteEvent::NoteOn { channel, key: Key::Number(key), .. } = *event {
            self.right.sent(on(channel.number().unwrap_or(0), key), false);
        }
    }

    /// The same for want of room.
    pub fn drop(&mut self, event: &HostEvent) {
        self.refuse(event);
        self.dropped = self.dropped.saturating_add(1);
    }

    /// Ends all that the right hand has on, at the start of the block.
    pub fn end_right(&mut self, host: &mut impl MergedOutput) {
        self.right.end_all(|end| {
            host.tell(0, Owner::Right, Short::from(end).padded());
            host.take(event(0, end, Channel::Number))
        });
    }

    fn settle(&mut self, host: &mut impl MergedOutput) {
        for apart in [false, true] {
            let (ledger, at) = self.left_at(apart);
            ledger.pay(|end| host.take(event(0, end, at)));
        }
        self.right.pay(|end| host.take(event(0, end, Channel::Number)));
    }

    fn send_left(&mut self, timed: Timed, host: &mut impl MergedOutput) {
        let (frame, bytes) = (timed.frame, Short::from(timed.message).padded());
        match timed.message {
            Message::On { .. } => {
                let (ledger, at) = self.left_at(self.apart);
                let taken = host.take(event(frame, timed.message, at));
                ledger.sent(timed.message, taken);
                self.account(taken, frame, Owner::Left, bytes, host);
            }
            Message::Off { channel, key, .. } => {
                let apart = self.left[1].sounds(channel, key);
                let (ledger, at) = self.left_at(apart);
                if !ledger.sounds(channel, key) {
                    return; // its note-on was refused
                }
                let taken = host.take(event(frame, timed.message, at));
                ledger.sent(timed.message, taken);
                host.tell(frame, Owner::Left, bytes);
            }
            Message::Control { channel, controller, .. } => {
                // What was pressed at an output comes up there.
                let up = Short::from(Message::Control { channel, controller, value: 0 });
                let apart = match self.left.each_ref().map(|at| at.sounding().has(up)) {
                    [true, false] => false,
                    [false, true] => true,
                    _ => self.apart,
                };
                let (ledger, at) = self.left_at(apart);
                let taken = host.take(event(frame, timed.message, at));
                ledger.sent(timed.message, taken);
                if taken {
                    host.tell(frame, Owner::Left, bytes);
                }
            }
        }
    }

    /// The left hand's ledger for its own output or the other, and what makes
    /// channels of that output.
    fn left_at(&mut self, apart: bool) -> (&mut Ledger, fn(u8) -> Channel) {
        let [with, own] = &mut self.left;
        if apart { (own, marked) } else { (with, Channel::Number) }
    }

    fn send_right(&mut self, event: HostEvent, passes: bool, host: &mut impl MergedOutput) {
        let frame = event.timing();
        let message = match &event {
            NoteEvent::MidiSysEx { .. } => None,
            other => other.as_midi().and_then(|midi| match midi {
                MidiResult::Basic(bytes) => Some(bytes),
                MidiResult::SysEx(..) => None,
            }),
        };
        match event {
            NoteEvent::NoteOn { channel, key: Key::Number(key), .. } => {
                let channel = channel.number().unwrap_or(0);
                if !passes {
                    // Its note-off is not to pass either, muted or not by then.
                    self.right.sent(on(channel, key), false);
                } else {
                    let taken = host.take(event);
                    self.right.sent(on(channel, key), taken);
                    self.account(taken, frame, Owner::Right, message.unwrap_or_default(), host);
                }
                return;
            }
            NoteEvent::NoteOff { channel, key, .. } | NoteEvent::Choke { channel, key, .. } => {
                self.send_right_off(event, channel, key, passes, host);
            }
            _ if passes || ends_something(&event) => {
                host.take(event);
            }
            _ => return,
        }
        if let Some(message) = message {
            host.tell(frame, Owner::Right, message);
        }
    }

    fn send_right_off(
        &mut self,
        event: HostEvent,
        channel: Channel,
        key: Key,
        passes: bool,
        host: &mut impl MergedOutput,
    ) {
        let (Channel::Number(channel), Key::Number(key)) = (channel, key) else {
            if host.take(event) {
                self.right.ended(channel.number(), key.number().and_then(KeyNumber::new));
            }
            return;
        };
        // What sounds ends first; a stray note-off passes like everything
        // else, unless it is muted.
        let off = Message::off(channel, KeyNumber::clamped(key.into()));
        if self.right.swallows(off) {
            return;
        }
        let sounds = self.right.sounds(channel, KeyNumber::clamped(key.into()));
        if sounds || passes {
            let taken = host.take(event);
            if sounds {
                self.right.sent(off, taken);
            }
        }
    }

    fn account(
        &mut self,
        taken: bool,
        frame: u32,
        hand: Owner,
        message: [u8; 3],
        host: &mut impl MergedOutput,
    ) {
        if taken {
            host.tell(frame, hand, message);
        } else {
            self.dropped = self.dropped.saturating_add(1);
        }
    }
}

/// Whether a key goes up.
pub fn ends_a_note(event: &HostEvent) -> bool {
    matches!(event, NoteEvent::NoteOff { .. } | NoteEvent::Choke { .. })
}

/// What passes even when the hand is muted: pedals let go, channel mode.
pub fn ends_something(event: &HostEvent) -> bool {
    match *event {
        NoteEvent::MidiCC { cc: 64..=69, value, .. } => value < 0.5,
        NoteEvent::MidiCC { cc, .. } => ChannelMode::of(cc).is_some(),
        _ => false,
    }
}

/// A stroke of a key, as a ledger counts it.
fn on(channel: u8, key: u8) -> Message {
    Message::On { channel, key: KeyNumber::clamped(key.into()), velocity: 1 }
}

/// A message for the host; `at` makes channels of the output it goes to.
fn event(timing: u32, message: Message, at: impl Fn(u8) -> Channel) -> HostEvent {
    let (voice_id, part) = (VoiceID::Wildcard, |byte: u8| f32::from(byte) / 127.0);
    match message {
        Message::On { channel, key, velocity } => NoteEvent::NoteOn {
            timing,
            voice_id,
            channel: at(channel),
            key: Key::Number(key.number()),
            velocity: part(velocity),
        },
        Message::Off { channel, key, velocity } => NoteEvent::NoteOff {
            timing,
            voice_id,
            channel: at(channel),
            key: Key::Number(key.number()),
            velocity: part(velocity),
        },
        Message::Control { channel, controller, value } => {
            // Any channel that is made for the second output is marked.
            let apart = at(channel) != Channel::Number(channel);
            let cc = if apart { marked_control(controller) } else { controller };
            NoteEvent::MidiCC { timing, channel, cc, value: part(value) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note_on(timing: u32, number: u8, velocity: u8) -> HostEvent {
        let message = Message::On { channel: 0, key: key(number), velocity };
        event(timing, message, Channel::Number)
    }

    fn note_off(timing: u32, number: u8) -> HostEvent {
        event(timing, Message::off(0, key(number)), Channel::Number)
    }

    #[derive(Default)]
    struct RecordedOutput {
        taken: Vec<(u32, [u8; 3])>,
        full: bool,
    }

    impl MergedOutput for RecordedOutput {
        fn take(&mut self, event: HostEvent) -> bool {
            if !self.full {
                let Some(MidiResult::Basic(bytes)) = event.as_midi() else { return true };
                self.taken.push((event.timing(), [bytes[0], bytes[1], 0]));
            }
            !self.full
        }
        fn tell(&mut self, _: u32, _: Owner, _: [u8; 3]) {}
    }

    fn key(number: u8) -> KeyNumber {
        KeyNumber::clamped(number.into())
    }

    fn on(frame: u32, number: u8) -> Timed {
        Timed { frame, message: Message::On { channel: 0, key: key(number), velocity: 80 } }
    }

    fn off(frame: u32, number: u8) -> Timed {
        Timed { frame, message: Message::off(0, key(number)) }
    }

    fn left(events: &[Timed]) -> LeftOutput {
        let mut left = LeftOutput::default();
        assert!(events.iter().all(|event| left.send(*event)));
        left
    }

    #[test]
    fn a_key_that_changes_hands_ends_before_it_starts_again() {
        let (mut merge, mut host) = (Merge::default(), RecordedOutput::default());
        merge.send(&mut vec![], true, &mut left(&[on(0, 40)]), &mut host);
        let mut through = vec![note_on(5, 40, 90), note_on(9, 72, 90)];
        merge.send(&mut through, true, &mut left(&[off(5, 40), on(5, 43), on(9, 36)]), &mut host);
        assert_eq!(
            host.taken,
            [
                (0, [0x90, 40, 0]),
                (5, [0x80, 40, 0]),
                (5, [0x90, 40, 0]),
                (5, [0x90, 43, 0]),
                (9, [0x90, 72, 0]),
                (9, [0x90, 36, 0]),
            ]
        );
    }

    #[test]
    fn a_refused_note_on_has_no_note_off_and_a_refused_note_off_comes_later() {
        let (mut merge, mut host) = (Merge::default(), RecordedOutput::default());
        merge.send(&mut vec![], true, &mut left(&[on(0, 40)]), &mut host);
        host.full = true;
        merge.send(&mut vec![], true, &mut left(&[off(1, 40), on(1, 41)]), &mut host);
        host.full = false;
        merge.send(&mut vec![], true, &mut left(&[off(2, 41)]), &mut host);
        assert_eq!(host.taken, [(0, [0x90, 40, 0]), (0, [0x80, 40, 0])]);
        assert_eq!(merge.dropped(), 1);
        assert!(merge.left.iter().all(Ledger::is_settled));
    }

    #[test]
    fn our_pedal_comes_up_at_the_output_where_it_went_down_and_a_refused_end_comes_later() {
        let moved = |frame, value| Timed {
            frame,
            message: Message::Control { channel: 0, controller: 64, value },
        };
        let (mut merge, mut host) = (Merge::default(), RecordedOutput::default());
        merge.set_apart(true);
        merge.send(&mut vec![], true, &mut left(&[moved(0, 127)]), &mut host);
        merge.set_apart(false);
        host.full = true;
        merge.send(&mut vec![], true, &mut left(&[moved(1, 0)]), &mut host);
        host.full = false;
        merge.send(&mut vec![], true, &mut LeftOutput::default(), &mut host);
        assert_eq!(host.taken, [(0, [0xB0, 192, 0]), (0, [0xB0, 192, 0])], "marked, twice");
        assert!(merge.left.iter().all(Ledger::is_settled));
        merge.send(&mut vec![], true, &mut left(&[moved(2, 127), moved(3, 0)]), &mut host);
        assert_eq!(host.taken[2..], [(2, [0xB0, 64, 0]), (3, [0xB0, 64, 0])]);
    }

    #[test]
    fn muting_the_right_hand_lets_what_sounds_end() {
        let (mut merge, mut host) = (Merge::default(), RecordedOutput::default());
        merge.send(&mut vec![note_on(0, 72, 90)], true, &mut LeftOutput::default(), &mut host);
        let mut through = vec![
            note_on(1, 74, 90),
            note_off(2, 72),
            note_off(3, 74),
            NoteEvent::MidiCC { timing: 4, channel: 0, cc: 64, value: 1.0 },
            NoteEvent::MidiCC { timing: 5, channel: 0, cc: 64, value: 0.0 },
        ];
        merge.send(&mut through, false, &mut LeftOutput::default(), &mut host);
        assert_eq!(host.taken, [(0, [0x90, 72, 0]), (2, [0x80, 72, 0]), (5, [0xB0, 64, 0])]);
        assert!(merge.right.is_settled());
    }
}
