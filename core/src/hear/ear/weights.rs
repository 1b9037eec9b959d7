//! What the ear has learned from songs: `core/models/ear.md` says how. Written
//! by `tools/hear/train_ear.py`.

use super::scorer::HIDDEN;
use super::{felt, hindsight, scorer, signs};
use crate::learned::{f32_rows, f32s};

const FILE: &[u8] = include_bytes!("../../../models/ear.model");

/// The weights of a scorer, whose arrays are called `$part` and so on.
macro_rules! scorer_weights {
    ($part:literal, $look:ident) => {{
        const INPUTS: usize = 12 * ($look::CLASSES + $look::STEPS) + $look::SCALARS;
        static DIRECT: [f32; INPUTS] = f32s(FILE, concat!($part, "_direct"));
        static INNER: [[f32; HIDDEN]; INPUTS] = f32_rows(FILE, concat!($part, "_inner"));
        static GLOBAL: [[f32; HIDDEN]; $look::GLOBALS] = f32_rows(FILE, concat!($part, "_global"));
        static TONE_DIRECT: [f32; INPUTS] = f32s(FILE, concat!($part, "_tone_direct"));
        let [tone_bias] = f32s(FILE, concat!($part, "_tone_bias"));
        scorer::ScorerWeights {
            direct: &DIRECT,
            inner: &INNER,
            global: &GLOBAL,
            bias: f32s(FILE, concat!($part, "_bias")),
            out: f32s(FILE, concat!($part, "_out")),
            tone_direct: &TONE_DIRECT,
            tone_out: f32s(FILE, concat!($part, "_tone_out")),
            tone_bias,
        }
    }};
}

/// Of the scorer of the moment.
pub static NOW: scorer::ScorerWeights = scorer_weights!("now", signs);

/// Of the judgement of what is past.
pub static PAST: scorer::ScorerWeights = scorer_weights!("past", hindsight);

/// Of the feeling for where the song's bars begin.
pub static BAR: felt::FeltWeights = felt::FeltWeights {
    bias: f32s(FILE, "bar_bias"),
    early: f32_rows(FILE, "bar_early"),
    known: f32_rows(FILE, "bar_known"),
};
