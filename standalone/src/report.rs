//! The report of a left hand: a JSON line a note.

use serde::Serialize;
use sinistra_core::chord::Symbol;
use sinistra_core::play::FigureOf;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{LeftNote, MidiFile, pattern_presets, wording};

/// A left-hand note as the report tells it.
#[derive(Serialize)]
struct ReportLine {
    /// Tick of the file.
    tick: u64,
    /// Quarter notes from the start of the file.
    beat: f64,
    /// From 1.
    bar: i64,
    /// As a player counts: `1`, `2&`, `3e`.
    count: String,
    /// MIDI key number.
    key: u8,
    /// Name with octave.
    name: String,
    /// 1..=127.
    velocity: u8,
    /// Quarter notes.
    length_beats: f64,
    /// What it is to its chord.
    role: &'static str,
    /// The chord that it was played to.
    chord: String,
    /// How sure it is that its root holds, 0..=1.
    chord_certainty: f32,
    /// What else may hold, if anything is worth a word, and how sure that is, 0..=1.
    chord_alternative: Option<String>,
    chord_alternative_certainty: Option<f32>,
    /// The chord that was foreseen.
    next: Option<String>,
    /// Who foresaw it.
    next_source: Option<&'static str>,
    /// How sure its root was, 0..=1.
    certainty: Option<f32>,
    /// How sure it was that it comes at the time foreseen: what a note that leads
    /// needs, 0..=1.
    lead_certainty: Option<f32>,
    /// What else may come, if anything is worth a word, and how sure that is, 0..=1.
    next_alternative: Option<String>,
    next_alternative_certainty: Option<f32>,
    /// The figure that it belongs to: `pattern`, a left hand of the library, or `book`
    /// and its bar.
    figure: String,
    /// The rule that it was struck by.
    rule: &'static str,
    /// What its figure was chosen by.
    listened: &'static str,
    /// Whether it is part of a stroke that is broken from below.
    rolled: bool,
}

/// A line a note, in the order of time.
pub fn lines(notes: &[LeftNote], file: &MidiFile<'_>, rate: f64) -> String {
    let timeline = file.timeline();
    let mut text = String::new();
    for note in notes {
        let played = &note.played;
        let (on, off) =
            (timeline.tick_at_frame(note.on, rate), timeline.tick_at_frame(note.off, rate));
        let place = timeline.place(on);
        let key = played.song_key;
        let symbol = |chord| Symbol::of(chord, key).ascii();
        let next_other = played.next.and_then(|next| next.other);
        let line = ReportLine {
            tick: file.file_tick(on),
            beat: on.beats(),
            bar: place.number + 1,
            count: count(place.offset(on), place.metre),
            key: played.key.number(),
            name: wording::plain_note(played.key, key),
            velocity: played.velocity,
            length_beats: (off - on).beats(),
            role: played.role.name(),
            chord: symbol(played.chord),
            chord_certainty: played.sure,
            chord_alternative: played.other.map(|other| symbol(other.chord)),
            chord_alternative_certainty: played.other.map(|other| other.certainty),
            next: played.next.map(|next| symbol(next.chord)),
            next_source: played.next.map(|next| next.source.name()),
            certainty: played.next.map(|next| next.certainty),
            lead_certainty: played.next.map(|next| next.together),
            next_alternative: next_other.map(|other| symbol(other.chord)),
            next_alternative_certainty: next_other.map(|other| other.certainty),
            figure: figure(played.why.figure),
            rule: played.why.rule.about(),
            listened: played.why.heard.about(),
            rolled: played.why.rolled,
        };
        if let Ok(json) = serde_json::to_string(&line) {
            text.push_str(&json);
            text.push('\n');
        }
    }
    text
}

/// A figure by name.
fn figure(figure: FigureOf) -> String {
    match figure {
        FigureOf::Pattern => "pattern".to_owned(),
        FigureOf::Library(number) => library(number).to_owned(),
        FigureOf::Book(bar) => format!("book {bar}"),
    }
}

/// A left hand of the library by its number.
fn library(number: u16) -> &'static str {
    let preset = pattern_presets().get(usize::from(number).wrapping_sub(1));
    preset.map_or("library", |preset| preset.slug)
}

/// The place in the bar as a player counts it: `2`, `2e`, `2&`, `2a`; compound
/// metres in eighths. Off those, the part of the beat in hundredths: `2.33`.
fn count(offset: Ticks, metre: Metre) -> String {
    let beat = metre.unit_ticks().0;
    let number = offset.0.div_euclid(beat) + 1;
    let into = offset.0.rem_euclid(beat);
    match into * 4 {
        0 => number.to_string(),
        quarters if quarters == beat => format!("{number}e"),
        quarters if quarters == 2 * beat => format!("{number}&"),
        quarters if quarters == 3 * beat => format!("{number}a"),
        _ => format!("{number}.{:02}", into * 100 / beat),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_counted_as_players_count() {
        let six_eight = Metre::new(6, 8).unwrap_or(Metre::COMMON);
        for (offset, metre, said) in [
            (0, Metre::COMMON, "1"),
            (1440, Metre::COMMON, "2&"),
            (3600, Metre::COMMON, "4a"),
            (1440, six_eight, "4"),
            (320, Metre::COMMON, "1.33"),
        ] {
            assert_eq!(count(Ticks(offset), metre), said);
        }
    }
}
