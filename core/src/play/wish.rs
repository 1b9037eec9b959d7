//! Wishes: what a slot of a pattern would like to play, in order.

use arrayvec::ArrayVec;

/// One thing that a slot may play. The first wish that can be granted is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Wish {
    /// The root, or the bass after a slash.
    Root,
    /// The chord's third, or the suspended tone that stands for it.
    Third,
    /// The chord's fifth, perfect or altered.
    Fifth,
    /// The chord's sixth.
    Sixth,
    /// The chord's seventh.
    Seventh,
    /// The chord's ninth.
    Ninth,
    /// The root an octave above where it was struck on this chord.
    OctaveUp,
    /// The root an octave below where it was struck on this chord.
    OctaveDown,
    /// The root and its octave above together.
    Octaves,
    /// Whatever leads to the next chord: the first of the three below.
    Lead,
    /// The one scale note between roots a third apart.
    Passing,
    /// The chord's fifth, if that is the next root.
    LeadFifth,
    /// The chord's third, if that lies a step from the next root.
    LeadThird,
    /// The third next above the root.
    ThirdUp,
    /// The fifth next above the root.
    FifthUp,
    /// The third an octave above the one in close position.
    Tenth,
    /// The fifth an octave above the one in close position.
    Twelfth,
    /// The scale's sixth above the root, whether or not the chord names it.
    AddedSixth,
    /// The scale's ninth above the root, whether or not the chord names it.
    AddedNinth,
    /// Three tones of the chord in close position, in the inversion that lies
    /// nearest.
    Chord,
    /// The next step of a walking bass.
    Walk,
}

impl Wish {
    /// All, in the order in which they are explained.
    pub const ALL: [Self; 21] = [
        Self::Root,
        Self::Third,
        Self::Fifth,
        Self::Sixth,
        Self::Seventh,
        Self::Ninth,
        Self::OctaveUp,
        Self::OctaveDown,
        Self::Octaves,
        Self::Lead,
        Self::Passing,
        Self::LeadFifth,
        Self::LeadThird,
        Self::ThirdUp,
        Self::FifthUp,
        Self::Tenth,
        Self::Twelfth,
        Self::AddedSixth,
        Self::AddedNinth,
        Self::Chord,
        Self::Walk,
    ];

    /// As written in a pattern file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Root => "root",
            Self::Third => "third",
            Self::Fifth => "fifth",
            Self::Sixth => "sixth",
            Self::Seventh => "seventh",
            Self::Ninth => "ninth",
            Self::OctaveUp => "octave-up",
            Self::OctaveDown => "octave-down",
            Self::Octaves => "octaves",
            Self::Lead => "lead",
            Self::Passing => "passing",
            Self::LeadFifth => "lead-fifth",
            Self::LeadThird => "lead-third",
            Self::ThirdUp => "third-up",
            Self::FifthUp => "fifth-up",
            Self::Tenth => "tenth",
            Self::Twelfth => "twelfth",
            Self::AddedSixth => "added-sixth",
            Self::AddedNinth => "added-ninth",
            Self::Chord => "chord",
            Self::Walk => "walk",
        }
    }

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
