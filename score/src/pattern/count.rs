//! The count of the trade: `1 e & a 2 …`, in compound metres `1 2 3 4 5 6`.

use sinistra_core::time::{Metre, Ticks};

/// What a count may be, for hints.
pub const COUNTS: &str = "counts are the numbers of the bar, & for the half after a number, \
     e and a for the quarters around it, trip and let for thirds";

/// Where `word` is counted, from the bar line; `number` is the one counted
/// last, and becomes this one if `word` is a number. `Err` says what is wrong.
pub fn place(word: &str, number: &mut u8, metre: Metre) -> Result<Ticks, String> {
    if let Ok(counted) = word.parse::<u8>() {
        if counted == 0 || counted > metre.beats() {
            let (beats, unit) = (metre.beats(), metre.unit());
            return Err(format!("there is no count `{word}` in {beats}/{unit}"));
        }
        *number = counted;
    }
    let twelfths = match word {
        "e" => 3,
        "trip" => 4,
        "&" | "+" | "and" => 6,
        "let" => 8,
        "a" => 9,
        _ if word.parse::<u8>().is_ok() => 0,
        _ => return Err(format!("`{word}` is no count")),
    };
    let Some(before) = number.checked_sub(1) else {
        return Err(format!("`{word}` has no number before it"));
    };
    let unit = metre.unit_ticks().0;
    Ok(Ticks(i64::from(before) * unit + unit * twelfths / 12))
}

/// Reads `4/4`.
pub fn metre(text: &str) -> Option<Metre> {
    let (beats, unit) = text.trim().split_once('/')?;
    Metre::new(beats.trim().parse().ok()?, unit.trim().parse().ok()?)
}
