//! How long a chord's naming takes. Names first, then times: a wrong name is
//! no figure. `cargo bench --package sinistra-tests --bench naming`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::hear::{Context, name_keys};
use sinistra_core::key::Key;
use sinistra_core::pitch::{PitchClass, PitchSet};

/// The keys of a close chord from middle C up, in root position on each root.
fn chords() -> Vec<(Chord, u128)> {
    let kinds =
        [Kind::Major, Kind::Minor, Kind::Dominant, Kind::MajorSeventh, Kind::HalfDiminished];
    PitchClass::all()
        .flat_map(|root| kinds.map(|kind| Chord::new(root, kind)))
        .map(|chord| {
            let root = 60 + chord.root.index();
            let tones: PitchSet = chord.tones();
            let keys = tones
                .iter()
                .fold(0u128, |keys, tone| keys | 1 << (root + usize::from(tone.above(chord.root))));
            (chord, keys)
        })
        .collect()
}

fn naming(criterion: &mut Criterion) {
    let chords = chords();
    let contexts = [
        ("a chord without a context", Context::default()),
        ("a chord in a known key", Context { key: Some(Key::C_MAJOR), ..Context::default() }),
    ];
    for (name, context) in contexts {
        for (chord, keys) in &chords {
            let named = name_keys(*keys, &context).map(|naming| naming.chord);
            assert_eq!(named, Some(*chord), "{name}");
        }
        let mut each = chords.iter().cycle();
        criterion.bench_function(&format!("naming {name}"), |bencher| {
            bencher.iter(|| {
                let (_, keys) = each.next().expect("a chord");
                name_keys(black_box(*keys), black_box(&context))
            });
        });
    }
}

criterion_group!(benches, naming);
criterion_main!(benches);
