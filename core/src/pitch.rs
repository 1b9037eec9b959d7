//! Pitch classes, keys of the keyboard, and their spelled names.

use alloc::format;
use alloc::string::String;

use core::fmt;

/// A distance in semitones, upward positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Semitones(pub i32);

/// A pitch class, C = 0 … B = 11. Octaves are equivalent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PitchClass(u8);

impl PitchClass {
    /// C, the class that counting starts from.
    pub const C: Self = Self(0);

    /// The class `n` semitones above C; wraps around the circle of twelve.
    pub const fn new(n: i32) -> Self {
        Self(n.rem_euclid(12) as u8)
    }

    /// The class of an index into twelve values, C's first.
    pub const fn at(index: usize) -> Self {
        Self((index % 12) as u8)
    }

    /// Its own of twelve values, C's first.
    pub const fn of<T: Copy>(self, values: &[T; 12]) -> T {
        values[self.0 as usize % 12]
    }

    /// The same, to be changed.
    pub const fn of_mut<T>(self, values: &mut [T; 12]) -> &mut T {
        &mut values[self.0 as usize % 12]
    }

    /// Semitones above C, 0..=11.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// The same as an index.
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// Moves around the circle of twelve; C down a semitone is B.
    pub const fn transpose(self, by: Semitones) -> Self {
        Self::new(self.0 as i32 + by.0)
    }

    /// Semitones upward from `lower` to this class, 0..=11.
    pub const fn above(self, lower: Self) -> u8 {
        let above = self.0 + 12 - lower.0;
        if above < 12 { above } else { above - 12 }
    }

    /// Whether it lies a minor or major third above `lower`.
    pub const fn is_third_above(self, lower: Self) -> bool {
        matches!(self.above(lower), 3 | 4)
    }

    /// The likeliest class but for some, by odds of all twelve, and its odds.
    pub fn likeliest(odds: &[f32; 12], but: impl Fn(Self) -> bool) -> Option<(Self, f32)> {
        let others = Self::all().filter(|class| !but(*class));
        others.map(|class| (class, class.of(odds))).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// All twelve, C first.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..12).map(Self)
    }
}

/// A set of pitch classes: bit n is the class n semitones above C.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct PitchSet(u16);

impl PitchSet {
    /// No pitch class.
    pub const EMPTY: Self = Self(0);

    /// From bits; bits above the twelfth are dropped.
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits & 0xFFF)
    }

    /// The twelve bits.
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// With `class` in it.
    #[must_use]
    pub const fn with(self, class: PitchClass) -> Self {
        Self(self.0 | 1 << class.0)
    }

    /// Without `class`.
    #[must_use]
    pub const fn without(self, class: PitchClass) -> Self {
        Self(self.0 & !(1 << class.0))
    }

    /// What both have.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// What either has.
    #[must_use]
    pub const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// What this has and `other` lacks.
    #[must_use]
    pub const fn minus(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Whether `class` is in it.
    pub const fn has(self, class: PitchClass) -> bool {
        self.0 >> class.0 & 1 == 1
    }

    /// How many classes.
    pub const fn len(self) -> u32 {
        self.0.count_ones()
    }

    /// Whether there is none.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Every class moved by the same distance around the circle.
    #[must_use]
    pub const fn transpose(self, by: Semitones) -> Self {
        let by = by.0.rem_euclid(12) as u32;
        let wide = (self.0 as u32) << by;
        Self((wide | wide >> 12) as u16 & 0xFFF)
    }

    /// The classes in it, C first.
    pub fn iter(self) -> impl Iterator<Item = PitchClass> {
        PitchClass::all().filter(move |&class| self.has(class))
    }
}

impl FromIterator<PitchClass> for PitchSet {
    fn from_iter<I: IntoIterator<Item = PitchClass>>(classes: I) -> Self {
        classes.into_iter().fold(Self::EMPTY, Self::with)
    }
}

/// A key of the keyboard by its MIDI 1.0 number, 0..=127; 60 is middle C (C4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeyNumber(u8);

impl KeyNumber {
    /// Middle C, C4.
    pub const MIDDLE_C: Self = Self(60);

    /// `C4` (middle C), `Bb3`, `F♯2` in scientific pitch notation, or its MIDI number;
    /// `None` for anything else. `Cb4` is the key below C4.
    pub fn read(text: &str) -> Option<Self> {
        if let Ok(number) = text.parse::<u8>() {
            return Self::new(number);
        }
        let (spelled, octave) = Spelled::read(text)?;
        let octave = octave.trim().parse::<i32>().ok();
        let octave = octave.filter(|octave| (-1..=9).contains(octave))?;
        let number = 12 * (octave + 1) + spelled.letter.semitones() + i32::from(spelled.alter);
        u8::try_from(number).ok().and_then(Self::new)
    }

    /// `None` above 127.
    pub const fn new(number: u8) -> Option<Self> {
        if number < 128 { Some(Self(number)) } else { None }
    }

    /// The nearest key to `number` that exists.
    pub const fn clamped(number: i32) -> Self {
        Self(if number < 0 {
            0
        } else if number > 127 {
            127
        } else {
            number as u8
        })
    }

    /// The MIDI key number, 0..=127.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Octaves are equivalent.
    pub const fn class(self) -> PitchClass {
        PitchClass(self.0 % 12)
    }

    /// The octave in scientific pitch notation; −1 for keys 0..=11.
    pub const fn octave(self) -> i32 {
        self.0 as i32 / 12 - 1
    }

    /// `None` if the result falls off the keyboard; keys never wrap around.
    pub fn transpose(self, by: Semitones) -> Option<Self> {
        u8::try_from(i32::from(self.0) + by.0).ok().and_then(Self::new)
    }

    /// Semitones upward from `lower`; negative if this key is the lower one.
    pub const fn distance(self, lower: Self) -> Semitones {
        Semitones(self.0 as i32 - lower.0 as i32)
    }
}

/// A letter of the staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// All seven, C first.
    pub const ALL: [Self; 7] = [Self::C, Self::D, Self::E, Self::F, Self::G, Self::A, Self::B];

    /// Semitones above C without an accidental.
    pub const fn semitones(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// As printed.
    pub const fn name(self) -> char {
        ['C', 'D', 'E', 'F', 'G', 'A', 'B'][self as usize]
    }

    /// The letter `steps` above, around the seven.
    pub const fn step(self, steps: i32) -> Self {
        Self::ALL[(self as i32 + steps).rem_euclid(7) as usize]
    }
}

/// A pitch class as it is written: a letter and an alteration of −2..=2
/// semitones. B♭ and A♯ differ here and are one [`PitchClass`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spelled {
    /// The letter.
    pub letter: Letter,
    /// Semitones by which accidentals change it, −2..=2.
    pub alter: i8,
}

impl Spelled {
    /// A letter with an alteration in semitones.
    pub const fn new(letter: Letter, alter: i8) -> Self {
        Self { letter, alter }
    }

    /// The sounding class.
    pub const fn class(self) -> PitchClass {
        PitchClass::new(self.letter.semitones() + self.alter as i32)
    }

    /// Fifths above C: F −1, C 0, G 1 … F♯ 6.
    pub const fn fifths(self) -> i32 {
        const OF_LETTER: [i32; 7] = [0, 2, 4, -1, 1, 3, 5]; // C D E F G A B
        OF_LETTER[self.letter as usize] + 7 * self.alter as i32
    }

    /// Reads a letter with ASCII or Unicode accidentals from the start of
    /// `text`; gives the name and the rest. `None` if there is no letter.
    pub fn read(text: &str) -> Option<(Self, &str)> {
        let first = text.chars().next()?;
        let letter = Letter::ALL.into_iter().find(|l| l.name() == first.to_ascii_uppercase())?;
        let mut rest = &text[first.len_utf8()..];
        let mut alter = 0i8;
        while let Some(next) = rest.chars().next() {
            let by = match next {
                '#' | '♯' => 1,
                'b' | '♭' => -1,
                '𝄪' => 2,
                '𝄫' => -2,
                '♮' => 0,
                _ => break,
            };
            if (alter + by).abs() > 2 {
                break;
            }
            alter += by;
            rest = &rest[next.len_utf8()..];
        }
        Some((Self { letter, alter }, rest))
    }

    /// With `b` and `#` for terminals and files that must stay ASCII.
    pub fn ascii(self) -> String {
        let mark = if self.alter < 0 { "b" } else { "#" };
        format!("{}{}", self.letter.name(), mark.repeat(self.alter.unsigned_abs().into()))
    }
}

/// With ♭ and ♯.
impl fmt::Display for Spelled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = if self.alter < 0 { "♭" } else { "♯" };
        write!(f, "{}{}", self.letter.name(), mark.repeat(self.alter.unsigned_abs().into()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transposing_a_pitch_class_wraps_both_ways() {
        for (from, by, to) in [(0, -1, 11), (0, -3, 9), (11, 1, 0)] {
            assert_eq!(PitchClass::new(from).transpose(Semitones(by)), PitchClass::new(to));
        }
    }

    #[test]
    fn keys_never_wrap_around() {
        assert_eq!(KeyNumber::clamped(127).transpose(Semitones(1)), None);
        assert_eq!(KeyNumber::MIDDLE_C.octave(), 4);
    }

    #[test]
    fn a_set_moves_as_one() {
        let c_major: PitchSet = [0, 4, 7].map(PitchClass::new).into_iter().collect();
        let a_major: PitchSet = [9, 1, 4].map(PitchClass::new).into_iter().collect();
        assert_eq!(c_major.transpose(Semitones(-3)), a_major);
    }

    #[test]
    fn spelled_names_read_both_kinds_of_accidental() {
        for (text, class, rest) in
            [("Bbm7", 10, "m7"), ("F♯", 6, ""), ("C", 0, ""), ("Ebb", 2, ""), ("B♮7", 11, "7")]
        {
            let (spelled, left) = Spelled::read(text).expect(text);
            assert_eq!((spelled.class(), left), (PitchClass::new(class), rest), "{text}");
        }
        assert_eq!(Spelled::read("H7"), None);
    }

    #[test]
    fn keys_are_read_by_name_and_by_number() {
        let (least, most) = (Some(0), Some(127));
        for (text, number) in [
            ("60", Some(60)),
            ("128", None),
            ("C4", Some(60)),
            ("Bb3", Some(58)),
            ("F♯2", Some(42)),
            ("Cb4", Some(59)),
            ("B#3", Some(60)),
            ("C-1", least),
            ("G9", most),
            ("G♯9", None),
            ("Cb-1", None),
            ("C10", None),
            ("C-2", None),
            ("C", None),
        ] {
            assert_eq!(KeyNumber::read(text).map(KeyNumber::number), number, "{text}");
        }
    }

    #[test]
    fn what_lies_off_the_keyboard_is_its_last_key() {
        let clamped = [-1, 0, 1, 126, 127, 128].map(|n| KeyNumber::clamped(n).number());
        assert_eq!(clamped, [0, 0, 1, 126, 127, 127]);
    }

    #[test]
    fn accidentals_are_read_and_written() {
        for (text, alter, ascii, printed) in [
            ("Fx", 0, "F", "F"),
            ("F♮", 0, "F", "F"),
            ("F𝄪", 2, "F##", "F♯♯"),
            ("B𝄫", -2, "Bbb", "B♭♭"),
            ("B♭", -1, "Bb", "B♭"),
            ("F###", 2, "F##", "F♯♯"),
        ] {
            let spelled = Spelled::read(text).expect("a name").0;
            let written = (spelled.alter, spelled.ascii(), spelled.to_string());
            assert_eq!(written, (alter, ascii.to_owned(), printed.to_owned()), "{text}");
        }
    }
}
