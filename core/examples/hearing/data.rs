//! Songs of POP909-CL with their chord labels.

use std::error::Error;
use std::fs;
use std::io::Read;
use std::path::Path;

use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::time::Ticks;

/// A key goes down (with a velocity) or up.
#[derive(Clone, Copy, Debug)]
pub struct Event {
    pub at: Ticks,
    pub key: KeyNumber,
    pub velocity: Option<u8>,
}

/// A labelled chord, from its onset to the next one.
#[derive(Clone, Copy, Debug)]
pub struct Label {
    pub at: Ticks,
    pub chord: Chord,
}

/// One song.
pub struct Song {
    pub number: u32,
    pub events: Vec<Event>,
    pub labels: Vec<Label>,
    pub end: Ticks,
    pub tempo: f64,
}

/// Every song that has both a MIDI file and labels, in the order of numbers.
pub fn songs(folder: &Path) -> Result<Vec<Song>, Box<dyn Error>> {
    let packed = fs::File::open(folder.join("chord-sequences.jsonl.gz"))?;
    let mut text = String::new();
    flate2::read::GzDecoder::new(packed).read_to_string(&mut text)?;
    let mut songs = Vec::new();
    for line in text.lines() {
        let record: serde_json::Value = serde_json::from_str(line)?;
        let name = record["song"].as_str().ok_or("a song without a name")?;
        let path = folder.join("pop909-cl").join(format!("{name}.mid"));
        if !path.exists() {
            continue;
        }
        let chords = record["chords"].as_array().ok_or("a song without chords")?;
        let mut labels: Vec<Label> = chords.iter().filter_map(label).collect();
        labels.dedup_by_key(|label| (label.chord.root, label.chord.bass));
        let (events, tempo) = piano(&fs::read(path)?)?;
        let end = events.last().map_or(Ticks::ZERO, |event| event.at);
        songs.push(Song { number: name.parse()?, events, labels, end, tempo });
    }
    songs.sort_by_key(|song| song.number);
    Ok(songs)
}

/// `[onset beat, beats, root, triad, quality, bass, gap]`.
fn label(record: &serde_json::Value) -> Option<Label> {
    let kind = match record[4].as_str()? {
        "min" => Kind::Minor,
        "min7" => Kind::MinorSeventh,
        "maj7" => Kind::MajorSeventh,
        "7" => Kind::Dominant,
        "dim" => Kind::Diminished,
        "dim7" => Kind::DiminishedSeventh,
        "hdim7" => Kind::HalfDiminished,
        "aug" => Kind::Augmented,
        "sus2" => Kind::SuspendedSecond,
        "sus4" => Kind::SuspendedFourth,
        "maj6" => Kind::MajorSixth,
        "min6" => Kind::MinorSixth,
        "minmaj7" => Kind::MajorMinor,
        _ => Kind::Major,
    };
    let class = |i: usize| record[i].as_i64().map(|n| PitchClass::new(n as i32));
    Some(Label {
        at: Ticks::nearest(record[0].as_f64()?),
        chord: Chord::new(class(2)?, kind).over(class(5)?),
    })
}

/// The events of the track `piano` and the first tempo.
fn piano(bytes: &[u8]) -> Result<(Vec<Event>, f64), Box<dyn Error>> {
    let smf = Smf::parse(bytes)?;
    let Timing::Metrical(resolution) = smf.header.timing else {
        return Err("not in metrical time".into());
    };
    let resolution = i64::from(resolution.as_int());
    let (mut events, mut tempo) = (Vec::new(), 120.0);
    for track in &smf.tracks {
        let (mut at, mut is_piano) = (0i64, false);
        for event in track {
            at += i64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::TrackName(name)) => is_piano = name == b"piano",
                TrackEventKind::Meta(MetaMessage::Tempo(us)) if at == 0 => {
                    tempo = 60e6 / f64::from(us.as_int());
                }
                TrackEventKind::Midi { message, .. } if is_piano => {
                    let (key, velocity) = match message {
                        MidiMessage::NoteOn { key, vel } => {
                            (key, (vel > 0).then_some(vel.as_int()))
                        }
                        MidiMessage::NoteOff { key, .. } => (key, None),
                        _ => continue,
                    };
                    events.push(Event {
                        at: Ticks(at * Ticks::PER_BEAT / resolution),
                        key: KeyNumber::clamped(key.as_int().into()),
                        velocity,
                    });
                }
                _ => {}
            }
        }
    }
    // A key that comes up comes up before it goes down again.
    events.sort_by_key(|event| (event.at, event.velocity.is_some()));
    Ok((events, tempo))
}
