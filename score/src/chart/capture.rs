//! A chart from chords that were played.

use super::{Bar, Cell, Chart, Content, Draft};
use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::key::WrittenKey;
use sinistra_core::time::{Metre, Ticks};

/// A bar of chords as they were heard.
#[derive(Clone, Debug, PartialEq)]
pub struct HeardBar {
    /// Its metre.
    pub metre: Metre,
    /// When each comes, from the bar line, in time order; `None` is silence.
    /// A bar without any goes on with the chord before.
    pub chords: Vec<(Ticks, Option<Chord>)>,
}

impl Chart {
    /// Writes heard bars down: each change at the nearest place that can be
    /// written (a quarter of a unit), with as few places as will do, four bars
    /// a line, chords spelled in `key`, and `%` for a bar like the one before.
    /// `tempo` counts felt beats a minute. `None` if there is no bar.
    pub fn of_bars(
        title: &str,
        key: impl Into<WrittenKey>,
        tempo: Option<f64>,
        bars: &[HeardBar],
    ) -> Option<Self> {
        let key = key.into();
        let mut early: Option<Option<Chord>> = None;
        let mut written: Vec<Vec<Cell>> = Vec::new();
        for heard in bars {
            let finest = 4 * usize::from(heard.metre.beats());
            let mut fine = vec![Cell::Hold; finest];
            let cell = |chord: Option<Chord>| {
                chord.map_or(Cell::NoChord, |chord| Cell::Chord(Symbol::of(chord, key)))
            };
            // A chord that came just before the bar line belongs behind it.
            if let (Some(first), Some(chord)) = (fine.first_mut(), early.take()) {
                *first = cell(chord);
            }
            let step = heard.metre.bar().0 / i64::try_from(finest).ok()?;
            for &(at, chord) in &heard.chords {
                let place = usize::try_from((at.0 + step / 2).div_euclid(step)).unwrap_or(0);
                match fine.get_mut(place) {
                    Some(there) => *there = cell(chord),
                    None => early = Some(chord),
                }
            }
            if written.is_empty() && fine.first() == Some(&Cell::Hold) {
                fine[0] = Cell::NoChord;
            }
            written.push(fewest_places(&fine, heard.metre.beats()));
        }
        let mut draft = Draft {
            title: title.chars().filter(|c| !c.is_control()).collect::<String>().trim().to_owned(),
            key: Some(key.key()),
            metre: bars.first()?.metre,
            tempo,
            swing: None,
            pick_up: None,
            bars: Vec::new(),
        };
        let mut before: Option<(&Vec<Cell>, Metre)> = None;
        for (n, (cells, heard)) in written.iter().zip(bars).enumerate() {
            let same = before == Some((cells, heard.metre)) && cells.first() != Some(&Cell::Hold);
            let content = if same { Content::Same } else { Content::Places(cells.clone()) };
            let bar = Bar::plain(heard.metre, Vec::new());
            draft.bars.push(Bar { starts_line: n % 4 == 0, content, ..bar });
            before = Some((cells, heard.metre));
        }
        Self::new(draft).ok()
    }
}

/// The same bar of `units` with as few places as it allows; `fine` has four
/// places a unit.
pub(crate) fn fewest_places(fine: &[Cell], units: u8) -> Vec<Cell> {
    let places = Draft::places(units);
    let each = |count: usize| fine.len() / count;
    let holds = |count: &usize| {
        fine.iter().enumerate().all(|(n, cell)| *cell == Cell::Hold || n % each(*count) == 0)
    };
    let count = places.into_iter().find(holds).unwrap_or(fine.len());
    fine.iter().step_by(each(count)).copied().collect()
}
