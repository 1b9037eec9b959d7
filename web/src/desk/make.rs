//! Charts to hear, to see and to take along; recorded right hands with a left one.

use serde_json::{Value, json};
use sinistra_core::engine::{Engine, KeyChoice, Message, Settings};
use sinistra_core::midi::Short;
use sinistra_core::play::Pattern;
use sinistra_core::time::Ticks;
use sinistra_score::chart::key_name;
use sinistra_score::midi_file::{NewTrack, write_tracks};
use sinistra_score::performance::messages;
use sinistra_score::practice::Exercise;
use sinistra_score::sheet::engrave::{Layout, pages};
use sinistra_score::sheet::{Sheet, svg};
use sinistra_score::take::{LoggedEvent, chorus, midi_file};
use sinistra_score::{
    Chart, Cut, MidiFile, PatternFile, Performance, load_chart, two_hands, wording,
};

use super::{Answered, Question, Trouble};

/// What a chart says of itself.
pub fn check(q: &Question) -> Answered {
    let chart = q.chart()?;
    let mut answer = about(&chart);
    if !q.pattern.is_empty() {
        answer["fitted"] = json!(fitted(&*q.pattern()?, &chart));
    }
    Ok((answer, Vec::new()))
}

/// What is to be said of a pattern in the chart's metres, if it is written for others.
fn fitted(pattern: &Pattern, chart: &Chart) -> Option<String> {
    wording::fitted(pattern, chart.unfold().bars().iter().map(|bar| bar.metre))
}

fn about(chart: &Chart) -> Value {
    let song = chart.unfold();
    let symbols: Vec<_> = chart.symbols().collect();
    let name = |written: u32| {
        let symbol = symbols.get(written as usize).copied().flatten();
        symbol.map_or_else(|| "N.C.".to_owned(), |symbol| symbol.to_string())
    };
    let chords: Vec<_> = song.chords().iter().map(|chord| name(chord.written)).collect();
    json!({
        "title": chart.title(),
        "key": key_name(chart.written_key()),
        "tempo": chart.draft().tempo,
        "bars": song.bars().len(),
        "chords": chords,
    })
}

/// A chart from any file that may hold one (text, MusicXML), as text.
pub fn load(q: &Question, file: &[u8]) -> Answered {
    let chart = load_chart(file, &q.name)?;
    Ok((json!({ "text": chart.to_string() }), Vec::new()))
}

/// How a chart is played.
pub fn settings(q: &Question, chart: &Chart) -> Settings {
    let mut settings = q.values().settings();
    if settings.key == KeyChoice::Auto || !q.key.is_empty() {
        let key = chart.draft().key.unwrap_or_else(|| chart.likeliest_key());
        settings.key = KeyChoice::Fixed(key);
    }
    if let Some(swing) = chart.draft().swing {
        settings.swing = f32::from(swing) / 100.0;
    }
    settings
}

/// A chart with both hands: cues to hear, pages to see, MusicXML, and a MIDI file.
pub fn perform(q: &Question) -> Answered {
    let chart = q.chart()?;
    // As the program performs: with the pedal, which is off live.
    let settings = Settings { pedal: true, ..settings(q, &chart) };
    let tempo = q.tempo(&chart);
    let mut song = chart.unfold();
    song.tempo = Some(tempo);
    let pattern = q.pattern()?;
    let (name, about_pattern) = (pattern.name.clone(), pattern.about.clone());
    let fitted = fitted(&pattern, &chart);
    let performance = Performance::of(song, tempo, pattern, settings);
    let exercise = Exercise::of(&chart, &performance, &name, &about_pattern);
    let sheet = if q.why { exercise.explained_sheet() } else { exercise.sheet() };
    let timeline = &performance.timeline;
    let start = timeline.seconds(performance.song.start());
    let ms = |at: Ticks| (timeline.seconds(at) - start) * 1000.0;
    let (right, left) = (messages(&performance.right), performance.left_messages());
    let chords: Vec<_> = performance.song.chords().iter().map(|chord| ms(chord.at)).collect();
    let tracks = [("Right hand", &right), ("Left hand", &left)].map(|(name, messages)| NewTrack {
        name,
        program: Some(0),
        messages,
    });
    let key = Some(chart.written_key());
    let span = (performance.song.start(), performance.song.end());
    let midi = write_tracks(chart.title(), key, timeline, span, &tracks);
    let answer = json!({
        "about": about(&chart),
        "fitted": fitted,
        "cues": cues(right.iter().chain(&left).map(|(at, message)| (ms(*at), *message))),
        "chord_ms": chords,
        "end_ms": ms(performance.song.end()),
        "pages": svg_pages(&sheet, &q.link),
        "musicxml": sheet.musicxml().0,
        "kept": kept(&exercise),
        "left_notes": performance.left.len(),
    });
    Ok((answer, midi))
}

/// The last `bars` bars of a log: a MIDI file of both hands, and where a left hand to
/// chords was heard its chart, its sheet and the left hand as a pattern.
pub fn take(q: &Question, log: &[u8]) -> Answered {
    let entries: Vec<LoggedEvent> =
        log.as_chunks::<16>().0.iter().filter_map(LoggedEvent::from_bytes).collect();
    let midi = midi_file(&entries, TAKE_BARS).ok_or_else(|| {
        Trouble::Said("Nothing was played yet while the clock was running.".into())
    })?;
    let chorus = chorus(&entries, TAKE_BARS, &q.values().settings(), &q.name);
    let answer = json!({
        "chart": chorus.as_ref().map(|chorus| chorus.chart().to_string()),
        "musicxml": chorus.as_ref().map(|chorus| chorus.explained_sheet().musicxml().0),
        "kept": chorus.as_ref().and_then(kept),
    });
    Ok((answer, midi))
}

/// Bars of a take, as in the other homes.
const TAKE_BARS: usize = 8;

/// What was played as a pattern file to practise from, where that is possible.
pub fn kept(exercise: &Exercise) -> Option<String> {
    let name = format!("{}, kept", exercise.title());
    let pattern = PatternFile::kept(exercise.song(), &exercise.left, &name);
    pattern.ok().map(|pattern| pattern.print())
}

/// `[ms, status, first, second]` in time order, ends before starts.
pub fn cues(messages: impl Iterator<Item = (f64, Message)>) -> Vec<Value> {
    let mut messages: Vec<_> = messages.collect();
    let starts = |message: &Message| matches!(message, Message::On { .. });
    messages.sort_by(|a, b| a.0.total_cmp(&b.0).then(starts(&a.1).cmp(&starts(&b.1))));
    let cue = |(at, message): (f64, Message)| {
        let [status, first, second] = Short::from(message).padded();
        json!([at, status, first, second])
    };
    messages.into_iter().map(cue).collect()
}

/// The sheet's pages; the link's QR code in the first one's corner.
pub fn svg_pages(sheet: &Sheet, link: &str) -> Vec<String> {
    let mut pages: Vec<_> =
        pages(sheet, &Layout::ALL).iter().map(|page| svg::page(page, &sheet.title)).collect();
    if let (Some(first), Some(code)) = (pages.first_mut(), code(link))
        && let Some(end) = first.rfind("</svg>")
    {
        first.insert_str(end, &code);
    }
    pages
}

/// The code's width on paper, in spaces of 1.6 mm: 23 mm.
const CODE_WIDTH: f64 = 14.5;
/// Its upper left corner: beside the title, in the margin.
const CODE_AT: (f64, f64) = (131.25 - CODE_WIDTH - 4.0, 2.5);

/// A link as a QR code (ISO/IEC 18004), with its name for those who listen.
fn code(link: &str) -> Option<String> {
    if link.is_empty() {
        return None;
    }
    let code = qrcodegen::QrCode::encode_text(link, qrcodegen::QrCodeEcc::Low).ok()?;
    let size = code.size();
    let mut path = String::new();
    for y in 0..size {
        for x in (0..size).filter(|x| code.get_module(*x, y)) {
            path += &format!("M{x} {y}h1v1h-1z");
        }
    }
    let (x, y) = CODE_AT;
    let scale = CODE_WIDTH / f64::from(size);
    Some(format!(
        "<g class=\"code\" transform=\"translate({x} {y}) scale({scale:.4})\">\
         <title>This lesson as a link</title><path d=\"{path}\" fill=\"#000\"/></g>\n"
    ))
}

/// A recorded right hand gets its left hand, as `sinistra harmonise` gives it.
pub fn harmonise(q: &Question, bytes: &[u8]) -> Answered {
    let settings = q.values().settings();
    let file = MidiFile::read(&q.name, bytes)?;
    let part = file
        .right_hand(None, None, settings.split)
        .map_err(|fault| Trouble::from(fault.of_file(&q.name)))?;
    let alone = q.right_only.then(|| file.without_left_hand(&part, settings.split));
    let file = match &alone {
        Some(bytes) => MidiFile::read(&q.name, bytes)?,
        None => file,
    };
    let heard = file.messages(&part);
    let song = if q.chart.trim().is_empty() { None } else { Some(q.chart()?.unfold()) };
    let mut engine = Engine::new(settings, q.pattern()?);
    let cut = Cut { rate: 48_000.0, block: 1024 };
    let hands = two_hands(&mut engine, &file, &heard, song, cut);
    let timeline = file.timeline();
    let place = |at| timeline.place(at);
    let chart = Chart::captured(&q.name, None, None, &hands.chords, file.end(), place);
    let both = heard.iter().chain(&hands.track);
    let answer = json!({
        "left_notes": hands.notes.len(),
        "chart": chart.map(|chart| chart.to_string()),
        "cues": cues(both.map(|(at, message)| (timeline.seconds(*at) * 1000.0, *message))),
        "end_ms": timeline.seconds(file.end()) * 1000.0,
    });
    Ok((answer, file.with_track("Left hand", &hands.track)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::Desk;
    use crate::live::Live;

    #[test]
    fn what_was_just_played_is_kept_with_its_chords_and_its_sheet() {
        let mut live = Live::new(48_000);
        let ask = |log: &[u8]| {
            let mut desk = Desk::default();
            desk.ask(br#"{"ask": "take", "name": "Take"}"#, log);
            let json: Value = serde_json::from_slice(&desk.answer.json).expect("JSON");
            (json, desk.answer.file)
        };
        let log = |live: &mut Live| {
            live.write_log();
            live.logged().to_vec()
        };
        let (nothing, _) = ask(&log(&mut live));
        assert!(nothing["faults"][0]["what"].as_str().is_some_and(|said| said.contains("Nothing")));
        // At 120, two seconds a bar: C for two bars, then G for two.
        for chord in [[60, 64, 67], [62, 67, 71]] {
            chord.iter().for_each(|key| live.midi(0, [0x90, *key, 80]));
            (0..4 * 48_000 / 128).for_each(|_| live.process(128));
            chord.iter().for_each(|key| live.midi(0, [0x80, *key, 64]));
        }
        live.play(false);
        live.process(128);
        let (kept, midi) = ask(&log(&mut live));
        assert!(midi.starts_with(b"MThd"));
        let text = kept["ok"]["chart"].as_str().expect("a chart");
        let chart = Chart::read("Take", text).expect("a chart");
        let names: Vec<_> = chart.symbols().flatten().map(|symbol| symbol.to_string()).collect();
        assert_eq!(names, ["C", "G"], "{text}");
        assert!(kept["ok"]["kept"].as_str().is_some_and(|text| text.contains("[[bar]]")));
        // It says why: the free hand's figures have reasons.
        assert!(kept["ok"]["musicxml"].as_str().is_some_and(|xml| xml.contains("</words>")));
    }
}
