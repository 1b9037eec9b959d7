//! Invented exercises: left hands of the usual shapes under held chords.

use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::practice::{Count, Hand, Target, TargetNote};

use crate::random::Random;

/// What a left hand does in a bar: offsets in eighths, and semitones above
/// the root (several: struck together).
const SHAPES: &[&[(i64, &[u8], Role)]] = &[
    // roots on the beats
    &[(0, &[0], Role::Root), (2, &[0], Role::Root), (4, &[0], Role::Root), (6, &[0], Role::Root)],
    // roots on the beats and the "ands"
    &[
        (0, &[0], Role::Root),
        (1, &[0], Role::Root),
        (2, &[0], Role::Root),
        (3, &[0], Role::Root),
        (4, &[0], Role::Root),
        (5, &[0], Role::Root),
        (6, &[0], Role::Root),
        (7, &[2], Role::Passing),
    ],
    // root, fifth, third
    &[
        (0, &[0], Role::Root),
        (2, &[7], Role::Fifth),
        (3, &[7], Role::Fifth),
        (4, &[0], Role::Root),
        (6, &[4], Role::Third),
        (7, &[7], Role::Fifth),
    ],
    // octaves together
    &[
        (0, &[0, 12], Role::Root),
        (2, &[0, 12], Role::Root),
        (3, &[0, 12], Role::Root),
        (6, &[7], Role::Fifth),
    ],
    // octaves broken
    &[
        (0, &[0], Role::Root),
        (1, &[12], Role::Octave),
        (2, &[0], Role::Root),
        (3, &[12], Role::Octave),
        (4, &[0], Role::Root),
        (5, &[12], Role::Octave),
        (6, &[0], Role::Root),
        (7, &[12], Role::Octave),
    ],
];

/// An exercise of eight to sixteen bars, with or without the right hand.
pub fn exercise(random: &mut Random) -> Target {
    let metre = random.pick(&[(4, 4), (4, 4), (3, 4), (6, 8), (5, 4), (7, 8)]);
    let metre = Metre::new(metre.0, metre.1).expect("a metre");
    let bars = random.pick(&[8, 12, 16]);
    let both = random.chance(0.4);
    let shape = random.pick(SHAPES);
    let mut notes = Vec::new();
    for bar in 0..bars {
        let root = random.pick(&[36, 38, 40, 41, 43, 45]);
        let line = bar * metre.bar().0;
        let mut add = |offset: i64, length: i64, key: u8, hand, role| {
            notes.push(TargetNote {
                at: Ticks(line + offset),
                until: Ticks(line + offset + length),
                key: KeyNumber::new(key).expect("a key"),
                velocity: 70,
                hand,
                symbol: None,
                role,
                bar: bar + 1,
                pass: 1,
                count: Count::of(metre, Ticks(offset)),
                on_pulse: offset % metre.pulse().0 == 0,
            });
        };
        for (eighth, above, role) in shape {
            if eighth * 480 < metre.bar().0 {
                for semitones in *above {
                    add(eighth * 480, 432, root + semitones, Hand::Left, Some(*role));
                }
            }
        }
        if both {
            for above in [24, 28, 31] {
                add(0, metre.bar().0, root + above, Hand::Right, None);
            }
        }
    }
    Target::new(notes, Key::C_MAJOR, random.between(60.0, 132.0), metre)
}
