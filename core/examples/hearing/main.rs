//! Measures hearing on the open data, and writes what it is trained on.
//!
//! ```text
//! cargo run --release -p sinistra-core --example hearing -- DATA
//!     [--dump FILE]   a row of signs for every question asked
//!     [--teach]       tell the ear the right chord after every question
//!     [--weights FILE] use these weights (32-bit floats) instead of the built-in ones
//!     [--left]        let the ear hear the pianists' left hands too
//!     [--jitter N]    move every stroke by up to N ms, seeded
//! ```
//!
//! `DATA` holds `pop909-cl/NNN.mid` and `chord-sequences.jsonl.gz`
//! (POP909-CL, Yao et al. 2025, MIT licence).

mod data;
mod listen;
mod teacher;

use std::fs::File;
use std::io::{BufWriter, Write};

use listen::{Options, Tally, listen};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let (mut folder, mut dump, mut options) = (None, None, Options::default());
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--dump" => dump = Some(args.next().ok_or("--dump needs a file")?),
            "--teach" => options.teach = true,
            "--weights" => {
                let bytes = std::fs::read(args.next().ok_or("--weights needs a file")?)?;
                let floats =
                    bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
                options.weights = Some(floats.collect());
            }
            "--left" => options.left = true,
            "--jitter" => options.jitter_ms = args.next().ok_or("--jitter needs ms")?.parse()?,
            _ => folder = Some(arg),
        }
    }
    let folder =
        folder.ok_or("usage: hearing DATA [--dump FILE] [--teach] [--left] [--jitter N]")?;
    let mut out = match dump {
        Some(path) => Some(BufWriter::new(File::create(path)?)),
        None => None,
    };
    let mut tally = Tally::default();
    for song in data::songs(folder.as_ref())? {
        listen(&song, &options, &mut tally, |row| match &mut out {
            Some(out) => row.iter().try_for_each(|value| out.write_all(&value.to_le_bytes())),
            None => Ok(()),
        })?;
    }
    print!("{tally}");
    Ok(())
}
