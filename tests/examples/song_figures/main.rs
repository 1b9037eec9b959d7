//! Figures over the songs of POP909-CL: what our left hand plays to the right
//! hands of real players, beside the chords that people heard in them, how true
//! what it says of itself is, and what it does beside the pianists' left hands.
//!
//! ```text
//! cargo run --release -p sinistra-tests --example song_figures -- DATA [PATTERN]
//!     [--human]         the same songs in human time (`pop909`), its noisy labels
//!     [--learned WORK]  with the weights of the fold that does not know the song
//!                       (tools/hear/train_ear.py), not the built-in ones
//!     [--chart]         with the labels given as a chart (on the grid only)
//!     [--ahead BEATS]   with the right hand heard so far ahead
//!     [--certainty N]   what a note that leads needs, in percent
//!     [--late MS]       the right hand so much later
//!     [--player N]      made-up players of whole chords instead (`hands.rs`)
//!     [--worth T,F,S]   what a tone, a foreign one and silence are worth in doubt,
//!                       the root being worth 1 (`belief::begin`)
//!     [--hands]         what the left hands do, ours and the pianists'
//!     [--ceiling]       the roots that hindsight finds, with four beats of what follows
//!     [--rows FILE]     writes what tools/hear/train_next.py learns from instead
//! ```
//! `DATA` holds `pop909-cl/NNN.mid`, `chord-sequences.jsonl.gz` and `pop909`;
//! `tests/data` has five of the songs on the grid.

mod gather;
mod hindsight;
mod learned;
mod left_hands;

use std::io::Write;
use std::path::PathBuf;

use hindsight::HindsightTally;
use learned::Learned;
use left_hands::{LeftHands, TimedKey};
use sinistra_core::belief::begin::Worth;
use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_tests::belief::BeliefTally;
use sinistra_tests::hands::{Looser, MadePlayer};
use sinistra_tests::songs::{self, LabelledSong, RATE};
use sinistra_tests::tally::{self, Tally};

/// How the songs are played.
#[derive(Default)]
struct SongOptions {
    pattern: Option<String>,
    learned: Option<Learned>,
    settings: Settings,
    chart: bool,
    ahead: f64,
    looser: Looser,
    player: Option<u64>,
    worth: Option<Worth>,
}

fn worth(text: &str) -> Option<Worth> {
    let mut numbers = text.split(',').map(|n| n.parse().ok());
    let mut next = || numbers.next()?;
    Some(Worth { tone: next()?, foreign: next()?, silence: next()? })
}

fn main() {
    let mut args = std::env::args().skip(1);
    let (mut data, mut options) = (None, SongOptions::default());
    let (mut human, mut hands, mut ceiling, mut rows) = (false, false, false, None);
    while let Some(arg) = args.next() {
        let mut number = || args.next().and_then(|n| n.parse::<f64>().ok()).expect("a number");
        match arg.as_str() {
            "--human" => human = true,
            "--hands" => hands = true,
            "--ceiling" => ceiling = true,
            "--chart" => options.chart = true,
            "--ahead" => options.ahead = number(),
            "--certainty" => options.settings.certainty = number() as f32 / 100.0,
            "--late" => options.looser.late_ms = number(),
            "--player" => options.player = Some(number() as u64),
            "--worth" => options.worth = args.next().and_then(|text| worth(&text)),
            "--rows" => rows = args.next().map(std::fs::File::create),
            "--learned" => options.learned = args.next().map(Learned::read),
            _ if data.is_none() => data = Some(PathBuf::from(arg)),
            _ => options.pattern = Some(arg),
        }
    }
    let data = data.expect("the folder of the data");
    let songs = if human { songs::in_human_time(&data) } else { songs::on_the_grid(&data) };
    let songs: Vec<LabelledSong> = songs.iter().map(|song| options.play(song)).collect();
    if let Some(file) = rows {
        let mut file = std::io::BufWriter::new(file.expect("a file"));
        for song in &songs {
            gather::rows(song, &mut options.engine(song), &mut file).expect("room");
        }
        return file.flush().expect("room");
    }
    let (mut tally, mut belief) = (Tally::default(), BeliefTally::default());
    let mut hindsight = HindsightTally::default();
    let (mut ours, mut theirs) = (LeftHands::default(), LeftHands::default());
    for song in &songs {
        let notes = song.played_by(&mut options.engine(song));
        tally::count(&mut tally, &notes, &song.labels);
        belief.count(&notes, &song.labels);
        if ceiling {
            hindsight.count(song, &mut options.engine(song));
        }
        if hands {
            ours.count(&timed(song, notes.iter().map(|n| (n.on, n.played.key))), &song.labels);
            let below = song.events.iter().filter_map(|&(frame, message)| match message {
                Message::On { key, velocity: 1.., .. } => Some((frame, key)),
                _ => None,
            });
            let below = below.filter(|(_, key)| *key < KeyNumber::MIDDLE_C);
            theirs.count(&timed(song, below), &song.labels);
        }
    }
    println!("{} songs, {tally}\n{belief}", songs.len());
    if ceiling {
        print!("{hindsight}");
    }
    if hands {
        println!("our left hands\n{ours}\nthe pianists\n{theirs}");
    }
}

/// Notes by their frames, as a hand's.
fn timed(song: &LabelledSong, notes: impl Iterator<Item = (i64, KeyNumber)>) -> Vec<TimedKey> {
    let note = |(frame, key): (i64, KeyNumber)| {
        let at = song.timeline.tick_at_frame(frame, RATE);
        TimedKey { at, key: key.number(), bar: song.timeline.place(at).bar }
    };
    notes.map(note).collect()
}

impl SongOptions {
    /// The song as its right hand is to be played.
    fn play(&self, song: &LabelledSong) -> LabelledSong {
        let number: u64 = song.name.parse().unwrap_or(0);
        let song = match self.player {
            Some(n) => {
                let seed = number * 31 + n;
                MadePlayer::number(seed).play(song, KeyNumber::MIDDLE_C, seed)
            }
            None => song.clone(),
        };
        self.looser.play(&song, KeyNumber::MIDDLE_C, number)
    }

    fn engine(&self, song: &LabelledSong) -> Engine {
        let pattern = sinistra_tests::pattern(self.pattern.as_deref());
        let mut engine = Engine::new(self.settings, pattern);
        engine.look_ahead(Ticks::nearest(self.ahead));
        let mut engine = match &self.learned {
            Some(learned) => learned.teach(engine, &song.name),
            None => engine,
        };
        if let Some(worth) = self.worth {
            engine = engine.with_worth(worth);
        }
        if self.chart {
            let chart = song.chart().expect("labels that make a chart");
            drop(engine.swap_song(Some(Box::new(chart))));
        }
        engine
    }
}
