//! A chart played with both hands: a right hand of plain chords, and the
//! engine's left hand to it.

mod comping;
mod voicing;
mod written;

pub use comping::right_hand;

use super::{Cut, Timeline, rehearse};
use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Pattern, Role};
use sinistra_core::time::Ticks;

/// A note of either hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandNote {
    /// When it is struck.
    pub at: Ticks,
    /// When it is let go; after `at`.
    pub until: Ticks,
    /// The key.
    pub key: KeyNumber,
    /// 1..=127.
    pub velocity: u8,
    /// What it is to its chord, in the left hand; `None` in the right.
    pub role: Option<Role>,
    /// The chord that it is played to.
    pub chord: Chord,
    /// The key of the song there, for spelling.
    pub song_key: Key,
}

/// Both hands over a song.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    /// What was played.
    pub song: Song,
    /// Its tempo and metre.
    pub timeline: Timeline,
    /// The chords, in time order.
    pub right: Vec<HandNote>,
    /// What the engine played to them, in time order.
    pub left: Vec<HandNote>,
}

impl Performance {
    /// Runs the real engine with the song as its chart. `tempo`, in quarter
    /// notes a minute, counts where the song names none.
    pub fn of(song: Song, tempo: f64, pattern: Box<Pattern>, settings: Settings) -> Self {
        const CUT: Cut = Cut { rate: 48_000.0, block: 64 };
        let timeline = Timeline::of_song(&song, tempo);
        let right = right_hand(&song, settings.split);
        let frame = |at: Ticks| timeline.frame(at, CUT.rate);
        let events: Vec<_> =
            messages(&right).into_iter().map(|(at, message)| (frame(at), message)).collect();
        let from = timeline.place(song.start()).bar;
        let mut engine = Engine::new(settings, pattern);
        drop(engine.swap_song(Some(Box::new(song.clone()))));
        let span = (frame(from), frame(song.end()));
        let played = rehearse(&mut engine, &timeline, &events, span, CUT);
        let left = played.iter().map(|note| {
            let at = timeline.tick_at_frame(note.on, CUT.rate);
            HandNote {
                at,
                until: timeline.tick_at_frame(note.off, CUT.rate).max(at + Ticks(1)),
                key: note.played.key,
                velocity: note.played.velocity,
                role: Some(note.played.role),
                chord: note.played.chord,
                song_key: note.played.song_key,
            }
        });
        let left = left.collect();
        Self { song, timeline, right, left }
    }
}

/// The notes as messages on channel 0, in time order, ends before starts.
pub fn messages(notes: &[HandNote]) -> Vec<(Ticks, Message)> {
    let mut messages: Vec<_> = notes
        .iter()
        .flat_map(|note| {
            let HandNote { at, until, key, velocity, .. } = *note;
            [
                (at, Message::On { channel: 0, key, velocity }),
                (until, Message::Off { channel: 0, key, velocity: 64 }),
            ]
        })
        .collect();
    messages.sort_by_key(|(at, message)| (*at, matches!(message, Message::On { .. })));
    messages
}

#[cfg(test)]
mod tests;
