//! What signs mean together, over their weights, in 1/32 nats: learned from
//! songs; `core/models/naming.md` says how. Written by `tools/hear/train_sets.py`.

use crate::learned::{i8_rows, u16s};

const FILE: &[u8] = include_bytes!("../../../models/naming.model");

/// Sets that songs have.
const SETS: usize = 328;

/// Sets of pitch classes seen from a root (bit n: n semitones above it) that
/// songs have; the other tables have a row for each.
pub static SEEN: [u16; SETS] = u16s(FILE, "seen");

/// The root is 0..=11 semitones above the tonic of a major key, or 12 more for
/// a minor key.
pub static DEGREE: [[i8; 24]; SETS] = i8_rows(FILE, "degree");

/// The lowest tone is so many semitones above the root.
pub static LOWEST: [[i8; 12]; SETS] = i8_rows(FILE, "lowest");

/// The root is 0..=11 semitones above that of the chord before, or 12 more if
/// that has a minor third.
pub static STEP: [[i8; 24]; SETS] = i8_rows(FILE, "step");

/// A row for each degree (as in [`DEGREE`]), a column for each step (as in
/// [`STEP`]).
pub static TOGETHER: [[i8; 24]; 24] = i8_rows(FILE, "together");
