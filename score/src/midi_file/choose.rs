//! Which notes of a MIDI file are the right hand.

use midly::{MidiMessage, TrackEventKind};

use super::{MidiFile, Track};
use crate::Fault;
use sinistra_core::pitch::KeyNumber;

/// Words of a name for the left hand.
const LEFT: [&str; 3] = ["left", "lh", "l.h."];

/// Channel 10 of General MIDI, counted from 0: drums.
const DRUMS: u8 = 9;

/// The notes of one hand in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HandTrack {
    /// Index of the track, from 0; `None` takes all.
    pub track: Option<usize>,
    /// Channel, 0..=15; `None` takes all but the drums.
    pub channel: Option<u8>,
    /// Whether drums count as notes: only where the player asked for them.
    pub drums: bool,
}

impl HandTrack {
    /// Whether a message on `channel` of `track` belongs to it.
    pub fn has(&self, track: usize, channel: u8) -> bool {
        self.track.is_none_or(|only| only == track)
            && match self.channel {
                Some(only) => only == channel,
                None => self.drums || channel != DRUMS,
            }
    }
}

impl MidiFile<'_> {
    /// The right hand. `track` and `channel` count from one, as players do.
    /// Without either: a track that is named for the right hand, else one
    /// named for a piano, else the track and channel with the most notes at or
    /// above `split` — never the drums, nor a track named for the left hand.
    ///
    /// # Errors
    /// If there is no such track or channel, or there are no notes in it; the
    /// hint lists the tracks.
    pub fn right_hand(
        &self,
        track: Option<usize>,
        channel: Option<u8>,
        split: KeyNumber,
    ) -> Result<HandTrack, Fault> {
        let part = match (track, channel) {
            (None, None) => self.likeliest(split),
            (track, channel) => Some(self.asked_for(track, channel)?),
        };
        part.filter(|part| self.notes(part) > 0).ok_or_else(|| {
            let chosen = match (track, channel) {
                (None, None) => "no notes for a right hand in the file".to_owned(),
                (Some(track), None) => format!("no notes in track {track}"),
                (None, Some(channel)) => format!("no notes on channel {channel}"),
                (Some(t), Some(c)) => format!("no notes on channel {c} of track {t}"),
            };
            Fault::new(chosen).hint(self.list())
        })
    }

    fn asked_for(&self, track: Option<usize>, channel: Option<u8>) -> Result<HandTrack, Fault> {
        if let Some(track) = track
            && !(1..=self.tracks.len()).contains(&track)
        {
            return Err(Fault::new(format!("no track {track}")).hint(self.list()));
        }
        if let Some(channel) = channel
            && !(1..=16).contains(&channel)
        {
            return Err(Fault::new(format!("no channel {channel}")).hint("channels are 1 to 16"));
        }
        Ok(HandTrack {
            track: track.map(|track| track - 1),
            channel: channel.map(|channel| channel - 1),
            drums: true,
        })
    }

    fn likeliest(&self, split: KeyNumber) -> Option<HandTrack> {
        let melodic = |track: &Track| {
            let drums = track.notes.get(usize::from(DRUMS)).copied().unwrap_or(0);
            track.notes.iter().sum::<u32>() > drums
        };
        let named = |words: &[&str]| {
            self.tracks.iter().position(|track| melodic(track) && is_named(track, words))
        };
        let whole = |track| HandTrack { track: Some(track), channel: None, drums: false };
        named(&["right", "rh", "r.h."])
            .or_else(|| named(&["piano", "keys", "keyboard"]))
            .map(whole)
            .or_else(|| self.busiest_above(split))
    }

    fn busiest_above(&self, split: KeyNumber) -> Option<HandTrack> {
        let mut best: Option<((bool, u32, u32), HandTrack)> = None;
        for (index, track) in self.tracks.iter().enumerate() {
            let mut above = [0u32; 16];
            for (_, kind) in track.events() {
                if let TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, vel } } =
                    kind
                    && vel.as_int() > 0
                    && key.as_int() >= split.number()
                    && let Some(count) = above.get_mut(usize::from(channel.as_int()))
                {
                    *count += 1;
                }
            }
            for (channel, (above, all)) in (0u8..).zip(above.into_iter().zip(track.notes)) {
                let rank = (!track.is_named_left(), above, all);
                let part = HandTrack { track: Some(index), channel: Some(channel), drums: false };
                let better = best.is_none_or(|(leader, _)| rank > leader);
                if channel != DRUMS && all > 0 && better {
                    best = Some((rank, part));
                }
            }
        }
        best.map(|(_, part)| part)
    }

    fn notes(&self, part: &HandTrack) -> u32 {
        let tracks = self.tracks.iter().enumerate();
        tracks
            .flat_map(|(index, track)| {
                (0u8..).zip(track.notes).filter(move |(channel, _)| part.has(index, *channel))
            })
            .map(|(_, notes)| notes)
            .sum()
    }

    /// The tracks, for a player to choose from.
    fn list(&self) -> String {
        const MOST: usize = 20;
        if self.tracks.is_empty() {
            return "there are no tracks in it".to_owned();
        }
        let tracks = self.tracks.iter().take(MOST).enumerate().map(|(index, track)| {
            let name = track.name.as_deref().unwrap_or("without a name");
            let notes: u32 = track.notes.iter().sum();
            let channels: Vec<_> = (1..)
                .zip(track.notes)
                .filter(|(_, notes)| *notes > 0)
                .map(|(channel, _): (u8, _)| channel.to_string())
                .collect();
            match channels.len() {
                0 => format!("{} ({name}: no notes)", index + 1),
                1 => format!("{} ({name}: {notes} notes on channel {})", index + 1, channels[0]),
                _ => format!(
                    "{} ({name}: {notes} notes on channels {})",
                    index + 1,
                    channels.join(" ")
                ),
            }
        });
        let more = if self.tracks.len() > MOST { ", …" } else { "" };
        format!("the tracks are {}{more}", tracks.collect::<Vec<_>>().join(", "))
    }
}

impl Track<'_> {
    /// Whether its name is one for the left hand.
    pub(super) fn is_named_left(&self) -> bool {
        is_named(self, &LEFT)
    }
}

/// Whether one of `words` is a word of the track's name, and the name is not
/// one for the left hand unless that is what is asked for.
fn is_named(track: &Track, words: &[&str]) -> bool {
    let Some(name) = &track.name else { return false };
    let name = name.to_lowercase();
    let has = |words: &[&str]| {
        name.split(|c: char| !c.is_alphanumeric() && c != '.').any(|word| words.contains(&word))
    };
    has(words) && (words.contains(&"left") || !has(&LEFT))
}
