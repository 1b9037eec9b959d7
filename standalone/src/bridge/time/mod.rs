//! Musical time: where the beat is, from a clock of our own, from MIDI clock
//! or from the player's hand.
//!
//! Nothing here reads a clock: every moment comes in as seconds, so that an
//! hour can be tried in a blink.

mod click;
mod clock_out;
mod onset;
mod pace;
mod tap;

pub use click::{Click, Clicks, clicks};
pub use clock_out::ClockOut;
pub use onset::Onsets;
pub use pace::{ClockSource, Pace, PaceChoice, PaceSpan, PaceStart, TEMPOS};
