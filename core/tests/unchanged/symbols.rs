//! Chord symbols as people write them, and as nobody should.

use std::fmt::Write;

use sinistra_core::chord::Symbol;
use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::PitchClass;

use crate::checksum::Checksum;

const KINDS: &str = "- m min -7 maj7 M7 ^7 6 m6 69 6/9 7 9 11 13 maj9 maj11 maj13 m7 m9 m11 m13 mMaj7 \
    m(maj7) mMaj9 mMaj11 mMaj13 m2 m4 dim dim7 dim9 o7 m7b5 half ø ø9 ø11 + +7 +9 +13 aug aug7 \
    sus sus2 sus4 sus2sus4 7sus4 9sus4 13sus maj7sus4 maj9sus4 6sus4 m6sus2 5 2 4 add9 madd9 alt \
    7alt x h7";
const CHANGES: &str = "- b5 #5 b9 #9 #11 b13 b6 add9 add11 add13 add#11 add7 addmaj7 no3 no5 omit5 \
    (b9,#5) (#9/b5) (b5 b9) b5b9 b5#5 #5#9b9 + -5 +5 +11 -9 sus4 sus2 no.3 (b9 b9b9 add5 no1 b99 , )";
const BASSES: [&str; 6] = ["", "/E", "/Gb", "/h", "/9", "/Cbb"];
const ROOTS: [&str; 5] = ["C", "F#", "Bb", "E♭", "B𝄪"];

#[test]
fn every_symbol_is_read_spelled_and_moved_as_it_was() {
    let nothing = |part: &'static str| if part == "-" { "" } else { part };
    let mut told = String::new();
    for kind in KINDS.split_whitespace().map(nothing) {
        let (mut read, mut sum) = (0, Checksum::new());
        for change in CHANGES.split_whitespace().map(nothing) {
            for (root, bass) in ROOTS.iter().flat_map(|root| BASSES.map(|bass| (root, bass))) {
                let symbol = Symbol::read(&format!("{root}{kind}{change}{bass}"));
                let _ = write!(sum, "{symbol:?}");
                read += usize::from(symbol.is_ok());
                symbol.into_iter().for_each(|symbol| everywhere(symbol, &mut sum));
            }
        }
        let _ = writeln!(told, "C{kind}: {read} with changes and basses {}", sum.written());
    }
    crate::unchanged("symbols.txt", &told);
}

/// How it and its tones are written, here and in other keys.
fn everywhere(symbol: Symbol, sum: &mut Checksum) {
    let chord = symbol.chord();
    let _ = write!(sum, "{symbol}{chord:?}");
    PitchClass::all().for_each(|class| {
        let _ = write!(sum, "{:?}", symbol.tone(class));
    });
    let from = Key { tonic: PitchClass::new(2), mode: Mode::Major };
    for (tonic, mode) in [(0, Mode::Major), (1, Mode::Minor), (6, Mode::Major), (11, Mode::Major)] {
        let to = Key { tonic: PitchClass::new(tonic), mode };
        let _ = write!(sum, "{}{}", symbol.transpose(from, to), Symbol::of(chord, to));
    }
    let far = [(1, 7), (6, 6), (11, -7)].map(|(tonic, fifths)| {
        WrittenKey::new(Key { tonic: PitchClass::new(tonic), mode: Mode::Major }, fifths)
    });
    for key in far.into_iter().flatten() {
        let _ = write!(sum, "{}{}", symbol.transpose(from, key), symbol.transpose(key, from));
    }
}
