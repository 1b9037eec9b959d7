//! A line in, a line out, before the next is read.

use std::io::{BufRead, ErrorKind, Write};
use std::ops::Range;

use serde::Serialize;
use sinistra_score::{Fault, Spot};

use crate::failure::Failure;

/// Longer lines hold no chord: 128 keys need fewer.
const LONGEST: u64 = 10_000;

/// Writes what `answer` says to each line, without its end, and its number from 1.
///
/// # Errors
/// What `answer` says; the machine's, if a line cannot be read or written.
pub fn line_by_line(
    mut input: impl BufRead,
    mut output: impl Write,
    mut answer: impl FnMut(&str, usize) -> Result<Option<String>, Failure>,
) -> Result<(), Failure> {
    let (mut number, mut line) = (0, Vec::new());
    loop {
        line.clear();
        number += 1;
        let read = std::io::Read::take(&mut input, LONGEST).read_until(b'\n', &mut line);
        if read.map_err(|e| Failure::Machine(format!("cannot read standard input: {e}")))? == 0 {
            return Ok(());
        }
        let text = String::from_utf8_lossy(&line);
        let text = text.trim_end_matches(['\n', '\r']);
        let text = if number == 1 { text.trim_start_matches('\u{feff}') } else { text };
        let Some(said) = answer(text, number)? else { continue };
        match writeln!(output, "{said}").and_then(|()| output.flush()) {
            // Whoever asked has heard enough.
            Err(e) if e.kind() == ErrorKind::BrokenPipe => return Ok(()),
            done => {
                done.map_err(|e| Failure::Machine(format!("cannot write standard output: {e}")))?;
            }
        }
    }
}

/// What is wrong with the bytes `at` of a line, and what would be right.
pub fn fault(text: &str, number: usize, at: Range<usize>, what: String, hint: &str) -> Failure {
    let mut spot = Spot::in_text("standard input", text, at.start, at.end);
    spot.line = number;
    Failure::Input(Fault::new(what).at(spot).hint(hint).to_string())
}

/// A line of the answer, for programs or for people.
pub fn told(json: bool, said: &impl Serialize, readable: String) -> Result<String, Failure> {
    if json {
        serde_json::to_string(said).map_err(|e| Failure::Machine(e.to_string()))
    } else {
        Ok(readable)
    }
}
