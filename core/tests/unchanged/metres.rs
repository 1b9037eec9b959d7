//! Patterns in metres that they were not written for.

use std::fmt::Write;

use sinistra_core::play::{Part, Parts, Pattern, Wish, WrittenBars, accent, swing};
use sinistra_core::time::{Metre, Place, Ticks};

use crate::checksum::Checksum;
use crate::ways;

#[test]
fn every_metre_keeps_its_beats_and_its_places() {
    let patterns = [(4, 4, 480), (3, 4, 320), (6, 8, 480), (5, 4, 480), (7, 8, 240), (2, 2, 240)];
    let patterns: Vec<_> =
        patterns.into_iter().map(|(n, unit, step)| even(n, unit, step)).collect();
    let everything = ways::everything();
    let mut told = String::new();
    for (unit, beats) in [2, 4, 8, 16].into_iter().flat_map(|unit| (1..=16).map(move |n| (unit, n)))
    {
        let Some(metre) = Metre::new(beats, unit) else { continue };
        let mut sum = Checksum::new();
        let _ = write!(sum, "{:?}", accent::beats(metre));
        for n in 0..metre.bar().0 / 60 {
            let offset = Ticks(n * 60);
            let to_and_fro =
                [swing::swung(offset, metre, 0.62), swing::straight(offset, metre, 0.7)];
            let _ = write!(sum, "{}{to_and_fro:?}", accent::level(&accent::beats(metre), offset));
        }
        let places = |pattern: &Pattern, sum: &mut Checksum| {
            let mut place = Place::first(metre);
            let mut slots = 0;
            for number in 0..4 {
                let _ = write!(sum, "{:?}{}", pattern.bar(place, 1), pattern.fits(metre));
                slots += pattern.bar(place, 1).len();
                place = Place { bar: place.bar + metre.bar(), number: number + 1, ..place };
            }
            slots
        };
        let mut slots = places(&everything, &mut sum);
        slots += patterns.iter().map(|pattern| places(pattern, &mut sum)).sum::<usize>();
        let _ = writeln!(told, "{beats}/{unit}: {slots} places in four bars {}", sum.written());
    }
    crate::unchanged("metres-of-patterns.txt", &told);
}

/// A root each so many ticks, in one metre.
fn even(beats: u8, unit: u8, step: i64) -> Pattern {
    let metre = Metre::new(beats, unit).expect("a metre");
    let part = Parts::bass(Part::plain(&[Wish::Root].into_iter().collect()));
    let bar = (0..metre.bar().0 / step).map(|n| (Ticks(n * step), part.clone())).collect();
    let fill = [Wish::Fifth].into_iter().collect();
    Pattern::new("Even", "", &[WrittenBars { library: 0, metre, bars: vec![bar] }], &fill)
}
