//! The presets in a CLAP host's browser, and what presets keep.

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod clap_host;

use std::collections::BTreeSet;

use clap_host::ClapHost;

#[test]
fn the_browser_finds_set_ups_and_left_hands_with_tags_and_descriptions() {
    let host = ClapHost::load();
    let found = host.presets();
    assert!(found.len() >= 20 + 13, "{} presets", found.len());
    let keys: BTreeSet<_> = found.iter().map(|preset| &preset.key).collect();
    assert_eq!(keys.len(), found.len());
    for preset in &found {
        assert_eq!(preset.plugin, "sinistra.left-hand", "{preset:?}");
        assert!(!preset.name.is_empty() && !preset.about.is_empty(), "{preset:?}");
        assert!(!preset.tags.is_empty(), "{preset:?}");
    }
}

#[test]
fn every_preset_loads_and_is_heard_of() {
    let host = ClapHost::load();
    let split = host.param("Split").id;
    host.flush("Split", 55.0);
    for preset in host.presets() {
        assert!(host.load_preset(&preset.key), "{preset:?}");
        assert_eq!(host.notes.loaded.take(), preset.key);
        assert_eq!(host.value(split), 55.0, "the keyboard stays the player's");
    }
    assert!(host.load_preset("set-up/Swing"));
    assert_eq!(host.value(host.param("Swing").id), 64.0);
    assert!(!host.load_preset("set-up/No such thing"));
    assert_eq!(host.value(host.param("Swing").id), 64.0);
}

#[test]
fn a_preset_keeps_no_chart_and_a_project_does() {
    let host = ClapHost::load();
    let chart = "title: Mine\nkey: C\nmetre: 4/4\n\n| C | G |\n";
    assert!(host.restore(&clap_host::state::with_chart(&host.save(), chart)));
    host.flush("Sparing to busy", 77.0);
    let has = |bytes: &[u8]| String::from_utf8_lossy(bytes).contains("title: Mine");
    let (preset, project) = (host.save_for(1), host.save_for(3));
    assert!(!has(&preset) && has(&project));
    // Loaded elsewhere, a preset leaves the chart that is there.
    let other = ClapHost::load();
    assert!(other.restore(&clap_host::state::with_chart(&other.save(), "| Am |\n")));
    assert!(other.load_for(&preset, 1));
    assert_eq!(other.value(other.param("Sparing to busy").id), 77.0);
    assert!(String::from_utf8_lossy(&other.save()).contains("| Am |"));
    assert!(other.load_for(&project, 3));
    assert!(has(&other.save()));
    assert!(!other.load_for(&preset[..9], 1));
}
