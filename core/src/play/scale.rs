//! The scale of the moment: the key's, bent by the chord where they disagree.

use crate::chord::Chord;
use crate::key::{Key, WrittenKey};
use crate::pitch::{Letter, PitchClass, Spelled};

/// Seven letters, each with the note it has now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scale {
    /// By letter, C first.
    notes: [Spelled; 7],
    key: Key,
}

impl Scale {
    /// The key's scale with the chord's tones in place of the notes that share
    /// their letters: E7 in C major makes G a G♯, F minor makes A an A♭.
    pub fn of(key: Key, chord: Chord) -> Self {
        let mut scale = Self { notes: Letter::ALL.map(|letter| Spelled::new(letter, 0)), key };
        WrittenKey::from(key).scale().for_each(|note| scale.put(note));
        let (root, tones) = (scale.spell(chord.root), chord.tones());
        // Colours first, so that the triad has the last word on a letter.
        for (above, steps) in CHORD_LETTERS {
            let class = chord.root.transpose(crate::pitch::Semitones(above));
            if tones.has(class) && !scale.has(class) {
                scale.bend(root.letter.step(steps), class);
            }
        }
        if !scale.has(chord.bass) {
            let bass = key.spell(chord.bass);
            scale.put(bass);
        }
        scale
    }

    /// Whether `class` is a note of it.
    pub fn has(&self, class: PitchClass) -> bool {
        self.notes.iter().any(|note| note.class() == class)
    }

    /// The note of `letter`.
    pub fn note(&self, letter: Letter) -> Spelled {
        self.notes.get(letter as usize).copied().unwrap_or(Spelled::new(letter, 0))
    }

    /// How `class` is written here: as the scale has it, else as the key would.
    pub fn spell(&self, class: PitchClass) -> Spelled {
        let own = self.notes.iter().find(|note| note.class() == class);
        own.copied().unwrap_or_else(|| self.key.spell(class))
    }

    /// The one scale note between two roots a third apart, if it makes a step
    /// (one or two semitones) to the second and lies between them.
    pub fn between(&self, from: PitchClass, to: PitchClass) -> Option<PitchClass> {
        let (start, end) = (self.spell(from), self.spell(to));
        let steps = (end.letter as i32 - start.letter as i32).rem_euclid(7);
        let (middle, third, step) = match steps {
            2 => (self.note(start.letter.step(1)), to.above(from), 1),
            5 => (self.note(start.letter.step(-1)), from.above(to), -1),
            _ => return None,
        };
        let middle = middle.class();
        let into = if step > 0 { to.above(middle) } else { middle.above(to) };
        let out_of = third.checked_sub(into)?;
        ((3..=4).contains(&third) && (1..=2).contains(&into) && out_of >= 1).then_some(middle)
    }

    fn put(&mut self, note: Spelled) {
        if let Some(place) = self.notes.get_mut(note.letter as usize) {
            *place = note;
        }
    }

    fn bend(&mut self, letter: Letter, class: PitchClass) {
        let alter = (i32::from(class.number()) - letter.semitones() + 6).rem_euclid(12) - 6;
        // A double accidental at the most; odder spellings are left alone.
        if let Ok(alter @ -2..=2) = i8::try_from(alter) {
            self.put(Spelled::new(letter, alter));
        }
    }
}

/// Semitones above the root and the letters above it by which chords spell
/// them; colours first, root last. Common practice.
const CHORD_LETTERS: [(i32, i32); 12] = [
    (1, 1),  // ♭9
    (2, 1),  // 9
    (9, 5),  // 6, 13; a diminished seventh is a sixth to the ear
    (8, 4),  // ♯5
    (5, 3),  // 4, 11
    (6, 4),  // ♭5
    (11, 6), // major seventh
    (10, 6), // minor seventh
    (7, 4),  // 5
    (3, 2),  // minor third
    (4, 2),  // major third
    (0, 0),  // root
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::key::Mode;

    fn class(name: &str) -> PitchClass {
        Spelled::read(name).expect(name).0.class()
    }

    fn key(name: &str) -> Key {
        let mode = if name.ends_with('m') { Mode::Minor } else { Mode::Major };
        Key { tonic: class(name.trim_end_matches('m')), mode }
    }

    #[test]
    fn the_note_between_roots_a_third_apart() {
        use Kind::{Diminished, Dominant, Major, Minor};
        for (in_key, from, kind, to, expected) in [
            ("C", "C", Major, "A", Some("B")),
            ("C", "A", Minor, "C", Some("B")),
            ("C", "A", Minor, "F", Some("G")),
            ("C", "F", Major, "D", Some("E")),
            ("C", "E", Minor, "C", Some("D")),
            ("F", "D", Minor, "Bb", Some("C")),
            ("Eb", "Eb", Major, "C", Some("D")),
            ("E", "E", Major, "C#", Some("D#")),
            ("F#m", "F#", Minor, "D", Some("E")),
            ("Am", "F", Major, "A", Some("G")),
            // The scale is bent by the chord: G♯ in E7, E♭ in C minor.
            ("Am", "E", Dominant, "G", Some("F")),
            ("C", "C", Minor, "A", Some("B")),
            ("C", "Bb", Major, "G", Some("A")),
            ("Am", "G#", Diminished, "E", Some("F")),
            // Not a third.
            ("C", "C", Major, "F", None),
            ("C", "C", Major, "G", None),
            ("C", "G", Major, "A", None),
            // A♭ lies a third below C, but from B it is no step.
            ("C", "C", Major, "Ab", None),
        ] {
            let chord = Chord::new(class(from), kind);
            let found = Scale::of(key(in_key), chord).between(class(from), class(to));
            assert_eq!(found, expected.map(class), "{from} {kind:?} to {to} in {in_key}");
        }
    }
}
