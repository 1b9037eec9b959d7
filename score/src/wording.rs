//! How windows and pages say things: roles as letters, certainty in words, counts.

use std::fmt;

use sinistra_core::chord::{Chord, Kind, NamedChord, Symbol};
use sinistra_core::foresee::Source;
use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{FigureOf, Heard, Pattern, Role, Why};
use sinistra_core::time::{Metre, Ticks};

use crate::pattern_presets;
use crate::spelling::octave;

/// One character that stands for a role wherever there is little room.
pub const fn letter(role: Role) -> &'static str {
    match role {
        Role::Root => "R",
        Role::Third => "3",
        Role::Fifth => "5",
        Role::Sixth => "6",
        Role::Seventh => "7",
        Role::Octave => "8",
        Role::Ninth => "9",
        Role::Bass => "B",
        Role::Passing => "P",
    }
}

/// What stands under the notes, for the foot of a first page.
pub const LEGEND: &str = "Under the notes: the count; then R root, 3 5 6 7 9 tone of the chord, \
     8 octave, B bass after the slash, P passing note. \
     Above the left hand: fingers; \u{2192} the hand moves.";

/// A certainty of 0..=1 in words.
pub fn certainty(certainty: f32) -> &'static str {
    match certainty {
        0.9.. => "sure",
        0.7.. => "likely",
        0.5.. => "perhaps",
        _ => "a guess",
    }
}

/// What else it may be: `, or Am7 27 %`; nothing if nothing is worth a word. Writes
/// without the heap: the page does so where sound is rendered.
pub fn or(other: Option<NamedChord>, key: Key) -> impl fmt::Display {
    struct Alternative(Option<NamedChord>, Key);
    impl fmt::Display for Alternative {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            let Some(other) = self.0 else { return Ok(()) };
            let symbol = Symbol::of(other.chord, self.1);
            write!(f, ", or {symbol} {:.0} %", other.certainty * 100.0)
        }
    }
    Alternative(other, key)
}

/// Who says what comes next.
pub fn source(source: Source) -> &'static str {
    match source {
        Source::Chart => "from the chart",
        Source::LookAhead => "heard ahead",
        Source::Memory => "from this song so far",
        Source::Odds => "by the odds",
    }
}

/// Why our hand struck as it did, in a few words: `stride, a new phrase: leads to the
/// next root`.
pub fn why(why: Why) -> String {
    let rolled = if why.rolled { ", rolled" } else { "" };
    let rule = why.rule.about();
    let book = if matches!(why.figure, FigureOf::Book(_)) { "as pianists do, " } else { "" };
    match taken_from(why) {
        from if from.is_empty() => format!("{rule}{rolled}"),
        from => format!("{book}{from}: {rule}{rolled}"),
    }
}

/// The figure of a stroke, where it has a name, and what was listened to: `stride, a new
/// phrase`; nothing of a pattern that is played as it is written.
pub fn taken_from(why: Why) -> String {
    let figure = match why.figure {
        FigureOf::Library(number) => left_hand(number),
        FigureOf::Pattern | FigureOf::Book(_) => None,
    };
    let heard = (why.heard != Heard::Nothing).then(|| why.heard.about().to_owned());
    figure.into_iter().chain(heard).collect::<Vec<_>>().join(", ")
}

/// A left hand of the library by its number: `walking bass`.
fn left_hand(number: u16) -> Option<String> {
    let preset = pattern_presets().get(usize::from(number).checked_sub(1)?)?;
    Some(preset.slug.replace('-', " "))
}

/// `B♭ major`.
pub fn key(key: Key) -> String {
    let word = if key.mode == Mode::Major { "major" } else { "minor" };
    format!("{} {word}", key.spell(key.tonic))
}

/// `minor seventh`.
pub fn kind(chord: Chord) -> String {
    match chord.quality.kind() {
        Kind::Other | Kind::None | Kind::Pedal => String::new(),
        kind => kind.name().replace('-', " "),
    }
}

/// `F♯2`, spelled in `key`.
pub fn note(number: KeyNumber, key: impl Into<WrittenKey>) -> String {
    let spelled = key.into().spell(number.class());
    format!("{spelled}{}", octave(number, spelled))
}

/// The same in ASCII: `F#2`.
pub fn plain_note(number: KeyNumber, key: impl Into<WrittenKey>) -> String {
    let spelled = key.into().spell(number.class());
    format!("{}{}", spelled.ascii(), octave(number, spelled))
}

/// `3 &`: the count at `offset` from the bar line.
pub fn count(metre: Metre, offset: Ticks) -> String {
    let unit = metre.unit_ticks().0;
    let (number, rest) = (offset.0.div_euclid(unit) + 1, offset.0.rem_euclid(unit));
    let part = match rest * 12 / unit {
        0 => "",
        1..=3 => " e",
        4 => " trip",
        5..=7 => " &",
        8 => " let",
        _ => " a",
    };
    format!("{number}{part}")
}

/// What is to be said of a pattern in metres that it is not written for; `None` where
/// it is itself in all of them.
pub fn fitted(pattern: &Pattern, metres: impl IntoIterator<Item = Metre>) -> Option<String> {
    let mut foreign: Vec<Metre> = Vec::new();
    for metre in metres {
        if !pattern.fits(metre) && !foreign.contains(&metre) {
            foreign.push(metre);
        }
    }
    let mut written: Vec<Metre> = Vec::new();
    for metre in pattern.written_metres() {
        if !written.contains(metre) {
            written.push(*metre);
        }
    }
    let list = |metres: &[Metre]| {
        let one = |metre: &Metre| format!("{}/{}", metre.beats(), metre.unit());
        let each: Vec<String> = metres.iter().map(one).collect();
        match each.split_last() {
            Some((last, [])) => last.clone(),
            Some((last, others)) => format!("{} and {last}", others.join(", ")),
            None => String::new(),
        }
    };
    (!foreign.is_empty() && !written.is_empty()).then(|| {
        let (name, written, foreign) = (&pattern.name, list(&written), list(&foreign));
        format!("“{name}” is written for {written}: in {foreign} it is fitted to the bar.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_waltz_on_four_is_told() {
        let find = |slug| crate::find_pattern(slug).expect("ships").compile().expect("compiles");
        let metre = |beats, unit| Metre::new(beats, unit).expect("a metre");
        let (three, six) = (metre(3, 4), metre(6, 8));
        let waltz = find("waltz");
        assert_eq!(fitted(&waltz, [three]), None);
        assert_eq!(
            fitted(&waltz, [Metre::COMMON, three, Metre::COMMON, six]).as_deref(),
            Some("“Waltz” is written for 3/4: in 4/4 and 6/8 it is fitted to the bar."),
        );
        assert_eq!(fitted(&find("polka"), [Metre::COMMON, metre(2, 4)]), None);
        assert_eq!(fitted(&find("everything-mixed"), [Metre::COMMON, three, six]), None);
    }

    #[test]
    fn counts_are_those_of_the_trade() {
        let six_eight = Metre::new(6, 8).expect("a metre");
        for (metre, ticks, said) in [
            (Metre::COMMON, 0, "1"),
            (Metre::COMMON, 480, "1 &"),
            (Metre::COMMON, 2640, "3 a"),
            (Metre::COMMON, 320, "1 trip"),
            (six_eight, 1440, "4"),
            (six_eight, 240, "1 &"),
        ] {
            assert_eq!(count(metre, Ticks(ticks)), said);
        }
    }

    #[test]
    fn a_c_flat_keeps_the_octave_of_its_letter() {
        use sinistra_core::pitch::PitchClass;
        let g_flat = Key { tonic: PitchClass::new(6), mode: Mode::Major };
        assert_eq!(note(KeyNumber::clamped(59), g_flat), "C♭4");
        assert_eq!(note(KeyNumber::clamped(59), Key::C_MAJOR), "B3");
    }
}
