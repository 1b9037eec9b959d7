//! A Standard MIDI File: read, asked for the right hand, written with a left.
//!
//! Source for all below: Standard MIDI Files 1.0 (RP-001, MIDI Association).

mod by_playing;
mod choose;
mod messages;
mod read;
#[cfg(test)]
mod tests;
pub(crate) mod write;

pub use by_playing::{Playing, beats};
pub use choose::HandTrack;
pub use write::{NewTrack, write_tracks};

use midly::{EventIter, Timing, TrackEventKind};

use super::Timeline;
use sinistra_core::key::WrittenKey;
use sinistra_core::time::Ticks;

/// A file of format 0 or 1. Its tracks stay as they are, byte for byte, so
/// that they can be written back untouched.
#[derive(Clone, Debug)]
pub struct MidiFile<'a> {
    timing: Timing,
    /// Everything after the header, alien chunks too.
    chunks: Vec<Chunk<'a>>,
    tracks: Vec<Track<'a>>,
    timeline: Timeline,
    keys: Vec<(Ticks, WrittenKey)>,
    /// In file ticks.
    end: u64,
}

/// A piece of the file: four letters and as many bytes as it says.
#[derive(Clone, Copy, Debug)]
struct Chunk<'a> {
    id: [u8; 4],
    data: &'a [u8],
}

impl Chunk<'_> {
    fn is_track(&self) -> bool {
        &self.id == b"MTrk"
    }
}

/// A track, whole and known to be sound.
#[derive(Clone, Debug)]
pub struct Track<'a> {
    data: &'a [u8],
    /// Its name, if it has one; bytes that are not UTF-8 read as Latin-1.
    pub name: Option<String>,
    /// Note-ons on each channel.
    pub notes: [u32; 16],
    /// File tick of its end.
    pub end: u64,
}

impl<'a> Track<'a> {
    /// Its events up to the end of the track, with their file ticks.
    pub fn events(&self) -> impl Iterator<Item = (u64, TrackEventKind<'a>)> + use<'a> {
        let mut tick = 0;
        EventIter::new(self.data).map_while(Result::ok).map(move |event| {
            tick += u64::from(event.delta.as_int());
            (tick, event.kind)
        })
    }
}

impl<'a> MidiFile<'a> {
    /// Tempo and metre.
    pub fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    /// All tracks, in the file's order.
    pub fn tracks(&self) -> &[Track<'a>] {
        &self.tracks
    }

    /// Key signatures, in time order.
    pub fn keys(&self) -> &[(Ticks, WrittenKey)] {
        &self.keys
    }

    /// Where the longest track ends.
    pub fn end(&self) -> Ticks {
        self.ticks(self.end)
    }

    /// Our tick nearest to a tick of the file.
    pub fn ticks(&self, file_tick: u64) -> Ticks {
        match self.timing {
            Timing::Metrical(division) => {
                let division = i128::from(division.as_int().max(1));
                let doubled = i128::from(file_tick) * i128::from(Ticks::PER_BEAT) * 2;
                Ticks(i64::try_from((doubled + division) / (2 * division)).unwrap_or(i64::MAX))
            }
            Timing::Timecode(..) => self.timeline.tick_at(self.seconds(file_tick)),
        }
    }

    /// The file's tick nearest to one of ours; 0 for those before the start.
    pub fn file_tick(&self, at: Ticks) -> u64 {
        match self.timing {
            Timing::Metrical(division) => {
                let doubled = i128::from(at.0) * i128::from(division.as_int()) * 2;
                let beat = i128::from(Ticks::PER_BEAT);
                u64::try_from((doubled + beat).div_euclid(2 * beat)).unwrap_or(0)
            }
            Timing::Timecode(fps, subframes) => {
                (self.timeline.seconds(at) * read::frames(fps, subframes)).round().max(0.0) as u64
            }
        }
    }

    /// Seconds from the start of the file, exact in either kind of division.
    pub fn seconds(&self, file_tick: u64) -> f64 {
        match self.timing {
            Timing::Metrical(division) => {
                let division = f64::from(division.as_int().max(1));
                self.timeline.seconds_of_beat(file_tick as f64 / division)
            }
            Timing::Timecode(fps, subframes) => file_tick as f64 / read::frames(fps, subframes),
        }
    }
}
