//! Keys: a tonic with a mode, its scale, and how it is written.

use crate::pitch::{Letter, PitchClass, PitchSet, Spelled};

/// Major or minor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Mode {
    Major,
    Minor,
}

/// A key: C major, F♯ minor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The first degree.
    pub tonic: PitchClass,
    /// Major or minor.
    pub mode: Mode,
}

impl Key {
    /// C major, where nothing is known.
    pub const C_MAJOR: Self = Self { tonic: PitchClass::C, mode: Mode::Major };

    /// The seven classes of the key signature (natural minor in minor).
    pub const fn scale(self) -> PitchSet {
        // Major: 0 2 4 5 7 9 11. Natural minor: 0 2 3 5 7 8 10.
        let from_c = match self.mode {
            Mode::Major => 0b1010_1011_0101,
            Mode::Minor => 0b0101_1010_1101,
        };
        PitchSet::from_bits(from_c).transpose(crate::pitch::Semitones(self.tonic.index() as i32))
    }

    /// Sharps (positive) or flats (negative) of the key signature, −6..=6;
    /// six of either is written as six flats in major and six sharps in minor.
    pub const fn fifths(self) -> i8 {
        // The major tonic that shares the signature.
        let major = match self.mode {
            Mode::Major => self.tonic.index(),
            Mode::Minor => (self.tonic.index() + 3) % 12,
        };
        // C D♭ D E♭ E F G♭ G A♭ A B♭ B
        let fifths = [0, -5, 2, -3, 4, -1, -6, 1, -4, 3, -2, 5][major];
        if matches!(self.mode, Mode::Minor) && fifths == -6 { 6 } else { fifths }
    }

    /// The spelling of `class` in this key, written as most do.
    pub fn spell(self, class: PitchClass) -> Spelled {
        WrittenKey::from(self).spell(class)
    }

    /// This key as music writes it in which these names stand: F♯ major where
    /// they are F♯ and C♯, G♭ major where they are G♭ and D♭.
    pub fn written_like(self, names: impl IntoIterator<Item = Spelled>) -> WrittenKey {
        let usual = WrittenKey::from(self);
        let ways = [0, -12, 12].map(|by| WrittenKey::new(self, usual.fifths + by));
        let mut away = [0i32; 3];
        for name in names {
            for (away, way) in away.iter_mut().zip(&ways) {
                *away += way.map_or(0, |way| (name.fifths() - way.centre()).abs());
            }
        }
        let nearest = ways.into_iter().zip(away).filter_map(|(way, away)| Some((way?, away)));
        nearest.min_by_key(|(_, away)| *away).map_or(usual, |(way, _)| way)
    }
}

/// A key with its signature: of keys that sound alike, such as F♯ and G♭ major,
/// the one that stands on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WrittenKey {
    key: Key,
    fifths: i8,
}

impl From<Key> for WrittenKey {
    fn from(key: Key) -> Self {
        Self { key, fifths: key.fifths() }
    }
}

impl WrittenKey {
    /// `key` with a signature of so many sharps, or flats below 0; `None` if it
    /// is the signature of another key, or has more than seven.
    pub fn new(key: Key, fifths: i8) -> Option<Self> {
        let same = (i32::from(fifths) - i32::from(key.fifths())) % 12 == 0;
        (same && (-7..=7).contains(&fifths)).then_some(Self { key, fifths })
    }

    /// The key that sounds.
    pub const fn key(self) -> Key {
        self.key
    }

    /// Sharps (positive) or flats (negative) of the signature, −7..=7.
    pub const fn fifths(self) -> i8 {
        self.fifths
    }

    /// The name of the first degree.
    pub fn tonic(self) -> Spelled {
        self.spell(self.key.tonic)
    }

    /// The spelling of `class` in this key: scale notes by the signature, the
    /// rest by the nearest place on the line of fifths (common practice:
    /// raised 4, 1, 5; lowered 7, 3, 6, 2).
    pub fn spell(self, class: PitchClass) -> Spelled {
        let centre = self.centre();
        let base = (class.index() as i32 * 7).rem_euclid(12);
        // The candidate nearest to the centre; a tie goes to the flat side.
        let place = (-3..=3)
            .map(|n| base + 12 * n)
            .min_by_key(|place| ((place - centre).abs(), *place > centre))
            .unwrap_or(base);
        Self::on_the_line_of_fifths(place)
    }

    /// The seven notes of its signature.
    pub fn scale(self) -> impl Iterator<Item = Spelled> {
        let first = i32::from(self.fifths) - 1;
        (first..first + 7).map(Self::on_the_line_of_fifths)
    }

    /// Where its notes lie on the line of fifths, C = 0, G = 1, F = −1 …: the
    /// scale spans fifths−1 ..= fifths+5, its chromatic neighbours −4 ..= +8 or so.
    fn centre(self) -> i32 {
        i32::from(self.fifths) + if self.key.mode == Mode::Minor { 3 } else { 2 }
    }

    /// F = −1, C = 0, G = 1 … seven letters, then the same with a sharp.
    fn on_the_line_of_fifths(place: i32) -> Spelled {
        const LETTERS: [Letter; 7] =
            [Letter::F, Letter::C, Letter::G, Letter::D, Letter::A, Letter::E, Letter::B];
        let from_f = place + 1;
        Spelled::new(
            LETTERS[from_f.rem_euclid(7) as usize],
            i8::try_from(from_f.div_euclid(7).clamp(-2, 2)).unwrap_or(0),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(tonic: i32, mode: Mode) -> Key {
        Key { tonic: PitchClass::new(tonic), mode }
    }

    #[test]
    fn scales_are_spelled_by_their_signature() {
        for (tonic, mode, names) in [
            (0, Mode::Major, "C D E F G A B"),
            (10, Mode::Major, "C D E♭ F G A B♭"),
            (9, Mode::Minor, "C D E F G A B"),
            (6, Mode::Minor, "C♯ D E F♯ G♯ A B"),
            (4, Mode::Major, "C♯ D♯ E F♯ G♯ A B"),
        ] {
            let key = key(tonic, mode);
            let spelled: Vec<_> = key.scale().iter().map(|c| key.spell(c).to_string()).collect();
            assert_eq!(spelled.join(" "), names);
        }
        let keys = [Mode::Major, Mode::Minor].map(|mode| (0..12).map(move |n| key(n, mode)));
        for key in keys.into_iter().flatten() {
            let mut notes: Vec<_> = WrittenKey::from(key).scale().collect();
            notes.sort_by_key(|note| note.class().index());
            let spelled: Vec<_> = key.scale().iter().map(|class| key.spell(class)).collect();
            assert_eq!(notes, spelled);
        }
    }

    #[test]
    fn keys_that_sound_alike_are_written_as_their_music_is() {
        for (tonic, mode, names, fifths, written) in [
            (6, Mode::Major, "F# B C#", 6, "F♯"),
            (6, Mode::Major, "Gb Cb Db", -6, "G♭"),
            (6, Mode::Major, "", -6, "G♭"),
            (3, Mode::Minor, "Eb Ab Bb", -6, "E♭"),
            (3, Mode::Minor, "D# G# A#", 6, "D♯"),
            (1, Mode::Major, "C# F# G#", 7, "C♯"),
            (11, Mode::Major, "Cb Fb Gb", -7, "C♭"),
            (1, Mode::Major, "Db Gb F#", -5, "D♭"),
            (7, Mode::Major, "G C# F#", 1, "G"),
        ] {
            let names = names.split_whitespace().filter_map(|n| Some(Spelled::read(n)?.0));
            let key = key(tonic, mode).written_like(names);
            assert_eq!((key.fifths(), key.tonic().to_string().as_str()), (fifths, written));
        }
    }

    #[test]
    fn the_leading_note_of_a_minor_key_is_raised() {
        let spelled = key(9, Mode::Minor).spell(PitchClass::new(8));
        assert_eq!(spelled.to_string(), "G♯"); // not A♭
    }

    #[test]
    fn b_flat_major_has_no_a_sharp() {
        let key = key(10, Mode::Major);
        for class in PitchClass::all() {
            assert_ne!(key.spell(class).to_string(), "A♯");
        }
    }

    /// The circle of fifths (common practice).
    #[test]
    fn every_key_has_its_signature() {
        let signatures =
            |mode| PitchClass::all().map(|tonic| Key { tonic, mode }.fifths()).collect::<Vec<_>>();
        assert_eq!(signatures(Mode::Major), [0, -5, 2, -3, 4, -1, -6, 1, -4, 3, -2, 5]);
        assert_eq!(signatures(Mode::Minor), [-3, 4, -1, 6, 1, -4, 3, -2, 5, 0, -5, 2]);
    }
}
