//! Figures of the page: every pattern over every chart that ships, and the same charts
//! in other keys, sparing to busy: leaps, moves of the hand, systems and pages.
//!
//! ```text
//! cargo run --release -p sinistra-tests --example page_figures
//! ```

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::Key;
use sinistra_core::pitch::Semitones;
use sinistra_score::Performance;
use sinistra_score::chart::ChartPreset;
use sinistra_score::pattern_presets;
use sinistra_score::performance::{USUAL_TEMPO, leaps};
use sinistra_score::practice::Exercise;
use sinistra_score::sheet::engrave::{Layout, pages};

fn main() {
    let (mut sheets, mut leaps_in_all, mut bars, mut paper) = (0, 0, 0, 0);
    let mut worst: Vec<(usize, String)> = Vec::new();
    for preset in ChartPreset::all() {
        let chart = preset.chart().expect("ships");
        let up = |key: Key, by| Key { tonic: key.tonic.transpose(Semitones(by)), ..key };
        let key = chart.written_key().key();
        // As written, and a tritone away.
        for by in [0, 6] {
            let Some(chart) = chart.transpose(up(key, by)) else { continue };
            // The thirteen that teach; those of the library have leaps for a purpose.
            for pattern in pattern_presets().iter().take(13) {
                for busy in [0, 25, 50, 75, 100] {
                    let settings = Settings {
                        busy,
                        key: KeyChoice::Fixed(chart.written_key().key()),
                        swing: f32::from(chart.draft().swing.unwrap_or(50)) / 100.0,
                        ..Settings::default()
                    };
                    let song = chart.unfold();
                    let tempo = song.tempo.unwrap_or(USUAL_TEMPO);
                    let hand = pattern.compile().expect("ships");
                    let name = hand.name.clone();
                    let played = Performance::of(song, tempo, hand, settings);
                    let wide = leaps(&played.left, &played.timeline).len();
                    let sheet = Exercise::of(&chart, &played, &name, "").sheet();
                    sheets += 1;
                    leaps_in_all += wide;
                    bars += sheet.bars.len();
                    paper += pages(&sheet, &Layout::ALL).len();
                    if wide > 0 {
                        worst.push((
                            wide,
                            format!("{} + {by}, {}, busy {busy}", preset.slug, pattern.slug),
                        ));
                    }
                }
            }
        }
    }
    worst.sort();
    worst.iter().rev().take(12).for_each(|(count, what)| println!("{count:4} leaps: {what}"));
    println!("{sheets} sheets, {bars} bars on {paper} pages");
    println!(
        "{leaps_in_all} leaps over a tenth in less than half a second, none of them avoidable by an octave"
    );
}
