//! `sinistra harmonise` with another book of bars, for measuring in folds by
//! song: the hand that is judged on a song has not learned from it.
//!
//! ```text
//! cargo build --release -p sinistra-tests --example harmonise_with
//! python tools/hand/tell_apart_in_folds.py SONGS target/release/examples/harmonise_with
//! harmonise_with harmonise IN.mid -o OUT.mid --book BOOK [--seed N] [--busy N] [--pattern P]
//!     [--labels DATA SONG]  with the chords that people heard in that song as a chart
//! ```

use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::free::Book;
use sinistra_core::time::Ticks;
use sinistra_score::{Cut, MidiFile, rehearse};
use sinistra_tests::songs::{self, LabelledSong, RATE};

fn main() {
    let mut args = std::env::args().skip(1).filter(|arg| arg != "harmonise");
    let (mut input, mut output, mut book) = (None, None, Book::shipped());
    let mut settings = Settings::default();
    let mut pattern = "free-hand".to_owned();
    let mut chart = None;
    while let Some(arg) = args.next() {
        let mut value = || args.next().expect("a value");
        match arg.as_str() {
            "-o" => output = Some(value()),
            "--book" => {
                let bytes = std::fs::read(value()).expect("a book");
                book = Book::read(Vec::leak(bytes));
            }
            "--seed" => settings.seed = value().parse().expect("a number"),
            "--busy" => settings.busy = value().parse().expect("a number"),
            "--pattern" => pattern = value(),
            "--labels" => {
                let (data, name) = (value(), value());
                let songs = songs::on_the_grid(data.as_ref());
                chart = songs.iter().find(|song| song.name == name).and_then(LabelledSong::chart);
            }
            _ => input = Some(arg),
        }
    }
    let bytes = std::fs::read(input.expect("a song")).expect("a song");
    let file = MidiFile::read("song", &bytes).expect("a MIDI file");
    let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
    let line = file.timeline();
    let events: Vec<_> =
        file.messages(&part).into_iter().map(|(at, m)| (line.frame(at, RATE), m)).collect();
    let pattern = sinistra_tests::pattern(Some(&pattern));
    let mut engine = Engine::new(settings, pattern).with_book(book);
    if let Some(chart) = chart {
        drop(engine.swap_song(Some(Box::new(chart))));
    }
    let end = line.frame(file.end(), RATE);
    let notes = rehearse(&mut engine, line, &events, (0, end), Cut { rate: RATE, block: 1024 });
    let at = |frame| line.tick_at_frame(frame, RATE);
    let mut track: Vec<(Ticks, Message)> = notes
        .iter()
        .flat_map(|note| {
            let (channel, key, velocity) = (note.channel, note.played.key, note.played.velocity);
            let on = at(note.on);
            let off = at(note.off).max(file.ticks(file.file_tick(on) + 1));
            let on = (on, Message::On { channel, key, velocity });
            [on, (off, Message::off(channel, key))]
        })
        .collect();
    Message::sort(&mut track);
    std::fs::write(output.expect("-o OUT.mid"), file.with_track("Left hand", &track))
        .expect("written");
}
