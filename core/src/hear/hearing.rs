//! What the ear makes of the right hand at one moment.

use crate::chord::Chord;
use crate::time::Ticks;

/// An answer of [`super::Ear::listen`].
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Hearing {
    /// The chord now; `None` until something was played.
    pub chord: Option<Chord>,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
    /// When this chord began: the moment it was struck, or the place where
    /// it was due if the hand let it be known only later.
    pub since: Ticks,
    /// Whether the root or the bass differs from the answer before.
    pub changed: bool,
    /// Whether the last stroke has settled; if not, ask again at `due`.
    pub settled: bool,
    /// When a new chord has just been struck: the chord before it, judged
    /// again now that the whole of it has sounded. Said once.
    pub revised: Option<Chord>,
}
