//! A chart ready to be followed: every bar and change written out in time.

use alloc::boxed::Box;
use alloc::collections::BTreeMap;
use alloc::vec::Vec;
use core::hash::{Hash, Hasher};

use super::sections::{self, SectionBar};
use super::song_change::{self, SongChange};
use crate::chord::Chord;
use crate::key::Key;
use crate::time::{Metre, Place, Ticks};

/// A chord (or silence) of the song and when it comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SongChord {
    /// When, from the first full bar's line (a pick-up lies before 0).
    pub at: Ticks,
    /// `None` where the chart says no chord.
    pub chord: Option<Chord>,
    /// Index of the chord symbol in the written chart, for showing the place.
    pub written: u32,
}

/// One bar of the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SongBar {
    /// Its bar line.
    pub at: Ticks,
    /// Its metre; a pick-up bar is shorter than its metre says.
    pub metre: Metre,
    /// Index of the bar in the written chart.
    pub written: u32,
}

/// A chart unfolded: repeats written out, times in ticks. Built in the free
/// world, handed over whole, never changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Song {
    chords: Box<[SongChord]>,
    bars: Box<[SongBar]>,
    /// For each bar the one that it repeats, by index: itself where it is new.
    returns: Box<[u32]>,
    /// Where each bar stands in its section; empty where the chart names none.
    sections: Box<[SectionBar]>,
    changes: Box<[SongChange]>,
    end: Ticks,
    /// The key that the chart names.
    pub key: Option<Key>,
    /// Quarter notes a minute, if the chart says.
    pub tempo: Option<f64>,
}

impl Song {
    /// `None` if there is no bar, or times do not rise strictly, or `end` is
    /// not after the last of them. Two chords in a row may be the same.
    pub fn new(chords: Vec<SongChord>, bars: Vec<SongBar>, end: Ticks) -> Option<Self> {
        let inside = |at: &Ticks| *at < end;
        let bar_times: Vec<_> = bars.iter().map(|bar| bar.at).collect();
        let chord_times: Vec<_> = chords.iter().map(|chord| chord.at).collect();
        let fits = !bars.is_empty()
            && [bar_times, chord_times]
                .iter()
                .all(|times| times.is_sorted_by(|a, b| a < b) && times.iter().all(inside));
        fits.then(|| {
            let returns = returns(&chords, &bars);
            let (chords, bars) = (chords.into(), bars.into());
            let (changes, sections) = (Box::default(), Box::default());
            let song =
                Self { chords, bars, returns, sections, changes, end, key: None, tempo: None };
            song.moved(Ticks::ZERO)
        })
    }

    /// A song in 4/4 of so many bars from 0, with these chords.
    pub fn in_common_time(
        chords: impl IntoIterator<Item = (Ticks, Option<Chord>)>,
        bars: i64,
    ) -> Option<Self> {
        let line = |bar: i64| Metre::COMMON.bar() * bar;
        let bar = |bar| SongBar { at: line(bar), metre: Metre::COMMON, written: 0 };
        let chord = |(at, chord)| SongChord { at, chord, written: 0 };
        let chords = chords.into_iter().map(chord).collect();
        Self::new(chords, (0..bars).map(bar).collect(), line(bars))
    }

    /// The same song in sections: the index of the bar that each begins with, rising, and
    /// which name it has. Sections of one name are one that comes back. Allocates.
    #[must_use]
    pub fn in_sections(mut self, begins: &[(usize, u32)]) -> Self {
        let (sections, repeats) = sections::places(begins, &self.returns);
        for (bar, repeat) in repeats.iter().enumerate() {
            let metre = |bar: usize| self.bars.get(bar).map(|bar| bar.metre);
            let source = repeat.map(|repeat| repeat as usize);
            let source = source.filter(|source| metre(*source) == metre(bar));
            let first = source.and_then(|source| self.returns.get(source).copied());
            if let (Some(first), Some(returns)) = (first, self.returns.get_mut(bar)) {
                *returns = first;
            }
        }
        self.sections = if begins.is_empty() { Box::default() } else { sections };
        self
    }

    /// The same song, all of it later by `by` (earlier if negative).
    #[must_use]
    pub fn moved(mut self, by: Ticks) -> Self {
        self.chords.iter_mut().for_each(|chord| chord.at += by);
        self.bars.iter_mut().for_each(|bar| bar.at += by);
        self.end += by;
        self.changes = song_change::changes(&self);
        self
    }

    /// Every chord, in time order.
    pub fn chords(&self) -> &[SongChord] {
        &self.chords
    }

    /// Every bar, in time order.
    pub fn bars(&self) -> &[SongBar] {
        &self.bars
    }

    /// Its changes, in time order: neighbours that are the same but for their colour
    /// are one.
    pub fn changes(&self) -> &[SongChange] {
        &self.changes
    }

    /// Where the first bar starts: 0, or before it with a pick-up.
    pub fn start(&self) -> Ticks {
        self.bars.first().map_or(Ticks::ZERO, |bar| bar.at)
    }

    /// Where the last bar ends.
    pub fn end(&self) -> Ticks {
        self.end
    }

    /// The bar line that bar `index` is counted from, and its end. A pick-up lies at
    /// the end of a whole bar: its line is before it.
    pub fn bar_span(&self, index: usize) -> Option<(Ticks, Ticks)> {
        let bar = self.bars.get(index)?;
        let end = self.bars.get(index + 1).map_or(self.end, |next| next.at);
        let whole = end - bar.metre.bar();
        let line = if bar.at < Ticks::ZERO { bar.at.min(whole) } else { bar.at };
        Some((line, end))
    }

    /// Index of the chord that holds at `at`; `None` before the first.
    pub fn chord_at(&self, at: Ticks) -> Option<usize> {
        self.chords.partition_point(|chord| chord.at <= at).checked_sub(1)
    }

    /// The index of the bar that `at` lies in, and of the bar that it repeats
    /// (itself where it is new): of sections of one name, and of eight bars with the same
    /// chords, the first. Real-time safe.
    pub fn bar_and_first(&self, at: Ticks) -> (usize, usize) {
        let index = self.bars.partition_point(|bar| bar.at <= at).saturating_sub(1);
        (index, self.returns.get(index).map_or(index, |first| *first as usize))
    }

    /// Where the bar that `at` lies in stands in its section; `None` where the chart names
    /// none. Real-time safe.
    pub fn section_at(&self, at: Ticks) -> Option<SectionBar> {
        self.sections.get(self.bar_and_first(at).0).copied()
    }

    /// Where the last chord begins, and where it ends: the song's end.
    pub fn last_chord(&self) -> Option<(Ticks, Ticks)> {
        let last = self.chords.iter().rev().find(|chord| chord.chord.is_some())?;
        Some((last.at, self.end))
    }

    /// The place of `at` in the bars of the song; beyond either end the bars
    /// go on in the metre of the last or first.
    pub fn place(&self, at: Ticks) -> Place {
        let index = self.bars.partition_point(|bar| bar.at <= at).saturating_sub(1);
        let bar = self.bars.get(index).copied().unwrap_or(SongBar {
            at: Ticks::ZERO,
            metre: Metre::COMMON,
            written: 0,
        });
        let first_full = self.bars.partition_point(|bar| bar.at < Ticks::ZERO);
        let place =
            Place { bar: bar.at, metre: bar.metre, number: index as i64 - first_full as i64 };
        if at < bar.at || at >= self.end { place.of(at) } else { place }
    }
}

/// Bars of a section: what is the same for so long comes back.
const SECTION: usize = 8;

/// For each bar the one that it repeats.
fn returns(chords: &[SongChord], bars: &[SongBar]) -> Box<[u32]> {
    let mut written = BTreeMap::new();
    let alike: Vec<u32> = (0u32..)
        .zip(bars)
        .map(|(n, bar)| *written.entry(content(chords, bars, n as usize, *bar)).or_insert(n))
        .collect();
    let mut first: Vec<u32> = (0..).take(bars.len()).collect();
    // Where what follows for a section was first.
    let mut sections = BTreeMap::new();
    for (start, section) in alike.windows(SECTION).enumerate() {
        if let Some(before) = start.checked_sub(SECTION) {
            sections.entry(alike.get(before..start)).or_insert(before);
        }
        let Some(&earlier) = sections.get(&Some(section)) else { continue };
        for n in 0..SECTION {
            let source = first.get(earlier + n).copied();
            if let (Some(source), Some(first)) = (source, first.get_mut(start + n))
                && *first as usize == start + n
            {
                *first = source;
            }
        }
    }
    first.into()
}

/// What bar `n` holds, the same for bars that are alike: its metre, the chord that holds
/// when it begins, and when in it each comes.
fn content(chords: &[SongChord], bars: &[SongBar], n: usize, bar: SongBar) -> Vec<u8> {
    let end = bars.get(n + 1).map_or(Ticks(i64::MAX), |next| next.at);
    let from = chords.partition_point(|chord| chord.at < bar.at);
    let to = chords.partition_point(|chord| chord.at < end);
    let before = chords.partition_point(|chord| chord.at <= bar.at).checked_sub(1);
    let mut content = Content(Vec::new());
    bar.metre.hash(&mut content);
    before.and_then(|n| chords.get(n)).and_then(|chord| chord.chord).hash(&mut content);
    for chord in chords.get(from..to).unwrap_or(&[]) {
        ((chord.at - bar.at).0, chord.chord).hash(&mut content);
    }
    content.0
}

/// All that is told to be hashed, itself.
struct Content(Vec<u8>);

impl Hasher for Content {
    fn write(&mut self, bytes: &[u8]) {
        self.0.extend_from_slice(bytes);
    }

    fn finish(&self) -> u64 {
        0 // never asked for
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(at: i64) -> SongBar {
        SongBar { at: Ticks(at), metre: Metre::COMMON, written: 0 }
    }

    #[test]
    fn a_pick_up_bar_has_number_minus_one() {
        let song =
            Song::new(vec![], vec![bar(-960), bar(0), bar(3840)], Ticks(7680)).expect("a song");
        assert_eq!(song.place(Ticks(-1)).number, -1);
        assert_eq!(song.place(Ticks(0)).number, 0);
        assert_eq!(song.place(Ticks(7680)).number, 2);
    }

    #[test]
    fn before_a_song_its_bars_count_down() {
        let song = Song::new(vec![], vec![bar(0), bar(3840)], Ticks(7680)).expect("a song");
        let place = song.place(Ticks(-3841));
        assert_eq!((place.bar, place.number), (Ticks(-7680), -2));
    }

    #[test]
    fn a_bar_that_is_longer_than_its_metre_is_one() {
        let song = Song::new(vec![], vec![bar(0), bar(4800)], Ticks(8640)).expect("a song");
        let place = song.place(Ticks(4799));
        assert_eq!((place.bar, place.number), (Ticks::ZERO, 0));
    }

    #[test]
    fn a_section_of_eight_bars_that_comes_back_is_known_as_the_first() {
        use crate::chord::Kind;
        use crate::pitch::PitchClass;
        // Eight bars, four others, the eight again; the fifth bar was new.
        let roots = [0, 5, 7, 0, 9, 2, 7, 7, 4, 4, 9, 9, 0, 5, 7, 0, 9, 2, 7, 7, 1];
        let chord =
            |(n, root)| (Ticks(3840 * n), Some(Chord::new(PitchClass::new(root), Kind::Major)));
        let song = Song::in_common_time((0i64..).zip(roots).map(chord), 21).expect("a song");
        let first = |n: i64| song.bar_and_first(Ticks(3840 * n)).1;
        assert_eq!(
            (0..21).map(first).collect::<Vec<_>>(),
            [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 0, 1, 2, 3, 4, 5, 6, 7, 20]
        );
        assert_eq!(song.last_chord(), Some((Ticks(20 * 3840), Ticks(21 * 3840))));
    }

    #[test]
    fn sections_are_as_if_each_was_compared_with_each() {
        use crate::chord::Kind;
        use crate::pitch::PitchClass;
        let roots: Vec<i32> = (0..400u32).map(|n| (n * n / 7 % 97 % 5) as i32).collect();
        let bars: Vec<i32> = [&roots[..60], &roots[10..40], &roots[..]].concat();
        let chord = |(n, root): (i64, &i32)| {
            (Ticks(3840 * n), Some(Chord::new(PitchClass::new(*root), Kind::Major)))
        };
        let count = bars.len();
        let song = Song::in_common_time((0i64..).zip(&bars).map(chord), count as i64);
        let song = song.expect("a song");
        let mut expected: Vec<usize> = (0..count).collect();
        for bar in 8..=count - 8 {
            let earlier = (0..=bar - 8).find(|at| bars[*at..*at + 8] == bars[bar..bar + 8]);
            for n in earlier.into_iter().flat_map(|earlier| (0..8).map(move |n| (earlier, n))) {
                let (earlier, n) = n;
                if expected[bar + n] == bar + n {
                    expected[bar + n] = expected[earlier + n];
                }
            }
        }
        let first = |n: i64| song.bar_and_first(Ticks(3840 * n)).1;
        assert_eq!((0..count as i64).map(first).collect::<Vec<_>>(), expected);
        assert!(expected.iter().enumerate().any(|(n, first)| n != *first));
    }

    #[test]
    fn times_must_rise() {
        assert_eq!(Song::new(vec![], vec![bar(0), bar(0)], Ticks(1)), None);
        assert_eq!(Song::new(vec![], vec![], Ticks(1)), None);
    }
}
