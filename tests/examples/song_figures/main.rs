//! Figures over the songs of POP909-CL: what our left hand plays to the right
//! hands of real players, beside the chords that people heard in them, and
//! what it does beside the pianists' left hands.
//!
//! ```text
//! cargo run --release -p sinistra-tests --example song_figures -- DATA [PATTERN]
//!     [--human]         the same songs in human time (`pop909`), its noisy labels
//!     [--learned WORK]  with the weights of the fold that does not know the song
//!                       (tools/hear/train_ear.py), not the built-in ones
//!     [--chart]         with the labels given as a chart (on the grid only)
//!     [--ahead BEATS]   with the right hand heard so far ahead
//!     [--hands]         what the left hands do, ours and the pianists'
//! ```
//! `DATA` holds `pop909-cl/NNN.mid`, `chord-sequences.jsonl.gz` and `pop909`;
//! `tests/data` has five of the songs on the grid.

mod left_hands;

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use left_hands::{LeftHands, Note};
use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::LeftNote;
use sinistra_tests::songs::{self, RATE, Song};
use sinistra_tests::tally::{self, Tally};

fn main() {
    let mut args = std::env::args().skip(1);
    let (mut data, mut pattern, mut learned) = (None, None, None);
    let (mut human, mut hands, mut chart, mut ahead) = (false, false, false, 0.0);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--human" => human = true,
            "--hands" => hands = true,
            "--chart" => chart = true,
            "--ahead" => ahead = args.next().and_then(|beats| beats.parse().ok()).expect("beats"),
            "--learned" => learned = args.next().map(Learned::read),
            _ if data.is_none() => data = Some(PathBuf::from(arg)),
            _ => pattern = Some(arg),
        }
    }
    let data = data.expect("the folder of the data");
    let songs = if human { songs::in_human_time(&data) } else { songs::on_the_grid(&data) };
    let mut tally = Tally::default();
    let (mut ours, mut theirs) = (LeftHands::default(), LeftHands::default());
    for song in &songs {
        let notes = left_hand(song, pattern.as_deref(), learned.as_ref(), (chart, ahead));
        tally::count(&mut tally, &notes, &song.labels);
        if hands {
            let at = |frame: i64| song.timeline.tick_at_frame(frame, RATE);
            let note = |frame, key: KeyNumber| {
                let at = at(frame);
                Note { at, key: key.number(), bar: song.timeline.place(at).bar }
            };
            let played: Vec<_> = notes.iter().map(|n| note(n.on, n.played.key)).collect();
            ours.count(&played, &song.labels);
            let below = song.events.iter().filter_map(|&(frame, message)| match message {
                Message::On { key, velocity: 1.., .. } if key < KeyNumber::MIDDLE_C => {
                    Some(note(frame, key))
                }
                _ => None,
            });
            theirs.count(&below.collect::<Vec<_>>(), &song.labels);
        }
    }
    println!("{} songs, {tally}", songs.len());
    if hands {
        println!("our left hands\n{ours}\nthe pianists\n{theirs}");
    }
}

/// The weights of each fold, and which fold does not know which song.
struct Learned {
    folder: PathBuf,
    folds: HashMap<String, String>,
}

impl Learned {
    fn read(folder: String) -> Self {
        let folder = PathBuf::from(folder);
        let text = std::fs::read_to_string(folder.join("songs.txt")).expect("songs.txt");
        let pair = |line: &str| {
            let (song, fold) = line.split_once(' ')?;
            Some((song.to_owned(), fold.to_owned()))
        };
        Self { folds: text.lines().filter_map(pair).collect(), folder }
    }

    /// An ear with the weights for a song; `all` where no fold knows it.
    fn teach(&self, engine: Engine, song: &str) -> Engine {
        let fold = self.folds.get(song).map_or("all", String::as_str);
        let row = |name: &str| floats(&self.folder.join(fold).join(name));
        let (now, past, bar) = (row("now.f32"), row("past.f32"), row("bar.f32"));
        engine.with_ear(|ear| ear.trained(now.as_deref(), past.as_deref(), bar.as_deref()))
    }
}

fn floats(path: &Path) -> Option<Vec<f32>> {
    let bytes = std::fs::read(path).ok()?;
    let float = |b: &[u8]| f32::from_le_bytes([b[0], b[1], b[2], b[3]]);
    Some(bytes.chunks_exact(4).map(float).collect())
}

fn left_hand(
    song: &Song,
    pattern: Option<&str>,
    learned: Option<&Learned>,
    (chart, ahead): (bool, f64),
) -> Vec<LeftNote> {
    let mut engine = Engine::new(Settings::default(), sinistra_tests::pattern(pattern));
    engine.look_ahead(Ticks::nearest(ahead));
    let mut engine = match learned {
        Some(learned) => learned.teach(engine, &song.name),
        None => engine,
    };
    if chart {
        let chart = song.chart().expect("labels that make a chart");
        drop(engine.swap_song(Some(Box::new(chart))));
    }
    song.played_by(&mut engine)
}
