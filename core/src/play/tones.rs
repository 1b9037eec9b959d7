//! The tones that a wish may ask of a chord, with their roles.

use super::{Role, Wish};
use crate::chord::Chord;
use crate::pitch::{PitchClass, Semitones};

/// The tone that `wish` names, if the chord has it (and it is not the bass,
/// which the root already gives). The chord's root takes the place of a tone
/// that is its slash bass.
pub fn tone(chord: Chord, wish: Wish) -> Option<(PitchClass, Role)> {
    let tones = chord.tones();
    let among = |above: &[i32]| {
        let mut classes = above.iter().map(|&semitones| chord.root.transpose(Semitones(semitones)));
        classes.find(|&class| tones.has(class))
    };
    let sixth = || among(&[9]).filter(|_| among(&[10, 11]).is_some() || !has_flat_fifth(chord));
    let (class, role) = match wish {
        Wish::Third => (chord.third()?, Role::Third),
        Wish::Fifth => (chord.fifth()?, Role::Fifth),
        Wish::Sixth => (sixth()?, Role::Sixth),
        // The sixth of a diminished seventh chord is its seventh.
        Wish::Seventh => match sixth() {
            Some(_) => (among(&[10, 11])?, Role::Seventh),
            None => (chord.seventh()?, Role::Seventh),
        },
        Wish::Ninth => (among(&[2, 1, 3]).filter(|&c| Some(c) != chord.third())?, Role::Ninth),
        _ => return None,
    };
    if class == chord.bass { Some((chord.root, Role::Root)) } else { Some((class, role)) }
}

/// What `class` is to `chord`; a root if it is none of its tones.
pub fn role(chord: Chord, class: PitchClass) -> Role {
    [Wish::Third, Wish::Fifth, Wish::Seventh, Wish::Sixth, Wish::Ninth]
        .into_iter()
        .filter_map(|wish| tone(chord, wish))
        .find(|(tone, _)| *tone == class)
        .map_or(Role::Root, |(_, role)| role)
}

fn has_flat_fifth(chord: Chord) -> bool {
    let tones = chord.tones();
    let at = |semitones| tones.has(chord.root.transpose(Semitones(semitones)));
    at(3) && at(6) && !at(7)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::{Kind, Symbol};

    #[test]
    fn a_tone_is_named_by_its_chord() {
        let c = PitchClass::C;
        for (kind, wish, expected) in [
            (Kind::Major, Wish::Third, Some((4, Role::Third))),
            (Kind::SuspendedFourth, Wish::Third, Some((5, Role::Third))),
            (Kind::Power, Wish::Third, None),
            (Kind::HalfDiminished, Wish::Fifth, Some((6, Role::Fifth))),
            (Kind::MajorSixth, Wish::Sixth, Some((9, Role::Sixth))),
            (Kind::MajorSixth, Wish::Seventh, None),
            (Kind::Dominant, Wish::Seventh, Some((10, Role::Seventh))),
            (Kind::DiminishedSeventh, Wish::Seventh, Some((9, Role::Seventh))),
            (Kind::DiminishedSeventh, Wish::Sixth, None),
            (Kind::MinorSixth, Wish::Sixth, Some((9, Role::Sixth))),
            (Kind::DominantThirteenth, Wish::Sixth, Some((9, Role::Sixth))),
            (Kind::MajorNinth, Wish::Ninth, Some((2, Role::Ninth))),
            (Kind::SuspendedSecond, Wish::Ninth, None),
        ] {
            let found = tone(Chord::new(c, kind), wish).map(|(t, role)| (t.index(), role));
            assert_eq!(found, expected, "{kind:?} {wish:?}");
        }
    }

    #[test]
    fn a_sixth_is_one_without_a_fifth_too() {
        for symbol in ["C6(no5)", "Cm6(no5)"] {
            let chord = Symbol::read(symbol).expect("a symbol").chord();
            let sixth = Some((PitchClass::new(9), Role::Sixth));
            assert_eq!(tone(chord, Wish::Sixth), sixth, "{symbol}");
        }
    }

    #[test]
    fn over_its_fifth_a_chord_gives_its_root_for_the_fifth() {
        let chord = Chord::new(PitchClass::C, Kind::Major).over(PitchClass::new(7));
        assert_eq!(tone(chord, Wish::Fifth), Some((PitchClass::C, Role::Root)));
    }
}
