//! Sound to hear, in a file or through the speakers.

mod device;
pub mod hostile;
mod soundfont;
mod speakers;
mod timbre;
mod wav;

pub use sinistra_sound::{Cue, Instrument, Piano, Player};
pub use soundfont::SoundFontPlayer;
pub use speakers::{Feed, Speakers, go_live, play_aloud};
pub use timbre::Timbre;
pub use wav::write_wav;

#[cfg(all(test, debug_assertions))]
mod alloc {
    //! Any allocation inside `assert_no_alloc` fails the test (in release
    //! builds it lets everything pass).
    #[global_allocator]
    static ALLOCATOR: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
}
