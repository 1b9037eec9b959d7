//! Reads a MIDI file, and refuses one that is cut off, damaged or monstrous.

use midly::{EventIter, Format, Fps, MetaMessage, MidiMessage, Timing, TrackEventKind};

use super::{Chunk, MidiFile, Track};
use crate::{Fault, Timeline, limits};
use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::Metre;

impl<'a> MidiFile<'a> {
    /// Reads a whole file; `name` is for messages.
    ///
    /// # Errors
    /// One fault if it is no MIDI file, of format 2, cut off, damaged, or
    /// beyond what a person would play (16 MiB, 12 hours).
    pub fn read(name: &str, bytes: &'a [u8]) -> Result<Self, Fault> {
        read(bytes).map_err(|fault| fault.of_file(name))
    }
}

/// Ticks a second of an SMPTE division. "29" is 30 frames in 1.001 seconds.
pub(super) fn frames(fps: Fps, subframes: u8) -> f64 {
    let frames = match fps {
        Fps::Fps29 => 30.0 / 1.001,
        whole => f64::from(whole.as_int()),
    };
    frames * f64::from(subframes.max(1))
}

fn read(bytes: &[u8]) -> Result<MidiFile<'_>, Fault> {
    if bytes.len() > limits::MIDI {
        return Err(Fault::new(format!(
            "{} MiB is more than this program reads of a MIDI file (16 MiB)",
            bytes.len() >> 20
        )));
    }
    let no_file = |_| {
        Fault::new("not a Standard MIDI File, or cut off in its header")
            .hint("a MIDI file starts with `MThd`; DAWs call it \"export MIDI\"")
    };
    let bytes = unwrapped(bytes);
    // −128 frames a second, which midly 0.5.3 cannot negate (it panics).
    if bytes.get(12) == Some(&0x80) {
        return Err(Fault::new("the header's division is no SMPTE rate (24, 25, 29 or 30)"));
    }
    let (header, rest) = midly::parse(bytes).map_err(no_file)?;
    if header.format == Format::Sequential {
        return Err(Fault::new(
            "MIDI files of format 2 (separate patterns) have no one song in them",
        )
        .hint("export it as format 0 or 1"));
    }
    match header.timing {
        Timing::Metrical(division) if division.as_int() == 0 => {
            return Err(Fault::new("the header's division is 0: no tick has a length"));
        }
        Timing::Timecode(_, 0) => {
            return Err(Fault::new("the header's SMPTE division has 0 ticks a frame"));
        }
        _ => {}
    }
    let declared = rest.size_hint().0;
    let chunks = chunks(rest.unread(), declared)?;
    let data = chunks.iter().filter(|chunk| chunk.is_track()).map(|chunk| chunk.data);
    let mut events_left = limits::MIDI_EVENTS;
    let tracks = data
        .enumerate()
        .map(|(n, data)| track(n + 1, data, &mut events_left))
        .collect::<Result<Vec<_>, _>>()?;
    let end = tracks.iter().map(|track| track.end).max().unwrap_or(0);
    let mut file = MidiFile {
        timing: header.timing,
        chunks,
        tracks,
        timeline: Timeline::constant(Timeline::DEFAULT_TEMPO, Metre::COMMON),
        keys: Vec::new(),
        end,
    };
    file.map_time();
    if file.seconds(end) > limits::MIDI_SECONDS {
        return Err(Fault::new(format!(
            "the file lasts {:.0} hours; this program plays 12 at most",
            file.seconds(end) / 3600.0
        )));
    }
    Ok(file)
}

/// The MIDI file inside a RIFF wrapper (`.rmi`), if it has one.
fn unwrapped(bytes: &[u8]) -> &[u8] {
    if !bytes.starts_with(b"RIFF") {
        return bytes;
    }
    let Some(start) = bytes.windows(8).position(|w| w.starts_with(b"data")).map(|at| at + 8) else {
        return bytes;
    };
    let length = bytes.get(start - 4..start).and_then(|l| l.try_into().ok());
    let length = length.map_or(0, u32::from_le_bytes) as usize;
    bytes.get(start..start.saturating_add(length)).unwrap_or(&bytes[start..])
}

/// Cuts what follows the header into chunks.
fn chunks(mut rest: &[u8], declared: usize) -> Result<Vec<Chunk<'_>>, Fault> {
    let mut chunks = Vec::new();
    let mut tracks = 0;
    // Bytes behind the last chunk (padding of some archives) do no harm.
    while let Some((head, behind)) = rest.split_first_chunk::<8>() {
        let [a, b, c, d, length @ ..] = *head;
        let id = [a, b, c, d];
        let length = usize::try_from(u32::from_be_bytes(length)).unwrap_or(usize::MAX);
        let is_track = &id == b"MTrk";
        let Some((data, behind)) = behind.split_at_checked(length) else {
            if tracks >= declared && !is_track {
                break;
            }
            return Err(Fault::new(format!(
                "cut off: track {} should have {length} bytes, {} are there",
                tracks + 1,
                behind.len()
            ))
            .hint("copy or export the file again"));
        };
        tracks += usize::from(is_track);
        chunks.push(Chunk { id, data });
        rest = behind;
    }
    if tracks < declared {
        return Err(Fault::new(format!(
            "cut off: the header tells of {declared} tracks, {tracks} are there"
        ))
        .hint("copy or export the file again"));
    }
    if tracks > limits::MIDI_TRACKS {
        return Err(Fault::new(format!(
            "{tracks} tracks; this program reads {}",
            limits::MIDI_TRACKS
        )));
    }
    Ok(chunks)
}

/// Goes through a track once, so that nothing later can fail.
fn track<'a>(number: usize, data: &'a [u8], events_left: &mut usize) -> Result<Track<'a>, Fault> {
    let mut track = Track { data, name: None, notes: [0; 16], end: 0 };
    let mut events = EventIter::new(data);
    let mut sound_end = false;
    while !events.unread().is_empty() {
        let at = data.len() - events.unread().len();
        let Some(Ok(event)) = events.next() else {
            return Err(Fault::new(format!("track {number} is damaged {at} bytes from its start"))
                .hint("export the file again"));
        };
        *events_left = events_left.checked_sub(1).ok_or_else(|| {
            Fault::new(format!(
                "more than {} events; this program reads no more",
                limits::MIDI_EVENTS
            ))
        })?;
        track.end += u64::from(event.delta.as_int());
        sound_end = false;
        match event.kind {
            TrackEventKind::Midi { channel, message } => {
                sound_end = true;
                if let MidiMessage::NoteOn { vel, .. } = message
                    && vel.as_int() > 0
                    && let Some(notes) = track.notes.get_mut(usize::from(channel.as_int()))
                {
                    *notes += 1;
                }
            }
            TrackEventKind::Meta(MetaMessage::TrackName(name)) if track.name.is_none() => {
                track.name = Some(text(name));
            }
            TrackEventKind::Meta(MetaMessage::EndOfTrack) => {
                // What stands behind it is kept in the file, and not read.
                track.data = &data[..data.len() - events.unread().len()];
                return Ok(track);
            }
            _ => {}
        }
    }
    // Some writers leave the end of the track out. Behind a channel message
    // that is all; behind anything else the last event may be cut short.
    if sound_end || data.is_empty() {
        Ok(track)
    } else {
        Err(Fault::new(format!("track {number} is cut off: it has no end"))
            .hint("export the file again"))
    }
}

/// Text of a meta event: UTF-8, or else Latin-1 as older programs wrote it.
fn text(bytes: &[u8]) -> String {
    const MOST: usize = 200;
    let bytes = &bytes[..bytes.len().min(MOST)];
    let text = std::str::from_utf8(bytes)
        .map_or_else(|_| bytes.iter().map(|&b| char::from(b)).collect(), str::to_owned);
    text.trim().chars().filter(|c| !c.is_control()).collect()
}

impl MidiFile<'_> {
    /// Collects tempo, metre and key from all tracks: format 1 wants them in
    /// the first, but not every program obeys.
    fn map_time(&mut self) {
        let mut tempos: Vec<(u64, f64)> = Vec::new();
        let mut metres = Vec::new();
        let mut keys = Vec::new();
        for (tick, kind) in self.tracks.iter().flat_map(Track::events) {
            match kind {
                TrackEventKind::Meta(MetaMessage::Tempo(micros)) if micros.as_int() > 0 => {
                    tempos.push((tick, 60_000_000.0 / f64::from(micros.as_int())));
                }
                TrackEventKind::Meta(MetaMessage::TimeSignature(beats, power, ..)) => {
                    let unit = 1u8.checked_shl(power.into()).unwrap_or(0);
                    metres.extend(Metre::new(beats, unit).map(|metre| (tick, metre)));
                }
                TrackEventKind::Meta(MetaMessage::KeySignature(fifths, minor)) => {
                    keys.extend(key(fifths, minor).map(|key| (tick, key)));
                }
                _ => {}
            }
        }
        tempos.sort_by_key(|(tick, _)| *tick);
        keys.sort_by_key(|(tick, _)| *tick);
        let mut beats = Vec::with_capacity(tempos.len());
        match self.timing {
            Timing::Metrical(division) => {
                let division = f64::from(division.as_int());
                beats.extend(tempos.iter().map(|&(tick, bpm)| (tick as f64 / division, bpm)));
            }
            // The clock runs in seconds; the tempo says how many beats passed.
            Timing::Timecode(fps, subframes) => {
                let rate = frames(fps, subframes);
                let (mut beat, mut seconds, mut tempo) = (0.0, 0.0, Timeline::DEFAULT_TEMPO);
                for &(tick, next) in &tempos {
                    let at = tick as f64 / rate;
                    beat += (at - seconds) * tempo / 60.0;
                    (seconds, tempo) = (at, next);
                    beats.push((beat, next));
                }
            }
        }
        self.timeline = Timeline::new(&beats, &[]);
        let metres: Vec<_> =
            metres.into_iter().map(|(tick, metre)| (self.ticks(tick), metre)).collect();
        self.timeline = Timeline::new(&beats, &metres);
        self.keys = keys.into_iter().map(|(tick, key)| (self.ticks(tick), key)).collect();
    }
}

/// A key signature: sharps (positive) or flats, and whether it is minor.
fn key(fifths: i8, minor: bool) -> Option<WrittenKey> {
    let mode = if minor { Mode::Minor } else { Mode::Major };
    let major = i32::from(fifths) * 7;
    let tonic = PitchClass::new(if minor { major - 3 } else { major });
    WrittenKey::new(Key { tonic, mode }, fifths)
}
