//! How well the beat is followed by playing: on made players, and on people.
//!
//!     cargo run --release -p sinistra-tests --example beat_figures -- [POP909 [BEATS | --learn]]
//!
//! `POP909` is a folder with `NNN/NNN.mid` in human timing (its track PIANO; keys
//! from middle C on are taken for the right hand) and `NNN/beat_midi.txt`, beats
//! that were marked apart from it. The tempo is hinted up to 20 % wrong. Songs are
//! told apart: the tracker's sizes were searched on those whose place in the order
//! of names is even, so only the odd ones count; `--learn` prints the chances of
//! `core/src/beat/quarters.rs`, counted on the even ones. Into the folder `BEATS` the beats
//! found are written, a second a line, so that others can measure them too:
//!
//!     mir_eval.beat.evaluate(mir_eval.io.load_events("POP909/…"), …)

mod learn;
mod measures;
mod players;

use std::fs;
use std::path::{Path, PathBuf};

use sinistra_core::pitch::KeyNumber;
use sinistra_score::MidiFile;
use sinistra_score::midi_file::{HandTrack, Playing, beats};

fn main() {
    let mut folders = std::env::args().skip(1).map(PathBuf::from);
    let (songs, to) = (folders.next(), folders.next());
    let learns = to.as_deref() == Some(Path::new("--learn"));
    if !learns {
        players::table();
    }
    let Some(songs) = songs else { return };
    let mut names: Vec<String> = fs::read_dir(&songs)
        .expect("the folder of the songs")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| songs.join(name).join("beat_midi.txt").is_file())
        .collect();
    names.sort();
    if learns {
        let mut chances = learn::Chances::default();
        for name in names.iter().step_by(2) {
            let (playing, truth) = song(&songs, name);
            chances.count(&playing, &truth);
        }
        return chances.print();
    }
    let mut sums = [[0.0; 3]; 2];
    let mut counts = [0.0; 2];
    for (n, name) in names.iter().enumerate() {
        let (playing, truth) = song(&songs, name);
        let found = beats(&playing, hint(&truth, n as u64), 4);
        if let Some(folder) = &to {
            let lines: String = found.iter().map(|beat| format!("{beat:.4}\n")).collect();
            fs::create_dir_all(folder).expect("a folder for the beats");
            fs::write(folder.join(format!("{name}.txt")), lines).expect("written");
        }
        let measured = measures::all(&truth, &found);
        sums[n % 2].iter_mut().zip(measured).for_each(|(sum, value)| *sum += value);
        counts[n % 2] += 1.0;
    }
    println!("\nPeople, the right hand alone      songs      F   CMLt   AMLt");
    for (half, what) in ["on which sizes were searched", "on which nothing was searched"]
        .into_iter()
        .enumerate()
        .rev()
    {
        let [f, cmlt, amlt] = sums[half].map(|sum| sum / counts[half]);
        println!("{what:<34}{:>5} {f:>6.3} {cmlt:>6.3} {amlt:>6.3}", counts[half]);
    }
}

/// What the right hand strikes, the pedal, and the beats.
fn song(songs: &Path, name: &str) -> (Playing, Vec<f64>) {
    let folder = songs.join(name);
    let bytes = fs::read(folder.join(format!("{name}.mid"))).expect("a MIDI file");
    let file = MidiFile::read(name, &bytes).expect("a sound MIDI file");
    let piano = file.tracks().iter().position(|track| track.name.as_deref() == Some("PIANO"));
    let part =
        HandTrack { track: Some(piano.expect("a track PIANO")), channel: None, drums: false };
    let playing = file.playing(&part, KeyNumber::MIDDLE_C);
    let text = fs::read_to_string(folder.join("beat_midi.txt")).expect("beats");
    let beat = |line: &str| line.split_whitespace().next()?.parse().ok();
    let begin = playing.strokes.first().map_or(0.0, |first| first.at) - 0.3;
    let truth = text.lines().filter_map(beat).filter(|at| *at >= begin).collect();
    (playing, truth)
}

/// The song's tempo, up to 20 % wrong.
fn hint(truth: &[f64], seed: u64) -> f64 {
    let mut gaps: Vec<f64> = truth.windows(2).map(|pair| pair[1] - pair[0]).collect();
    gaps.sort_by(f64::total_cmp);
    let dice = (seed + 1).wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_041);
    let off = (dice >> 33) as f64 / f64::from(1u32 << 31) * 0.4 - 0.2;
    60.0 / gaps[gaps.len() / 2] * (1.0 + off)
}
