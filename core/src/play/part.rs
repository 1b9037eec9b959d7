//! What one voice of the left hand has at a place of a pattern.

use alloc::boxed::Box;

use arrayvec::ArrayVec;

use super::wish::{Wish, Wishes};
use crate::time::Ticks;

/// A voice of the left hand. A pattern of one voice has the bass alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Voice {
    /// The lower one, which carries the root.
    Bass,
    /// The one above it.
    Tenor,
}

/// The tones of one stroke, lowest first.
pub type Tones = ArrayVec<Wish, 4>;

/// How long a note of a pattern is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Held {
    /// To the next stroke of its voice, as joined as the player wants it.
    #[default]
    Usual,
    /// Detached: half as long.
    Detached,
    /// To the next stroke of its voice.
    Joined,
    /// For as long as it is written.
    For(Ticks),
    /// Until the chord changes, or its voice strikes again.
    Change,
}

/// What one voice plays at a place.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Part {
    /// What may be struck, the dearest first; nothing is a rest, which ends what
    /// the voice sounds.
    pub strokes: Box<[Tones]>,
    /// Struck harder than its place asks for.
    pub accent: bool,
    /// How long it is held.
    pub held: Held,
    /// Broken from below, even where the hand could strike it at once.
    pub rolled: bool,
}

impl Part {
    /// Single tones, the dearest first.
    pub fn plain(wishes: &Wishes) -> Self {
        let stroke = |wish: &Wish| core::iter::once(*wish).collect();
        Self { strokes: wishes.iter().map(stroke).collect(), ..Self::default() }
    }

    /// Whether it silences its voice.
    pub fn is_rest(&self) -> bool {
        self.strokes.is_empty()
    }
}

/// What both voices play at a place.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Parts {
    /// The lower voice.
    pub bass: Option<Part>,
    /// The upper voice.
    pub tenor: Option<Part>,
}

impl Parts {
    /// The bass alone.
    pub fn bass(part: Part) -> Self {
        Self { bass: Some(part), tenor: None }
    }

    /// All tones that are asked for.
    pub fn wishes(&self) -> impl Iterator<Item = Wish> {
        let parts = self.bass.iter().chain(&self.tenor);
        parts.flat_map(|part| part.strokes.iter().flatten()).copied()
    }
}
