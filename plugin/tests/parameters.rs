//! Parameters and state as the host sees them.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;

use std::collections::BTreeSet;

use clap_host::play::{chord, strokes};
use clap_host::state::{closed, opened, with_chart};
use clap_host::{ClapHost, Clock};
use serde_json::{Value, json};

/// `CLAP_PARAM_IS_HIDDEN`, `params.h`.
const HIDDEN: u32 = 1 << 2;
/// `CLAP_PARAM_IS_ENUM`, `params.h`.
const LIST: u32 = 1 << 16;

#[test]
fn ids_names_and_groups_stay_as_they_are_published() {
    let host = ClapHost::load();
    let list: Vec<_> =
        host.params().iter().map(|p| format!("{}/{} {}", p.module, p.name, p.id)).collect();
    // Ids are the hash of the short names; a change here breaks projects.
    as_kept(&list);
    let ids: BTreeSet<_> = host.params().iter().map(|param| param.id).collect();
    assert_eq!(ids.len(), list.len());
}

/// Compares with the list that is kept beside this test.
fn as_kept(list: &[String]) {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/parameters.txt");
    let text = list.join("\n") + "\n";
    if std::env::var_os("SINISTRA_UPDATE").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
    assert_eq!(text, kept, "if this is meant: SINISTRA_UPDATE=1");
}

#[test]
fn every_text_of_every_parameter_reads_back() {
    let host = ClapHost::load();
    for param in host.params().iter().filter(|param| param.flags & HIDDEN == 0) {
        let steps = (param.max - param.min) as i32;
        for step in 0..=steps {
            let value = param.min + f64::from(step);
            let text = host.value_text(param.id, value);
            let read = host.text_value(param.id, &text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(host.value_text(param.id, read), text, "{}", param.name);
            assert_eq!(read, value, "{}: {text}", param.name);
        }
        assert_eq!(host.text_value(param.id, "no such value"), None, "{}", param.name);
    }
}

#[test]
fn ranges_are_the_musicians_and_whole_numbers_whole() {
    let host = ClapHost::started();
    let split = host.param("Split");
    assert_eq!((split.min, split.max, split.default), (24.0, 96.0, 60.0));
    for param in host.params().iter().filter(|param| param.flags & HIDDEN == 0) {
        for value in param.min as i32..=param.max as i32 {
            host.set(&param.name, value.into()); // compares what is got
        }
        host.set(&param.name, param.default);
    }
}

#[test]
fn lists_are_lists() {
    let host = ClapHost::load();
    let is_list = |name: &str| host.param(name).flags & LIST != 0;
    for name in ["Pattern", "Key", "Left hand's channel", "Look-ahead", "Left hand"] {
        assert!(is_list(name), "{name}");
    }
    for name in ["Split", "Sparing to busy", "Own tempo"] {
        assert!(!is_list(name), "{name}");
    }
}

#[test]
fn what_a_player_types_is_understood() {
    let host = ClapHost::load();
    for (name, text, value) in [
        ("Key", "G", 8.0),
        ("Key", "Em", 17.0),
        ("Key", "Bb", 11.0),
        ("Key", "auto", 0.0),
        ("Left hand", "true", 1.0),
        ("Left hand's channel", "ch 16", 16.0),
        ("Split", "Db4", 61.0),
    ] {
        assert_eq!(host.text_value(host.param(name).id, text), Some(value), "{name} {text}");
    }
}

const CHART: &str = "title: Two Chords\nkey: C\nmetre: 4/4\n\n| C | G |\n";

#[test]
fn a_chart_comes_back_with_the_state_and_is_played() {
    let host = ClapHost::started();
    assert!(host.restore(&with_chart(&host.save(), CHART)));
    let text = json!(json!(CHART).to_string());
    assert_eq!(opened(&host.save())["fields"]["chart"], text);
    // A hand that holds nothing but a G in the second bar: the chart says G.
    let out = host.block(64, Some(Clock::at(4.0)), &chord(0, &[67, 71, 74]));
    assert_eq!(strokes(&out).first().map(|(_, key)| key % 12), Some(7));
}

#[test]
fn an_older_state_lacks_what_is_new_and_gets_its_default() {
    let host = ClapHost::load();
    let mut state = opened(&host.save());
    state["version"] = json!("0.0.1");
    state["params"].as_object_mut().unwrap().remove("busy");
    state["fields"].as_object_mut().unwrap().clear();
    state["params"]["retired"] = json!({ "i32": 3 });
    host.flush("Sparing to busy", 99.0);
    assert!(host.restore(&closed(&state)));
    assert_eq!(host.value(host.param("Sparing to busy").id).round(), 50.0);
}

#[test]
fn what_a_newer_version_wrote_is_kept_for_it() {
    let host = ClapHost::load();
    let mut state = opened(&host.save());
    state["fields"]["format"] = json!("9");
    state["fields"]["form"] = json!("[\"verse\"]");
    state["fields"]["chart"] = json!(json!(CHART).to_string());
    assert!(host.restore(&closed(&state)));
    assert_eq!(opened(&host.save())["fields"], state["fields"]);
    // And is forgotten with the next state.
    state["fields"].as_object_mut().unwrap().retain(|name, _| name == "chart");
    assert!(host.restore(&closed(&state)));
    let fields = &opened(&host.save())["fields"];
    assert_eq!((&fields["format"], &fields["form"]), (&json!("1"), &Value::Null));
}

#[test]
fn values_out_of_range_are_brought_back_into_it() {
    let host = ClapHost::load();
    let mut state = opened(&host.save());
    state["params"]["busy"] = json!({ "i32": 1_000_000 });
    state["params"]["split"] = json!({ "i32": -5 });
    state["params"]["plays"] = json!({ "f32": 0.0 });
    assert!(host.restore(&closed(&state)));
    for param in host.params() {
        let value = host.value(param.id);
        assert!((param.min..=param.max).contains(&value), "{}: {value}", param.name);
    }
    assert_eq!(host.value(host.param("Left hand").id), 0.0);
}

#[test]
fn a_damaged_state_is_refused_without_harm() {
    let host = ClapHost::started();
    host.set("Sparing to busy", 73.0);
    let saved = host.save();
    for length in [0, 3, 8, 9, saved.len() / 2, saved.len() - 1] {
        assert!(!host.restore(&saved[..length]), "cut off after {length}");
    }
    let mut torn = saved.clone();
    torn[12] ^= 0x55;
    host.restore(&torn);
    assert!(!host.restore(&[0xFF; 64]));
    assert!(!host.restore(b"\x02\0\0\0\0\0\0\0[]"));
    assert_eq!(host.value(host.param("Sparing to busy").id).round(), 73.0);
    // A field that is spoiled leaves the rest to be loaded.
    let mut state = opened(&saved);
    state["fields"]["chart"] = json!("{ not a string");
    assert!(host.restore(&closed(&state)));
    assert_eq!(host.save(), saved);
}
