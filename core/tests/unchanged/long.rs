//! A song that is longer than memory.

use std::fmt::Write;

use sinistra_core::chord::Chord;
use sinistra_core::foresee::Foresight;
use sinistra_core::pitch::{PitchClass, Semitones};
use sinistra_core::time::{Metre, Place, Ticks};

use crate::checksum::Checksum;
use crate::song;

/// More than foresight remembers.
const CHORDS: usize = 1300;

#[test]
fn a_song_that_is_longer_than_memory() {
    let songs = ["199", "229", "235", "296", "308"].map(|number| song::read(number, 0..0).chart);
    let mut foresight = Foresight::new();
    let (mut at, mut told, mut sum) = (Ticks::ZERO, String::new(), Checksum::new());
    // The songs one after the other, again and again, a whole tone higher each time.
    let times = (0..).flat_map(|time| songs.iter().map(move |song| (time, song)));
    let chords = times.flat_map(|(time, song)| {
        let spans = song.chords().windows(2).map(|pair| pair[1].at - pair[0].at);
        let chords = song.chords().iter().filter_map(|chord| chord.chord).zip(spans);
        chords.map(move |(chord, span)| (higher(chord, 2 * time), span))
    });
    for (n, (chord, span)) in chords.take(CHORDS).enumerate() {
        let place = Place::first(Metre::COMMON).of(at);
        foresight.chord_started(at, chord, place);
        if n % 13 == 12 {
            foresight.revise(higher(chord, 9));
        }
        if n % 17 == 16 {
            foresight.chord_ended(at + Ticks(span.0 / 2));
        }
        let next = foresight.forecast(at, place, None, None, false);
        let odds = foresight.odds().map(|odds| (odds * 10_000.0).round());
        let sure = next.map(|next| [next.certainty, next.when_certainty, next.together]);
        let sure = sure.map(|sure| sure.map(|sure| (sure * 10_000.0).round()));
        let next = next.map(|next| (next.chord, next.at, next.source));
        let _ = write!(sum, "{odds:?}{sure:?}{next:?}{:?}", foresight.key());
        if n % 50 == 49 {
            let _ = writeln!(
                told,
                "chord {}: remembers {} {}",
                n + 1,
                foresight.remembered(),
                sum.written()
            );
        }
        at += span;
    }
    crate::unchanged("long.txt", &told);
}

fn higher(chord: Chord, by: i32) -> Chord {
    let up = |class: PitchClass| class.transpose(Semitones(by));
    Chord { root: up(chord.root), bass: up(chord.bass), ..chord }
}
