//! The charts that ship are good, and show what they say.

use super::{Chart, ChartPreset};
use sinistra_core::pitch::PitchClass;

fn presets() -> Vec<(&'static str, Chart)> {
    let read = |preset: &ChartPreset| {
        (preset.slug, preset.chart().map_err(|faults| faults.to_string()).expect("a good chart"))
    };
    ChartPreset::all().iter().map(read).collect()
}

#[test]
fn every_file_ships() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../presets/charts");
    for file in std::fs::read_dir(folder).expect("the folder").filter_map(Result::ok) {
        let name = file.file_name().to_string_lossy().into_owned();
        assert!(ChartPreset::find(&name).is_some(), "{name} is not in the list");
    }
    assert!(ChartPreset::find("Lantern Street").is_some());
}

#[test]
fn presets_read_and_print_again() {
    let charts = presets();
    assert!(charts.len() >= 6);
    for (name, chart) in charts {
        let printed = chart.to_string();
        assert_eq!(Chart::read(name, &printed).map(|c| c.to_string()), Ok(printed), "{name}");
        assert!(chart.draft().key.is_some() && chart.draft().tempo.is_some(), "{name}");
    }
}

#[test]
fn presets_show_what_a_left_hand_can_do() {
    let mut thirds = 0;
    let mut fifth_is_next_root = 0;
    let mut metres = Vec::new();
    for (_, chart) in presets() {
        let song = chart.unfold();
        metres.extend(song.bars().iter().map(|bar| (bar.metre.beats(), bar.metre.unit())));
        for pair in song.chords().windows(2) {
            if let (Some(now), Some(next)) = (pair[0].chord, pair[1].chord) {
                thirds += u32::from(matches!(next.root.above(now.root), 3 | 4 | 8 | 9));
                fifth_is_next_root += u32::from(now.fifth() == Some(next.root));
            }
        }
    }
    assert!(thirds >= 20 && fifth_is_next_root >= 10, "{thirds} {fifth_is_next_root}");
    for metre in [(4, 4), (3, 4), (6, 8), (12, 8), (5, 4)] {
        assert!(metres.contains(&metre), "{metre:?}");
    }
    let all = presets();
    assert!(all.iter().any(|(_, chart)| chart.draft().pick_up.is_some()));
    let slash = |chart: &Chart| chart.symbols().flatten().any(|symbol| symbol.bass.is_some());
    assert!(all.iter().any(|(_, chart)| slash(chart)));
    let one_loop = all.iter().find(|(name, _)| name.starts_with("four-bar")).expect("a loop");
    assert_eq!(one_loop.1.draft().bars.len(), 4);
    assert_eq!(one_loop.1.unfold().chords()[0].chord.map(|c| c.root), Some(PitchClass::new(4)));
}
