//! The chances of `core/src/beat/quarters.rs`, counted on people.

use sinistra_core::pitch::PitchSet;
use sinistra_score::midi_file::Playing;

/// A pitch class is new if it was not struck in so many quarters of a beat.
const FRESH: i64 = 6;

/// Counts by the quarter of a beat, from one of each.
pub struct Chances {
    /// Of the sixteenths of a beat in which the pedal comes up, goes down.
    pedal: [[f64; 16]; 2],
    /// Of the quarters from a stroke on it to the next.
    gaps: [[f64; 16]; 4],
    /// Of the keys of a stroke.
    keys: [[f64; 4]; 4],
    /// Of its pitch classes that are new.
    fresh: [[f64; 3]; 4],
}

impl Default for Chances {
    fn default() -> Self {
        let pedal = [[1.0; 16]; 2];
        Self { pedal, gaps: [[1.0; 16]; 4], keys: [[1.0; 4]; 4], fresh: [[1.0; 3]; 4] }
    }
}

impl Chances {
    /// Counts a song, whose beats are `truth`; long songs count less a stroke.
    pub fn count(&mut self, Playing { strokes, pedal }: &Playing, truth: &[f64]) {
        for (at, down) in pedal {
            let Some(at) = beats(truth, *at) else { continue };
            let part = (16.0 * (at - at.floor())) as usize % 16;
            self.pedal[usize::from(*down)][part] += 20.0 / (pedal.len() as f64).sqrt();
        }
        let weight = 20.0 / (strokes.len() as f64).sqrt();
        let mut struck: Vec<(i64, PitchSet)> = Vec::new();
        for stroke in strokes {
            let Some(at) = quarters(truth, stroke.at) else { continue };
            let Some((last, _)) = struck.last().copied() else {
                struck.push((at, stroke.classes));
                continue;
            };
            if at <= last {
                continue;
            }
            let recent = struck.iter().rev().take_while(|(then, _)| at - then <= FRESH);
            let recent = recent.fold(PitchSet::EMPTY, |all, (_, classes)| all.or(*classes));
            let fresh = stroke.classes.minus(recent).len().min(2) as usize;
            let (from, to) = (last.rem_euclid(4) as usize, at.rem_euclid(4) as usize);
            self.gaps[from][(at - last).min(16) as usize - 1] += weight;
            self.keys[to][usize::from(stroke.keys.clamp(1, 4)) - 1] += weight;
            self.fresh[to][fresh] += weight;
            struck.push((at, stroke.classes));
        }
    }

    /// Prints them, in nats.
    pub fn print(&self) {
        println!("{}", table("PEDAL", &self.pedal));
        println!("{}", table("GAPS", &self.gaps));
        println!("{}", table("KEYS", &self.keys));
        println!("{}", table("FRESH", &self.fresh));
    }
}

fn table<const N: usize, const ROWS: usize>(name: &str, counts: &[[f64; N]; ROWS]) -> String {
    let rows = counts.iter().map(|row| {
        let all: f64 = row.iter().sum();
        let nats: Vec<String> = row.iter().map(|n| format!("{:.2}", (n / all).ln())).collect();
        format!("    [{}],\n", nats.join(", "))
    });
    format!("const {name}: [[f64; {N}]; {ROWS}] = [\n{}];", rows.collect::<String>())
}

/// The quarter of a beat nearest to a second; `None` outside the song.
fn quarters(truth: &[f64], at: f64) -> Option<i64> {
    Some((4.0 * beats(truth, at)?).round() as i64)
}

/// A second in beats; `None` outside the song.
fn beats(truth: &[f64], at: f64) -> Option<f64> {
    let after = truth.partition_point(|beat| *beat <= at);
    let [from, to] = [*truth.get(after.checked_sub(1)?)?, *truth.get(after)?];
    Some(after as f64 - 1.0 + (at - from) / (to - from))
}
