//! The messages of a part in time order, as a keyboard would have sent them.

use midly::{MidiMessage, TrackEventKind};

use super::{HandTrack, MidiFile};
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// Release velocity where a file ends notes with velocity-0 note-ons (MIDI 1.0).
const RELEASE: u8 = 64;

/// Which keys are down on which channel.
#[derive(Default)]
struct KeysDown([u128; 16]);

impl KeysDown {
    /// Whether the key was down before.
    fn press(&mut self, channel: u8, key: KeyNumber) -> bool {
        let before = self.is_down(channel, key);
        self.0[usize::from(channel & 15)] |= 1 << key.number();
        before
    }

    /// Whether the key was down before.
    fn release(&mut self, channel: u8, key: KeyNumber) -> bool {
        let before = self.is_down(channel, key);
        self.0[usize::from(channel & 15)] &= !(1 << key.number());
        before
    }

    fn is_down(&self, channel: u8, key: KeyNumber) -> bool {
        self.0[usize::from(channel & 15)] >> key.number() & 1 == 1
    }
}

impl MidiFile<'_> {
    /// Notes and controllers of `part`, in time order, with every note ended:
    /// a key struck again while it is down is released first, one that the
    /// file never releases is released at the end of the part's last track,
    /// and a release of a key that is not down is left out.
    pub fn messages(&self, part: &HandTrack) -> Vec<(Ticks, Message)> {
        let (raw, end) = self.raw(part);
        let mut down = KeysDown::default();
        let mut messages = Vec::with_capacity(raw.len());
        for (tick, channel, message) in raw {
            let at = self.ticks(tick);
            match message {
                MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                    let (key, velocity) = (KeyNumber::clamped(key.as_int().into()), vel.as_int());
                    if down.press(channel, key) {
                        messages.push((at, Message::Off { channel, key, velocity: RELEASE }));
                    }
                    messages.push((at, Message::On { channel, key, velocity }));
                }
                MidiMessage::NoteOn { key, .. } => {
                    let key = KeyNumber::clamped(key.as_int().into());
                    if down.release(channel, key) {
                        messages.push((at, Message::Off { channel, key, velocity: RELEASE }));
                    }
                }
                MidiMessage::NoteOff { key, vel } => {
                    let (key, velocity) = (KeyNumber::clamped(key.as_int().into()), vel.as_int());
                    if down.release(channel, key) {
                        messages.push((at, Message::Off { channel, key, velocity }));
                    }
                }
                MidiMessage::Controller { controller, value } => messages.push((
                    at,
                    Message::Control {
                        channel,
                        controller: controller.as_int(),
                        value: value.as_int(),
                    },
                )),
                _ => {}
            }
        }
        let end = self.ticks(end);
        for channel in 0..16 {
            for key in (0..128).filter_map(KeyNumber::new) {
                if down.is_down(channel, key) {
                    messages.push((end, Message::Off { channel, key, velocity: RELEASE }));
                }
            }
        }
        messages
    }

    /// What the file says, tracks merged, and the end of the last of them.
    pub(super) fn raw(&self, part: &HandTrack) -> (Vec<(u64, u8, MidiMessage)>, u64) {
        let mut raw = Vec::new();
        let mut end = 0;
        for (index, track) in self.tracks.iter().enumerate() {
            let before = raw.len();
            for (tick, kind) in track.events() {
                if let TrackEventKind::Midi { channel, message } = kind
                    && part.has(index, channel.as_int())
                {
                    raw.push((tick, channel.as_int(), message));
                }
            }
            if raw.len() > before {
                end = end.max(track.end);
            }
        }
        raw.sort_by_key(|(tick, ..)| *tick); // stable: a track's order stays
        (raw, end)
    }
}
