//! A chart in another key.

use super::{Bar, Cell, Chart, Content, Draft};
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::{PitchClass, Semitones};
use sinistra_core::time::Ticks;

impl Chart {
    /// The same song in another key, every chord on the same degree and
    /// spelled for it. The key that it comes from is the chart's, or else the
    /// one that its chords speak for. `None` if `to` is of the other mode.
    pub fn transpose(&self, to: impl Into<WrittenKey>) -> Option<Self> {
        let (from, to) = (self.written_key(), to.into());
        if from.key().mode != to.key().mode {
            return None;
        }
        let cell = |cell: &Cell| match cell {
            Cell::Chord(symbol) => Cell::Chord(symbol.transpose(from, to)),
            other => *other,
        };
        let bars = self.draft.bars.iter().map(|bar| Bar {
            content: match &bar.content {
                Content::Same => Content::Same,
                Content::Places(cells) => Content::Places(cells.iter().map(cell).collect()),
            },
            ..bar.clone()
        });
        let draft = Draft { key: Some(to.key()), bars: bars.collect(), ..self.draft.clone() };
        Self::new(draft).ok()
    }

    /// The chart's key, or else the likeliest, with the signature that its chord
    /// symbols are written for.
    pub fn written_key(&self) -> WrittenKey {
        let key = self.draft.key.unwrap_or_else(|| self.likeliest_key());
        key.written_like(self.symbols().flatten().map(|symbol| symbol.root))
    }

    /// The key in whose scale most of the chords' time lies; the first and the
    /// last chord speak for it as tonic. Weights by ear.
    pub fn likeliest_key(&self) -> Key {
        let chords = self.song.chords();
        let ends = chords.iter().skip(1).map(|next| next.at).chain([self.song.end()]);
        let timed: Vec<(Chord, Ticks)> = chords
            .iter()
            .zip(ends)
            .filter_map(|(chord, end)| chord.chord.map(|c| (c, end - chord.at)))
            .collect();
        let all = self.song.end() - self.song.start();
        let fit = |key: Key| {
            let mut scale = key.scale();
            if key.mode == Mode::Minor {
                scale = scale.with(key.tonic.transpose(Semitones(-1))); // the leading note
            }
            let inside = |(chord, length): &(Chord, Ticks)| {
                let tones = chord.tones();
                let share = f64::from(tones.and(scale).len()) / f64::from(tones.len().max(1));
                share * length.beats()
            };
            let is_tonic = |chord: Option<&(Chord, Ticks)>| {
                chord.is_some_and(|(chord, _)| {
                    let minor = chord.quality.tones().has(PitchClass::new(3));
                    chord.root == key.tonic
                        && minor == (key.mode == Mode::Minor)
                        && chord.quality.kind() != Kind::Dominant
                })
            };
            let ends = f64::from(u8::from(is_tonic(timed.first())))
                + f64::from(u8::from(is_tonic(timed.last()))) * 1.5;
            timed.iter().map(inside).sum::<f64>() + ends * 0.1 * all.beats()
        };
        let keys = [Mode::Major, Mode::Minor]
            .into_iter()
            .flat_map(|mode| PitchClass::all().map(move |tonic| Key { tonic, mode }));
        keys.max_by(|a, b| fit(*a).total_cmp(&fit(*b))).unwrap_or(Key::C_MAJOR)
    }
}
