//! What a left-hand note is to its chord.

/// The part that a note of the left hand plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Role {
    Root,
    Third,
    Fifth,
    Seventh,
    Sixth,
    Ninth,
    /// The root again, an octave from the note that it doubles or answers.
    Octave,
    /// The bass after a slash.
    Bass,
    /// A scale note that leads to the next root.
    Passing,
}

impl Role {
    /// All.
    pub const ALL: [Self; 9] = [
        Self::Root,
        Self::Third,
        Self::Fifth,
        Self::Seventh,
        Self::Sixth,
        Self::Ninth,
        Self::Octave,
        Self::Bass,
        Self::Passing,
    ];

    /// In reports and on screens.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Root => "root",
            Self::Third => "third",
            Self::Fifth => "fifth",
            Self::Seventh => "seventh",
            Self::Sixth => "sixth",
            Self::Ninth => "ninth",
            Self::Octave => "octave",
            Self::Bass => "bass",
            Self::Passing => "passing",
        }
    }
}
