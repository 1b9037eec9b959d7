//! What is down on each keyboard, and whether it is still there.

use super::feedback::{Came, Feedback};
use super::midi::{ACTIVE_SENSING, KeyState, Short};

/// Keyboards at most.
pub const INPUTS: usize = 16;

/// A keyboard that promised to send something every 300 ms is gone when it
/// does not (MIDI 1.0 detailed specification, "Active sensing"). A tenth more
/// is allowed for clocks that run slow: common practice.
const SENSING_S: f64 = 0.33;

#[derive(Default)]
struct Keyboard {
    down: KeyState,
    /// When something last came, once it has promised to be heard of.
    promised: Option<f64>,
}

/// Every keyboard. Fixed size; real-time safe.
#[derive(Default)]
pub struct Keyboards {
    each: [Keyboard; INPUTS],
    feedback: Feedback,
    /// Where a ring was cut just now: what came round in it seems down.
    cut: Option<usize>,
}

impl Keyboards {
    /// A whole message came from `input` at `at` seconds.
    pub fn hear(&mut self, input: usize, at: f64, message: &[u8]) -> Came {
        let Some(from) = self.each.get_mut(input) else { return Came::Echo };
        if message.first() == Some(&ACTIVE_SENSING) {
            from.promised = Some(at);
        } else if let Some(last) = &mut from.promised {
            *last = at;
        }
        let Some(short) = Short::new(message) else { return Came::Played };
        let came = self.feedback.hear(input, at, short);
        match came {
            Came::Played => from.down.note(short),
            Came::Ring => self.cut = Some(input),
            Came::Echo => {}
        }
        came
    }

    /// The keyboard at `input` is gone: what was down on it comes up.
    pub fn lost(&mut self, input: usize, mut tell: impl FnMut(Short)) {
        let Some(from) = self.each.get_mut(input) else { return };
        from.promised = None;
        std::mem::take(&mut from.down).end_all(|end| {
            tell(end);
            true
        });
    }

    /// An input at which a ring was cut, once: it must be taken for lost.
    pub fn cut(&mut self) -> Option<usize> {
        self.cut.take()
    }

    /// The first that promised to be heard of and was not.
    pub fn fell_silent(&self, now: f64) -> Option<usize> {
        let is_late = |from: &Keyboard| from.promised.is_some_and(|last| now - last > SENSING_S);
        self.each.iter().position(is_late)
    }

    /// `message` is sent at `now`: it must not come back as if it were played.
    pub fn sends(&mut self, now: f64, message: Short) {
        self.feedback.send(now, message);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn active_sensing_is_a_promise_to_go_on() {
        // MIDI 1.0 detailed specification, "Active sensing".
        let mut keyboards = Keyboards::default();
        keyboards.hear(3, 0.0, &[0x90, 60, 1]);
        assert_eq!(keyboards.fell_silent(9.0), None, "it never promised");
        keyboards.hear(3, 9.0, &[0xFE]);
        assert_eq!(keyboards.fell_silent(9.3), None);
        assert_eq!(keyboards.fell_silent(9.4), Some(3));
        let mut ends = Vec::new();
        keyboards.lost(3, |end| ends.push(end.bytes().to_vec()));
        assert_eq!(ends, [[0x80, 60, 64]]);
        assert_eq!(keyboards.fell_silent(99.0), None);
    }
}
