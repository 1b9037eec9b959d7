//! Songs with the chords that people heard in them: POP909-CL on its exact
//! grid, POP909 in human time.

use std::collections::HashMap;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;

use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::engine::{Engine, Message};
use sinistra_core::foresee;
use sinistra_core::pitch::{KeyNumber, PitchClass, Spelled};
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Cut, LeftNote, MidiFile, Timeline, rehearse};

/// A chord that people heard.
#[derive(Clone, Copy, Debug)]
pub struct Label {
    /// From the song's first bar line.
    pub at: Ticks,
    /// Its root.
    pub root: PitchClass,
    /// Its lowest tone.
    pub bass: PitchClass,
    /// The whole chord, where the label's quality is known.
    pub chord: Option<Chord>,
}

impl Label {
    /// Whether it is the root or the bass.
    pub fn fits(&self, class: PitchClass) -> bool {
        class == self.root || class == self.bass
    }
}

/// A piano part with its labels.
#[derive(Clone)]
pub struct LabelledSong {
    /// The name of its file.
    pub name: String,
    /// Tempo and metre.
    pub timeline: Timeline,
    /// Frames at 48 kHz, both hands.
    pub events: Vec<(i64, Message)>,
    /// In order; neighbours differ in root or bass.
    pub labels: Vec<Label>,
    /// In frames.
    pub end: i64,
}

/// Frames a second.
pub const RATE: f64 = 48_000.0;

/// The songs on the grid: `pop909-cl` and `chord-sequences.jsonl.gz` in `data`.
///
/// # Panics
/// If they are not there.
pub fn on_the_grid(data: &Path) -> Vec<LabelledSong> {
    let labels = sequences(data);
    let mut songs = Vec::new();
    for path in sorted(&data.join("pop909-cl")) {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let Some(labels) = labels.get(&name) else { continue };
        let bytes = fs::read(&path).expect("a song");
        let file = MidiFile::read("song", &bytes).expect("a MIDI file");
        let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
        let timeline = file.timeline().clone();
        let events = file.messages(&part).into_iter();
        let events = events.map(|(at, m)| (timeline.frame(at, RATE), m)).collect();
        let end = timeline.frame(file.end(), RATE);
        songs.push(LabelledSong { name, timeline, events, labels: labels.clone(), end });
    }
    songs
}

fn sequences(data: &Path) -> HashMap<String, Vec<Label>> {
    let file = fs::File::open(data.join("chord-sequences.jsonl.gz")).expect("the sequences");
    let lines = BufReader::new(flate2::read::MultiGzDecoder::new(file)).lines();
    lines
        .map(|line| {
            let song: serde_json::Value =
                serde_json::from_str(&line.expect("a line")).expect("JSON");
            let chords = song["chords"].as_array().expect("chords").iter().map(|chord| {
                let class = |n: usize| PitchClass::new(chord[n].as_i64().expect("a class") as i32);
                let at = Ticks::nearest(chord[0].as_f64().expect("a beat"));
                let (root, bass) = (class(2), class(5));
                let quality = chord[4].as_str().expect("a quality");
                Label { at, root, bass, chord: whole(root, bass, quality) }
            });
            (song["song"].as_str().expect("a name").to_owned(), changes(chords))
        })
        .collect()
}

/// The chord of a label of POP909-CL.
fn whole(root: PitchClass, bass: PitchClass, quality: &str) -> Option<Chord> {
    let quality = match quality {
        "maj" => "",
        "maj6" => "6",
        "min" => "m",
        "min6" => "m6",
        "min7" => "m7",
        "minmaj7" => "mMaj7",
        "hdim7" => "m7b5",
        "sus4(b7)" => "7sus4",
        other => other,
    };
    let names = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let symbol = Symbol::read(&format!("{}{quality}", names[root.index()])).ok()?;
    Some(symbol.chord().over(bass))
}

impl LabelledSong {
    /// What the left hand plays to the right hand alone: the keys from middle C up.
    pub fn played_by(&self, engine: &mut Engine) -> Vec<LeftNote> {
        let (events, cut) = (self.right_hand(), Cut { rate: RATE, block: 64 });
        rehearse(engine, &self.timeline, &events, (0, self.end), cut)
    }

    /// What the right hand plays.
    pub fn right_hand(&self) -> Vec<(i64, Message)> {
        self.events.iter().copied().filter(|(_, message)| is_right(*message)).collect()
    }

    /// The labels as a chart in the song's own bars.
    pub fn chart(&self) -> Option<foresee::Song> {
        let end = self.timeline.tick_at_frame(self.end, RATE);
        let first = self.labels.first()?.at.min(Ticks::ZERO);
        let mut bars = vec![];
        let mut place = self.timeline.place(first);
        while place.bar < end {
            bars.push(foresee::SongBar { at: place.bar, metre: place.metre, written: 0 });
            place = self.timeline.place(place.bar + place.metre.bar());
        }
        let chords = self.labels.iter().filter(|label| label.at < end);
        let chords = chords
            .map(|label| foresee::SongChord { at: label.at, chord: label.chord, written: 0 })
            .collect();
        foresee::Song::new(chords, bars, end)
    }
}

/// Whether the right hand plays it: the keys from middle C up, and the pedals.
pub fn is_right(message: Message) -> bool {
    match message {
        Message::On { key, .. } | Message::Off { key, .. } => key >= KeyNumber::MIDDLE_C,
        Message::Control { .. } => true,
    }
}

/// Without those that repeat root and bass.
fn changes(labels: impl Iterator<Item = Label>) -> Vec<Label> {
    let mut labels: Vec<_> = labels.collect();
    labels.dedup_by_key(|label| (label.root, label.bass));
    labels
}

fn sorted(folder: &Path) -> Vec<std::path::PathBuf> {
    let entries = fs::read_dir(folder).expect("a folder of songs");
    let mut paths: Vec<_> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    paths.retain(|path| path.is_dir() || path.extension().is_some_and(|e| e == "mid"));
    paths.sort();
    paths
}

/// The songs in human time: `pop909/NNN/NNN.mid` with its beats and labels as
/// the host's bars.
///
/// # Panics
/// If the folder is not there.
pub fn in_human_time(data: &Path) -> Vec<LabelledSong> {
    sorted(&data.join("pop909")).iter().filter_map(|folder| human(folder)).collect()
}

fn human(folder: &Path) -> Option<LabelledSong> {
    let name = folder.file_name()?.to_string_lossy().into_owned();
    let bytes = fs::read(folder.join(format!("{name}.mid"))).ok()?;
    let file = MidiFile::read("song", &bytes).ok()?;
    let track = file.tracks().iter().position(|track| track.name.as_deref() == Some("PIANO"))? + 1;
    let part = file.right_hand(Some(track), None, KeyNumber::MIDDLE_C).ok()?;
    let (timeline, first) = beats(&fs::read_to_string(folder.join("beat_midi.txt")).ok()?)?;
    // The clock of the beats starts with the first of them.
    let frame = |at: Ticks| ((file.timeline().seconds(at) - first) * RATE).round() as i64;
    let events = file.messages(&part).into_iter().map(|(at, m)| (frame(at), m)).collect();
    let end = frame(file.end());
    let text = fs::read_to_string(folder.join("chord_midi.txt")).ok()?;
    let labels = text.lines().filter_map(|line| label(line, &timeline, first));
    Some(LabelledSong { name, events, labels: changes(labels), end, timeline })
}

/// `seconds flag downbeat` a line: the tempo of each beat, bars at downbeats.
fn beats(text: &str) -> Option<(Timeline, f64)> {
    let rows: Vec<Vec<f64>> = text
        .lines()
        .map(|line| line.split_whitespace().filter_map(|word| word.parse().ok()).collect())
        .collect();
    let first = *rows.first()?.first()?;
    let tempos: Vec<_> = (0..)
        .zip(rows.windows(2))
        .map(|(n, pair)| (f64::from(n), 60.0 / (pair[1][0] - pair[0][0])))
        .collect();
    let mut metres = vec![(Ticks::ZERO, Metre::COMMON)];
    let mut line = None;
    for (beat, row) in (0i64..).zip(&rows) {
        if row.get(2).is_some_and(|&down| down > 0.5) {
            if line.is_none_or(|line| (beat - line) % 4 != 0) {
                metres.push((Ticks(beat * Ticks::PER_BEAT), Metre::COMMON));
            }
            line = Some(beat);
        }
    }
    Some((Timeline::new(&tempos, &metres), first))
}

/// `start end Gb:maj7/3`.
fn label(line: &str, timeline: &Timeline, first: f64) -> Option<Label> {
    let mut words = line.split_whitespace();
    let start: f64 = words.next()?.parse().ok()?;
    let name = words.nth(1)?;
    let (chord, above) = name.split_once('/').map_or((name, None), |(c, d)| (c, Some(d)));
    let (root, _) = Spelled::read(chord.split(':').next()?)?;
    let root = root.class();
    // The bass is a degree of the major scale above the root.
    let bass = above.and_then(|degree| {
        let (number, by) = match degree.strip_prefix('b') {
            Some(rest) => (rest, -1),
            None => (degree.trim_start_matches('#'), i32::from(degree.starts_with('#'))),
        };
        let steps = [0, 2, 4, 5, 7, 9, 11];
        let number: usize = number.parse().ok()?;
        Some(PitchClass::new(root.index() as i32 + steps[(number.max(1) - 1) % 7] + by))
    });
    let bass = bass.unwrap_or(root);
    Some(Label { at: timeline.tick_at(start - first), root, bass, chord: None })
}
