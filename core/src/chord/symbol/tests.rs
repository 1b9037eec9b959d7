use proptest::prelude::*;

use super::*;
use crate::chord::{Alteration, Degree, Kind};
use crate::key::{Key, Mode};
use crate::pitch::{PitchClass, PitchSet};

fn tones(text: &str) -> Vec<usize> {
    let symbol = Symbol::read(text).map_err(|fault| format!("{text}: {fault:?}"));
    let tones = symbol.expect("a chord").quality.tones();
    tones.iter().map(PitchClass::index).collect()
}

/// Every row: spellings of one chord on C, its tones in semitones.
#[test]
fn every_common_spelling_is_read() {
    for (spellings, expected) in [
        ("C CM Cmaj Cma Cmajor CMaj", &[0, 4, 7][..]),
        ("Cm C- C−  Cmin Cmi Cminor CMIN", &[0, 3, 7]),
        ("C+ Caug C(#5) C+5 C(♯5)", &[0, 4, 8]),
        ("Cdim C° Co Cm(b5) Cmb5 C-b5", &[0, 3, 6]),
        ("C7 Cdom7 CDOM7", &[0, 4, 7, 10]),
        ("Cmaj7 CM7 CΔ CΔ7 Cma7 CMA7 Cmajor7 C△7 C∆ C^ C^7", &[0, 4, 7, 11]),
        ("Cm7 C-7 Cmin7 Cmi7", &[0, 3, 7, 10]),
        ("Cø Cø7 Cm7b5 Cm7(b5) C-7b5 Cmin7♭5 Cm7-5 CØ", &[0, 3, 6, 10]),
        ("Cdim7 C°7 Co7", &[0, 3, 6, 9]),
        ("C+7 Caug7 C7#5 C7+5 C7+ C7(#5) C7aug", &[0, 4, 8, 10]),
        ("CmMaj7 CmM7 Cm(maj7) C-Δ7 C-^7 CminMaj7 CmΔ Cm/maj7 C-M7", &[0, 3, 7, 11]),
        ("C6 Cmaj6 CM6", &[0, 4, 7, 9]),
        ("Cm6 C-6 Cmin6", &[0, 3, 7, 9]),
        ("C6/9 C69 C6(9) C6add9", &[0, 2, 4, 7, 9]),
        ("Cm6/9 Cm69", &[0, 2, 3, 7, 9]),
        ("C9 C7(9) C7add9", &[0, 2, 4, 7, 10]),
        ("Cmaj9 CΔ9 C^9 CM9", &[0, 2, 4, 7, 11]),
        ("Cm9 C-9 Cm7(9)", &[0, 2, 3, 7, 10]),
        ("C11", &[0, 2, 4, 5, 7, 10]),
        ("Cm11", &[0, 2, 3, 5, 7, 10]),
        ("C13", &[0, 2, 4, 5, 7, 9, 10]),
        ("Cmaj13 CM13", &[0, 2, 4, 5, 7, 9, 11]),
        ("Csus Csus4 CSUS4", &[0, 5, 7]),
        ("Csus2", &[0, 2, 7]),
        ("C7sus4 C7sus Cm7sus4 Csus4add7", &[0, 5, 7, 10]),
        ("C9sus4 C9sus C7sus4(9)", &[0, 2, 5, 7, 10]),
        ("C13sus4 C13sus", &[0, 2, 5, 7, 9, 10]),
        ("C7sus2", &[0, 2, 7, 10]),
        ("C7susb9 C7sus4(b9)", &[0, 1, 5, 7, 10]),
        ("Cadd9 C(add9) C2 Cadd2 C(9)", &[0, 2, 4, 7]),
        ("Cmadd9 Cm(add9) C-add9", &[0, 2, 3, 7]),
        ("Cadd11 Cadd4", &[0, 4, 5, 7]),
        ("C5 C(no3) Comit3 Cno3", &[0, 7]),
        ("C7b5 C7-5 C7(b5) C7♭5", &[0, 4, 6, 10]),
        ("C7b9 C7-9 C7(b9) C7addb9", &[0, 1, 4, 7, 10]),
        ("C7#9 C7+9 C7(♯9)", &[0, 3, 4, 7, 10]),
        ("C7#11 C7(#11)", &[0, 4, 6, 7, 10]),
        ("C7b13", &[0, 4, 7, 8, 10]),
        ("C7b9#9 C7(b9,#9) C7(b9#9) C7(b9/#9) C7#9b9", &[0, 1, 3, 4, 7, 10]),
        ("C7b9b13 C7(b9b13)", &[0, 1, 4, 7, 8, 10]),
        ("C7alt C7b5#5b9#9 C7#5b5#9b9", &[0, 1, 3, 4, 6, 8, 10]),
        ("C9#11", &[0, 2, 4, 6, 7, 10]),
        ("C13b9", &[0, 1, 4, 5, 7, 9, 10]), // the ninth of the kind is lowered
        ("C13#11", &[0, 2, 4, 6, 7, 9, 10]),
        ("Cmaj7#11 CΔ7#11 CM7(#11)", &[0, 4, 6, 7, 11]),
        ("Cmaj7#5 C+maj7 CaugM7 C+(maj7)", &[0, 4, 8, 11]),
        ("CdimMaj7 C°Δ7", &[0, 3, 6, 11]),
        ("C9b5", &[0, 2, 4, 6, 10]),
    ] {
        let expected: Vec<usize> = expected.to_vec();
        for spelling in spellings.split_whitespace() {
            assert_eq!(tones(spelling), expected, "{spelling}");
        }
    }
}

/// Every kind that a piano can hold, against the standard's list.
#[test]
fn kinds_of_the_standard_have_a_spelling() {
    for kind in Kind::ALL {
        let symbol = Symbol::of(Chord::new(PitchClass::new(10), *kind), Key::C_MAJOR);
        for text in [symbol.ascii(), symbol.to_string()] {
            assert_eq!(Symbol::read(&text), Ok(symbol), "{text} {kind:?}");
        }
    }
}

#[test]
fn symbols_print_as_musicians_write_them() {
    for (read, ascii, printed) in [
        ("Bb-7", "Bbm7", "B♭m7"),
        ("F#ø", "F#m7b5", "F♯ø7"),
        ("C7(#11)", "C7#11", "C7♯11"),
        ("C(b5)", "C(b5)", "C(♭5)"), // Cb5 would be C♭5
        ("C69", "C6/9", "C6/9"),
        ("D△/F#", "Dmaj7/F#", "Dmaj7/F♯"),
        ("G9sus", "G9sus4", "G9sus4"),
        ("A°7", "Adim7", "A°7"),
        ("E7b5#5b9#9", "E7alt", "E7alt"),
        ("Am/maj7", "AmMaj7", "AmMaj7"),
        ("Cb7", "Cb7", "C♭7"),
        ("G7b9b13/F", "G7b9b13/F", "G7♭9♭13/F"),
    ] {
        let symbol = Symbol::read(read).expect(read);
        assert_eq!((symbol.ascii().as_str(), symbol.to_string().as_str()), (ascii, printed));
    }
}

#[test]
fn both_fifths_are_one_chord_in_either_order() {
    for kind in ["", "7", "maj7", "9"] {
        let read = |changes| Symbol::read(&format!("C{kind}({changes})"));
        assert_eq!(read("#5,b5"), read("b5,#5"), "C{kind}");
    }
}

#[test]
fn a_slash_gives_the_bass() {
    let symbol = Symbol::read("Dm7/G").expect("a chord");
    assert_eq!(symbol.chord().bass, PitchClass::new(7));
    assert_eq!(symbol.chord().root, PitchClass::new(2));
    assert_eq!(Symbol::read("C6/9/E").map(|s| s.bass.map(Spelled::ascii)), Ok(Some("E".into())));
}

#[test]
fn no_chord_is_a_chord_symbol_too() {
    for text in ["N.C.", "NC", "n.c.", "N.C"] {
        assert_eq!(read(text), Ok(None));
    }
}

#[test]
fn faults_point_at_the_part_that_makes_no_sense() {
    for (text, faulty) in [
        ("H7", "H"),
        ("x", "x"),
        ("c7", "c"), // a small letter could mean minor: not guessed
        ("Cm7q9", "q9"),
        ("C4", "4"),
        ("C/", ""),
        ("C/9", "9"),
        ("C/H", "H"),
        ("C/e", "e"),
        ("C7#", "#"),
        ("C7+3", "+3"),
        ("C7/Bbb5", "Bbb5"),
        ("Cadd", ""),
        ("Cm5", "m5"),
        ("C7)", ")"),
        ("C7(b9", ""),
        ("C♭♭♭", "♭"),
        ("C77", "77"),
        ("C8", "8"),
        ("C07", "07"), // a diminished seventh with a nought for its circle, no C7
    ] {
        let fault = Symbol::read(text).expect_err(text);
        assert_eq!(&text[fault.from..fault.to], faulty, "{text}: {}", fault.what);
    }
}

#[test]
fn a_key_spells_its_chords() {
    let minor = |tonic| Key { tonic: PitchClass::new(tonic), mode: Mode::Minor };
    let major = |tonic| Key { tonic: PitchClass::new(tonic), mode: Mode::Major };
    let chord =
        |root, kind, bass| Chord::new(PitchClass::new(root), kind).over(PitchClass::new(bass));
    for (chord, key, expected) in [
        (chord(4, Kind::Dominant, 8), major(0), "E7/G♯"),
        (chord(10, Kind::Major, 2), major(5), "B♭/D"),
        (chord(6, Kind::HalfDiminished, 6), major(0), "F♯ø7"),
        (chord(3, Kind::Major, 7), major(0), "E♭/G"),
        (chord(8, Kind::DiminishedSeventh, 8), minor(9), "G♯°7"),
        (chord(7, Kind::Major, 9), major(0), "G/A"), // a foreign bass
        (chord(1, Kind::Major, 5), major(6), "D♭/F"),
    ] {
        assert_eq!(Symbol::of(chord, key).to_string(), expected);
    }
}

#[test]
fn transposed_symbols_keep_their_degree() {
    let key = |text: &str| {
        let (tonic, rest) = Spelled::read(text).expect("a key");
        let mode = if rest == "m" { Mode::Minor } else { Mode::Major };
        Key { tonic: tonic.class(), mode }
    };
    for (symbol, from, to, expected) in [
        ("F#m7b5", "C", "D", "G♯ø7"),
        ("Eb", "C", "E", "G"),
        ("G7/B", "C", "Eb", "B♭7/D"),
        ("Db", "C", "Gb", "G"), // A♭♭ is G
        ("F#", "C", "B", "F"),  // E♯ would do, and is spelled so: see below
        ("Am", "C", "F#", "E♭m"),
        ("E7", "Am", "Cm", "G7"),
    ] {
        let moved = Symbol::read(symbol).expect(symbol).transpose(key(from), key(to));
        let expected_chord = Symbol::read(expected).expect(expected).chord();
        assert_eq!(moved.chord(), expected_chord, "{symbol} {from} {to}: {moved}");
    }
    let moved =
        |text: &str, to| Symbol::read(text).expect(text).transpose(key("C"), key(to)).to_string();
    assert_eq!(moved("F#m7b5", "D"), "G♯ø7");
    assert_eq!(moved("Bb/D", "F"), "E♭/G");
    assert_eq!(moved("D7/F#", "E"), "F♯7/A♯");
    assert_eq!(moved("Ab", "Gb"), "D"); // not E♭♭
}

/// Degrees that musicians change: not the root, nor the fifth as a twelfth.
fn any_degree() -> impl Strategy<Value = Degree> {
    let change =
        prop_oneof![Just(Alteration::Add), Just(Alteration::Alter), Just(Alteration::Subtract)];
    let value = prop::sample::select(&[2u8, 3, 4, 5, 6, 7, 9, 10, 11, 13][..]);
    (value, -2i8..=2, change).prop_map(|(value, alter, change)| {
        let alter = if change == Alteration::Subtract { 0 } else { alter };
        Degree { value, alter, change }
    })
}

proptest! {
    #[test]
    fn whatever_reads_prints_and_reads_as_the_same(
        text in "[A-G][#b♯♭]?(m|-|maj|M|Δ|ø|°|o|dim|\\+|aug|)(5|6|7|9|11|13|69|6/9|2|)\
                 (sus4|sus2|sus|alt|add9|add11|maj7|no5|)(b5|#5|b9|#9|#11|b13|\\(b9#11\\)|)\
                 (b5|#5|b9|#9|#11|b13|)(/[A-G][#b]?)?"
    ) {
        if let Ok(symbol) = Symbol::read(&text) {
            let ascii = symbol.ascii();
            prop_assert!(ascii.is_ascii());
            prop_assert_eq!(Symbol::read(&ascii), Ok(symbol), "{}", ascii);
            let printed = symbol.to_string();
            prop_assert_eq!(Symbol::read(&printed), Ok(symbol), "{}", printed);
        }
    }

    #[test]
    fn any_quality_prints_to_something_with_its_tones(
        kind in prop::sample::select(Kind::ALL),
        degrees in prop::collection::vec(any_degree(), 0..=4),
    ) {
        let quality = degrees.into_iter().try_fold(Quality::plain(kind), Quality::with);
        let symbol = Symbol { root: Spelled::new(crate::pitch::Letter::D, 0), quality: quality.expect("room"), bass: None };
        let text = symbol.ascii();
        let tones = Symbol::read(&text).map(|read| read.quality.tones());
        prop_assert_eq!(tones, Ok::<PitchSet, SymbolFault>(symbol.quality.tones()), "{} {:?}", text, symbol);
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,12}|[A-G][#b♭♯ømM7Δ°+()/ ,-]{0,10}") {
        if let Err(fault) = Symbol::read(&text) {
            prop_assert!(text.get(fault.from..fault.to).is_some(), "{:?}", fault);
        }
    }
}
