//! How much each sign speaks for a root, in nats: learned from songs;
//! `core/models/naming-signs.md` says how. Written by `tools/hear/train_naming.py`.

use crate::learned::{f32_rows, f32s};

const FILE: &[u8] = include_bytes!("../../../models/naming-signs.model");

/// A tone this many semitones above the root is in the set.
pub const TONE: [f32; 12] = f32s(FILE, "tone");

/// Both of two tones are: (0, 1), (0, 2) … (10, 11) semitones above the root.
pub const PAIR: [f32; 66] = f32s(FILE, "pair");

/// The lowest tone is this many semitones above the root.
pub static LOWEST: [f32; 12] = f32s(FILE, "lowest");

/// The root is this many semitones above the tonic of a major, of a minor key.
pub static DEGREE: [[f32; 12]; 2] = f32_rows(FILE, "degree");

/// The root is this many semitones above that of the chord before, which has a
/// major (or suspended) or a minor (or diminished) third.
pub static STEP: [[f32; 12]; 2] = f32_rows(FILE, "step");

/// The set is exactly a seventh or ninth without its fifth.
pub static NO_FIFTH: [f32; 1] = f32s(FILE, "no_fifth");
