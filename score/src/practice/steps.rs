//! The teaching order: which pattern comes next, and what it adds; keys
//! around the circle of fifths.

use crate::pattern::PatternPreset;
use crate::pattern_presets;
use sinistra_core::key::Key;
use sinistra_core::pitch::Semitones;

/// A pattern of the teaching order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TeachingStep {
    /// Its name on the command line.
    pub slug: String,
    /// Its name for people.
    pub name: String,
    /// What it adds.
    pub about: String,
}

/// The shipped patterns, from the first lesson on.
pub fn teaching_order() -> Vec<TeachingStep> {
    let step = |preset: &PatternPreset| {
        let file = preset.read().ok()?;
        Some(TeachingStep { slug: preset.slug.to_string(), name: file.name, about: file.about })
    };
    pattern_presets().iter().filter_map(step).collect()
}

/// The step after the pattern of this name.
pub fn after(name: &str) -> Option<TeachingStep> {
    let order = teaching_order();
    let here = order.iter().position(|step| step.name == name)?;
    order.get(here + 1).cloned()
}

/// A fifth up: the next key around the circle.
pub fn next_key(key: Key) -> Key {
    Key { tonic: key.tonic.transpose(Semitones(7)), mode: key.mode }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_circle_of_fifths_comes_home_after_twelve() {
        let mut key = Key::C_MAJOR;
        let keys: std::collections::HashSet<_> = (0..12)
            .map(|_| {
                key = next_key(key);
                key
            })
            .collect();
        assert_eq!((keys.len(), key), (12, Key::C_MAJOR));
    }

    #[test]
    fn every_step_says_what_it_adds() {
        let order = teaching_order();
        assert!(order.len() >= 10);
        assert!(order.iter().all(|step| !step.about.is_empty()));
        assert_eq!(after(&order[0].name).as_ref(), order.get(1));
        assert_eq!(after(&order[order.len() - 1].name), None);
    }
}
