//! The shipped odds and weights, learned from songs: `core/models/foresight.md`
//! says how. Written by `tools/foresight/train.py`.

use super::model::ForesightModel;
use super::net::Net;
use super::odds::OddsTable;
use super::{root_features, time_features};
use crate::learned::{f32s, u8s};

const FILE: &[u8] = include_bytes!("../../models/foresight.model");

static DEGREES: [f32; 12 * 7] = f32s(FILE, "degrees");
static AFTER_ONE: [u8; 7 * 12] = u8s(FILE, "after_one");
static AFTER_TWO: [u8; 12 * 3 * 7 * 12] = u8s(FILE, "after_two");
static AFTER_THREE: [u8; 12 * 12 * 3 * 12] = u8s(FILE, "after_three");
static IN_KEY: [u8; 12 * 7 * 12] = u8s(FILE, "in_key");
static IN_KEY_TWO: [u8; 12 * 12 * 3 * 12] = u8s(FILE, "in_key_two");

/// Features of a candidate root, of the moment, and hidden units.
const ROOTS: [usize; 3] = [root_features::OWN, root_features::SHARED, 24];
static ROOTS_DIRECT: [f32; ROOTS[0]] = f32s(FILE, "roots_direct");
static ROOTS_OWN: [f32; ROOTS[0] * ROOTS[2]] = f32s(FILE, "roots_own");
static ROOTS_SHARED: [f32; ROOTS[1] * ROOTS[2]] = f32s(FILE, "roots_shared");
static ROOTS_BIAS: [f32; ROOTS[2]] = f32s(FILE, "roots_bias");
static ROOTS_OUT: [f32; ROOTS[2]] = f32s(FILE, "roots_out");

/// The same of a candidate time.
const TIMES: [usize; 3] = [time_features::OWN, 60, 12];
static TIMES_DIRECT: [f32; TIMES[0]] = f32s(FILE, "times_direct");
static TIMES_OWN: [f32; TIMES[0] * TIMES[2]] = f32s(FILE, "times_own");
static TIMES_SHARED: [f32; TIMES[1] * TIMES[2]] = f32s(FILE, "times_shared");
static TIMES_BIAS: [f32; TIMES[2]] = f32s(FILE, "times_bias");
static TIMES_OUT: [f32; TIMES[2]] = f32s(FILE, "times_out");

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
    roots: Net {
        direct: &ROOTS_DIRECT,
        own: &ROOTS_OWN,
        shared: &ROOTS_SHARED,
        bias: &ROOTS_BIAS,
        out: &ROOTS_OUT,
    },
    times: Net {
        direct: &TIMES_DIRECT,
        own: &TIMES_OWN,
        shared: &TIMES_SHARED,
        bias: &TIMES_BIAS,
        out: &TIMES_OUT,
    },
};
