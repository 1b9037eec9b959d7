//! The rack of patterns: all presets ready to be played, and the player's own.

use sinistra_core::engine::Engine;
use sinistra_core::play::Pattern;

use super::mailbox::Receiver;

/// Patterns by their fixed number; 0 is the player's own.
pub struct Rack {
    /// Empty where there is no pattern, and where the engine has it.
    places: Vec<Option<Box<Pattern>>>,
    /// The number of the one that the engine has.
    playing: usize,
    own: Receiver<Option<Box<Pattern>>>,
}

impl Rack {
    /// Presets in the order of their numbers, from 1; the engine starts with
    /// the first, given back here. Allocates.
    pub fn new(
        presets: Vec<Option<Box<Pattern>>>,
        own: Receiver<Option<Box<Pattern>>>,
    ) -> (Self, Box<Pattern>) {
        let mut places = vec![None];
        places.extend(presets);
        let first = places.get_mut(1).and_then(Option::take).unwrap_or_else(Pattern::default_boxed);
        (Self { places, playing: 1, own }, first)
    }

    /// Takes in the player's own pattern and puts number `wanted` into the
    /// engine, if there is one; else what plays goes on. Real-time safe.
    pub fn turn_to(&mut self, wanted: usize, engine: &mut Engine) {
        let (places, playing) = (&mut self.places, self.playing);
        self.own.fetch(|new| match (places.first_mut(), new) {
            (_, Some(new)) if playing == 0 => Some(engine.swap_pattern(new)),
            (Some(place), new) if playing != 0 => std::mem::replace(place, new),
            (_, new) => new,
        });
        if wanted == self.playing {
            return;
        }
        if let Some(pattern) = self.places.get_mut(wanted).and_then(Option::take) {
            let before = engine.swap_pattern(pattern);
            if let Some(place) = self.places.get_mut(self.playing) {
                *place = Some(before);
            }
            self.playing = wanted;
        }
    }
}
