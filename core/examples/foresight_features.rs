//! Writes the features that foresight sees, for the training script.
//!
//! `foresight_features MODEL.json OUT.bin < SONGS.jsonl`: a song a line,
//! `{"held": bool, "chords": [[onset, root heard, triad, gap, true root], …]}`
//! with onsets in beats and a chord for each true root change. A record a
//! chord that has a successor, in 16-bit integers (little-endian): the header
//! (see `header`), the spans thought of, then the features in 1/2048.

#[path = "support/model.rs"]
mod model;

use std::fs::File;
use std::io::{BufRead, BufWriter, Write, stdin};

use serde::Deserialize;
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::foresee::event::{LATE, RootSpan};
use sinistra_core::foresee::history::History;
use sinistra_core::foresee::outlook::Features;
use sinistra_core::foresee::repeats::CLOSE;
use sinistra_core::foresee::time_features;
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::{Metre, Place, Ticks};

/// Spans written a record.
const SPANS: usize = 24;

#[derive(Deserialize)]
struct SongLine {
    /// Ask while the chord holds, at a moment drawn from its length.
    held: bool,
    chords: Vec<(f64, i32, usize, u8, i32)>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(tables), Some(out)) = (arguments.next(), arguments.next()) else {
        return Err("usage: foresight_features MODEL.json OUT.bin < SONGS.jsonl".into());
    };
    let model = model::read(&tables)?;
    let mut out = BufWriter::new(File::create(out)?);
    let mut room = Features::new();
    for (number, line) in stdin().lock().lines().enumerate() {
        let song: SongLine = serde_json::from_str(&line?)?;
        write_song(&song, number, model, &mut room, &mut out)?;
    }
    Ok(out.flush()?)
}

const KINDS: [Kind; 7] = [
    Kind::Major,
    Kind::Minor,
    Kind::Diminished,
    Kind::Augmented,
    Kind::SuspendedSecond,
    Kind::SuspendedFourth,
    Kind::Power,
];

fn write_song(
    song: &SongLine,
    number: usize,
    model: &'static sinistra_core::foresee::model::ForesightModel,
    room: &mut Features,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let start = Place::first(Metre::COMMON);
    let mut history = History::new(&model.odds);
    let mut draw = 12345u64 + number as u64;
    for (i, &(onset, root, triad, gap, truth)) in song.chords.iter().enumerate() {
        let at = Ticks::nearest(onset);
        let chord = Chord::new(PitchClass::new(root), KINDS[triad]);
        history.push(RootSpan::new(at, chord, start.of(at)));
        let Some(next) = song.chords.get(i + 1) else { break };
        let lasts = Ticks::nearest(next.0) - at;
        if gap == 1 {
            history.end(at + lasts / 2);
        }
        if truth == next.4 {
            continue;
        }
        let held = if song.held { moment(lasts, &mut draw) } else { Some(Ticks::ZERO) };
        let (Some(held), Some(now)) = (held, history.events().last()) else { continue };
        // With a chord misnamed as its neighbour, the heard onset is earlier.
        let due = at + lasts - now.at;
        let header = [number as i64, i as i64, now.root.into(), next.4.into(), gap.into(), held.0];
        let times = [due.0.min(32767), (at - now.at).0];
        write_record(&header, times, &history, at + held, room, out)?;
    }
    Ok(())
}

/// A moment at which a chord still holds, drawn from its halves of a beat; none if it has
/// but one.
fn moment(lasts: Ticks, draw: &mut u64) -> Option<Ticks> {
    let halves = (lasts.0 - 1) / 480;
    if halves == 0 {
        return None;
    }
    *draw = draw.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
    Some(Ticks((1 + (*draw >> 33) as i64 % halves) * 480) + LATE)
}

/// The `header`, when the change is due, which of the spans that is, how many there are,
/// and how long ago the chord was heard; the spans; the features.
fn write_record(
    header: &[i64],
    [due, ago]: [i64; 2],
    history: &History,
    asked: Ticks,
    room: &mut Features,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let spans = time_features::spans(history);
    let off = |span: &Ticks| (span.0 - due).abs();
    let label = spans
        .iter()
        .enumerate()
        .min_by_key(|(_, span)| off(span))
        .filter(|(index, span)| off(span) <= CLOSE.0 && *index < SPANS)
        .map_or(-1, |(index, _)| index as i64);
    room.begin(history);
    while room.look_on(history, asked) {}
    room.fill(history, asked);
    let count = spans.len().min(SPANS);
    while room.look_on_for_times(history, &spans) {}
    room.fill_times(history, &spans);
    let times = [due, label, count as i64, ago];
    let head = header.iter().chain(&times);
    let mut record: Vec<i16> = head.map(|v| (*v).clamp(-1, 32767) as i16).collect();
    record.extend((0..SPANS).map(|d| spans.get(d).map_or(0, |s| s.0.min(32767) as i16)));
    let fixed = |v: &f32| (v * 2048.0).round().clamp(-32768.0, 32767.0) as i16;
    record.extend(room.moment.iter().map(fixed));
    for root in 0..12 {
        record.extend(room.roots.iter().map(|column| fixed(&column[root])));
    }
    for d in 0..SPANS {
        let blank = d >= count;
        record.extend(room.times.iter().map(|v| if blank { 0 } else { fixed(&v[d]) }));
    }
    let bytes: Vec<u8> = record.iter().flat_map(|v| v.to_le_bytes()).collect();
    out.write_all(&bytes)
}
