//! The verdict on recorded people: left hands of POP909 (Wang et al., ISMIR 2020) in
//! their own timing, shifted onto the score that their marked beats make of them.
//! Nobody is told "late" who was not, beyond the spread of that hand. The data is open
//! and not in this repository; where it is not there, this says so.
//!
//!     SINISTRA_POP909=FOLDER cargo test -p sinistra-tests --test practice people -- --nocapture

use std::fs;
use std::path::{Path, PathBuf};

use sinistra_core::key::Key;
use sinistra_core::midi::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::MidiFile;
use sinistra_score::midi_file::HandTrack;
use sinistra_score::practice::{
    Count, Hand, Outcome, Take, TakeReference, TakeStroke, Target, TargetNote, judge,
};

/// As many takes, of at most so many beats.
const TAKES: usize = 40;
const BEATS: f64 = 64.0;
/// A stroke further than this from a sixteenth, in sixteenths, is of another rhythm.
const OTHER: f64 = 0.4;

/// A left hand: its strokes, and what each is in the score with how late it is by the
/// marked beats.
struct Recorded {
    name: String,
    target: Target,
    take: Take,
    late_ms: Vec<f64>,
    spread_ms: f64,
}

#[test]
fn people_are_told_late_only_where_they_were() {
    let Some(folder) = std::env::var_os("SINISTRA_POP909").map(PathBuf::from) else {
        eprintln!("NOT RUN: recorded people; SINISTRA_POP909 names no folder of POP909");
        return;
    };
    let mut all: Vec<Recorded> = names(&folder).iter().filter_map(|n| read(&folder, n)).collect();
    let human = all.iter().filter(|take| take.spread_ms >= 5.0).count();
    println!("{} left hands, {human} with a spread of 5 ms and more around their beats", all.len());
    all.sort_by(|a, b| b.spread_ms.total_cmp(&a.spread_ms));
    all.truncate(TAKES);
    let (mut notes, mut said, mut wrongly, mut keys) = (0, 0, 0, 0);
    let mut by_ten = 0;
    for recorded in &all {
        for own in [false, true] {
            let steady = TakeReference::Metronome { start_ms: 0.0, tempo: recorded.target.tempo };
            let reference = if own { TakeReference::Own } else { steady };
            let verdict = judge(&recorded.target, &recorded.take, reference).expect("it is there");
            let allowed = verdict.tolerance.note_ms;
            let spread = if own { 2.0 * recorded.spread_ms + 2.0 } else { 0.1 };
            let late = |n: &usize| verdict.notes[*n].outcome == Outcome::Late;
            let lates: Vec<usize> = (0..verdict.notes.len()).filter(late).collect();
            let wrong = |n: &&usize| recorded.late_ms[**n] < allowed - spread;
            let wrong: Vec<_> = lates.iter().filter(wrong).collect();
            for n in &wrong {
                println!(
                    "{} {own}: {:?} is {:.0} ms late by its beats, {:?} by ours (allowed {allowed:.0}, spread {:.0})",
                    recorded.name,
                    recorded.target.notes()[**n].at,
                    recorded.late_ms[**n],
                    verdict.notes[**n].late_ms,
                    recorded.spread_ms
                );
            }
            by_ten += lates.iter().filter(|n| recorded.late_ms[**n] < allowed - 10.0).count();
            (notes, said) = (notes + verdict.notes.len(), said + lates.len());
            wrongly += wrong.len();
            keys += verdict.keys_right();
        }
    }
    println!(
        "{} takes, twice: {notes} notes, {keys} keys right, {said} said late, of them {wrongly} \
         beyond twice the hand's spread and {by_ten} by 10 ms and more otherwise than by its beats",
        all.len()
    );
    assert_eq!(all.len(), TAKES);
    assert!(keys * 100 >= notes * 99, "{keys} of {notes} keys are found");
    assert_eq!(wrongly, 0);
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("the folder of the songs");
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| folder.join(name).join("beat_midi.txt").is_file())
        .collect();
    names.sort();
    names
}

/// Nothing where there are too few notes to judge.
fn read(folder: &Path, name: &str) -> Option<Recorded> {
    let folder = folder.join(name);
    let beats = fs::read_to_string(folder.join("beat_midi.txt")).expect("beats");
    let beats: Vec<f64> =
        beats.lines().filter_map(|line| line.split_whitespace().next()?.parse().ok()).collect();
    let strokes = strokes(&folder.join(format!("{name}.mid")));
    let mut gaps: Vec<f64> = beats.windows(2).map(|pair| pair[1] - pair[0]).collect();
    gaps.sort_by(f64::total_cmp);
    let beat_ms = gaps.get(gaps.len() / 2)? * 1000.0;
    let beat_of = |at: f64| {
        let n = beats.partition_point(|beat| *beat <= at).checked_sub(1)?;
        let (from, to) = (beats.get(n)?, beats.get(n + 1)?);
        Some(n as f64 + (at - from) / (to - from))
    };
    let from = strokes.iter().find_map(|stroke| beat_of(stroke.0))?.floor();
    let mut found: Vec<(TargetNote, f64, f64)> = Vec::new();
    for (at, until, key, velocity) in strokes {
        let (Some(at), Some(until)) = (beat_of(at), beat_of(until)) else { continue };
        let (at, until) = (at - from, until - from);
        let place = (at * 4.0).round() / 4.0;
        let off = at - place;
        let tick = Ticks::nearest(place);
        let again = found.iter().rev().take(8).any(|(note, ..)| (note.at, note.key) == (tick, key));
        if !(0.0..BEATS).contains(&at) || off.abs() * 4.0 > OTHER || again {
            continue;
        }
        let bar = Metre::COMMON.bar().0;
        let note = TargetNote {
            at: tick,
            until: Ticks::nearest(until).max(tick + Ticks(120)),
            key,
            velocity,
            hand: Hand::Left,
            role: None,
            symbol: None,
            bar: tick.0.div_euclid(bar) + 1,
            pass: 1,
            count: Count::of(Metre::COMMON, Ticks(tick.0.rem_euclid(bar))),
            on_pulse: tick.0 % Ticks::PER_BEAT == 0,
        };
        found.push((note, off * beat_ms, (until - at).max(0.05) * beat_ms));
    }
    // In the order of the score.
    found.sort_by_key(|(note, ..)| (note.at, note.key));
    let late_ms: Vec<f64> = found.iter().map(|(_, late, _)| *late).collect();
    let strokes = found.iter().map(|(note, late, length)| {
        let at_ms = note.at.beats() * beat_ms + late;
        TakeStroke { at_ms, until_ms: at_ms + length, key: note.key, velocity: note.velocity }
    });
    let take = Take::new(strokes.collect());
    let notes: Vec<TargetNote> = found.iter().map(|(note, ..)| *note).collect();
    let target = Target::new(notes, Key::C_MAJOR, 60_000.0 / beat_ms, Metre::COMMON);
    let squares: f64 = late_ms.iter().map(|late| late * late).sum();
    let spread_ms = (squares / late_ms.len().max(1) as f64).sqrt();
    let name = name.to_owned();
    (late_ms.len() >= 60).then_some(Recorded { name, target, take, late_ms, spread_ms })
}

/// From when until when, seconds, key and velocity, below middle C.
fn strokes(path: &Path) -> Vec<(f64, f64, KeyNumber, u8)> {
    let bytes = fs::read(path).expect("a MIDI file");
    let file = MidiFile::read("song", &bytes).expect("a sound MIDI file");
    let track = file.tracks().iter().position(|track| track.name.as_deref() == Some("PIANO"));
    let part =
        HandTrack { track: Some(track.expect("a track PIANO")), channel: None, drums: false };
    let mut all: Vec<(f64, f64, KeyNumber, u8)> = Vec::new();
    for (at, message) in file.messages(&part) {
        let at = file.timeline().seconds(at);
        match message {
            Message::On { key, velocity, .. } if key < KeyNumber::MIDDLE_C => {
                all.push((at, at, key, velocity));
            }
            Message::Off { key, .. } => {
                let open = all.iter_mut().rev().find(|open| open.2 == key && open.1 == open.0);
                open.into_iter().for_each(|open| open.1 = at);
            }
            _ => {}
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}
