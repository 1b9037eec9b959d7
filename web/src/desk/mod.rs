//! The free world of the page: it is asked in JSON and answers in JSON, with the
//! bytes of a file where there is one.

mod catalogue;
mod make;
mod practise;
mod wait;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Value, json};
use sinistra_core::key::WrittenKey;
use sinistra_core::play::Pattern;
use sinistra_score::chart::read_written_key;
use sinistra_score::control::{ALL, Values};
use sinistra_score::practice::{Hands, RoundStage};
use sinistra_score::{Chart, Fault, Faults, PatternFile, find_pattern};

/// An answer: its JSON, and the file that it may bring.
#[derive(Default)]
pub struct Reply {
    /// `{"ok": …}` or `{"faults": [{line, column, width, what, hint}]}`.
    pub json: Vec<u8>,
    /// A MIDI file, samples; empty where there is none.
    pub file: Vec<u8>,
}

/// What the page asks from, and what it is in the middle of.
#[derive(Default)]
pub struct Desk {
    /// The last answer.
    pub answer: Reply,
    lesson: Option<practise::OpenLesson>,
}

/// What a question may be about; what it is not about is left out.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Question {
    ask: String,
    /// A chart's text.
    chart: String,
    /// A preset's slug, or a pattern file's text.
    pattern: String,
    /// A key to play it in; none is the chart's.
    key: String,
    /// Felt beats a minute; 0 is the chart's.
    tempo: f64,
    /// Controls by their ids.
    settings: BTreeMap<String, i32>,
    /// What a file is called.
    name: String,
    /// Where a link leads, for the sheet's QR code.
    link: String,
    hands: Hands,
    stage: RoundStage,
    /// Whether any left hand by the rule counts.
    free: bool,
    /// Whether the sheet says why the left hand plays as it does.
    why: bool,
    /// Whether a file's own left hand is left out.
    right_only: bool,
    /// Printed bars, first and last; none are all.
    bars: Option<(i64, i64)>,
    /// The learner's progress file.
    progress: String,
    /// Seconds since 1970.
    now: u64,
    /// `[at ms, until ms, key, velocity]`.
    strokes: Vec<(f64, f64, u8, u8)>,
    /// A key that was struck.
    struck: u8,
    /// The key of a recording.
    recording: u8,
}

/// Why a question has no answer.
enum Trouble {
    /// Faults of a text or a file.
    Faults(Faults),
    /// In a sentence.
    Said(String),
}

impl From<Faults> for Trouble {
    fn from(faults: Faults) -> Self {
        Self::Faults(faults)
    }
}

impl From<Fault> for Trouble {
    fn from(fault: Fault) -> Self {
        Self::Faults(fault.into())
    }
}

/// What is answered where all is well.
type Answered = Result<(Value, Vec<u8>), Trouble>;

impl Desk {
    /// Answers; `Desk::answer` has it.
    pub fn ask(&mut self, question: &[u8], file: &[u8]) {
        let answered = match serde_json::from_slice::<Question>(question) {
            Ok(question) => self.answer(&question, file),
            Err(error) => Err(Trouble::Said(format!("not a question: {error}"))),
        };
        let (value, file) = match answered {
            Ok((value, file)) => (json!({ "ok": value }), file),
            Err(Trouble::Said(what)) => (json!({ "faults": [{ "what": what }] }), Vec::new()),
            Err(Trouble::Faults(faults)) => {
                let faults: Vec<_> = faults.iter().map(fault).collect();
                (json!({ "faults": faults }), Vec::new())
            }
        };
        self.answer = Reply { json: value.to_string().into_bytes(), file };
    }

    fn answer(&mut self, q: &Question, file: &[u8]) -> Answered {
        match q.ask.as_str() {
            "catalogue" => Ok((catalogue::catalogue(), Vec::new())),
            "check" => make::check(q),
            "pattern" => Ok((json!(q.pattern()?.name), Vec::new())),
            "load" => make::load(q, file),
            "perform" => make::perform(q),
            "take" => make::take(q, file),
            "harmonise" => make::harmonise(q, file),
            "lesson" => self.lesson(q),
            "round" => self.round(q),
            "tell" => self.tell(q),
            "tempo" => self.change_tempo(q),
            "wait" => self.wait(),
            "strike" => self.strike(q),
            "decode" => catalogue::decode(q.recording, file),
            other => Err(Trouble::Said(format!("nobody knows how to `{other}`"))),
        }
    }
}

fn fault(fault: &Fault) -> Value {
    let spot = fault.spot.as_deref();
    json!({
        "what": fault.what,
        "hint": fault.hint,
        "line": spot.map(|spot| spot.line),
        "column": spot.map(|spot| spot.column),
        "width": spot.map(|spot| spot.width),
    })
}

impl Question {
    /// The chart, in the key that is asked for.
    fn chart(&self) -> Result<Chart, Trouble> {
        let chart = Chart::read("chart", &self.chart)?;
        if self.key.is_empty() {
            return Ok(chart);
        }
        let to: WrittenKey = read_written_key(&self.key)
            .ok_or_else(|| Trouble::Said(format!("no key: `{}`", self.key)))?;
        chart.transpose(to).ok_or_else(|| {
            Trouble::Said(format!(
                "the chart cannot be written in {}: of the two one is major, the other minor",
                self.key
            ))
        })
    }

    /// A preset by its slug, else a pattern file.
    fn pattern(&self) -> Result<Box<Pattern>, Trouble> {
        Ok(match find_pattern(&self.pattern) {
            Some(preset) => preset.compile(),
            None => PatternFile::compile("pattern", &self.pattern),
        }?)
    }

    fn values(&self) -> Values {
        let mut values = Values::default();
        for control in ALL {
            if let Some(value) = self.settings.get(control.spec().id) {
                values.set(control, *value);
            }
        }
        values
    }

    /// Quarter notes a minute for a chart.
    fn tempo(&self, chart: &Chart) -> f64 {
        let felt = Some(self.tempo).filter(|tempo| (10.0..=400.0).contains(tempo));
        chart.quarters(felt.or(chart.draft().tempo).unwrap_or(USUAL_TEMPO))
    }
}

/// Felt beats a minute where nobody names a tempo: a walking pace.
const USUAL_TEMPO: f64 = 92.0;
