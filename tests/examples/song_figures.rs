//! Figures over the songs of POP909-CL: what our left hand plays to the right
//! hands of real players, beside the chords that people heard in them.
//!
//! `cargo run --release -p sinistra-tests --example song_figures -- DATA [PATTERN]`
//! where DATA holds `pop909-cl/NNN.mid` and `chord-sequences.jsonl.gz`.

use std::collections::HashMap;
use std::io::{BufRead, BufReader};
use std::path::Path;

use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::Role;
use sinistra_core::score::{Cut, LeftNote, MidiFile, rehearse};
use sinistra_core::time::Ticks;

/// A chord that people heard.
struct Label {
    at: Ticks,
    root: PitchClass,
    bass: PitchClass,
}

/// What is counted.
#[derive(Default)]
struct Tally {
    changes: u32,
    /// A left-hand note starts with the change, and is its root or bass.
    struck: u32,
    right: u32,
    /// The first left-hand note within a beat of the change is its root or bass.
    soon: u32,
    /// Strokes of ours that begin a chord (first note to another root).
    starts: u32,
    starts_right: u32,
    notes: u32,
    right_leads: u32,
    wrong_leads: u32,
    neutral: u32,
    broken: u32,
}

fn labels(data: &Path) -> HashMap<String, Vec<Label>> {
    let file = std::fs::File::open(data.join("chord-sequences.jsonl.gz")).expect("the sequences");
    let lines = BufReader::new(flate2::read::MultiGzDecoder::new(file)).lines();
    lines
        .map(|line| {
            let song: serde_json::Value =
                serde_json::from_str(&line.expect("a line")).expect("JSON");
            let chords = song["chords"].as_array().expect("chords");
            let mut labels: Vec<Label> = Vec::new();
            for chord in chords {
                let class = |n: usize| PitchClass::new(chord[n].as_i64().expect("a class") as i32);
                let at = Ticks::nearest(chord[0].as_f64().expect("a beat"));
                let (root, bass) = (class(2), class(5));
                if labels.last().is_none_or(|last| last.root != root || last.bass != bass) {
                    labels.push(Label { at, root, bass });
                }
            }
            (song["song"].as_str().expect("a name").to_owned(), labels)
        })
        .collect()
}

fn main() {
    let mut args = std::env::args().skip(1);
    let data = args.next().expect("the folder of the data");
    let data = Path::new(&data);
    let pattern = args.next();
    let labels = labels(data);
    let mut songs: Vec<_> = std::fs::read_dir(data.join("pop909-cl"))
        .expect("pop909-cl")
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "mid"))
        .collect();
    songs.sort();
    let mut tally = Tally::default();
    let mut counted = 0;
    for path in songs {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let Some(labels) = labels.get(&name) else { continue };
        counted += 1;
        let notes = left_hand(&path, pattern.as_deref());
        count(&mut tally, &notes, labels);
    }
    let share = |part: u32, whole: u32| 100.0 * f64::from(part) / f64::from(whole.max(1));
    let t = &tally;
    println!("{counted} songs, {} changes of root or bass, {} left-hand notes", t.changes, t.notes);
    println!("change struck at its start      {:5.1} %", share(t.struck, t.changes));
    println!("  of these, root or bass right  {:5.1} %", share(t.right, t.struck));
    println!("first note within a beat right  {:5.1} %", share(t.soon, t.changes));
    println!(
        "our chord starts: right         {:5.1} % of {}",
        share(t.starts_right, t.starts),
        t.starts
    );
    println!(
        "last note before a change: right lead {:.1} %, neutral {:.1} %, wrong lead {:.1} %",
        share(t.right_leads, t.changes),
        share(t.neutral, t.changes),
        share(t.wrong_leads, t.changes)
    );
    println!("notes that break a guarantee    {}", t.broken);
}

fn left_hand(path: &Path, pattern: Option<&str>) -> Vec<LeftNote> {
    let bytes = std::fs::read(path).expect("a song");
    let file = MidiFile::read("song", &bytes).expect("a MIDI file");
    let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
    let cut = Cut { rate: 48_000.0, block: 64 };
    let frame = |at: Ticks| file.timeline().frame(at, cut.rate);
    let right = |message: &Message| match message {
        Message::On { key, .. } | Message::Off { key, .. } => *key >= KeyNumber::MIDDLE_C,
        Message::Control { .. } => true,
    };
    let events: Vec<_> = file
        .messages(&part)
        .into_iter()
        .filter(|(_, message)| right(message))
        .map(|(at, message)| (frame(at), message))
        .collect();
    let pattern = sinistra_tests::pattern(pattern);
    let mut engine = Engine::new(Settings::default(), pattern);
    rehearse(&mut engine, file.timeline(), &events, (0, frame(file.end())), cut)
}

fn count(tally: &mut Tally, notes: &[LeftNote], labels: &[Label]) {
    let near = Ticks(Ticks::PER_BEAT / 8);
    tally.notes += notes.len() as u32;
    for (n, label) in labels.iter().enumerate() {
        tally.changes += 1;
        let fits = |note: &LeftNote| {
            let class = note.played.key.class();
            class == label.root || class == label.bass
        };
        let end = labels.get(n + 1).map_or(Ticks(i64::MAX), |next| next.at);
        let first = notes.partition_point(|note| note.played.at < label.at - Ticks(20));
        if let Some(note) = notes.get(first).filter(|note| note.played.at <= label.at + near) {
            tally.struck += 1;
            tally.right += u32::from(fits(note));
        }
        let soon = (label.at + Ticks(Ticks::PER_BEAT)).min(end);
        if notes[first..].iter().take_while(|note| note.played.at < soon).any(fits) {
            tally.soon += 1;
        }
        if let Some(before) = first.checked_sub(1).and_then(|n| notes.get(n)) {
            lead(tally, before, label);
        }
    }
    let label_at = |at: Ticks| {
        labels
            .partition_point(|label| label.at <= at + Ticks(20))
            .checked_sub(1)
            .map(|n| &labels[n])
    };
    for (n, note) in notes.iter().enumerate() {
        let before = n.checked_sub(1).map(|n| notes[n].played.chord);
        let starts = before.is_none_or(|b| b.root != note.played.chord.root);
        if let (true, Some(label)) = (starts, label_at(note.played.at)) {
            tally.starts += 1;
            let class = note.played.key.class();
            tally.starts_right += u32::from(class == label.root || class == label.bass);
        }
        let tone = note.played.chord.tones().has(note.played.key.class())
            || note.played.key.class() == note.played.chord.bass
            || note.played.role == Role::Passing;
        tally.broken += u32::from(!tone || note.played.key >= KeyNumber::MIDDLE_C);
    }
}

/// Whether the last note before a change led to the chord that came.
fn lead(tally: &mut Tally, note: &LeftNote, next: &Label) {
    let class = note.played.key.class();
    let meant = note.played.next.map(|next| next.chord.root);
    match note.played.role {
        Role::Passing if meant == Some(next.root) => tally.right_leads += 1,
        Role::Passing => tally.wrong_leads += 1,
        Role::Fifth | Role::Third | Role::Seventh if class == next.root => tally.right_leads += 1,
        Role::Third if [1, 2, 10, 11].contains(&class.above(next.root)) => tally.right_leads += 1,
        Role::Third | Role::Seventh => tally.wrong_leads += 1,
        _ => tally.neutral += 1,
    }
}
