//! What a chord costs the foresight after a long song: 1,000 chords of it.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::foresee::{Follower, Foresight, Song};
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::{Metre, Place, Ticks};

const ROUND: [i32; 8] = [0, 9, 5, 7, 4, 9, 2, 7];

fn place(at: Ticks) -> Place {
    Place::first(Metre::COMMON).of(at)
}

fn chord(n: i64) -> (Ticks, Chord) {
    let root = PitchClass::new(ROUND[n.rem_euclid(8) as usize]);
    (Ticks(n * 1920), Chord::new(root, Kind::Major))
}

fn after(chords: i64) -> Foresight {
    let mut foresight = Foresight::new();
    for n in 0..chords {
        let (at, chord) = chord(n);
        foresight.chord_started(at, chord, place(at));
    }
    foresight
}

fn benches(c: &mut Criterion) {
    for chords in [16, 1000] {
        let mut foresight = after(chords);
        let mut wrong = false;
        c.bench_function(&format!("a change and its forecast after {chords} chords"), |b| {
            b.iter(|| {
                // The memory stays as long as it is: the same chord is judged
                // again and again, now so, now otherwise.
                wrong = !wrong;
                let (at, chord) = chord(chords - 1);
                let bare = Chord::new(chord.root, Kind::Power);
                foresight.chord_started(at, if wrong { bare } else { chord }, place(at));
                black_box(foresight.forecast(at, place(at), None, None, false))
            });
        });
        let mut foresight = after(chords);
        let (at, _) = chord(chords);
        c.bench_function(&format!("asked again within the chord after {chords} chords"), |b| {
            b.iter(|| black_box(foresight.forecast(at, place(at), None, None, false)));
        });
    }
    let chords = (0..1000).map(chord).map(|(at, chord)| (at, Some(chord)));
    let song = Song::in_common_time(chords, 500).expect("a song");
    let mut follower = Follower::new();
    follower.begin(&song);
    let mut n = 0;
    c.bench_function("a chord followed through a chart of 1,000 changes", |b| {
        b.iter(|| {
            let (at, chord) = chord(n);
            follower.hear(&song, at, chord);
            n += 1;
            black_box(follower.forecast(&song, at))
        });
    });
}

criterion_group!(foresight, benches);
criterion_main!(foresight);
