//! What a home hands the engine, and what it gets back.

use crate::chord::{Chord, NamedChord};
use crate::foresee::Forecast;
use crate::key::Key;
pub use crate::midi::Message;
use crate::pitch::KeyNumber;
use crate::play::{Role, Why};
use crate::time::{Metre, Ticks, floor};

/// A message at a frame of the block, 0 ≤ `frame` < `Block::frames`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Samples from the start of the block.
    pub frame: u32,
    /// What happens there.
    pub message: Message,
}

/// The home's clock at the first frame of a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transport {
    /// Whether time moves. When it does not, no pattern is played.
    pub playing: bool,
    /// Position in quarter notes from the start of the song; may be negative.
    pub beat: f64,
    /// Quarter notes a minute, constant over the block.
    pub tempo: f64,
    /// The metre of the bar that `beat` lies in.
    pub metre: Metre,
    /// Position of the bar line at or before `beat`, in quarter notes.
    pub bar: f64,
}

impl Transport {
    /// A clock that moves, in bars of one metre since quarter note 0.
    pub fn moving(beat: f64, tempo: f64, metre: Metre) -> Self {
        let length = metre.bar().beats();
        let bar = floor(beat / length) * length;
        Self { playing: true, beat, tempo, metre, bar }
    }
}

/// One block of time with what the player did in it.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a> {
    /// Length in samples; 0 is allowed.
    pub frames: u32,
    /// Samples a second.
    pub rate: f64,
    /// The clock at the first frame.
    pub transport: Transport,
    /// Everything the player did, sorted by frame.
    pub events: &'a [Timed],
}

impl<'a> Block<'a> {
    /// Instant by instant: the frame, what the player did there, and that with
    /// all that follows.
    pub(super) fn instants(&self) -> impl Iterator<Item = (u32, &'a [Timed], &'a [Timed])> {
        let last = self.frames.saturating_sub(1);
        let mut coming = self.events;
        self.events.chunk_by(|a, b| a.frame == b.frame).map(move |instant| {
            let here = coming;
            coming = coming.get(instant.len()..).unwrap_or_default();
            (instant.first().map_or(0, |event| event.frame.min(last)), instant, here)
        })
    }
}

/// Takes the left hand's notes, in the order of their frames.
pub trait Output {
    /// `false` if there is no room: a note-on is then given up, a note-off
    /// stays owed and is offered again in the next block.
    fn send(&mut self, event: Timed) -> bool;

    /// Told of every note that `send` took, for reports; nothing by default.
    fn played(&mut self, _note: &Played) {}

    /// Whether [`Played::other`] is read: it takes a little to find.
    fn reads_other(&self) -> bool {
        false
    }

    /// Told, some milliseconds later, what follows the chord that was heard to
    /// change at `since`: for the notes struck since then that were told without.
    /// Nothing by default.
    fn foreseen(&mut self, _since: Ticks, _next: &Forecast) {}

    /// Told of the chord that was struck at `since`: when it is heard, when its
    /// colour becomes clear, and once more when the next one is struck and all
    /// of it has sounded. What was told of a later time is taken back. Nothing
    /// by default.
    fn heard(&mut self, _since: Ticks, _chord: Chord) {}
}

/// A note of the left hand, told when it is struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// Samples from the start of the block.
    pub frame: u32,
    /// Musical time.
    pub at: Ticks,
    /// Where it is counted: its place in the pattern, without swing; `None`
    /// between two such places.
    pub grid: Option<Ticks>,
    /// The key struck.
    pub key: KeyNumber,
    /// 1..=127.
    pub velocity: u8,
    /// What it is to its chord.
    pub role: Role,
    /// The chord that it was played to.
    pub chord: Chord,
    /// How sure it is that this chord's root holds, 0..=1.
    pub sure: f32,
    /// What else may hold, by the ear, if anything is worth a word and
    /// [`Output::reads_other`].
    pub other: Option<NamedChord>,
    /// The key of the song, as set or heard at that moment; for spelling.
    pub song_key: Key,
    /// What was foreseen at that moment. The instant at which a chord changes is
    /// too short for that: see [`Output::foreseen`].
    pub next: Option<Forecast>,
    /// Why it was struck.
    pub why: Why,
}
