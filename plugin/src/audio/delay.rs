//! The delay line: what the player did comes out again some frames later.

use std::collections::VecDeque;

use nice_plug::prelude::NoteEvent;

use super::merge::{ends_a_note, ends_something};
use super::through::HostEvent;

/// Events that may wait: a dense minute of both hands is about 2,000.
const ROOM: usize = 8192;
/// Places that are kept for the ends of notes: a key on every channel.
const FOR_ENDS: usize = 2048;

/// Events in the order in which they come out.
pub struct EventDelay {
    waiting: VecDeque<(u64, HostEvent)>,
    /// Frames that have gone by before this block.
    now: u64,
    /// How much later they come out.
    frames: u32,
    /// Events at the front that are to come out at once.
    cut: usize,
}

impl Default for EventDelay {
    fn default() -> Self {
        Self { waiting: VecDeque::with_capacity(ROOM), now: 0, frames: 0, cut: 0 }
    }
}

impl EventDelay {
    /// Frames from in to out.
    pub fn frames(&self) -> u32 {
        self.frames
    }

    /// What waits comes out with the next block, as [`Self::next_cut`] says;
    /// what comes from now on waits for `frames`.
    pub fn cut(&mut self, frames: u32) {
        self.cut = self.waiting.len();
        self.frames = frames;
    }

    /// Takes in an event of this block. Full, it refuses all but the ends of
    /// notes, and gives the event back. Real-time safe.
    ///
    /// # Errors
    /// The event, if there was no room for it.
    pub fn push(&mut self, event: HostEvent) -> Result<(), HostEvent> {
        let ends = ends_a_note(&event) || ends_something(&event);
        let room = if ends { ROOM } else { ROOM - FOR_ENDS };
        if self.waiting.len() >= room {
            return Err(event);
        }
        let due = self.now + u64::from(event.timing()) + u64::from(self.frames);
        self.waiting.push_back((due, event));
        Ok(())
    }

    /// The next event that was cut off, at the start of this block.
    pub fn next_cut(&mut self) -> Option<HostEvent> {
        self.cut = self.cut.checked_sub(1)?;
        let (_, event) = self.waiting.pop_front()?;
        Some(at(event, 0))
    }

    /// The next event that is due in this block of `frames`.
    pub fn next(&mut self, frames: u32) -> Option<HostEvent> {
        let frame = self.waiting.front()?.0.saturating_sub(self.now);
        if frame >= u64::from(frames.max(1)) {
            return None;
        }
        let (_, event) = self.waiting.pop_front()?;
        Some(at(event, u32::try_from(frame).unwrap_or(0)))
    }

    /// A block of `frames` has gone by.
    pub fn pass(&mut self, frames: u32) {
        self.now += u64::from(frames);
    }

    /// Whether nothing waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }
}

/// The event at another frame; the framework can only move it back.
fn at(mut event: HostEvent, frame: u32) -> HostEvent {
    let (NoteEvent::NoteOn { timing, .. }
    | NoteEvent::NoteOff { timing, .. }
    | NoteEvent::Choke { timing, .. }
    | NoteEvent::VoiceTerminated { timing, .. }
    | NoteEvent::PolyModulation { timing, .. }
    | NoteEvent::MonoAutomation { timing, .. }
    | NoteEvent::PolyPressure { timing, .. }
    | NoteEvent::PolyVolume { timing, .. }
    | NoteEvent::PolyPan { timing, .. }
    | NoteEvent::PolyTuning { timing, .. }
    | NoteEvent::PolyVibrato { timing, .. }
    | NoteEvent::PolyExpression { timing, .. }
    | NoteEvent::PolyBrightness { timing, .. }
    | NoteEvent::MidiChannelPressure { timing, .. }
    | NoteEvent::MidiPitchBend { timing, .. }
    | NoteEvent::MidiCC { timing, .. }
    | NoteEvent::MidiProgramChange { timing, .. }
    | NoteEvent::MidiSysEx { timing, .. }) = &mut event
    else {
        return event;
    };
    *timing = frame;
    event
}

#[cfg(test)]
mod tests {
    use super::*;
    use nice_plug::midi::{Channel, Key, VoiceID};

    fn note(timing: u32, key: u8, on: bool) -> HostEvent {
        let (voice_id, channel) = (VoiceID::Wildcard, Channel::Number(0));
        let (key, velocity) = (Key::Number(key), 0.5);
        if on {
            NoteEvent::NoteOn { timing, voice_id, channel, key, velocity }
        } else {
            NoteEvent::NoteOff { timing, voice_id, channel, key, velocity }
        }
    }

    #[test]
    fn an_event_comes_out_as_many_frames_later_whatever_the_blocks() {
        for size in [1, 7, 64, 100, 4096] {
            let mut delay = EventDelay::default();
            delay.cut(100);
            let mut out = vec![];
            for start in (0..1000).step_by(size) {
                for frame in
                    [3_usize, 150].into_iter().filter(|f| (start..start + size).contains(f))
                {
                    delay.push(note((frame - start) as u32, 60, true)).expect("room");
                }
                while let Some(event) = delay.next(size as u32) {
                    out.push(start + event.timing() as usize);
                }
                delay.pass(size as u32);
            }
            assert_eq!(out, [103, 250], "blocks of {size}");
        }
    }

    #[test]
    fn a_full_line_still_takes_the_ends_of_notes() {
        let mut delay = EventDelay::default();
        delay.cut(1000);
        while delay.push(note(0, 60, true)).is_ok() {}
        for _ in 0..FOR_ENDS {
            delay.push(note(0, 60, false)).expect("room for an end");
        }
        assert!(delay.push(note(0, 60, false)).is_err());
    }

    #[test]
    fn what_is_cut_off_comes_at_once_and_nothing_after_it() {
        let mut delay = EventDelay::default();
        delay.cut(1000);
        delay.push(note(0, 60, true)).expect("room");
        delay.cut(10);
        delay.push(note(0, 62, true)).expect("room");
        assert_eq!(delay.next_cut(), Some(note(0, 60, true)));
        assert_eq!(delay.next_cut(), None);
        assert_eq!(delay.next(64), Some(note(10, 62, true)));
        assert!(delay.is_empty());
    }
}
