//! A chord chart, as a musician writes it by hand.
//!
//! ```text
//! title: Fog over the Lake
//! key: Am
//! metre: 4/4
//! tempo: 84
//!
//! [Verse]
//! |: Am   | F . G . | C . . G/B | %  :| x2
//! |  3/4 Dm | E7sus4 . E7 |
//! ```
//!
//! Chords share their bar evenly; a dot holds the chord for one more place
//! (`C . . G/B`: three beats and one). `%` is the bar before again. `|: … :|`
//! repeats, `x3` says how often, `1.` and `2.` behind a bar line are endings.
//! `Segno`, `Coda`, `To Coda`, `Fine`, `D.C.`, `D.S.`, `D.C. al Fine`, `D.S. al Coda` in
//! a bar lead through the song: after the jump no repeat is taken, and of endings the last.
//! `3/4` at the start of a bar changes the metre, `N.C.` is silence, `#`
//! behind a space starts a comment. `pick-up: 1` makes the first bar one beat.
//!
//! ```
//! use sinistra_score::Chart;
//!
//! let chart = Chart::read("lake.txt", "key: Am\nmetre: 4/4\n\n|: Am | F . G . :| x2\n")?;
//! let names: Vec<_> = chart.symbols().flatten().map(|symbol| symbol.to_string()).collect();
//! assert_eq!(names, ["Am", "F", "G"]);
//!
//! // What is wrong is told with its place and what would be right.
//! let faults = Chart::read("lake.txt", "metre: 4/4\n\n| Am | Hm |\n").unwrap_err();
//! assert!(faults.to_string().starts_with("lake.txt:3:"));
//! # Ok::<(), sinistra_score::Faults>(())
//! ```

mod capture;
mod check;
mod intro;
mod key_text;
mod order;
mod presets;
mod read;
mod signs;
mod transpose;
mod write;

pub use capture::HeardBar;
pub(super) use capture::fewest_places;
pub use key_text::{key_name, key_words, read_key, read_written_key};
pub(super) use order::jump;
pub use presets::ChartPreset;
pub use signs::{JumpBack, JumpEnd, RoadSigns};

use sinistra_core::chord::Symbol;
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::time::{Metre, Ticks};

/// A chart that makes sense: its repeats close, its places fill their bars.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    draft: Draft,
    song: Song,
}

/// What a chart says, before it is known to make sense.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    /// One line; may be empty.
    pub title: String,
    /// The key of the song.
    pub key: Option<Key>,
    /// The metre of the first bar.
    pub metre: Metre,
    /// Felt beats a minute: quarter notes in 4/4, dotted quarters in 6/8.
    pub tempo: Option<f64>,
    /// Where the "and" falls in its beat, in percent, 50..=75.
    pub swing: Option<u8>,
    /// The first bar is a pick-up of so many notes of the metre's lower figure.
    pub pick_up: Option<u8>,
    /// The bars as written.
    pub bars: Vec<Bar>,
}

/// A bar as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// The section that starts here.
    pub section: Option<String>,
    /// Whether it starts a line of the page.
    pub starts_line: bool,
    /// Its metre.
    pub metre: Metre,
    /// `|:` before it.
    pub repeat_start: bool,
    /// `:|` behind it, and how often all of it is played, 2..=99.
    pub repeat_end: Option<u8>,
    /// The passes for which the ending that starts here is played; often none.
    pub ending: Vec<u8>,
    /// Where it leads, but to the next.
    pub signs: RoadSigns,
    /// What stands in it.
    pub content: Content,
}

/// What stands in a bar.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// The bar before once more.
    Same,
    /// Places of equal length.
    Places(Vec<Cell>),
}

/// One place of a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cell {
    /// What was there before goes on.
    Hold,
    /// Silence.
    NoChord,
    /// A chord.
    Chord(Symbol),
}

/// What is wrong with a draft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Index of the bar, if it is one bar's fault.
    pub bar: Option<usize>,
    /// In one line.
    pub what: String,
    /// What would be right.
    pub hint: String,
}

fn problem(bar: Option<usize>, what: &str, hint: &str) -> Problem {
    Problem { bar, what: what.to_owned(), hint: hint.to_owned() }
}

impl Chart {
    /// The most bars that a chart may have, written and played.
    pub const MOST_BARS: (usize, usize) = crate::limits::CHART_BARS;

    /// Checks a draft.
    ///
    /// # Errors
    /// Everything that is wrong with it, bar by bar.
    pub fn new(draft: Draft) -> Result<Self, Vec<Problem>> {
        let song = check::song(&draft)?;
        Ok(Self { draft, song })
    }

    /// Reads a chart in the format above; `file` is for messages.
    ///
    /// # Errors
    /// Every fault, with its line, column and a hint.
    pub fn read(file: &str, text: &str) -> Result<Self, super::Faults> {
        read::chart(file, text)
    }

    /// As written.
    pub fn draft(&self) -> &Draft {
        &self.draft
    }

    /// The title, or `Untitled`.
    pub fn title(&self) -> &str {
        if self.draft.title.is_empty() { "Untitled" } else { &self.draft.title }
    }

    /// Repeats written out, in musical time.
    pub fn unfold(&self) -> Song {
        self.song.clone()
    }

    /// The same played `times` times over; a pick-up only before the first.
    /// At most as many times as [`Self::MOST_BARS`] allow, at least once.
    pub fn unfold_times(&self, times: u16) -> Song {
        check::song_times(&self.draft, times).unwrap_or_else(|_| self.song.clone())
    }

    /// Felt beats a minute as quarter notes a minute, in the metre of the start.
    pub fn quarters(&self, tempo: f64) -> f64 {
        check::quarters(tempo, self.draft.metre)
    }

    /// The chord symbols as written, one for each that [`Song`] counts.
    pub fn symbols(&self) -> impl Iterator<Item = Option<Symbol>> + '_ {
        self.draft.bars.iter().flat_map(Bar::cells).filter_map(|cell| match cell {
            Cell::Hold => None,
            Cell::NoChord => Some(None),
            Cell::Chord(symbol) => Some(Some(*symbol)),
        })
    }
}

impl Bar {
    /// A plain bar.
    pub fn plain(metre: Metre, cells: Vec<Cell>) -> Self {
        Self {
            section: None,
            starts_line: false,
            metre,
            repeat_start: false,
            repeat_end: None,
            ending: Vec::new(),
            signs: RoadSigns::default(),
            content: Content::Places(cells),
        }
    }

    /// Its places; none if it only says `%`.
    pub fn cells(&self) -> &[Cell] {
        match &self.content {
            Content::Same => &[],
            Content::Places(cells) => cells,
        }
    }
}

impl Draft {
    /// Length of a written bar: its metre, or the pick-up.
    pub fn length(&self, index: usize) -> Ticks {
        let metre = self.bars.get(index).map_or(self.metre, |bar| bar.metre);
        match self.pick_up {
            Some(units) if index == 0 => Ticks(metre.unit_ticks().0 * i64::from(units)),
            _ => metre.bar(),
        }
    }

    /// How many places may share a bar of so many `units`: each is a whole
    /// number of units, or a half or quarter of one.
    pub fn places(units: u8) -> Vec<usize> {
        let units = usize::from(units);
        let mut places: Vec<_> = (1..=units).filter(|n| units.is_multiple_of(*n)).collect();
        places.extend([2 * units, 4 * units]);
        places
    }
}

#[cfg(test)]
mod order_test;
#[cfg(test)]
mod presets_test;
#[cfg(test)]
mod tests;
