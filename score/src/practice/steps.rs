//! Keys around the circle of fifths.

use sinistra_core::key::Key;
use sinistra_core::pitch::Semitones;

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
}
