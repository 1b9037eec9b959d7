//! Who plays, as the thread that carries the notes sees it.

use arrayvec::ArrayVec;

use super::midi::Short;
use super::period::{Bridge, Time};
use super::stage::DueMessage;
use super::zones::{MOST as ZONES, ZoneHand};

/// Who plays: the stage, or the practice room. Real-time safe.
pub trait Plays: Send {
    /// A whole message came from `input` at `at` seconds. Whether it goes
    /// through.
    fn hear(&mut self, input: usize, at: f64, message: &[u8]) -> bool;
    /// The keyboard at `input` is gone: each end of what was down goes to
    /// `send`, with the zone that it is for.
    fn lost(&mut self, input: usize, at: f64, send: &mut dyn FnMut(Option<usize>, Short));
    /// What the zones of a hand make of a message, and which; `None` where there are
    /// none: it goes everywhere as it is.
    fn zoned(&self, _: Option<ZoneHand>, _: &[u8]) -> Option<ArrayVec<(usize, Short), ZONES>> {
        None
    }
    /// Whether the zones changed, once: then what sounds must end.
    fn rezoned(&mut self) -> bool {
        false
    }
    /// A keyboard to be taken for lost.
    fn is_lost(&mut self, now: f64) -> Option<usize>;
    /// `message` is sent at `now`.
    fn sends(&mut self, now: f64, message: Short);
    /// Plays a block. `true` if it failed: what it sounded must end.
    fn play(&mut self, time: Time) -> bool;
    /// What is to be sent in the block, in order.
    fn due(&self) -> &[DueMessage];
    /// Whether there is something to do.
    fn is_busy(&self) -> bool;
    /// It goes to sleep.
    fn rests(&mut self, now: f64);
}

impl Plays for Bridge {
    fn hear(&mut self, input: usize, at: f64, message: &[u8]) -> bool {
        Bridge::hear(self, input, at, 0, message)
    }
    fn lost(&mut self, input: usize, at: f64, send: &mut dyn FnMut(Option<usize>, Short)) {
        Bridge::lost(self, input, at, send);
    }
    fn zoned(
        &self,
        part: Option<ZoneHand>,
        message: &[u8],
    ) -> Option<ArrayVec<(usize, Short), ZONES>> {
        Bridge::zoned(self, part, message)
    }
    fn rezoned(&mut self) -> bool {
        Bridge::rezoned(self)
    }
    fn is_lost(&mut self, now: f64) -> Option<usize> {
        Bridge::is_lost(self, now)
    }
    fn sends(&mut self, now: f64, message: Short) {
        Bridge::sends(self, now, message);
    }
    fn play(&mut self, time: Time) -> bool {
        Bridge::play(self, time)
    }
    fn due(&self) -> &[DueMessage] {
        Bridge::due(self)
    }
    fn is_busy(&self) -> bool {
        Bridge::is_busy(self)
    }
    fn rests(&mut self, now: f64) {
        self.look(now);
    }
}
