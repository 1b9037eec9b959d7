//! The shipped odds and weights, learned from songs: `core/models/foresight.md`
//! says how. Written by `tools/foresight/train.py`.

use super::model::ForesightModel;
use super::odds::OddsTable;
use super::{root_features, time_features};
use crate::learned::{f32s, net, u8s};

const FILE: &[u8] = include_bytes!("../../models/foresight.model");

static DEGREES: [f32; 12 * 7] = f32s(FILE, "degrees");
static AFTER_ONE: [u8; 7 * 12] = u8s(FILE, "after_one");
static AFTER_TWO: [u8; 12 * 3 * 7 * 12] = u8s(FILE, "after_two");
static AFTER_THREE: [u8; 12 * 12 * 3 * 12] = u8s(FILE, "after_three");
static IN_KEY: [u8; 12 * 7 * 12] = u8s(FILE, "in_key");
static IN_KEY_TWO: [u8; 12 * 12 * 3 * 12] = u8s(FILE, "in_key_two");

/// The shipped tables and weights.
pub static MODEL: ForesightModel = ForesightModel {
    odds: OddsTable {
        degrees: &DEGREES,
        after_one: &AFTER_ONE,
        after_two: &AFTER_TWO,
        after_three: &AFTER_THREE,
        in_key: &IN_KEY,
        in_key_two: &IN_KEY_TWO,
    },
    roots: net!(FILE, "roots", root_features::OWN, root_features::SHARED, 24),
    times: net!(FILE, "times", time_features::OWN, root_features::SHARED, 12),
};
