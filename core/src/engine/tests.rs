use super::*;
use crate::pitch::KeyNumber;
use crate::time::Metre;

/// Nobody listens.
struct Silence;

impl Output for Silence {
    fn send(&mut self, _: Timed) -> bool {
        true
    }
}

fn block(beat: f64, events: &[Timed]) -> Block<'_> {
    let transport = Transport::moving(beat, 120.0, Metre::COMMON);
    Block { frames: 64, rate: 48_000.0, transport, events }
}

#[test]
fn after_a_jump_nothing_is_due_that_lies_before_it() {
    let mut engine = Engine::new(Settings::default(), Pattern::default_boxed());
    let on = |key: i32| Timed {
        frame: 0,
        message: Message::On { channel: 0, key: KeyNumber::clamped(key), velocity: 80 },
    };
    engine.process(&block(0.0, &[60, 64, 67].map(on)), &mut Silence);
    // The stroke has not settled, and what follows it is being thought about.
    assert!(engine.next_due().is_some_and(|(at, _)| at < Ticks(960)));
    for beat in [100.0, 10_000.0, 4.0] {
        engine.clock.begin(&block(beat, &[]));
        engine.land(&mut Silence);
        let (at, due) = engine.next_due().expect("a slot");
        assert!(at >= engine.clock.at(0), "{due:?} at {at:?} after a jump to {beat}");
    }
}
