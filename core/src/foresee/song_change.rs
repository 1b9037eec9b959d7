//! The changes of a song, and the ways that a player takes among them: laid out when
//! the song is made, so that following it takes one look at each.

use alloc::boxed::Box;
use alloc::vec::Vec;

use super::{Song, chart};
use crate::chord::Chord;
use crate::pitch::PitchSet;
use crate::time::Ticks;

/// The most changes of a chart that are followed; a longer chart is followed
/// so far.
pub const CAPACITY: usize = 4096;

const NOWHERE: u16 = u16::MAX;

/// A stretch of one chord, and where a player may go from it: indices of changes, or
/// 65,535 for nowhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SongChange {
    /// When it begins.
    pub at: Ticks,
    /// Index in the song's chords.
    pub index: usize,
    /// What it is.
    pub chord: Chord,
    /// Its tones.
    pub tones: PitchSet,
    /// The change after it, round the end.
    pub next: u16,
    /// Ticks to that.
    pub apart: Ticks,
    /// The first one of the bar that it ends in.
    pub bar: u16,
    /// The first one or two or four bars after its end.
    pub over: [u16; 3],
    /// The first two or four or eight bars before its end.
    pub back: [u16; 3],
}

/// Of a song whose chords and bars are known.
pub fn changes(song: &Song) -> Box<[SongChange]> {
    let mut changes: Vec<SongChange> = Vec::new();
    for (index, written) in song.chords().iter().enumerate().take(CAPACITY) {
        let Some(chord) = written.chord else { continue };
        if changes.last().is_none_or(|last| !last.chord.same_bass(chord)) {
            changes.push(SongChange {
                at: written.at,
                index,
                chord,
                tones: chord.tones(),
                next: NOWHERE,
                apart: Ticks::ZERO,
                bar: NOWHERE,
                over: [NOWHERE; 3],
                back: [NOWHERE; 3],
            });
        }
    }
    let times: Vec<Ticks> = changes.iter().map(|change| change.at).collect();
    // The first change at or after a moment, if there is one.
    let from = |at: Ticks| times.partition_point(|time| *time < at);
    let way = |to: usize, may: bool| {
        u16::try_from(to).ok().filter(|_| may && to < times.len()).unwrap_or(NOWHERE)
    };
    let turn = chart::turn(song);
    for (k, change) in changes.iter_mut().enumerate() {
        let (next, apart) = match times.get(k + 1) {
            Some(next) => (k + 1, *next - change.at),
            None => {
                let again = if from(turn) < times.len() { from(turn) } else { 0 };
                let later = times.get(again).map_or(Ticks::ZERO, |again| *again - turn);
                (again, song.end() - change.at + later)
            }
        };
        let end = change.at + apart;
        let bar = song.place(end + Ticks(-1));
        let bars = |count: i64| Ticks(count * bar.metre.bar().0);
        (change.next, change.apart) = (way(next, true), apart);
        change.bar = way(from(bar.bar), from(bar.bar) <= k);
        change.over = [1, 2, 4].map(|count| {
            let over = from(end + bars(count));
            way(over, over > next)
        });
        change.back = [2, 4, 8].map(|count| {
            let back = from(end - bars(count));
            way(back, back < k)
        });
    }
    changes.into()
}
