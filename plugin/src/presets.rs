//! The patterns that come with the program, by their fixed numbers.

use sinistra_core::play::Pattern;
use sinistra_panel::control::{Control, SET_UPS, SetUp};
use sinistra_panel::home::PatternCard;
use sinistra_score::pattern::PatternPreset;
use sinistra_score::pattern_presets;

/// Numbers are for ever: projects and automation keep them. A pattern that
/// joins the teaching order in the middle gets the next free number here.
#[rustfmt::skip]
const NUMBERS: [(i32, &str); 49] = [
    (1, "roots-on-the-beat"),
    (2, "roots-and-offbeats"),
    (3, "passing-notes"),
    (4, "thirds"),
    (5, "fifths"),
    (6, "octaves-together"),
    (7, "octaves-low-high"),
    (8, "octaves-high-low"),
    (9, "dropped-octave"),
    (10, "everything-mixed"),
    (11, "waltz"),
    (12, "six-eight"),
    (13, "slow-twelve-eight"),
    (14, "free-hand"),
    (15, "broken-chord"),
    (16, "open-tenth"),
    (17, "rising-line"),
    (18, "alberti-bass"),
    (19, "block-chords"),
    (20, "march"),
    (21, "polka"),
    (22, "stride"),
    (23, "waltz-chords"),
    (24, "jazz-waltz"),
    (25, "tenths"),
    (26, "walking-bass"),
    (27, "boogie-woogie"),
    (28, "shuffle"),
    (29, "habanera"),
    (30, "tango"),
    (31, "bossa-nova"),
    (32, "tumbao"),
    (33, "off-beat"),
    (34, "gospel-octaves"),
    (35, "power-octaves"),
    (36, "pedal-point"),
    (37, "drone"),
    (38, "slow-ballad"),
    (39, "five-four"),
    (40, "seven-eight"),
    (41, "sixteenth-arpeggio"),
    (42, "triplet-arpeggio"),
    (43, "style-ballad"),
    (44, "style-classical"),
    (45, "style-dance"),
    (46, "style-gospel"),
    (47, "style-jazz"),
    (48, "style-latin"),
    (49, "style-rock"),
];

/// The fixed number of a preset.
fn number(preset: &PatternPreset) -> Option<i32> {
    NUMBERS.iter().find(|(_, slug)| *slug == preset.slug).map(|(number, _)| *number)
}

/// The list in teaching order.
pub fn cards() -> Vec<PatternCard> {
    let card = |preset: &PatternPreset| {
        let file = preset.read().ok()?;
        Some(PatternCard { number: number(preset)?, name: file.name, about: file.about })
    };
    pattern_presets().iter().filter_map(card).collect()
}

/// What a host's browser may load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Preset {
    /// For the host, to find it again; never changes.
    pub key: String,
    /// As the player sees it.
    pub name: String,
    /// What it is for.
    pub about: String,
    /// Words that players look for.
    pub tags: Vec<String>,
    /// What it sets.
    pub values: Vec<(Control, i32)>,
}

/// The set-ups, and each left hand of the library.
pub fn presets() -> Vec<Preset> {
    let set_up = |set_up: &SetUp| Preset {
        key: format!("set-up/{}", set_up.name),
        name: set_up.name.into(),
        about: set_up.about.into(),
        tags: set_up.tags.iter().map(|tag| (*tag).to_owned()).collect(),
        values: set_up.values().into(),
    };
    let left_hand = |card: PatternCard| Preset {
        key: format!("left-hand/{}", card.number),
        name: card.name,
        about: card.about,
        tags: vec!["left hand".into()],
        values: vec![(Control::Pattern, card.number)],
    };
    SET_UPS.iter().map(set_up).chain(cards().into_iter().map(left_hand)).collect()
}

/// The patterns by their numbers, from 1.
pub fn patterns() -> Vec<Option<Box<Pattern>>> {
    let find = |(_, slug): &(i32, &str)| pattern_presets().iter().find(|p| p.slug == *slug);
    NUMBERS.iter().map(|row| find(row)?.compile().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_preset_has_a_number_and_every_number_a_preset() {
        assert_eq!(cards().len(), pattern_presets().len());
        assert!(patterns().iter().all(Option::is_some));
        assert!(NUMBERS.iter().zip(1..).all(|((number, _), n)| *number == n));
    }
}
