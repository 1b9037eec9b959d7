//! A song of `tests/data`: its right hand, and its chords as people heard them.

use std::fs;
use std::io::Read;
use std::ops::Range;
use std::path::Path;

use flate2::read::GzDecoder;
use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use serde_json::Value;
use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::engine::Message;
use sinistra_core::foresee::Song;
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::time::Ticks;

/// What the right hand plays, in common time, and the chart of it.
#[derive(Clone)]
pub struct PlayedSong {
    pub events: Vec<(Ticks, Message)>,
    pub chart: Song,
    pub tempo: f64,
}

/// The song of that number. In beats of `own_left` the left hand of the file is played too.
pub fn read(number: &str, own_left: Range<i64>) -> PlayedSong {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data");
    let bytes = fs::read(data.join(format!("pop909-cl/{number}.mid"))).expect("a song");
    let file = Smf::parse(&bytes).expect("a MIDI file");
    let Timing::Metrical(per_beat) = file.header.timing else { panic!("no beats") };
    let (mut events, mut tempo) = (Vec::new(), 120.0);
    let piano = file.tracks.iter().map(Vec::len).max();
    for track in &file.tracks {
        let mut at = 0_i64;
        let is_piano = Some(track.len()) == piano;
        for event in track {
            at += i64::from(event.delta.as_int());
            let time = Ticks(at * Ticks::PER_BEAT / i64::from(per_beat.as_int()));
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(micros)) => {
                    tempo = 60e6 / f64::from(micros.as_int());
                }
                TrackEventKind::Midi { message, .. } if is_piano => {
                    let own_left = own_left.contains(&(time.beats() as i64));
                    events.extend(heard(message, own_left).map(|message| (time, message)));
                }
                _ => {}
            }
        }
    }
    Message::sort(&mut events);
    let end = events.last().map_or(Ticks::ZERO, |(at, _)| *at);
    let bars = end.0 / (4 * Ticks::PER_BEAT) + 1;
    let chart = Song::in_common_time(labels(&data, number), bars).expect("a chart");
    PlayedSong { events, chart, tempo }
}

fn heard(message: MidiMessage, own_left: bool) -> Option<Message> {
    let right = |key: midly::num::u7| own_left || key.as_int() >= 60;
    Some(match message {
        MidiMessage::NoteOn { key, vel } if right(key) && vel > 0 => Message::On {
            channel: 0,
            key: KeyNumber::clamped(key.as_int().into()),
            velocity: vel.as_int(),
        },
        // A left hand's key is let go whenever that may be.
        MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
            Message::off(0, KeyNumber::clamped(key.as_int().into()))
        }
        MidiMessage::Controller { controller, value } => {
            let (controller, value) = (controller.as_int(), value.as_int());
            Message::Control { channel: 0, controller, value }
        }
        _ => return None,
    })
}

/// `[beat, beats, root, triad, kind, bass, .. ]` a chord.
fn labels(data: &Path, number: &str) -> Vec<(Ticks, Option<Chord>)> {
    let mut text = String::new();
    let file = fs::File::open(data.join("chord-sequences.jsonl.gz")).expect("the chords");
    GzDecoder::new(file).read_to_string(&mut text).expect("text");
    let songs = text.lines().map(|line| serde_json::from_str(line).expect("JSON"));
    let song: Value = songs.into_iter().find(|s: &Value| s["song"] == number).expect("a song");
    let names = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let chords = song["chords"].as_array().expect("chords").iter().map(|chord| {
        let class = |n: usize| PitchClass::new(chord[n].as_i64().expect("a class") as i32);
        let kind = match chord[4].as_str().expect("a kind") {
            "maj" => "",
            "min" => "m",
            "min7" => "m7",
            other => other,
        };
        let symbol = Symbol::read(&format!("{}{kind}", names[class(2).index()])).ok();
        let chord_of = |symbol: Symbol| symbol.chord().over(class(5));
        (Ticks::nearest(chord[0].as_f64().expect("a beat")), symbol.map(chord_of))
    });
    chords.collect()
}
