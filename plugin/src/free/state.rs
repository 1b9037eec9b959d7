//! What the project keeps beside the parameters: texts, each a JSON string.

use std::collections::BTreeMap;

use sinistra_panel::home::PlayersText::{Chart, OwnPattern};

use super::Instance;
use super::desk::Faulty;

/// The form of the fields below; raised when their meaning changes.
const FORMAT: u32 = 1;
/// The fields that this version knows, but for `format`.
const KNOWN: [&str; 5] = ["chart", "pattern", "tempo", "look", "size"];
/// Sides of a window that a screen may have, physical pixels.
const SIZES: std::ops::RangeInclusive<u32> = 200..=16_384;
/// A text beyond this is no chart and no pattern.
const LONGEST: usize = 1 << 20;

impl Instance {
    /// The fields of the state.
    pub fn save(&self) -> BTreeMap<String, String> {
        let text = |text: String| serde_json::Value::from(text).to_string();
        let mut fields = BTreeMap::from([
            ("format".into(), FORMAT.to_string()),
            ("chart".into(), text(self.text(Chart))),
            ("pattern".into(), text(self.text(OwnPattern))),
        ]);
        fields.extend(self.newer());
        if let Some(tempo) = self.delay.tempo() {
            fields.insert("tempo".into(), tempo.to_string());
        }
        if let Ok(look) = serde_json::to_string(&self.look()) {
            fields.insert("look".into(), look);
        }
        if let Some((width, height)) = self.size() {
            fields.insert("size".into(), serde_json::json!([width, height]).to_string());
        }
        fields
    }

    /// Takes in the fields that make sense; a text that is missing is empty,
    /// one that is damaged leaves what is there.
    pub fn load(&self, fields: &BTreeMap<String, String>) {
        let read = |name| match fields.get(name) {
            None => Some(String::new()),
            Some(json) if json.len() > LONGEST => None,
            Some(json) => serde_json::from_str(json).ok(),
        };
        for (which, name) in [(Chart, "chart"), (OwnPattern, "pattern")] {
            if let Some(text) = read(name) {
                self.set_text(which, &text, Faulty::PlayNone);
            }
        }
        if let Some(tempo) = fields.get("tempo").and_then(|json| json.parse().ok()) {
            self.delay.remember(tempo);
        }
        if let Some(look) = fields.get("look").and_then(|json| serde_json::from_str(json).ok()) {
            self.set_look(look);
        }
        let size =
            fields.get("size").and_then(|json| serde_json::from_str::<(u32, u32)>(json).ok());
        if let Some(size) = size.filter(|(w, h)| SIZES.contains(w) && SIZES.contains(h)) {
            self.set_size(size);
        }
        self.set_newer(newer(fields));
        self.settle();
    }
}

/// What a newer version wrote, its `format` among it: a project that it saved goes back
/// to it whole, though it was opened here on the way.
fn newer(fields: &BTreeMap<String, String>) -> BTreeMap<String, String> {
    let is_newer = |(name, json): &(&String, &String)| match name.as_str() {
        "format" => json.parse::<u32>().is_ok_and(|format| format > FORMAT),
        name => !KNOWN.contains(&name) && json.len() <= LONGEST,
    };
    fields.iter().filter(is_newer).map(|(name, json)| (name.clone(), json.clone())).collect()
}
