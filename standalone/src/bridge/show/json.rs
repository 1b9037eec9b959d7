//! A line of JSON an event, for other programs.

use serde_json::{Value, json};
use sinistra_core::chord::Symbol;
use sinistra_score::wording;
use std::io::Write;

use super::{About, Show};
use crate::bridge::run::Look;
use crate::bridge::stage::Report;

/// Writes to standard output, a line at once.
#[derive(Default)]
pub struct Json {
    last: Option<Value>,
}

impl Json {
    fn put(&mut self, value: &Value) {
        let mut out = std::io::stdout().lock();
        // A reader that went away stops no music.
        let _ = writeln!(out, "{value}");
        let _ = out.flush();
    }
}

impl Show for Json {
    fn say(&mut self, words: &str) {
        self.put(&json!({ "event": "said", "words": words }));
    }

    fn report(&mut self, report: &Report) {
        let value = match report {
            Report::Played(note) => json!({
                "event": "note", "beat": note.at.beats(), "key": note.key.number(),
                "velocity": note.velocity, "role": note.role.name(),
            }),
            Report::Started => json!({ "event": "started" }),
            Report::Stopped => json!({ "event": "stopped" }),
            Report::Did(action, value) => {
                json!({ "event": "control", "does": action.name(), "value": value })
            }
            Report::Learned(action, trigger) => {
                json!({ "event": "learned", "does": action.name(), "control": trigger.to_string() })
            }
            // What is said in words is not said twice.
            Report::Coasts(_) | Report::ClockLost | Report::Below(..) => return,
            Report::Ask(_) | Report::OldPattern(_) | Report::OldSong(_) => return,
        };
        self.put(&value);
    }

    fn look(&mut self, look: &Look, about: &About) {
        let snapshot = &look.snapshot;
        let key = snapshot.key;
        let left: Vec<_> = snapshot.left.iter().map(|(k, _)| wording::note(*k, key)).collect();
        let next_other = snapshot.next.and_then(|next| next.other);
        let value = json!({
            "event": "chord",
            "chord": snapshot.chord.map(|heard| Symbol::of(heard.chord, key).to_string()),
            "certainty": snapshot.chord.map(|heard| heard.certainty),
            "alternative": snapshot.other.map(|other| Symbol::of(other.chord, key).to_string()),
            "alternative_certainty": snapshot.other.map(|other| other.certainty),
            "next": snapshot.next.map(|next| Symbol::of(next.chord, key).to_string()),
            "next_source": snapshot.next.map(|next| next.source.name()),
            "next_alternative": next_other.map(|other| Symbol::of(other.chord, key).to_string()),
            "next_alternative_certainty": next_other.map(|other| other.certainty),
            "bar": snapshot.place.number + 1,
            "left": left,
            "plays": look.moves,
            "entry": about.entry,
            "dropped": about.dropped,
            "late": about.late,
        });
        // Told when the chord or what is expected changes, not the clock.
        let named = |v: &Value| (v["chord"].clone(), v["next"].clone(), v["entry"].clone());
        if self.last.as_ref().map(named) != Some(named(&value)) {
            self.put(&value);
            self.last = Some(value);
        }
    }
}
