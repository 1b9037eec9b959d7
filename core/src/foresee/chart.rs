//! Where a moment lies in a chart that follows the host's bars.
//!
//! A song goes round: past its end it begins again, as players do. It begins
//! again with its pick-up where the last bar leaves room for it, else with
//! its first full bar. Before its start nothing holds, and its first chord
//! is what comes.

use super::{Song, SongChord};
use crate::chord::Chord;
use crate::time::Ticks;

/// Where a song begins again after its end.
pub fn turn(song: &Song) -> Ticks {
    let pick_up = Ticks::ZERO - song.start();
    let last = song.bars().last();
    let complements = last.is_some_and(|bar| song.end() - bar.at + pick_up == bar.metre.bar());
    let full = song.end() > Ticks::ZERO;
    if complements || !full { song.start() } else { Ticks::ZERO }
}

/// The moment of the song, within its bars or before them, that sounds at `at`.
pub fn fold(song: &Song, at: Ticks) -> Ticks {
    if at < song.end() {
        return at;
    }
    let turn = turn(song);
    let round = (song.end() - turn).0.max(1);
    turn + Ticks((at - turn).0.rem_euclid(round))
}

/// What holds at `at`: the index of the song's chord, if any.
pub fn holds(song: &Song, at: Ticks) -> Option<usize> {
    song.chord_at(fold(song, at))
}

/// Whether the chart says no chord at `at`.
pub fn silent(song: &Song, at: Ticks) -> bool {
    let chord = holds(song, at).and_then(|index| song.chords().get(index));
    chord.is_some_and(|chord| chord.chord.is_none())
}

/// When the chart first falls silent after `at` and before `until`.
pub fn silence(song: &Song, at: Ticks, until: Ticks) -> Option<Ticks> {
    let falls = |from: Ticks, shift: Ticks| {
        let first = song.chords().partition_point(|chord| chord.at <= from);
        let ahead =
            song.chords().iter().skip(first).map(move |chord| (chord.at + shift, chord.chord));
        ahead.take_while(|(at, _)| *at < until).find(|(_, chord)| chord.is_none()).map(|(at, _)| at)
    };
    let here = fold(song, at);
    let shift = at - here;
    let turn = turn(song);
    falls(here, shift).or_else(|| falls(turn + Ticks(-1), shift + song.end() - turn))
}

/// The first chord after `at` that differs from what holds there (in root or
/// bass), when it comes, and its index. Silences are passed over. Looks one
/// round ahead.
pub fn next(song: &Song, at: Ticks) -> Option<(Chord, Ticks, usize)> {
    let chords = song.chords();
    let here = fold(song, at);
    let present = song.chord_at(here);
    let holding = present.and_then(|i| chords.get(i)).and_then(|c| c.chord);
    let differs = |next: &SongChord| {
        next.chord.is_some_and(|chord| {
            holding.is_none_or(|now| now.root != chord.root || now.bass != chord.bass)
        })
    };
    let first = present.map_or(0, |i| i + 1);
    let ahead = chords.iter().enumerate().skip(first).find(|(_, chord)| differs(chord));
    if let Some((index, chord)) = ahead {
        return Some((chord.chord?, at + (chord.at - here), index));
    }
    let turn = turn(song);
    let again = song.end() - here - turn;
    let (index, chord) = chords
        .iter()
        .enumerate()
        .skip(chords.partition_point(|chord| chord.at < turn))
        .find(|(_, chord)| differs(chord))?;
    Some((chord.chord?, at + again + chord.at, index))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::foresee::SongBar;
    use crate::pitch::PitchClass;
    use crate::time::Metre;

    fn major(root: i32) -> Option<Chord> {
        Some(Chord::new(PitchClass::new(root), Kind::Major))
    }

    fn song(starts: &[(i64, Option<Chord>)], bars: &[i64], end: i64) -> Song {
        let chords = starts
            .iter()
            .map(|&(beat, chord)| SongChord { at: Ticks(beat * 960), chord, written: 0 })
            .collect();
        let bars = bars
            .iter()
            .map(|beat| SongBar { at: Ticks(beat * 960), metre: Metre::COMMON, written: 0 })
            .collect();
        Song::new(chords, bars, Ticks(end * 960)).expect("a song")
    }

    /// Root, tick and index of what comes.
    fn coming(song: &Song, at: i64) -> Option<(usize, i64, usize)> {
        next(song, Ticks(at)).map(|(chord, at, index)| (chord.root.index(), at.0, index))
    }

    #[test]
    fn after_the_last_bar_the_first_comes() {
        let song = song(&[(0, major(0)), (4, major(5))], &[0, 4], 8);
        assert_eq!(coming(&song, 960), Some((5, 4 * 960, 1)));
        assert_eq!(coming(&song, 5 * 960), Some((0, 8 * 960, 0)));
        assert_eq!(coming(&song, 9 * 960), Some((5, 12 * 960, 1)));
        assert_eq!(holds(&song, Ticks(21 * 960)), Some(1));
    }

    #[test]
    fn before_the_start_the_first_chord_comes() {
        let song = song(&[(0, major(0)), (4, major(5))], &[0, 4], 8);
        assert_eq!(coming(&song, -960), Some((0, 0, 0)));
    }

    #[test]
    fn a_pick_up_is_played_again_where_the_last_bar_leaves_room() {
        let short = song(&[(-1, major(7)), (0, major(0))], &[-1, 0, 4], 7);
        assert_eq!(coming(&short, 6 * 960), Some((7, 7 * 960, 0)));
        let full = song(&[(-1, major(7)), (0, major(0)), (4, major(5))], &[-1, 0, 4], 8);
        assert_eq!(coming(&full, 6 * 960), Some((0, 8 * 960, 1)));
        let second_time = [7, 8, 14, 15, 16].map(|beat| holds(&short, Ticks(beat * 960)));
        assert_eq!(second_time, [0, 1, 1, 0, 1].map(Some));
        // By hand it is led to as well.
        for (song, next, apart) in [
            (&full, 1, 4),
            (&song(&[(-1, major(7)), (0, major(0)), (4, major(5))], &[-1, 0, 4], 7), 0, 3),
        ] {
            let last = song.changes().last().expect("a change");
            assert_eq!((last.next, last.apart), (next, Ticks(apart * 960)));
        }
    }

    #[test]
    fn a_silent_pick_up_is_silent_again() {
        let song = song(&[(-1, None), (0, major(0))], &[-1, 0, 4], 7);
        let first = |at: i64| silence(&song, Ticks(at * 960), Ticks(30 * 960));
        assert_eq!([0, 7, 8].map(first), [7, 15, 15].map(|beat| Some(Ticks(beat * 960))));
    }

    #[test]
    fn silences_come_round_as_chords_do() {
        let song = song(&[(0, major(0)), (4, None), (8, major(5))], &[0, 4, 8], 12);
        assert!(silent(&song, Ticks(4 * 960)) && !silent(&song, Ticks(8 * 960)));
        assert!(silent(&song, Ticks(17 * 960)), "the second time");
        let first = |at: i64, until: i64| silence(&song, Ticks(at * 960), Ticks(until * 960));
        assert_eq!(first(0, 8), Some(Ticks(4 * 960)));
        assert_eq!(first(0, 4), None);
        assert_eq!(first(4, 30), Some(Ticks(16 * 960)));
    }

    #[test]
    fn one_chord_throughout_has_no_next() {
        assert_eq!(next(&song(&[(0, major(0))], &[0], 4), Ticks(0)), None);
    }
}
