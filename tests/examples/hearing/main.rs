//! Measures hearing on the open data, and writes what it is trained on.
//!
//! ```text
//! cargo run --release -p sinistra-tests --example hearing -- DATA
//!     [--dump FOLDER]    now.rows, past.rows, bar.rows: a row of signs a question
//!     [--weights FOLDER] use now.f32, past.f32, bar.f32 there, where they are,
//!                        instead of the built-in weights
//!     [--only N,N,…]     these songs alone
//!     [--split N]        the right hand's lowest key, not middle C
//!     [--left]           let the ear hear the pianists' left hands too
//!     [--jitter N]       move every stroke by up to N ms, seeded
//!     [--dropped N]      leave N notes of a hundred out, seeded
//!     [--player N]       the chords of the songs as a made-up player plays
//!                        them (`hands.rs`), N and the song's number deciding
//!     [--rows NAME]      these rows alone: now, past or bar
//!     [--thin N]         N of a hundred of the questions between changes
//! ```
//!
//! `DATA` holds `pop909-cl/NNN.mid` and `chord-sequences.jsonl.gz`
//! (POP909-CL, Yao et al. 2025, MIT licence).

mod listen;

use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use listen::{EarWeights, HearingOptions, HearingTally, listen};
use sinistra_core::pitch::KeyNumber;
use sinistra_tests::hands::{Looser, MadePlayer};
use sinistra_tests::songs;

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let (mut folder, mut dump, mut options) = (None, None, HearingOptions::default());
    let (mut looser, mut player) = (Looser::default(), None);
    let mut rows: Option<String> = None;
    let mut only: Option<Vec<u64>> = None;
    while let Some(arg) = args.next() {
        let mut value = || args.next().ok_or(format!("{arg} needs a value"));
        match arg.as_str() {
            "--dump" => dump = Some(PathBuf::from(value()?)),
            "--weights" => options.weights = learned(Path::new(&value()?))?,
            "--only" => only = Some(value()?.split(',').map(str::parse).collect::<Result<_, _>>()?),
            "--split" => options.split = KeyNumber::clamped(value()?.parse()?),
            "--left" => options.left = true,
            "--jitter" => looser.jitter_ms = value()?.parse()?,
            "--dropped" => looser.dropped = value()?.parse()?,
            "--player" => player = Some(value()?.parse::<u64>()?),
            "--rows" => rows = Some(value()?),
            "--thin" => options.thin = value()?.parse()?,
            _ => folder = Some(arg),
        }
    }
    let folder = folder.ok_or("usage: hearing DATA [--dump FOLDER] [--weights FOLDER] …")?;
    let mut out: [Option<BufWriter<File>>; 3] = Default::default();
    for (out, name) in out.iter_mut().zip(["now", "past", "bar"]) {
        if let Some(folder) = dump.as_ref().filter(|_| rows.as_ref().is_none_or(|r| r == name)) {
            *out = Some(BufWriter::new(File::create(folder.join(name).with_extension("rows"))?));
        }
    }
    let mut tally = HearingTally::default();
    for song in songs::on_the_grid(folder.as_ref()) {
        let number: u64 = song.name.parse()?;
        if only.as_ref().is_some_and(|only| !only.contains(&number)) {
            continue;
        }
        let song = match player {
            Some(n) => {
                let seed = number * 31 + n;
                MadePlayer::number(seed).play(&song, options.split, seed)
            }
            None => song,
        };
        let song = looser.play(&song, options.split, number);
        listen(&song, &options, &mut tally, |about, row| match &mut out[about as usize] {
            Some(out) => row.iter().try_for_each(|value| out.write_all(&value.to_le_bytes())),
            None => Ok(()),
        })?;
    }
    print!("{tally}");
    Ok(())
}

fn learned(folder: &Path) -> Result<EarWeights, Box<dyn Error>> {
    let read = |name: &str| -> Result<Option<Vec<f32>>, Box<dyn Error>> {
        let path = folder.join(name);
        if !path.exists() {
            return Ok(None);
        }
        let bytes = std::fs::read(path)?;
        let floats = bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        Ok(Some(floats.collect()))
    };
    Ok(EarWeights { now: read("now.f32")?, again: read("past.f32")?, bar: read("bar.f32")? })
}
