//! Key profiles: how much of the time each degree of the scale sounds.
//!
//! Learned from the right hands (keys >= 60) of POP909-CL (Yao et al., 2025;
//! MIT licence) by `python tools/hear/train_key.py DATA`, which prints this file.

/// Share of the sounding time of each semitone above the tonic, in major keys.
#[rustfmt::skip]
pub const MAJOR: [f32; 12] = [
    0.2070, 0.0023, 0.1487, 0.0022, 0.1735, 0.0727, 0.0025, 0.1925, 0.0054, 0.1172, 0.0041, 0.0719,
];

/// Share of the sounding time of each semitone above the tonic, in minor keys.
#[rustfmt::skip]
pub const MINOR: [f32; 12] = [
    0.1958, 0.0010, 0.1056, 0.1801, 0.0049, 0.1261, 0.0008, 0.1936, 0.0549, 0.0066, 0.1165, 0.0141,
];
