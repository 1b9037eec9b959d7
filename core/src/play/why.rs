//! Why a stroke is as it is: which figure it belongs to, which rule chose it, and
//! what the hand listened to.

/// What a stroke was taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum FigureOf {
    /// The pattern that is played.
    #[default]
    Pattern,
    /// That left hand of the library, by its number in teaching order from 1.
    Library(u16),
    /// That bar of the book of bars.
    Book(u16),
}

crate::named! {
    /// The rule that a stroke is struck by.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
    pub enum Rule {
        /// It stands in the figure.
        #[default]
        Written = "as the figure has it",
        /// It tells the new chord.
        Tells = "tells the new chord",
        /// It leads to the next root.
        Leads = "leads to the next root",
        /// It passes to the next root.
        Passes = "passes to the next root",
        /// It lands on the root, which is held.
        Lands = "lands, and holds",
        /// It marks a first beat on which nothing would sound.
        Marks = "marks the first beat",
    }
    /// In a few words.
    about
}

crate::named! {
    /// What the figure was chosen by: what the hand listened to. A take has them by their
    /// numbers: a new one comes last.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
    pub enum Heard {
        /// Nothing: it is as written.
        #[default]
        Nothing = "as written",
        /// The song begins, or goes on from elsewhere.
        Beginning = "to begin with",
        /// The figure goes on as it began.
        GoesOn = "the figure goes on",
        /// A section has come back: the chart says so, or it is heard.
        Section = "the section is back",
        /// A new phrase.
        Phrase = "a new phrase",
        /// The right hand rests or holds: there is room.
        RightRests = "your right hand leaves room",
        /// The right hand is busy: it gets out of the way.
        RightBusy = "your right hand is busy",
        /// Where the chord changes.
        Changes = "the chord changes elsewhere",
        /// Which root comes: the figure lies well there.
        Root = "it lies well on this root",
        /// The song's end in the chart.
        End = "the song ends",
        /// The right hand holds for more than a bar.
        Held = "you hold your chord",
        /// The finest note of the right hand.
        Finest = "it moves in your finest note",
        /// Its place in a section of the chart.
        Form = "a new section asks for more",
        /// A section of the chart that is new comes: a rest before a strong entry.
        Entry = "a rest before a new section",
    }
    /// In a few words.
    about
}

/// The reason of a stroke.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Why {
    /// Where it was taken from.
    pub figure: FigureOf,
    /// By which rule.
    pub rule: Rule,
    /// What was listened to.
    pub heard: Heard,
    /// Whether it is wider than the hand, and broken from below.
    pub rolled: bool,
}

impl Rule {
    /// In one word, for a page.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Written => "written",
            Self::Tells => "tells the chord",
            Self::Leads => "leads",
            Self::Passes => "passes",
            Self::Lands => "lands",
            Self::Marks => "marks the bar",
        }
    }
}
