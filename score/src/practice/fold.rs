//! Folds a played song back into printed bars: repeats where every pass is
//! the same, endings where only the ends differ, else every pass written out.

use crate::performance::{HandNote, within};
use crate::sheet::Volta;
use sinistra_core::foresee::Song;
use sinistra_core::time::Ticks;

/// A printed bar and when it is played.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Printed {
    /// From 1; 0 is a pick-up.
    pub number: i64,
    /// Index of the bar in the unfolded song, with the pass (from 1), for each
    /// time it is played; the first is the one that is printed.
    pub played: Vec<(usize, u8)>,
    pub repeat_from: bool,
    pub repeat_times: Option<u8>,
    pub ending: Option<Volta>,
}

/// Endings longer than this are written out instead.
const LONGEST_ENDING: usize = 4;

pub(super) fn fold(song: &Song, left: &[HandNote], right: &[HandNote]) -> Vec<Printed> {
    let contents = contents(song, left, right);
    let written: Vec<u32> = song.bars().iter().map(|bar| bar.written).collect();
    let same = |a: usize, b: usize| written[a] == written[b] && contents[a] == contents[b];
    let mut printed = Vec::new();
    let mut at = 0;
    while at < written.len() {
        let (bars, next) = region(&written, at, &same);
        printed.extend(bars);
        at = next;
    }
    let pick_up = song.bars().first().is_some_and(|bar| bar.at < Ticks::ZERO);
    for (index, bar) in printed.iter_mut().enumerate() {
        bar.number = index as i64 + i64::from(!pick_up);
    }
    printed
}

/// For each bar of the song the number that is printed over it, and the pass, from 1.
pub(super) fn passes(printed: &[Printed], bars: usize) -> Vec<(i64, u8)> {
    let mut passes = vec![(0, 1); bars];
    for bar in printed {
        for (index, pass) in &bar.played {
            if let Some(place) = passes.get_mut(*index) {
                *place = (bar.number, *pass);
            }
        }
    }
    passes
}

/// What stands in each bar, from its line on.
type FoldedBars = Vec<(Ticks, Ticks, u8, bool)>;

fn contents(song: &Song, left: &[HandNote], right: &[HandNote]) -> Vec<FoldedBars> {
    let ends = song.bars().iter().skip(1).map(|bar| bar.at).chain([song.end()]);
    let bars = song.bars().iter().zip(ends);
    bars.map(|(bar, end)| {
        let of = |notes: &[HandNote], is_left| -> FoldedBars {
            // The last bar's notes end with the song; where they end inside
            // a sixteenth is not on the page.
            let length = |note: &HandNote| Ticks((note.until - note.at).0 / 240);
            let notes = within(notes, bar.at, end).iter();
            notes.map(|n| (n.at - bar.at, length(n), n.key.number(), is_left)).collect()
        };
        [of(left, true), of(right, false)].concat()
    })
    .collect()
}

/// The bar at `start`, or the repeat that starts there, and the first bar
/// after it.
fn region(
    written: &[u32],
    start: usize,
    same: &impl Fn(usize, usize) -> bool,
) -> (Vec<Printed>, usize) {
    let passes: Vec<usize> =
        (start..written.len()).filter(|at| written[*at] == written[start]).collect();
    let [first, second, ..] = *passes else {
        return (written_out(start..start + 1), start + 1);
    };
    let last = passes.last().copied().unwrap_or(second);
    let length = second - first;
    let as_written =
        |pass: usize, n: usize| written.get(pass + n).is_some_and(|w| *w == written[first + n]);
    // Bars that all passes share on paper, and those they share in sound.
    let shared = |holds: &dyn Fn(usize, usize) -> bool| {
        (0..length).take_while(|n| passes.iter().all(|pass| holds(*pass, *n))).count()
    };
    let paper = shared(&as_written);
    let head = shared(&|pass, n| as_written(pass, n) && same(first + n, pass + n));
    let tail_of = |index: usize| {
        let from = passes[index] + head;
        let to = match passes.get(index + 1) {
            Some(next) => *next,
            // The last ending: what the repeat has left, or its first bar.
            None if paper == length => last + length,
            None => (last + paper + 1).min(written.len()),
        };
        from..to
    };
    let tails: Vec<_> = (0..passes.len()).map(tail_of).collect();
    let next = tails.last().map_or(last + head, |tail| tail.end);
    // After a jump a repeat is not taken again: a pass that goes on otherwise than by an
    // ending.
    let empty = tails.iter().filter(|tail| tail.is_empty()).count();
    let jumps = empty > 0 && empty < tails.len();
    if head == 0
        || jumps
        || passes.len() > 99
        || tails.iter().any(|tail| tail.len() > LONGEST_ENDING)
    {
        return (written_out(start..next), next);
    }
    let numbered = |n: usize| {
        let times = passes.iter().enumerate();
        times.map(|(pass, at)| (at + n, pass as u8 + 1)).collect::<Vec<_>>()
    };
    let mut bars: Vec<Printed> =
        (0..head).map(|n| Printed { played: numbered(n), ..Printed::default() }).collect();
    bars[0].repeat_from = true;
    if tails.iter().all(std::ops::Range::is_empty) {
        bars[head - 1].repeat_times = Some(passes.len() as u8);
    } else {
        bars.extend(endings(&tails, same));
    }
    (bars, next)
}

fn written_out(bars: std::ops::Range<usize>) -> Vec<Printed> {
    bars.map(|at| Printed { played: vec![(at, 1)], ..Printed::default() }).collect()
}

/// One bracket for each group of passes that end alike.
fn endings(tails: &[std::ops::Range<usize>], same: &impl Fn(usize, usize) -> bool) -> Vec<Printed> {
    let alike = |a: &std::ops::Range<usize>, b: &std::ops::Range<usize>| {
        a.len() == b.len() && a.clone().zip(b.clone()).all(|(a, b)| same(a, b))
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (pass, tail) in tails.iter().enumerate() {
        // The last pass goes on: its ending stands alone.
        let found = groups.iter_mut().find(|group| alike(&tails[group[0]], tail));
        match found {
            Some(group) if pass + 1 < tails.len() => group.push(pass),
            _ => groups.push(vec![pass]),
        }
    }
    let mut bars = Vec::new();
    let last_group = groups.len() - 1;
    for (index, group) in groups.iter().enumerate() {
        let passes: Vec<u8> = group.iter().map(|pass| *pass as u8 + 1).collect();
        let length = tails[group[0]].len();
        for n in 0..length {
            let played = group.iter().map(|pass| (tails[*pass].start + n, *pass as u8 + 1));
            bars.push(Printed {
                played: played.collect(),
                repeat_times: (n + 1 == length && index < last_group).then_some(2),
                ending: Some(Volta {
                    passes: passes.clone(),
                    starts: n == 0,
                    stops: n + 1 == length,
                }),
                ..Printed::default()
            });
        }
    }
    bars
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::foresee::SongBar;
    use sinistra_core::pitch::KeyNumber;
    use sinistra_core::time::Metre;

    /// Bars played in the order `written`, each with the key that `keys` names.
    fn folded(written: &[u32], keys: &[u8]) -> String {
        let bar = |(n, written): (usize, &u32)| SongBar {
            at: Ticks(n as i64 * 3840),
            metre: Metre::COMMON,
            written: *written,
        };
        let bars: Vec<_> = written.iter().enumerate().map(bar).collect();
        let song = Song::new(vec![], bars, Ticks(written.len() as i64 * 3840)).expect("a song");
        let note = |(n, key): (usize, &u8)| HandNote {
            at: Ticks(n as i64 * 3840),
            until: Ticks(n as i64 * 3840 + 900),
            key: KeyNumber::clamped(i32::from(*key)),
            sounds: (Ticks(n as i64 * 3840), Ticks(n as i64 * 3840 + 900)),
            velocity: 64,
            role: None,
            why: None,
            chord: sinistra_core::chord::Chord::new(
                sinistra_core::pitch::PitchClass::C,
                sinistra_core::chord::Kind::Major,
            ),
            song_key: sinistra_core::key::Key::C_MAJOR,
        };
        let left: Vec<_> = keys.iter().enumerate().map(note).collect();
        let show = |bar: &Printed| {
            let from = if bar.repeat_from { "|:" } else { "" };
            let ending = bar.ending.as_ref().map_or(String::new(), |e| format!("{:?}", e.passes));
            let to = if bar.repeat_times.is_some() { ":|" } else { "" };
            format!("{from}{ending}{}{to}", left[bar.played[0].0].key.number())
        };
        fold(&song, &left, &[]).iter().map(show).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_repeat_is_folded_where_its_passes_are_alike() {
        assert_eq!(folded(&[0, 1, 0, 1, 2], &[40, 41, 40, 41, 42]), "|:40 41:| 42");
        // The end leads elsewhere the last time: an ending each.
        assert_eq!(
            folded(&[0, 1, 0, 1, 0, 1, 2], &[40, 41, 40, 41, 40, 43, 42]),
            "|:40 [1, 2]41:| [3]43 42"
        );
        // The hand has moved the second time: written out.
        assert_eq!(folded(&[0, 1, 0, 1, 2], &[40, 41, 28, 29, 42]), "40 41 28 29 42");
    }

    #[test]
    fn a_jump_back_is_written_out() {
        assert_eq!(folded(&[0, 1, 2, 0, 1], &[40, 41, 42, 40, 41]), "40 41 42 40 41");
        // A repeat that is not taken after the jump is written out.
        assert_eq!(folded(&[0, 0, 1, 0], &[40, 40, 41, 40]), "40 40 41 40");
    }

    #[test]
    fn written_endings_stay_endings() {
        assert_eq!(
            folded(&[0, 1, 2, 0, 1, 3, 4], &[40, 41, 42, 40, 41, 43, 44]),
            "|:40 41 [1]42:| [2]43 44"
        );
    }
}
