//! Writes MIDI files: an old one with a track more, or a new one.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};

use super::{Chunk, HandTrack, MidiFile};
use crate::Timeline;
use sinistra_core::engine::Message;
use sinistra_core::key::{Mode, WrittenKey};
use sinistra_core::midi::Short;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};

impl MidiFile<'_> {
    /// The file with every chunk as it was, and one more track. A file of
    /// format 0 becomes one of format 1 whose first track is the old one.
    pub fn with_track(&self, name: &str, messages: &[(Ticks, Message)]) -> Vec<u8> {
        let events = messages.iter().map(|(at, message)| (self.file_tick(*at), channel(*message)));
        let track = track(name, events.collect(), self.end);
        let mut bytes = header(self.timing, self.tracks.len() + 1);
        self.chunks.iter().for_each(|chunk| chunk.write(&mut bytes));
        bytes.extend_from_slice(&chunk_of(track));
        bytes
    }

    /// The file without its own left hand: the keys of `part` below `split`, and the
    /// notes of tracks that are named for the left hand. Tracks without any stay byte
    /// for byte.
    #[must_use]
    pub fn without_left_hand(&self, part: &HandTrack, split: KeyNumber) -> Vec<u8> {
        let mut tracks = self.tracks.iter().enumerate();
        let mut bytes = header(self.timing, self.tracks.len());
        for chunk in &self.chunks {
            let track = if chunk.is_track() { tracks.next() } else { None };
            let thinned = track.and_then(|(index, track)| {
                let left = track.is_named_left();
                let goes = |channel, key: u7| {
                    left || part.has(index, channel) && key.as_int() < split.number()
                };
                track.thinned(goes)
            });
            match thinned {
                Some(track) => bytes.extend_from_slice(&chunk_of(track)),
                None => chunk.write(&mut bytes),
            }
        }
        bytes
    }
}

impl Chunk<'_> {
    fn write(&self, bytes: &mut Vec<u8>) {
        bytes.extend_from_slice(&self.id);
        // Lengths came from the file's own 32 bits.
        bytes.extend_from_slice(&(self.data.len() as u32).to_be_bytes());
        bytes.extend_from_slice(self.data);
    }
}

impl<'a> super::Track<'a> {
    /// The track without the notes that go, by channel and key; `None` if none do.
    fn thinned(&self, goes: impl Fn(u8, u7) -> bool) -> Option<Track<'a>> {
        let mut all = 0;
        let stays = |(_, kind): &(u64, TrackEventKind<'_>)| match kind {
            TrackEventKind::Midi {
                channel,
                message:
                    MidiMessage::NoteOn { key, .. }
                    | MidiMessage::NoteOff { key, .. }
                    | MidiMessage::Aftertouch { key, .. },
            } => !goes(channel.as_int(), *key),
            TrackEventKind::Meta(MetaMessage::EndOfTrack) => false,
            _ => true,
        };
        let events: Vec<_> = self.events().inspect(|_| all += 1).filter(stays).collect();
        // The end is written anew.
        (events.len() + 1 < all).then(|| unnamed_track(events, self.end))
    }
}

/// A track of a new file.
#[derive(Clone, Debug)]
pub struct NewTrack<'a> {
    /// The track's name, such as `Left hand`.
    pub name: &'a str,
    /// General MIDI program, 0..=127 (0 is a grand piano), set at its start on
    /// every channel that it uses; `None` leaves it.
    pub program: Option<u8>,
    /// In time order.
    pub messages: &'a [(Ticks, Message)],
}

/// A new file of format 1 with our own ticks: first a track with the title,
/// tempo, metre and key, then `tracks`. Tick 0 of the file is the bar line at
/// or before `from`, which may be negative (a pick-up); it ends at `end`.
pub fn write_tracks(
    title: &str,
    key: Option<WrittenKey>,
    timeline: &Timeline,
    (from, end): (Ticks, Ticks),
    tracks: &[NewTrack<'_>],
) -> Vec<u8> {
    let start = timeline.place(from).bar;
    let file_tick = |at: Ticks| u64::try_from((at - start).0).unwrap_or(0);
    let mut events = Vec::new();
    for (n, place) in timeline.metres().enumerate() {
        let at = if n == 0 { 0 } else { file_tick(place.bar) };
        events.push((at, TrackEventKind::Meta(time_signature(place.metre))));
    }
    if let Some(key) = key {
        let minor = key.key().mode == Mode::Minor;
        let signature = MetaMessage::KeySignature(key.fifths(), minor);
        events.push((0, TrackEventKind::Meta(signature)));
    }
    for (beat, beats_a_minute) in timeline.tempos() {
        // Before the start its tempo holds, and its metre.
        let at = if beat <= 0.0 { 0 } else { file_tick(Ticks::nearest(beat)) };
        events.push((at, TrackEventKind::Meta(tempo(beats_a_minute))));
    }
    let end = file_tick(end);
    let mut written = vec![track(title, events, end)];
    for new in tracks {
        let mut events = Vec::new();
        if let Some(program) = new.program {
            let used = new.messages.iter().fold(0u16, |used, (_, message)| {
                let (Message::On { channel, .. }
                | Message::Off { channel, .. }
                | Message::Control { channel, .. }) = message;
                used | 1 << (channel & 15)
            });
            for channel in (0..16).filter(|channel| used >> channel & 1 == 1) {
                let message = MidiMessage::ProgramChange { program: u7::from(program & 127) };
                events.push((0, TrackEventKind::Midi { channel: u4::from(channel), message }));
            }
        }
        events.extend(new.messages.iter().map(|(at, m)| (file_tick(*at), channel(*m))));
        written.push(track(new.name, events, end));
    }
    new_file(written)
}

/// A file of format 1 with our own ticks.
pub(crate) fn new_file(tracks: Vec<Track<'_>>) -> Vec<u8> {
    let timing = Timing::Metrical(u15::from(Ticks::PER_BEAT as u16));
    written(&Smf { header: Header::new(Format::Parallel, timing), tracks })
}

/// A click for each beat that is felt, 24 MIDI clocks a quarter note.
pub(crate) fn time_signature(metre: Metre) -> MetaMessage<'static> {
    let clocks = 24 * metre.pulse().0 / Ticks::PER_BEAT;
    let clocks = u8::try_from(clocks).unwrap_or(24).max(1);
    MetaMessage::TimeSignature(metre.beats(), metre.unit().trailing_zeros() as u8, clocks, 8)
}

/// Quarter notes a minute, written as microseconds a quarter note.
pub(crate) fn tempo(beats_a_minute: f64) -> MetaMessage<'static> {
    let micros = (60e6 / beats_a_minute).round().clamp(1.0, 16_777_215.0) as u32;
    MetaMessage::Tempo(u24::from(micros))
}

fn channel(message: Message) -> TrackEventKind<'static> {
    let [status, one, two] = Short::from(message).padded();
    midi(status, one, two)
}

/// A channel message from its bytes.
pub(crate) fn midi(status: u8, one: u8, two: u8) -> TrackEventKind<'static> {
    let [a, b] = [one, two].map(|byte| u7::new(byte & 0x7F));
    let message = match status & 0xF0 {
        0x80 => MidiMessage::NoteOff { key: a, vel: b },
        0x90 => MidiMessage::NoteOn { key: a, vel: b },
        0xA0 => MidiMessage::Aftertouch { key: a, vel: b },
        0xB0 => MidiMessage::Controller { controller: a, value: b },
        0xC0 => MidiMessage::ProgramChange { program: a },
        0xD0 => MidiMessage::ChannelAftertouch { vel: a },
        _ => MidiMessage::PitchBend {
            bend: midly::PitchBend(midly::num::u14::new(
                u16::from(a.as_int()) | u16::from(b.as_int()) << 7,
            )),
        },
    };
    TrackEventKind::Midi { channel: u4::new(status & 0x0F), message }
}

/// Name, events by their ticks (those of one tick stay in order), end.
pub(crate) fn track<'a>(
    name: &'a str,
    mut events: Vec<(u64, TrackEventKind<'a>)>,
    end: u64,
) -> Track<'a> {
    events.push((0, TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes()))));
    events.rotate_right(1);
    events.sort_by_key(|(tick, _)| *tick);
    unnamed_track(events, end)
}

/// Events in the order of their ticks, and the end: at `end`, or with the last of them.
pub(super) fn unnamed_track<'a>(events: Vec<(u64, TrackEventKind<'a>)>, end: u64) -> Track<'a> {
    let end = end.max(events.last().map_or(0, |(tick, _)| *tick));
    let end = (end, TrackEventKind::Meta(MetaMessage::EndOfTrack));
    let mut now = 0;
    let mut track = Vec::with_capacity(events.len() + 1);
    for (tick, kind) in events.into_iter().chain([end]) {
        let mut delta = tick - now;
        now = tick;
        // A pause longer than four bytes can say is filled with empty text.
        while delta > u64::from(u28::max_value().as_int()) {
            let text = TrackEventKind::Meta(MetaMessage::Text(b""));
            track.push(TrackEvent { delta: u28::max_value(), kind: text });
            delta -= u64::from(u28::max_value().as_int());
        }
        track.push(TrackEvent { delta: u28::from(delta as u32), kind });
    }
    track
}

/// `MThd` of a file of format 1.
fn header(timing: Timing, tracks: usize) -> Vec<u8> {
    let smf = Smf::new(Header::new(Format::Parallel, timing));
    let mut bytes = written(&smf);
    let count = u16::try_from(tracks).unwrap_or(u16::MAX);
    if let Some(place) = bytes.get_mut(10..12) {
        place.copy_from_slice(&count.to_be_bytes());
    }
    bytes
}

/// `MTrk` with its length and bytes.
fn chunk_of(track: Track<'_>) -> Vec<u8> {
    const HEADER: usize = 14;
    let mut smf = Smf::new(Header::new(Format::Parallel, Timing::Metrical(u15::from(960))));
    smf.tracks.push(track);
    written(&smf).split_off(HEADER)
}

fn written(smf: &Smf<'_>) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Writing to memory fails only beyond 4 GiB; input is bounded long before.
    if smf.write(&mut bytes).is_err() {
        debug_assert!(false, "a MIDI track beyond 4 GiB");
    }
    bytes
}
