//! Nothing under `Engine::process` allocates: this binary's allocator aborts
//! the test if something does.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use sinistra_core::engine::{Block, Engine, Settings, Transport};
use sinistra_core::play::Pattern;
use sinistra_core::time::Metre;
use sinistra_tests::Counter;
use sinistra_tests::crowd::Crowd;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn playing_a_crowded_song_allocates_nothing() {
    crowded(Pattern::default_boxed());
    crowded(sinistra_tests::pattern(Some("free-hand")));
}

fn crowded(pattern: Box<Pattern>) {
    let mut engine = Engine::new(Settings::default(), pattern);
    let mut out = Counter::default();
    let mut crowd = Crowd::new(7);
    let (frames, rate, tempo) = (64, 48_000.0, 140.0);
    let mut beat = 0.0;
    for n in 0..60_000 {
        let events = crowd.block(frames);
        // A loop jump now and then, a stop now and then.
        if n % 9_000 == 8_999 {
            beat = 0.0;
        }
        let playing = n % 20_000 > 100;
        let transport = Transport { playing, ..Transport::moving(beat, tempo, Metre::COMMON) };
        let block = Block { frames, rate, transport, events: &events };
        assert_no_alloc(|| engine.process(&block, &mut out));
        beat += f64::from(frames) * tempo / (60.0 * rate);
    }
    assert!(out.0 > 100, "the left hand played {} events", out.0);
}
