//! What comes with the program, for the host's browser and the audio world.

use sinistra_core::play::Pattern;
use sinistra_panel::control::{Control, SET_UPS, SetUp};
use sinistra_panel::home::PatternCard;
use sinistra_score::pattern_presets;

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
    let left_hand = |card: &PatternCard| Preset {
        key: format!("left-hand/{}", card.number),
        name: card.name.clone(),
        about: card.about.clone(),
        tags: vec!["left hand".into()],
        values: vec![(Control::Pattern, card.number)],
    };
    SET_UPS.iter().map(set_up).chain(PatternCard::presets().iter().map(left_hand)).collect()
}

/// The patterns by their numbers, from 1.
pub fn patterns() -> Vec<Option<Box<Pattern>>> {
    pattern_presets().iter().map(|preset| preset.compile().ok()).collect()
}
