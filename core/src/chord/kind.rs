//! The kinds of chord in MusicXML 4.0 (`kind-value`) and their intervals.

use crate::pitch::PitchSet;

macro_rules! kinds {
    ($($variant:ident $name:literal [$($interval:literal)*];)*) => {
        /// A chord kind of MusicXML 4.0, simple type `kind-value`.
        ///
        /// Source: the MusicXML 4.0 reference, `kind-value`; intervals there
        /// in words, here in semitones above the root.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[allow(missing_docs, reason = "their names say it")]
        pub enum Kind { $($variant,)* }

        impl Kind {
            /// All, in the order of the standard.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The standard's name, such as `half-diminished`.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// From the standard's name.
            pub fn from_name(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$variant),)* _ => None }
            }

            /// Semitones above the root, as a set (the root is 0).
            pub const fn intervals(self) -> PitchSet {
                let bits: u16 = match self { $(Self::$variant => 0 $(| 1 << $interval)*,)* };
                PitchSet::from_bits(bits)
            }
        }
    };
}

kinds! {
    Major "major" [0 4 7];
    Minor "minor" [0 3 7];
    Augmented "augmented" [0 4 8];
    Diminished "diminished" [0 3 6];
    Dominant "dominant" [0 4 7 10];
    MajorSeventh "major-seventh" [0 4 7 11];
    MinorSeventh "minor-seventh" [0 3 7 10];
    DiminishedSeventh "diminished-seventh" [0 3 6 9];
    AugmentedSeventh "augmented-seventh" [0 4 8 10];
    HalfDiminished "half-diminished" [0 3 6 10];
    MajorMinor "major-minor" [0 3 7 11];
    MajorSixth "major-sixth" [0 4 7 9];
    MinorSixth "minor-sixth" [0 3 7 9];
    DominantNinth "dominant-ninth" [0 4 7 10 2];
    MajorNinth "major-ninth" [0 4 7 11 2];
    MinorNinth "minor-ninth" [0 3 7 10 2];
    DominantEleventh "dominant-11th" [0 4 7 10 2 5];
    MajorEleventh "major-11th" [0 4 7 11 2 5];
    MinorEleventh "minor-11th" [0 3 7 10 2 5];
    DominantThirteenth "dominant-13th" [0 4 7 10 2 5 9];
    MajorThirteenth "major-13th" [0 4 7 11 2 5 9];
    MinorThirteenth "minor-13th" [0 3 7 10 2 5 9];
    SuspendedSecond "suspended-second" [0 2 7];
    SuspendedFourth "suspended-fourth" [0 5 7];
    // Functional sixths; the standard's root for them is that of the spelled chord.
    Neapolitan "Neapolitan" [0 4 7];
    Italian "Italian" [0 4 10];
    French "French" [0 4 6 10];
    German "German" [0 4 7 10];
    Pedal "pedal" [0];
    Power "power" [0 7];
    Tristan "Tristan" [0 3 6 10];
    Other "other" [0];
    None "none" [];
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_of_the_standard_reads_back() {
        assert_eq!(Kind::ALL.len(), 33);
        for kind in Kind::ALL {
            assert_eq!(Kind::from_name(kind.name()), Some(*kind));
        }
    }
}
