//! Measures the foresight on songs that its tables have not seen.
//!
//! `foresight_figures chord-sequences.jsonl FOLDS` where FOLDS is the folder
//! that `tools/foresight/train.py DATA --folds FOLDS` wrote (unpack the songs
//! with `gunzip -k` first), or `foresight_figures chord-sequences.jsonl` for
//! the shipped tables, which have seen all songs. Everything goes through
//! `Foresight` as the engine uses it: a chord is told, then a forecast asked.

#[path = "support/model.rs"]
mod model;
#[path = "support/tally.rs"]
mod tally;

use std::collections::HashMap;

use serde::Deserialize;
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::foresee::Foresight;
use sinistra_core::foresee::model::ForesightModel;
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::{Metre, Place, Ticks};
use tally::ForecastTally;

/// Onset, length to the next onset, root, triad, quality, bass, gap after it.
type Entry = (f64, f64, i32, String, String, i32, u8);

#[derive(Deserialize)]
struct SongLine {
    song: String,
    chords: Vec<Entry>,
}

struct RootStretch {
    at: f64,
    root: i32,
    kind: Kind,
    gap: bool,
}

fn kind(triad: &str) -> Kind {
    match triad {
        "min" => Kind::Minor,
        "dim" => Kind::Diminished,
        "aug" => Kind::Augmented,
        "sus2" => Kind::SuspendedSecond,
        "sus4" => Kind::SuspendedFourth,
        "5" => Kind::Power,
        _ => Kind::Major,
    }
}

fn stretches(song: &SongLine) -> Vec<RootStretch> {
    let mut stretches: Vec<RootStretch> = Vec::new();
    for (at, _, root, triad, _, _, gap) in &song.chords {
        match stretches.last_mut() {
            Some(last) if last.root == *root => last.gap |= *gap == 1,
            _ => stretches.push(RootStretch {
                at: *at,
                root: *root,
                kind: kind(triad),
                gap: *gap == 1,
            }),
        }
    }
    stretches
}

/// What hearing does to the names.
#[derive(Clone, Copy)]
struct Noise {
    percent: u64,
    /// A chord type is always misnamed, or never.
    always: bool,
}

/// Roots said for true ones (said − true), about as plain hearing errs.
const CONFUSED: [i32; 16] = [9, 9, 9, 4, 4, 4, 5, 5, 5, 7, 7, 7, 3, 8, 2, 10];

fn misheard(song: &[RootStretch], noise: Noise, seed: u64) -> Vec<i32> {
    let mut dice = seed;
    // A linear congruential generator (Knuth's MMIX constants).
    let mut below = |n: u64| {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (dice >> 33) % n
    };
    let mut types: HashMap<(i32, Kind), i32> = HashMap::new();
    let mut wrong = || {
        let is = below(100) < noise.percent;
        let by = CONFUSED[below(16) as usize];
        if is { by } else { 0 }
    };
    song.iter()
        .map(|stretch| {
            let by = if noise.always {
                *types.entry((stretch.root, stretch.kind)).or_insert_with(&mut wrong)
            } else {
                wrong()
            };
            (stretch.root + by) % 12
        })
        .collect()
}

fn measure(
    song: &[RootStretch],
    heard: &[i32],
    model: &'static ForesightModel,
    tally: &mut ForecastTally,
) {
    let mut foresight = Foresight::with_model(model);
    let start = Place::first(Metre::COMMON);
    for (i, pair) in song.windows(2).enumerate() {
        let [now, next] = pair else { continue };
        let at = Ticks::nearest(now.at);
        let chord = Chord::new(PitchClass::new(heard[i]), now.kind);
        foresight.chord_started(at, chord, start.of(at));
        let Some(said) = foresight.forecast(at, start.of(at), None, None, false) else { continue };
        let when = if now.gap { None } else { Some(next.at - now.at) };
        tally.add(i, &said, foresight.odds(), next.root as usize, when, (said.at - at).beats());
        if said.chord.root.index() == next.root as usize {
            let third = |kind| Chord::new(said.chord.root, kind).third();
            tally.add_third(said.chord.third() == third(next.kind));
        }
        if now.gap {
            foresight.chord_ended(at + Ticks(480));
        }
        // Asked again just before the change: nothing has come till then.
        let late = Ticks::nearest(next.at) + Ticks(-1);
        if let Some(again) = foresight.forecast(late, start.of(late), None, None, false) {
            tally.add_late(again.chord.root.index() == next.root as usize);
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let Some(data) = arguments.next() else {
        return Err("usage: foresight_figures chord-sequences.jsonl [FOLDS]".into());
    };
    let folder = arguments.next();
    let mut models: Vec<&'static ForesightModel> = Vec::new();
    let mut fold_of: HashMap<String, usize> = HashMap::new();
    if let Some(folder) = &folder {
        fold_of = serde_json::from_str(&std::fs::read_to_string(format!("{folder}/folds.json"))?)?;
        for fold in 0..5 {
            models.push(model::read(&format!("{folder}/fold{fold}.json"))?);
        }
    } else {
        models.push(&sinistra_core::foresee::MODEL);
        println!("shipped tables: they have seen these songs");
    }
    let text = std::fs::read_to_string(&data)?;
    let songs: Vec<SongLine> = text.lines().map(serde_json::from_str).collect::<Result<_, _>>()?;
    let clean = Noise { percent: 0, always: false };
    for (name, noise) in [
        ("chords as labelled", clean),
        ("5 % misnamed at random", Noise { percent: 5, ..clean }),
        ("15 % misnamed at random", Noise { percent: 15, ..clean }),
        ("15 % of chord types always misnamed", Noise { percent: 15, always: true }),
    ] {
        let mut tally = ForecastTally::default();
        for (number, song) in songs.iter().enumerate() {
            let model = models[fold_of.get(&song.song).copied().unwrap_or(0) % models.len()];
            let stretches = stretches(song);
            let heard = misheard(&stretches, noise, number as u64 + 1);
            measure(&stretches, &heard, model, &mut tally);
        }
        println!("\n{name}\n{tally}");
    }
    Ok(())
}
