//! A right hand in, a left hand out: `cargo run -p sinistra-score --example quick_start`.

use sinistra_core::engine::{Block, Engine, Message, Output, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;
use sinistra_score::find_pattern;

/// Takes every note that the left hand strikes, and shows it.
struct Printer;

impl Output for Printer {
    fn send(&mut self, timed: Timed) -> bool {
        println!("  frame {:3}: {:?}", timed.frame, timed.message);
        true
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let pattern = find_pattern("fifths").ok_or("no such pattern")?.compile()?;
    let mut engine = Engine::new(Settings::default(), pattern);
    let (frames, rate, tempo, metre) = (480, 48_000.0, 120.0, Metre::COMMON);
    // Two seconds at 120 quarter notes a minute, in blocks of ten milliseconds: a
    // C major chord at the start, A minor after two quarter notes.
    for n in 0..200 {
        let keys = |down: bool, keys: [u8; 3]| {
            keys.into_iter().filter_map(KeyNumber::new).map(move |key| Timed {
                frame: 0,
                message: if down {
                    Message::On { channel: 0, key, velocity: 90 }
                } else {
                    Message::off(0, key)
                },
            })
        };
        let events: Vec<Timed> = match n {
            0 => keys(true, [60, 64, 67]).collect(),
            100 => keys(false, [60, 64, 67]).chain(keys(true, [60, 64, 69])).collect(),
            _ => Vec::new(),
        };
        let beat = f64::from(n) * f64::from(frames) / rate * tempo / 60.0;
        let bar = (beat / 4.0).floor() * 4.0;
        let transport = Transport { playing: true, beat, tempo, metre, bar };
        println!("block {n}, at quarter note {beat:.2}");
        engine.process(&Block { frames, rate, transport, events: &events }, &mut Printer);
    }
    Ok(())
}
