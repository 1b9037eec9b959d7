//! What the player does: kept as it came, to be passed on, and told to the
//! engine as far as it cares.

use arrayvec::ArrayVec;
use nice_plug::midi::{Channel, Key};
use nice_plug::prelude::NoteEvent;
use sinistra_core::engine::{Message, Timed};
use sinistra_core::maths;
use sinistra_core::midi::{ChannelMode, KeyState, UNKNOWN_RELEASE};
use sinistra_core::pitch::KeyNumber;

use super::clock::ClockTouch;
use super::sysex::Passing;

/// An event of the host.
pub type HostEvent = NoteEvent<Passing>;

/// Events that one chunk of a block may hold; more are taken in further chunks.
pub const ROOM: usize = 1024;

/// A chunk of what the player did.
pub struct Through {
    /// Everything, as it came.
    pub events: Vec<HostEvent>,
    /// What the engine hears of it.
    pub heard: ArrayVec<Timed, { 4 * ROOM }>,
    /// Keys that are down.
    down: KeyState,
    /// Whether all of them are to be let go first.
    release: bool,
}

impl Default for Through {
    fn default() -> Self {
        Self {
            events: Vec::with_capacity(ROOM),
            heard: ArrayVec::new(),
            down: KeyState::default(),
            release: false,
        }
    }
}

impl Through {
    /// Takes the events of a block from frame `from` on until there are no
    /// more (then `true`) or the room is full. What the engine hears lies
    /// within `from..frames`. Real-time safe.
    pub fn gather(
        &mut self,
        from: u32,
        frames: u32,
        next: &mut impl FnMut() -> Option<HostEvent>,
    ) -> bool {
        self.events.clear();
        self.heard.clear();
        if std::mem::take(&mut self.release) {
            // The engine has one pair of pedals, whatever the channel.
            for controller in [64, 66] {
                self.tell(from, Message::Control { channel: 0, controller, value: 0 });
            }
            self.let_go(from, Channel::Wildcard, Key::Wildcard, UNKNOWN_RELEASE);
        }
        let last = frames.saturating_sub(1);
        // One event may let go every key of every channel (a wildcard).
        while self.events.len() < ROOM && self.heard.remaining_capacity() > 2048 {
            match next() {
                Some(event) => {
                    self.hear(&event, from, last);
                    self.events.push(event);
                }
                None => return true,
            }
        }
        false
    }

    /// Where the part ends that was gathered from `from` on, `all` of it or up
    /// to a full room.
    pub fn end_of_part(&self, all: bool, from: u32, frames: u32) -> u32 {
        let last = self.events.last().map_or(from, |event| event.timing());
        if all { frames } else { frames.min(last.saturating_add(1)).max(from) }
    }

    /// What the right hand (keys from `split` up) did in this chunk.
    pub fn touch(&self, split: KeyNumber) -> ClockTouch {
        let right = |key: KeyNumber| key >= split;
        let mut touch = ClockTouch::default();
        for timed in &self.heard {
            match timed.message {
                Message::On { key, .. } if right(key) => {
                    touch.struck = touch.struck.or(Some(timed.frame));
                    touch.any = true;
                }
                Message::Off { key, .. } if right(key) => touch.any = true,
                _ => {}
            }
        }
        touch.down = self.down.any_down() >> split.number() != 0;
        touch
    }

    /// After a reset the host starts anew: the engine will hear every key and
    /// pedal let go, whose release may never come.
    pub fn let_all_go(&mut self) {
        self.release = true;
    }

    fn hear(&mut self, event: &HostEvent, from: u32, last: u32) {
        let frame = event.timing().min(last).max(from);
        match *event {
            NoteEvent::NoteOn { channel, key: Key::Number(key), velocity, .. } => {
                let channel = channel.number().unwrap_or(0);
                if let Some(key) = KeyNumber::new(key) {
                    self.down.press(channel, key);
                    let velocity = maths::velocity(velocity * 127.0);
                    self.tell(frame, Message::On { channel, key, velocity });
                }
            }
            NoteEvent::NoteOff { channel, key, velocity, .. } => {
                let velocity = maths::seven_bits(velocity);
                self.let_go(frame, channel, key, velocity);
            }
            NoteEvent::Choke { channel, key, .. } => {
                self.let_go(frame, channel, key, UNKNOWN_RELEASE);
            }
            NoteEvent::MidiCC { channel, cc, value, .. } => {
                if ChannelMode::of(cc).is_some_and(ChannelMode::ends_keys) {
                    let all = Channel::Number(channel);
                    self.let_go(frame, all, Key::Wildcard, UNKNOWN_RELEASE);
                }
                let value = maths::seven_bits(value);
                self.tell(frame, Message::Control { channel, controller: cc, value });
            }
            _ => {}
        }
    }

    /// A wildcard ends every key that is down on every channel it names.
    fn let_go(&mut self, frame: u32, channel: Channel, key: Key, velocity: u8) {
        if let (Channel::Number(channel), Key::Number(key)) = (channel, key) {
            if let Some(key) = KeyNumber::new(key) {
                self.down.release(channel, key);
                self.tell(frame, Message::Off { channel, key, velocity });
            }
            return;
        }
        for at in (0..16u8).filter(|at| channel.number().is_none_or(|c| c == *at)) {
            let mut left = self.down.down(at) & key.number().map_or(u128::MAX, bit);
            while let Some(key) = u8::try_from(left.trailing_zeros()).ok().and_then(KeyNumber::new)
            {
                left &= left - 1;
                self.down.release(at, key);
                self.tell(frame, Message::Off { channel: at, key, velocity });
            }
        }
    }

    fn tell(&mut self, frame: u32, message: Message) {
        // A full room loses a message for the engine, never for the sound.
        let _ = self.heard.try_push(Timed { frame, message });
    }
}

/// Bit n for key n; none for a number that is no key.
fn bit(key: u8) -> u128 {
    1u128.checked_shl(key.into()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_ends_notes_lets_the_keys_of_its_channel_go() {
        // MIDI 1.0, "Channel mode messages": 120 and 123 to 127, and no others.
        for (cc, down) in [(120, false), (121, true), (122, true), (123, false), (127, false)] {
            let mut events = vec![
                NoteEvent::MidiCC { timing: 1, channel: 0, cc, value: 0.0 },
                NoteEvent::NoteOn {
                    timing: 0,
                    voice_id: nice_plug::midi::VoiceID::Wildcard,
                    channel: Channel::Number(0),
                    key: Key::Number(60),
                    velocity: 0.5,
                },
            ];
            let mut through = Through::default();
            assert!(through.gather(0, 64, &mut || events.pop()));
            assert_eq!(through.touch(KeyNumber::MIDDLE_C).down, down, "{cc}");
        }
    }
}
