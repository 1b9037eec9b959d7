//! The names of every set of keys.

use std::fmt::Write;

use sinistra_core::chord::{Chord, Kind};
use sinistra_core::hear::{Context, name};
use sinistra_core::key::Key;
use sinistra_core::pitch::{PitchClass, PitchSet};

use crate::checksum::Checksum;

#[test]
fn every_set_of_tones_keeps_its_names() {
    let alone = Context::default();
    let after = Context {
        key: Some(Key::C_MAJOR),
        before: Some(Chord::new(PitchClass::new(7), Kind::Major)),
    };
    let mut told = String::new();
    for context in [alone, after] {
        for size in 1..=12 {
            let (mut sets, mut sum) = (0, Checksum::new());
            for bits in (1..4096_u16).filter(|bits| bits.count_ones() == size) {
                let set = PitchSet::from_bits(bits);
                let lowest =
                    PitchClass::all().find(|class| set.has(*class)).unwrap_or(PitchClass::C);
                sets += 1;
                let _ = write!(sum, "{bits} {:?}", name(set, lowest, &context));
            }
            let _ = writeln!(told, "{size} tones: {sets} sets {}", sum.written());
        }
    }
    crate::unchanged("naming.txt", &told);
}
