//! Wishes: what a slot of a pattern would like to play, in order.

use arrayvec::ArrayVec;

crate::named! {
    /// One thing that a slot may play. The first wish that can be granted is.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
    pub enum Wish {
        /// The root, or the bass after a slash.
        Root = "root",
        /// The chord's third, or the suspended tone that stands for it.
        Third = "third",
        /// The chord's fifth, perfect or altered.
        Fifth = "fifth",
        /// The chord's sixth.
        Sixth = "sixth",
        /// The chord's seventh.
        Seventh = "seventh",
        /// The chord's ninth.
        Ninth = "ninth",
        /// The root an octave above where it was struck on this chord.
        OctaveUp = "octave-up",
        /// The root an octave below where it was struck on this chord.
        OctaveDown = "octave-down",
        /// The root and its octave above together.
        Octaves = "octaves",
        /// Whatever leads to the next chord: the first of the three below.
        Lead = "lead",
        /// The one scale note between roots a third apart.
        Passing = "passing",
        /// The chord's fifth, if that is the next root.
        LeadFifth = "lead-fifth",
        /// The chord's third, if that lies a step from the next root.
        LeadThird = "lead-third",
        /// The third next above the root.
        ThirdUp = "third-up",
        /// The fifth next above the root.
        FifthUp = "fifth-up",
        /// The third an octave above the one in close position.
        Tenth = "tenth",
        /// The fifth an octave above the one in close position.
        Twelfth = "twelfth",
        /// The scale's sixth above the root, whether or not the chord names it.
        AddedSixth = "added-sixth",
        /// The scale's ninth above the root, whether or not the chord names it.
        AddedNinth = "added-ninth",
        /// Three tones of the chord in close position, in the inversion that lies
        /// nearest.
        Chord = "chord",
        /// The next step of a walking bass.
        Walk = "walk",
    }
    /// As written in a pattern file.
    name
}

impl Wish {
    /// From its name in a pattern file.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|wish| wish.name() == name)
    }

    /// Whether it is granted only just before a change.
    pub const fn leads(self) -> bool {
        matches!(self, Self::Lead | Self::Passing | Self::LeadFifth | Self::LeadThird)
    }
}

/// The wishes of a slot, the dearest first.
pub type Wishes = ArrayVec<Wish, 6>;
