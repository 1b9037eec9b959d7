//! The messages of a part in time order, as a keyboard would have sent them.

use midly::{MidiMessage, TrackEventKind};

use super::{HandTrack, MidiFile};
use sinistra_core::midi::{CONTROL, KeyState, Message, NOTE_OFF, NOTE_ON, Short};
use sinistra_core::time::Ticks;

/// What a message of a file means; `None` for those that are neither notes nor controllers.
fn meant(channel: u8, message: MidiMessage) -> Option<Message> {
    let (kind, one, two) = match message {
        MidiMessage::NoteOn { key, vel } => (NOTE_ON, key, vel),
        MidiMessage::NoteOff { key, vel } => (NOTE_OFF, key, vel),
        MidiMessage::Controller { controller, value } => (CONTROL, controller, value),
        _ => return None,
    };
    Message::read(Short::channel_message(kind, channel, one.as_int(), two.as_int()))
}

impl MidiFile<'_> {
    /// Notes and controllers of `part`, in time order, with every note ended:
    /// a key struck again while it is down is released first, one that the
    /// file never releases is released at the end of the part's last track,
    /// and a release of a key that is not down is left out.
    pub fn messages(&self, part: &HandTrack) -> Vec<(Ticks, Message)> {
        let (raw, end) = self.raw(part);
        let mut down = KeyState::default();
        let mut messages = Vec::with_capacity(raw.len());
        for (tick, channel, message) in raw {
            let at = self.ticks(tick);
            let Some(message) = meant(channel, message) else { continue };
            match message {
                Message::On { channel, key, .. } if down.press(channel, key) => {
                    messages.push((at, Message::off(channel, key)));
                }
                Message::Off { channel, key, .. } if !down.release(channel, key) => continue,
                _ => {}
            }
            messages.push((at, message));
        }
        let end = self.ticks(end);
        down.end(|message| {
            messages.push((end, message));
            true
        });
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
