//! What there is to choose from, and how a choice is shown.

use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::PitchClass;
use sinistra_panel::room::{ChoiceCard, Pick, Shelf};
use sinistra_score::chart::{ChartPreset, key_name};
use sinistra_score::pattern::PatternCard;
use sinistra_score::practice::steps;

use super::session;

/// A lesson as the window shows it.
pub fn pick(lesson: &session::Lesson) -> Pick {
    Pick {
        chart: lesson.chart.clone(),
        pattern: lesson.pattern.clone(),
        key: lesson.key.map(key_name),
        hands: lesson.hands,
        free: lesson.free,
        goal: lesson.goal,
    }
}

/// What there is to choose from; keys of the mode of `key`.
pub fn shelf(key: Key) -> Shelf {
    let choice = |card: &PatternCard| ChoiceCard {
        slug: card.slug.to_owned(),
        name: card.name.clone(),
        about: card.about.clone(),
    };
    let charts = ChartPreset::all().iter().filter_map(|preset| {
        let name = preset.chart().ok()?.title().to_owned();
        Some(ChoiceCard { slug: preset.slug.to_owned(), name, about: String::new() })
    });
    let first = match key.mode {
        Mode::Major => Key::C_MAJOR,
        Mode::Minor => Key { tonic: PitchClass::new(9), mode: Mode::Minor },
    };
    let circle = std::iter::successors(Some(first), |key| Some(steps::next_key(*key)));
    Shelf {
        patterns: PatternCard::presets().iter().map(choice).collect(),
        charts: charts.collect(),
        keys: circle.take(12).map(key_name).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options;

    #[test]
    fn everything_on_the_shelf_can_be_practised() {
        for mode in [Key::C_MAJOR, Key { mode: Mode::Minor, ..Key::C_MAJOR }] {
            let shelf = shelf(mode);
            assert_eq!(shelf.keys.len(), 12);
            for key in &shelf.keys {
                assert_eq!(options::written_key(key).unwrap().key().mode, mode.mode, "{key}");
            }
            assert!(shelf.patterns.iter().all(|card| crate::scores::pattern(&card.slug).is_ok()));
            assert!(shelf.charts.iter().all(|card| crate::scores::chart(&card.slug).is_ok()));
        }
    }
}
