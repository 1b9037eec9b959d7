//! Room: whether a root leaves its pattern's other notes a place around it.

use super::reach::PlayableKeys;
use super::{Pattern, Wish, limits, tones};
use crate::chord::Chord;
use crate::pitch::KeyNumber;

/// What it costs a root, in semitones of leap, that the pattern's other notes
/// find no room around it. By ear: octaves are what their patterns are about,
/// a third has its stand-ins.
pub fn cramped(key: KeyNumber, pattern: &Pattern, chord: Chord, keyboard: PlayableKeys) -> f32 {
    let fits = |by: i32| keyboard.moved(key, by);
    let octaves = !has_octaves(key, pattern, keyboard);
    let third =
        tones::tone(chord, Wish::Third).map(|(class, _)| i32::from(class.above(key.class())));
    let thirds = third.filter(|_| pattern.has_thirds).is_some_and(|above| {
        let close = fits(above).is_some_and(|third| !limits::growls(key, third));
        // A tenth is at hand where the pattern goes up the octave anyway.
        let tenth = pattern.goes_up && fits(above + 12).is_some();
        !close && !tenth
    });
    let low = pattern.height > 0 && fits(pattern.height).is_none();
    (if octaves { 24.0 } else { 0.0 })
        + (if thirds { 10.0 } else { 0.0 })
        + (if low { 24.0 } else { 0.0 })
}

/// Whether the octaves that the pattern asks for find room around a root.
fn has_octaves(key: KeyNumber, pattern: &Pattern, keyboard: PlayableKeys) -> bool {
    let fits = |by: i32| keyboard.moved(key, by).is_some();
    (!pattern.goes_up || fits(12)) && (!pattern.goes_down || fits(-12))
}

/// An octave from a root that a leap has left without room for the pattern's octaves,
/// if there is room there: where it is struck again.
pub fn again(home: KeyNumber, pattern: &Pattern, keyboard: PlayableKeys) -> Option<KeyNumber> {
    let mut others = [-12, 12].into_iter().filter_map(|by| keyboard.moved(home, by));
    let fits = |key: &KeyNumber| has_octaves(*key, pattern, keyboard);
    if fits(&home) { None } else { others.find(fits) }
}
