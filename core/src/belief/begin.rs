//! What to begin a chord with under doubt: its root, a tone that the likely
//! chords share, or nothing.

#![cfg_attr(not(test), deny(clippy::indexing_slicing))] // never panics

use crate::chord::Chord;
use crate::hear::Hearing;
use crate::pitch::PitchClass;

/// What a listener gets from a stroke, the root being worth 1: another tone of
/// the chord, a foreign one, none at all. Chosen on songs of POP909-CL that the
/// ear did not know (`song_figures --learned`).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// Another tone of the chord.
    pub tone: f32,
    /// A foreign tone.
    pub foreign: f32,
    /// Nothing where a stroke is due.
    pub silence: f32,
}

/// As chosen.
pub const WORTH: Worth = Worth { tone: 0.12, foreign: -0.85, silence: 0.18 };

/// The same for a hand that improvises: a figure may rest, and what it strikes ought to
/// be right. Chosen likewise.
pub const IMPROVISED: Worth = Worth { tone: 0.12, foreign: -1.0, silence: 0.2 };

/// A chord, and the tone of it to begin with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Begin {
    /// The chord that is played to.
    pub chord: Chord,
    /// Its bass where that is likely; else another of its tones.
    pub class: PitchClass,
}

/// What a stroke is worth on the average that is the root, and that is any tone
/// of the chord, so surely.
fn worth(root: f32, tone: f32, terms: Worth) -> f32 {
    let tone = tone.max(root);
    root + (tone - root) * terms.tone + (1.0 - tone) * terms.foreign
}

/// The best of what is `heard` and what was `struck` last, if any stroke is
/// better than none. A slash bass is as good as the root that the ear has odds
/// for, and that root then a tone like others.
pub fn begin(
    hearing: &Hearing,
    heard: Chord,
    struck: Option<Chord>,
    terms: Worth,
) -> Option<Begin> {
    let mut best: Option<(f32, Begin)> = None;
    let mut offer = |worth: f32, chord: Chord, class: PitchClass| {
        if best.is_none_or(|(most, _)| worth > most) {
            best = Some((worth, Begin { chord, class }));
        }
    };
    for chord in [Some(heard), struck].into_iter().flatten() {
        let root = |class: PitchClass| class.of(&hearing.roots);
        let tone = |class: PitchClass| class.of(&hearing.tones);
        offer(worth(root(chord.root), tone(chord.bass), terms), chord, chord.bass);
        let others = chord.tones().iter().filter(|class| *class != chord.bass);
        for class in others {
            let slash = class == chord.root;
            let root = if slash { 0.0 } else { root(class) };
            offer(worth(root, tone(class), terms), chord, class);
        }
    }
    best.filter(|(most, _)| *most > terms.silence).map(|(_, begin)| begin)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;

    fn hearing(roots: &[(usize, f32)], tones: &[(usize, f32)]) -> Hearing {
        let mut hearing = Hearing::default();
        roots.iter().for_each(|&(class, odds)| hearing.roots[class] = odds);
        tones.iter().for_each(|&(class, odds)| hearing.tones[class] = odds);
        hearing
    }

    fn chord(root: i32, kind: Kind) -> Chord {
        Chord::new(PitchClass::new(root), kind)
    }

    #[test]
    fn a_likely_root_is_struck() {
        let hearing = hearing(&[(0, 0.8), (9, 0.2)], &[(0, 0.98), (4, 0.95), (7, 0.8), (9, 0.2)]);
        let c = chord(0, Kind::Major);
        let begin = begin(&hearing, c, None, WORTH);
        assert_eq!(begin.map(|begin| begin.class), Some(PitchClass::C));
    }

    #[test]
    fn of_f_and_a_minor_with_a_and_c_held_it_is_a_or_c() {
        let tones = [(9, 0.98), (0, 0.98), (5, 0.5), (4, 0.5)];
        let hearing = hearing(&[(5, 0.5), (9, 0.48)], &tones);
        let begin = begin(&hearing, chord(5, Kind::Major), None, WORTH).expect("a stroke");
        assert!([9, 0].contains(&begin.class.index()), "{begin:?}");
    }

    #[test]
    fn over_a_slash_it_is_the_bass() {
        let hearing = hearing(&[(0, 0.9)], &[(0, 0.97), (4, 0.95), (7, 0.9)]);
        let chord = chord(0, Kind::Major).over(PitchClass::new(2));
        let begin = begin(&hearing, chord, None, WORTH);
        assert_eq!(begin.map(|begin| begin.class.index()), Some(2));
    }

    const TERMS: Worth = Worth { tone: 0.25, foreign: -0.5, silence: 0.125 };

    #[test]
    fn a_stroke_is_worth_what_it_is_on_the_average() {
        // Half a root, a quarter another tone, a quarter foreign.
        assert_eq!(worth(0.5, 0.75, TERMS), 0.5 + 0.25 * 0.25 - 0.25 * 0.5);
        // The root is a tone, whatever the odds of tones say.
        assert_eq!(worth(0.5, 0.25, TERMS), 0.5 - 0.5 * 0.5);
        assert!([WORTH, IMPROVISED].iter().all(|terms| terms.foreign < 0.0));
    }

    #[test]
    fn of_two_that_are_worth_the_same_it_is_the_one_that_is_heard() {
        let hearing = hearing(&[(0, 0.5), (6, 0.5)], &[(0, 0.5), (6, 0.5)]);
        let [c, f_sharp] = [0, 6].map(|root| chord(root, Kind::Major));
        let begin = begin(&hearing, f_sharp, Some(c), TERMS);
        assert_eq!(begin.map(|begin| begin.class.index()), Some(6));
    }

    #[test]
    fn a_stroke_that_is_worth_no_more_than_silence_is_left_out() {
        let hearing = hearing(&[(0, 0.5)], &[(0, 0.5)]);
        let c = chord(0, Kind::Major);
        let terms = Worth { silence: worth(0.5, 0.5, TERMS), ..TERMS };
        assert_eq!(begin(&hearing, c, None, terms), None);
        assert!(
            begin(&hearing, c, None, Worth { silence: terms.silence - 0.01, ..terms }).is_some()
        );
    }

    #[test]
    fn where_nothing_is_likely_nothing_is_struck() {
        let hearing = hearing(&[(0, 0.1)], &[(0, 0.15), (4, 0.15), (7, 0.15)]);
        assert_eq!(begin(&hearing, chord(0, Kind::Major), None, WORTH), None);
    }
}
