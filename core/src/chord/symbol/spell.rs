//! Spelling by the line of fifths … F C G D A E B F♯ …

use super::Symbol;
use crate::chord::Quality;
use crate::key::WrittenKey;
use crate::pitch::{Letter, PitchClass, Spelled};

/// The name so many fifths above C; triple accidentals are clamped away.
fn named(fifths: i32) -> Spelled {
    use Letter as L;
    const LETTERS: [Letter; 7] = [L::F, L::C, L::G, L::D, L::A, L::E, L::B];
    let from_f = fifths + 1;
    let alter = i8::try_from(from_f.div_euclid(7)).unwrap_or(0);
    Spelled::new(LETTERS[from_f.rem_euclid(7) as usize], alter)
}

/// Letters above the root at which a tone so many semitones above it is
/// written in a chord with these degrees; `None` if it is not in the chord.
pub(super) fn tone(root: Spelled, quality: Quality, class: PitchClass) -> Option<Spelled> {
    let above = i32::from(class.above(root.class()));
    if !quality.tones().has(PitchClass::new(above)) {
        return None;
    }
    let changed = quality.degrees().find(|degree| i32::from(degree.class().index() as u8) == above);
    let steps = match (changed, above) {
        (Some(degree), _) => i32::from(degree.value) - 1,
        (None, 0) => 0,
        (None, 1 | 2) => 1,
        (None, 3 | 4) => 2,
        (None, 5) => 3,
        (None, 6..=8) => 4,
        // The seventh of a diminished seventh chord, else a sixth.
        (None, 9) if quality.kind() == crate::chord::Kind::DiminishedSeventh => 6,
        (None, 9) => 5,
        _ => 6,
    };
    let letter = root.letter.step(steps);
    let alter = (class.index() as i32 - letter.semitones() + 18).rem_euclid(12) - 6;
    // A bass that would need a double accidental is easier to find respelled.
    let alter = i8::try_from(alter).ok().filter(|alter| alter.abs() <= 1)?;
    Some(Spelled::new(letter, alter))
}

pub(super) fn transpose(symbol: Symbol, from: WrittenKey, to: WrittenKey) -> Symbol {
    let moved = to.tonic().fifths() - from.tonic().fifths();
    let root = symbol.root.fifths() + moved;
    // Single accidentals span F♭ (−8) to B♯ (12); twelve fifths are a respelling.
    let moved = if root < -8 {
        moved + 12
    } else if root > 12 {
        moved - 12
    } else {
        moved
    };
    let again = |name: Spelled| {
        let fifths = name.fifths() + moved;
        named(if (-15..=19).contains(&fifths) { fifths } else { fifths - 12 * fifths.signum() })
    };
    Symbol { root: again(symbol.root), quality: symbol.quality, bass: symbol.bass.map(again) }
}
