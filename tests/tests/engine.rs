//! The engine on small takes: what a pianist would check first.

use sinistra_core::engine::Settings;
use sinistra_core::play::Pattern;
use sinistra_core::time::Metre;
use sinistra_tests::{RightHandTake, STUDIO, left_hand, score};

#[test]
fn roots_fall_on_the_beat_and_change_with_the_chord() {
    let chords = [(0.0, 4.0, "C4 E4 G4"), (4.0, 6.0, "C4 F4 A4"), (6.0, 8.0, "B4 D4 G4")];
    let take = RightHandTake::of_chords(Metre::COMMON, 120.0, &chords);
    let notes = left_hand(&take, Settings::default(), Pattern::default_boxed());
    let line: Vec<_> = notes
        .iter()
        .map(|n| "C.D.EF.G.A.B".as_bytes()[n.played.key.class().index()] as char)
        .collect();
    assert_eq!(
        line.iter().collect::<String>(),
        "CCCCFFGG",
        "{}",
        score(&notes, &take.timeline, 2, STUDIO.rate)
    );
    // On the grid to the sample: a beat is 24,000 samples.
    assert!(notes.iter().all(|note| note.on % 24_000 == 0), "{notes:?}");
}
