//! A performance on paper: both hands, repeats written out.

use super::{HandNote, Performance};
use crate::chart::Chart;
use crate::sheet::{Sheet, SheetBar, SheetChord, SheetNote};
use sinistra_core::time::Ticks;

impl Performance {
    /// The sheet of what is played to `chart`, which this performance is of.
    /// Play it without swing: eighths are written even, and the sheet says
    /// whether they are swung.
    pub fn sheet(&self, chart: &Chart, pattern: &str, swing: bool) -> Sheet {
        let song = &self.song;
        let symbols: Vec<_> = chart.symbols().collect();
        let bars = song.bars().iter().enumerate().map(|(index, bar)| SheetBar {
            at: bar.at,
            end: song.bars().get(index + 1).map_or(song.end(), |next| next.at),
            metre: bar.metre,
            number: (song.place(bar.at).number + 1).max(0),
            repeat_from: false,
            repeat_times: None,
            ending: None,
            section: chart
                .draft()
                .bars
                .get(bar.written as usize)
                .and_then(|written| written.section.clone()),
        });
        let chords = song.chords().iter().map(|chord| SheetChord {
            at: chord.at,
            symbol: symbols.get(chord.written as usize).copied().flatten(),
        });
        Sheet {
            title: chart.title().to_owned(),
            pattern: pattern.to_owned(),
            key: chart.written_key(),
            tempo: self.timeline.tempo(Ticks::ZERO),
            swing,
            bars: bars.collect(),
            chords: chords.collect(),
            right: self.right.iter().map(note).collect(),
            left: self.left.iter().map(note).collect(),
        }
    }
}

fn note(note: &HandNote) -> SheetNote {
    SheetNote { at: note.at, until: note.until, key: note.key, role: note.role }
}
