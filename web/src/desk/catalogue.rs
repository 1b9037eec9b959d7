//! What there is to choose from.

use serde_json::{Value, json};
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::PitchClass;
use sinistra_score::chart::{ChartPreset, key_name};
use sinistra_score::control::{ALL, Control, ControlScale};
use sinistra_score::pattern::{PatternCard, USUAL_PATTERN};
use sinistra_sound::{KEYS, decode as decoded};

use super::{Answered, Trouble};

/// Patterns, charts, keys, controls, and the keys of the piano's recordings in the
/// order in which they are to come.
pub fn catalogue() -> Value {
    let patterns: Vec<_> = PatternCard::presets()
        .iter()
        .map(|step| json!({ "slug": step.slug, "name": step.name, "about": step.about }))
        .collect();
    let charts: Vec<_> = ChartPreset::all()
        .iter()
        .filter_map(|preset| {
            let title = preset.chart().ok()?.title().to_owned();
            Some(json!({ "slug": preset.slug, "title": title, "text": preset.text }))
        })
        .collect();
    let keys: Vec<_> = [Mode::Major, Mode::Minor]
        .into_iter()
        .flat_map(|mode| (0..12).map(move |n| Key { tonic: PitchClass::new(n), mode }))
        .map(key_name)
        .collect();
    json!({
        "patterns": patterns,
        "usual": USUAL_PATTERN,
        "charts": charts,
        "keys": keys,
        "controls": ALL.iter().enumerate().map(control).collect::<Vec<_>>(),
        "recordings": recordings(),
    })
}

/// A coarse net first, from the middle outwards, so that no key is far from a
/// recording for long; then the rest.
fn recordings() -> Vec<u8> {
    let mut keys = KEYS.to_vec();
    keys.sort_by_key(|key| (key % 12 != 0, key.abs_diff(54)));
    keys
}

fn control((index, control): (usize, &Control)) -> Value {
    let spec = control.spec();
    let shown = || -> Vec<String> {
        (spec.min..=spec.max).map(|value| control.show(value, |_| String::new())).collect()
    };
    let (choices, names) = match spec.scale {
        ControlScale::Key | ControlScale::Channel | ControlScale::Beats => (shown(), Vec::new()),
        ControlScale::KeyNumber => (Vec::new(), shown()),
        _ => (Vec::new(), Vec::new()),
    };
    let unit = match spec.scale {
        ControlScale::Number(unit) => unit,
        _ => "",
    };
    // A page has no host, and its patterns have a list of their own.
    let offered =
        !matches!(control, Control::Pattern | Control::Ahead | Control::Apart | Control::Standing);
    json!({
        "index": index,
        "id": spec.id,
        "name": spec.name,
        "help": spec.help,
        "group": spec.group.name(),
        "min": spec.min,
        "max": spec.max,
        "default": spec.default,
        "switch": spec.scale == ControlScale::Switch,
        "unit": unit,
        "choices": choices,
        "names": names,
        "offered": offered,
    })
}

/// A recording's samples, left and right in turn, as 16-bit little endian.
pub fn decode(key: u8, file: &[u8]) -> Answered {
    let recording = decoded(key, file)
        .ok_or_else(|| Trouble::Said("a recording of the piano did not arrive whole".into()))?;
    let samples = recording.frames.iter().flatten().flat_map(|sample| sample.to_le_bytes());
    Ok((json!({ "key": key, "rate": recording.rate }), samples.collect()))
}
