//! How much each sign speaks for a root, in nats.
//!
//! Learned from the chord items of POP909-CL (Yao et al., 2025; MIT licence)
//! by `python tools/hear/train_naming.py DATA`, which prints this file.

/// A tone this many semitones above the root is in the set.
#[rustfmt::skip]
pub const TONE: [f32; 12] = [
    0.6028, -0.8167, -0.3151, 0.4700, 0.5569, -0.7347, -0.5051, 0.8268, -0.9716, -0.8513, -0.3782, -0.5987,
];

/// Both of two tones are: (0, 1), (0, 2) … (10, 11) semitones above the root.
#[rustfmt::skip]
pub const PAIR: [f32; 66] = [
    -0.0876, 0.0571, 0.1966, 0.2924, -0.2194, 0.9737, 0.2844, -0.8839, -0.5363, 0.1960, 0.5648, -2.0022,
    -0.5342, -1.2645, -0.1366, -0.5118, -0.5275, 0.1707, -0.7578, -0.4259, -0.6764, 0.8080, 0.8691, 0.5649,
    0.0009, -0.2385, -2.7871, 0.1308, -0.2627, 0.0751, -2.0173, -0.3899, 0.1114, 0.4508, -1.2530, -0.7052,
    0.1158, -1.4308, 0.0479, -0.8540, 0.2058, -0.3846, -1.0417, 0.2324, -0.3242, -0.7826, 0.1383, 0.4533,
    0.3255, 0.2694, -0.7098, -0.2297, -0.5698, -0.1986, -0.1419, -0.2641, -0.1705, -0.0272, -0.3943, -0.2878,
    -1.5808, 0.3924, -0.7431, -0.5718, -0.6787, -0.6970,
];

/// The lowest tone is this many semitones above the root.
#[rustfmt::skip]
pub const LOWEST: [f32; 12] = [
    0.5978, -0.9623, -0.3316, 0.1089, 0.5484, -0.2026, -0.8784, 0.3085, -0.7086, -0.3616, -0.1669, -0.6104,
];

/// The root is this many semitones above the tonic of a major, of a minor key.
#[rustfmt::skip]
pub const DEGREE: [[f32; 12]; 2] = [
    [
        0.5550, -1.2088, 0.1992, -1.1954, 0.6307, 0.2957, -0.6233, 0.6041, -0.5012, 0.6209, -0.8338, -1.2043,
    ],
    [
        0.7341, -1.1038, -0.8960, 0.4350, -1.1777, 0.0929, -1.5864, 0.6785, 0.3677, -0.3463, 0.5066, -0.7615,
    ],
];

/// The root is this many semitones above that of the chord before, which has a
/// major (or suspended) or a minor (or diminished) third.
#[rustfmt::skip]
pub const STEP: [[f32; 12]; 2] = [
    [
        0.4406, -0.1507, 0.3638, -0.7862, -0.3778, 0.3728, -0.7295, -0.0896, -0.0184, 0.1074, -0.0960, -0.0602,
    ],
    [
        0.3271, -0.0482, 0.4139, -0.3605, -0.0271, 0.2418, -0.6258, -0.0289, -0.1462, -0.1127, 0.1686, -0.5168,
    ],
];

/// The set is exactly a seventh or ninth without its fifth.
#[rustfmt::skip]
pub const NO_FIFTH: [f32; 1] = [
    0.5144,
];
