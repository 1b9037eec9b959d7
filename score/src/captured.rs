//! What was played becomes a chart: bars, changes, sections from repetition.

use super::chart::{Cell, Chart, Content, HeardBar};
use sinistra_core::chord::Chord;
use sinistra_core::key::{Key, WrittenKey};
use sinistra_core::time::{Metre, Place, Ticks};

impl Chart {
    /// Writes down chords as they were heard, each with its time, up to `end`;
    /// `None` is silence. `place` tells the bar that holds a moment. The chart
    /// starts at bar 0, so that it fits the home's bars when it is loaded
    /// again; what came before bar 0 becomes a pick-up, or is left out where
    /// it is longer than a bar. Without `key` the likeliest one is named.
    /// `tempo` counts felt beats a minute.
    ///
    /// `None` where there is no chord.
    pub fn captured(
        title: &str,
        key: Option<WrittenKey>,
        tempo: Option<f64>,
        chords: &[(Ticks, Option<Chord>)],
        end: Ticks,
        place: impl Fn(Ticks) -> Place,
    ) -> Option<Self> {
        let meant = meant(chords, &place);
        meant.iter().find(|(_, chord)| chord.is_some())?;
        let (pick_up, bars) = bars(&meant, end, &place);
        let write = |key: WrittenKey| Self::of_bars(title, key, tempo, &bars);
        let chart = match key {
            Some(key) => write(key)?,
            None => write(write(Key::C_MAJOR.into())?.likeliest_key().into())?,
        };
        let mut draft = chart.draft().clone();
        if let (Some(metre), Some(first)) = (pick_up, draft.bars.first_mut()) {
            draft.pick_up = bars.first().map(|bar| bar.metre.beats());
            draft.metre = metre;
            first.metre = metre;
        }
        let contents = contents(&draft.bars);
        for (bar, name) in sections(&contents[usize::from(pick_up.is_some())..]) {
            let index = bar + usize::from(pick_up.is_some());
            if let (Some(bar), Some(cells)) = (draft.bars.get_mut(index), contents.get(index)) {
                bar.section = Some(name);
                bar.starts_line = true;
                bar.content = Content::Places(cells.clone());
            }
        }
        Self::new(draft).ok().or(Some(chart))
    }
}

/// The chords at the grid points that were meant, no two the same in a row.
fn meant(
    chords: &[(Ticks, Option<Chord>)],
    place: &impl Fn(Ticks) -> Place,
) -> Vec<(Ticks, Option<Chord>)> {
    let mut meant: Vec<(Ticks, Option<Chord>)> = Vec::new();
    for &(at, chord) in chords {
        let at = sinistra_core::foresee::event::snap(at, place(at));
        while meant.last().is_some_and(|last| last.0 >= at) {
            meant.pop();
        }
        if meant.last().is_none_or(|last| last.1 != chord) {
            meant.push((at, chord));
        }
    }
    meant
}

/// The bars from bar 0 on; and, where chords came before it, a short bar with
/// them in front and the metre of the bar that it belongs to.
fn bars(
    chords: &[(Ticks, Option<Chord>)],
    end: Ticks,
    place: &impl Fn(Ticks) -> Place,
) -> (Option<Metre>, Vec<HeardBar>) {
    let zero = place(Ticks::ZERO);
    let origin = if zero.bar < Ticks::ZERO { zero.bar + zero.metre.bar() } else { zero.bar };
    let mut bars = Vec::new();
    let before = place(origin + Ticks(-1));
    let unit = before.metre.unit_ticks().0.max(1);
    let early = chords
        .iter()
        .find(|(at, chord)| *at < origin && *at >= before.bar && chord.is_some())
        .map(|(at, _)| ((origin - *at).0 + unit - 1) / unit);
    let pick_up = early
        .and_then(|units| Metre::new(u8::try_from(units).ok()?, before.metre.unit()))
        .filter(|short| short.bar() < before.metre.bar());
    if let Some(short) = pick_up {
        let from = origin + Ticks(-short.bar().0);
        bars.push(HeardBar { metre: short, chords: within(chords, from, origin) });
    }
    let mut at = origin;
    while at < end && bars.len() < Chart::MOST_BARS.0 {
        let metre = place(at).metre;
        let next = at + metre.bar();
        bars.push(HeardBar { metre, chords: within(chords, at, next) });
        at = next;
    }
    (pick_up.map(|_| before.metre), bars)
}

fn within(
    chords: &[(Ticks, Option<Chord>)],
    from: Ticks,
    to: Ticks,
) -> Vec<(Ticks, Option<Chord>)> {
    let inside = chords.iter().filter(|(at, _)| (from..to).contains(at));
    inside.map(|&(at, chord)| (at - from, chord)).collect()
}

/// What stands in each bar, `%` written out.
fn contents(bars: &[super::chart::Bar]) -> Vec<Vec<Cell>> {
    let mut contents: Vec<Vec<Cell>> = Vec::new();
    for bar in bars {
        let cells = match &bar.content {
            Content::Same => contents.last().cloned().unwrap_or_default(),
            Content::Places(cells) => cells.clone(),
        };
        contents.push(cells);
    }
    contents
}

/// Bars at which sections start, with their letters: phrases of eight or four
/// bars that come again (one bar in four may differ, as endings do).
fn sections(bars: &[Vec<Cell>]) -> Vec<(usize, String)> {
    let sound = bars.iter().take_while(|bar| silent(bar)).count();
    let mut best: (usize, usize, usize) = (0, 8, sound);
    for size in [8, 4] {
        for offset in sound..(sound + size).min(bars.len()) {
            let phrases: Vec<_> = bars[offset..].chunks_exact(size).collect();
            let again = |phrase: &&[Vec<Cell>]| {
                phrases.iter().filter(|other| alike(phrase, other)).count() > 1
            };
            let covered = phrases.iter().filter(|phrase| again(phrase)).count() * size;
            // Longer phrases and an early start win where they explain as much.
            if covered > best.0 + usize::from(size < best.1) * size {
                best = (covered, size, offset);
            }
        }
    }
    let (covered, size, offset) = best;
    if covered == 0 {
        return Vec::new();
    }
    let mut letters: Vec<&[Vec<Cell>]> = Vec::new();
    let mut starts = Vec::new();
    let mut last = None;
    if offset > sound {
        starts.push((sound, "Intro".to_owned()));
    }
    for (n, phrase) in bars[offset..].chunks(size).enumerate() {
        let known = letters.iter().position(|letter| alike(letter, phrase));
        let letter = known.unwrap_or_else(|| {
            letters.push(phrase);
            letters.len() - 1
        });
        if last.replace(letter) == Some(letter) {
            continue; // the section goes on
        }
        let name = char::from_u32('A' as u32 + letter as u32 % 26).unwrap_or('A');
        starts.push((offset + n * size, name.to_string()));
    }
    starts
}

fn silent(bar: &[Cell]) -> bool {
    bar.iter().all(|cell| !matches!(cell, Cell::Chord(_)))
}

/// As long, and at least three bars in four the same.
fn alike(a: &[Vec<Cell>], b: &[Vec<Cell>]) -> bool {
    let same = a.iter().zip(b).filter(|(a, b)| a == b).count();
    a.len() == b.len() && same * 4 >= a.len() * 3
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::chord::Kind;
    use sinistra_core::pitch::PitchClass;

    fn major(root: i32) -> Option<Chord> {
        Some(Chord::new(PitchClass::new(root), Kind::Major))
    }

    fn four(at: Ticks) -> Place {
        Place::first(Metre::COMMON).of(at)
    }

    /// A chord a bar, struck a little off the beat.
    fn played(roots: &[i32]) -> Vec<(Ticks, Option<Chord>)> {
        let late = |bar: usize| Ticks(bar as i64 * 3840 + [0, 30, -40][bar % 3]);
        roots.iter().enumerate().map(|(bar, root)| (late(bar), major(*root))).collect()
    }

    #[test]
    fn a_song_played_once_is_a_chart_with_sections() {
        let (a, b) = ([0, 9, 5, 7], [5, 7, 4, 9]);
        let roots = [a, a, b, b, a, a].concat();
        let end = Ticks(roots.len() as i64 * 3840);
        let chart =
            Chart::captured("Rain", None, Some(96.0), &played(&roots), end, four).expect("a chart");
        let text = chart.to_string();
        let again = Chart::read("Rain", &text).expect("it loads again");
        assert_eq!(again.unfold(), chart.unfold(), "{text}");
        let times: Vec<_> = chart.unfold().chords().iter().map(|c| c.at.0 / 3840).collect();
        assert_eq!(times, (0..24).collect::<Vec<_>>(), "{text}");
        let names: Vec<_> =
            chart.draft().bars.iter().filter_map(|bar| bar.section.clone()).collect();
        assert_eq!(names, ["A", "B", "A"], "{text}");
    }

    #[test]
    fn what_comes_before_the_first_bar_is_a_pick_up() {
        let chords = [(Ticks(-960), major(7)), (Ticks(0), major(0)), (Ticks(3840), major(5))];
        let chart = Chart::captured("Up", None, None, &chords, Ticks(7680), four).expect("a chart");
        assert_eq!(chart.draft().pick_up, Some(1));
        let song = chart.unfold();
        assert_eq!(song.chords().iter().map(|c| c.at.0).collect::<Vec<_>>(), [-960, 0, 3840]);
    }

    #[test]
    fn silence_is_no_song() {
        assert_eq!(Chart::captured("", None, None, &[(Ticks(0), None)], Ticks(3840), four), None);
    }

    #[test]
    fn six_sharps_are_not_written_as_six_flats() {
        let sharp = crate::chart::read_written_key("F#");
        let chord = |name: &str| sinistra_core::chord::Symbol::read(name).ok().map(|s| s.chord());
        let chords = [(Ticks(0), chord("F#")), (Ticks(3840), chord("B"))];
        let chart = Chart::captured("", sharp, None, &chords, Ticks(7680), four).expect("a chart");
        assert!(chart.to_string().contains("key: F#"), "{chart}");
    }
}
