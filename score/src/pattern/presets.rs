//! The patterns that ship, in the order in which they are learned.

use std::sync::{LazyLock, OnceLock};

use super::PatternFile;
use crate::{Faults, slug};
use sinistra_core::play::Pattern;

/// A pattern that ships with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PatternPreset {
    /// For the command line, such as `roots-on-the-beat`.
    pub slug: &'static str,
    /// Its file.
    pub text: &'static str,
}

impl PatternPreset {
    /// The pattern, compiled: once for all that play it in this process. Not for the
    /// audio thread: allocates.
    ///
    /// # Errors
    /// Never for a preset that passed its tests.
    pub fn compile(&self) -> Result<Box<Pattern>, Faults> {
        static READY: [OnceLock<Pattern>; PRESETS.len()] =
            [const { OnceLock::new() }; PRESETS.len()];
        let place = PRESETS.iter().position(|preset| preset == self);
        let place = place.and_then(|place| READY.get(place));
        if let Some(ready) = place.and_then(OnceLock::get) {
            return Ok(Box::new(ready.clone()));
        }
        let compiled = PatternFile::compile(self.slug, self.text)?;
        if let Some(place) = place {
            place.get_or_init(|| (*compiled).clone());
        }
        Ok(compiled)
    }

    /// What is written in its file.
    ///
    /// # Errors
    /// Never for a preset that passed its tests.
    pub fn read(&self) -> Result<PatternFile, Faults> {
        PatternFile::read(self.slug, self.text)
    }
}

/// A pattern as lists show it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PatternCard {
    /// Its number, for ever; 0 is the player's own.
    pub number: i32,
    /// Its name on the command line.
    pub slug: &'static str,
    /// Its name for people.
    pub name: String,
    /// What it adds.
    pub about: String,
}

impl PatternCard {
    /// Those of all that ship, in teaching order.
    pub fn presets() -> &'static [Self] {
        &LIBRARY.0
    }

    /// Those that improvise, in teaching order: the free hand and the styles.
    pub fn improvising() -> &'static [Self] {
        &LIBRARY.1
    }

    /// The preset after the one of this name.
    pub fn after(name: &str) -> Option<&'static Self> {
        Self::presets().iter().skip_while(|card| card.name != name).nth(1)
    }
}

/// All cards, and those that improvise. The files are read once.
static LIBRARY: LazyLock<(Vec<PatternCard>, Vec<PatternCard>)> = LazyLock::new(|| {
    let (mut all, mut improvising) = (Vec::new(), Vec::new());
    for (number, preset) in (1..).zip(PRESETS) {
        let Ok(file) = preset.read() else { continue };
        let PatternFile { name, about, improvises, draws, .. } = file;
        let card = PatternCard { number, slug: preset.slug, name, about };
        if improvises || !draws.is_empty() {
            improvising.push(card.clone());
        }
        all.push(card);
    }
    (all, improvising)
});

macro_rules! presets {
    ($($number:literal $slug:literal;)*) => {
        const PRESETS: &[PatternPreset] = &[$(PatternPreset {
            slug: $slug,
            text: include_str!(concat!(
                "../../../presets/patterns/", $number, "-", $slug, ".toml"
            )),
        },)*];
    };
}

// Their places are their numbers, and are for ever: projects and automation keep them.
// A new pattern comes at the end.
presets! {
    "01" "roots-on-the-beat";
    "02" "roots-and-offbeats";
    "03" "passing-notes";
    "04" "thirds";
    "05" "fifths";
    "06" "octaves-together";
    "07" "octaves-low-high";
    "08" "octaves-high-low";
    "09" "dropped-octave";
    "10" "everything-mixed";
    "11" "waltz";
    "12" "six-eight";
    "13" "slow-twelve-eight";
    "14" "free-hand";
    "15" "broken-chord";
    "16" "open-tenth";
    "17" "rising-line";
    "18" "alberti-bass";
    "19" "block-chords";
    "20" "march";
    "21" "polka";
    "22" "stride";
    "23" "waltz-chords";
    "24" "jazz-waltz";
    "25" "tenths";
    "26" "walking-bass";
    "27" "boogie-woogie";
    "28" "shuffle";
    "29" "habanera";
    "30" "tango";
    "31" "bossa-nova";
    "32" "tumbao";
    "33" "off-beat";
    "34" "gospel-octaves";
    "35" "power-octaves";
    "36" "pedal-point";
    "37" "drone";
    "38" "slow-ballad";
    "39" "five-four";
    "40" "seven-eight";
    "41" "sixteenth-arpeggio";
    "42" "triplet-arpeggio";
    "43" "style-ballad";
    "44" "style-classical";
    "45" "style-dance";
    "46" "style-gospel";
    "47" "style-jazz";
    "48" "style-latin";
    "49" "style-rock";
}

/// The pattern that is played where none is named.
pub const USUAL_PATTERN: &str = "free-hand";

/// All, in teaching order.
pub const fn pattern_presets() -> &'static [PatternPreset] {
    PRESETS
}

/// By slug (whatever the case, with spaces or hyphens), by the number in the
/// teaching order from 1, or by the beginning of the slug if only one has it.
pub fn find_pattern(name: &str) -> Option<&'static PatternPreset> {
    let name = slug(name);
    if let Ok(number) = name.parse::<usize>() {
        return PRESETS.get(number.checked_sub(1)?);
    }
    let exact = PRESETS.iter().find(|preset| preset.slug == name);
    let begins = || {
        let mut some = PRESETS.iter().filter(|p| !name.is_empty() && p.slug.starts_with(&name));
        some.next().filter(|_| some.next().is_none())
    };
    exact.or_else(begins)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_preset_reads_and_explains_itself() {
        for preset in pattern_presets() {
            let file = preset.read().expect(preset.slug);
            let sentences = file.about.matches(['.', ';']).count();
            assert!((1..=3).contains(&sentences), "{}", preset.slug);
            let again = PatternFile::read(preset.slug, &file.print());
            assert_eq!(again, Ok(file), "{}", preset.slug);
        }
    }

    #[test]
    fn published_numbers_stay() {
        let published = pattern_presets().iter().take(49).flat_map(|preset| preset.slug.bytes());
        let sum = published.fold(0u64, |sum, byte| sum.wrapping_mul(31).wrapping_add(byte.into()));
        assert_eq!(sum, 0x1baf_c088_a31a_7866, "a preset has another name or number");
    }

    #[test]
    fn every_preset_says_what_it_adds() {
        let order = PatternCard::presets();
        assert_eq!(order.len(), PRESETS.len());
        assert!(order.iter().all(|card| !card.about.is_empty()));
        assert_eq!(PatternCard::after(&order[0].name), order.get(1));
        assert_eq!(PatternCard::after(&order[order.len() - 1].name), None);
        assert_eq!(PatternCard::after("nothing"), None);
    }

    #[test]
    fn a_preset_is_found_by_slug_number_or_beginning() {
        for name in ["thirds", "4", "Thirds", " thirds "] {
            assert_eq!(find_pattern(name).map(|p| p.slug), Some("thirds"), "{name}");
        }
        assert_eq!(find_pattern("octaves low high").map(|p| p.slug), Some("octaves-low-high"));
        assert_eq!(find_pattern("drop").map(|p| p.slug), Some("dropped-octave"));
        for name in ["octaves", "", "0", "99", "nothing"] {
            assert_eq!(find_pattern(name), None, "{name}");
        }
    }
}
