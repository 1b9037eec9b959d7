//! The seven kinds of triad that foresight tells apart.

use crate::chord::Chord;
use crate::pitch::PitchClass;

/// A third and a fifth, whatever lies above them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "their names say it")]
pub enum TriadShape {
    Major,
    Minor,
    Diminished,
    Augmented,
    SuspendedSecond,
    SuspendedFourth,
    Bare,
}

impl TriadShape {
    /// How many there are.
    pub const COUNT: usize = 7;

    /// The triad at the foot of a chord.
    pub fn of(chord: Chord) -> Self {
        let tones = chord.quality.tones();
        let has = |semitones| tones.has(PitchClass::new(semitones));
        match (has(4), has(3)) {
            (true, _) if has(8) && !has(7) => Self::Augmented,
            (true, _) => Self::Major,
            (_, true) if has(6) && !has(7) => Self::Diminished,
            (_, true) => Self::Minor,
            _ if has(5) => Self::SuspendedFourth,
            _ if has(2) => Self::SuspendedSecond,
            _ => Self::Bare,
        }
    }

    /// Major-like 0, minor-like 1, neither 2.
    pub const fn coarse(self) -> usize {
        match self {
            Self::Major | Self::Augmented => 0,
            Self::Minor | Self::Diminished => 1,
            _ => 2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Symbol;

    #[test]
    fn what_lies_above_a_triad_does_not_bend_it() {
        for (symbol, shape) in [
            ("C7(b13)", TriadShape::Major),
            ("C7(#11)", TriadShape::Major),
            ("C+7", TriadShape::Augmented),
            ("Cm7(#11)", TriadShape::Minor),
            ("Cm7(b13)", TriadShape::Minor),
            ("Cm7b5", TriadShape::Diminished),
            ("C9sus4", TriadShape::SuspendedFourth),
            ("Csus2", TriadShape::SuspendedSecond),
            ("C5", TriadShape::Bare),
        ] {
            let chord = Symbol::read(symbol).expect("a symbol").chord();
            assert_eq!(TriadShape::of(chord), shape, "{symbol}");
        }
    }
}
