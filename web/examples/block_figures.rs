//! What the page's audio world costs without a browser, for the table that
//! `tests/page/figures.mjs` prints: each block of a minute and a half by its best of
//! four, as there.
//!
//!     cargo run --release -p sinistra-web --example block_figures -- target/web/piano

use std::path::Path;
use std::time::Instant;

use sinistra_sound::Recording;
use sinistra_web::live::Live;

/// Frames of a block, and blocks of a run.
const FRAMES: u32 = 128;
const BLOCKS: u32 = 30_000;
/// Blocks before the first that counts.
const WARM: u32 = 4000;

/// The piano of a built page.
fn recordings(folder: &Path) -> Vec<&'static Recording> {
    let decode = |key| {
        let file = std::fs::read(folder.join(format!("{key}.ogg"))).ok()?;
        Some(&*Box::leak(Box::new(sinistra_sound::decode(key, &file)?)))
    };
    (0..128).filter_map(decode).collect()
}

fn main() {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "target/web/piano".into());
    let recordings = recordings(Path::new(&folder));
    let mut times = vec![f64::INFINITY; (BLOCKS - WARM) as usize];
    for _ in 0..4 {
        let mut live = Live::new(48_000);
        recordings.iter().for_each(|recording| live.learn(recording));
        live.midi(0, [0xB0, 64, 127]);
        for n in 0..BLOCKS {
            for key in 0..4 {
                let key_number = |step: u32| (60 + (step + key * 4) % 36) as u8;
                if n % 60 == 0 {
                    live.midi(key, [0x90, key_number(n / 60), 80]);
                } else if n % 60 == 50 {
                    live.midi(key, [0x80, key_number((n - 50) / 60), 64]);
                }
            }
            let from = Instant::now();
            live.process(FRAMES);
            let part = from.elapsed().as_secs_f64() / (f64::from(FRAMES) / 48_000.0) * 100.0;
            if let Some(time) = n.checked_sub(WARM).and_then(|n| times.get_mut(n as usize)) {
                *time = time.min(part);
            }
        }
    }
    times.sort_by(f64::total_cmp);
    let at = |part: f64| times[((times.len() as f64 * part) as usize).min(times.len() - 1)];
    println!("median {:.1} %, 99.9 % {:.1} %", at(0.5), at(0.999));
}
