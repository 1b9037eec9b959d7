//! What a left-hand note is to its chord.

crate::named! {
    /// The part that a note of the left hand plays.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[allow(missing_docs, reason = "their names say it")]
    pub enum Role {
        Root = "root",
        Third = "third",
        Fifth = "fifth",
        Seventh = "seventh",
        Sixth = "sixth",
        Ninth = "ninth",
        /// The root again, an octave from the note that it doubles or answers.
        Octave = "octave",
        /// The bass after a slash.
        Bass = "bass",
        /// A scale note that leads to the next root.
        Passing = "passing",
    }
    /// In reports and on screens.
    name
}
