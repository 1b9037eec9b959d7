//! Checks a draft, and writes its repeats out.

use super::order::order;
use super::{Cell, Chart, Content, Draft, Problem, problem};
use sinistra_core::foresee::{Song, SongBar, SongChord};
use sinistra_core::time::{Metre, Ticks};

/// The song, or everything that is wrong.
pub(super) fn song(draft: &Draft) -> Result<Song, Vec<Problem>> {
    song_times(draft, 1)
}

/// The song over and over.
pub(super) fn song_times(draft: &Draft, times: u16) -> Result<Song, Vec<Problem>> {
    if draft.bars.is_empty() {
        return Err(vec![problem(None, "no bars", "write bars such as `| C | Am . F G |`")]);
    }
    if draft.bars.len() > Chart::MOST_BARS.0 {
        let what = format!("{} bars; a chart has at most {}", draft.bars.len(), Chart::MOST_BARS.0);
        return Err(vec![problem(None, &what, "use repeats, or cut the song in parts")]);
    }
    let mut problems: Vec<_> = (0..draft.bars.len()).filter_map(|n| bar(draft, n)).collect();
    match order(draft) {
        Ok(mut order) if problems.is_empty() => {
            let again = order[usize::from(draft.pick_up.is_some())..].to_vec();
            for _ in 1..times {
                if order.len() + again.len() <= Chart::MOST_BARS.1 {
                    order.extend_from_slice(&again);
                }
            }
            unfold(draft, &order).ok_or_else(|| {
                vec![problem(None, "no song comes of these bars", "write at least one bar")]
            })
        }
        Ok(_) => Err(problems),
        Err(problem) => {
            problems.push(problem);
            Err(problems)
        }
    }
}

/// What is wrong with one bar by itself.
fn bar(draft: &Draft, index: usize) -> Option<Problem> {
    let bar = draft.bars.get(index)?;
    let pick_up = draft.pick_up.filter(|_| index == 0);
    match &bar.content {
        Content::Same => {
            let before = index.checked_sub(1).and_then(|before| draft.bars.get(before));
            let pick_up_before = index == 1 && draft.pick_up.is_some();
            match before {
                Some(before) if before.metre == bar.metre && !pick_up_before => None,
                Some(_) => Some(problem(
                    Some(index),
                    "`%` repeats the bar before, which is of another length",
                    "write the chords out",
                )),
                None => Some(problem(
                    Some(index),
                    "`%` repeats the bar before, and this is the first",
                    "write its chords",
                )),
            }
        }
        Content::Places(cells) => {
            let units = pick_up.unwrap_or(bar.metre.beats());
            let places = Draft::places(units);
            if index == 0 && cells.first() == Some(&Cell::Hold) {
                return Some(problem(
                    Some(index),
                    "a dot holds the chord before, and this is the first",
                    "start with a chord or N.C.",
                ));
            }
            let fits = places.contains(&cells.len());
            (!fits).then(|| {
                let beats = match pick_up {
                    Some(units) => format!("a pick-up of {units}/{}", bar.metre.unit()),
                    None => format!("a bar of {}/{}", bar.metre.beats(), bar.metre.unit()),
                };
                let list = places.iter().map(ToString::to_string).collect::<Vec<_>>();
                let (last, first) = list.split_last().map_or(("1", ""), |(last, first)| {
                    (last.as_str(), if first.is_empty() { "" } else { "some" })
                });
                let list = if first.is_empty() {
                    last.to_owned()
                } else {
                    format!("{} or {last}", list[..list.len() - 1].join(", "))
                };
                Problem {
                    bar: Some(index),
                    what: format!("{} places do not share {beats} evenly", cells.len()),
                    hint: format!(
                        "write {list} places; a dot holds a chord, as in `{}`",
                        example(units)
                    ),
                }
            })
        }
    }
}

/// Chords that share a bar of so many beats: `C . F G`, `C . F`, `C . . F . .`;
/// one or two beats have four places.
fn example(units: u8) -> String {
    let places = if units < 3 { 4 } else { units };
    let change = places.div_ceil(2);
    let word = |place| match place {
        0 => "C",
        _ if place == change => "F",
        3 if places == 4 => "G",
        _ => ".",
    };
    (0..places).map(word).collect::<Vec<_>>().join(" ")
}

/// Puts the bars into time.
fn unfold(draft: &Draft, order: &[usize]) -> Option<Song> {
    // Which bar's places count for each bar, and its first chord's number.
    let mut sources = Vec::with_capacity(draft.bars.len());
    let mut symbols = 0u32;
    for (index, bar) in draft.bars.iter().enumerate() {
        let source = match bar.content {
            Content::Same => sources.last().copied().unwrap_or((index, symbols)),
            Content::Places(_) => (index, symbols),
        };
        sources.push(source);
        let new = bar.cells().iter().filter(|cell| **cell != Cell::Hold).count();
        symbols += u32::try_from(new).ok()?;
    }
    let first = draft.pick_up.map_or(Ticks::ZERO, |_| Ticks(-draft.length(0).0));
    let mut at = first;
    let (mut chords, mut bars) = (Vec::new(), Vec::new());
    let mut names: Vec<&str> = Vec::new();
    let mut sections = Vec::new();
    for &index in order {
        let bar = draft.bars.get(index)?;
        if let Some(name) = &bar.section {
            let known = names.iter().position(|known| known == name);
            let number = known.unwrap_or(names.len());
            if known.is_none() {
                names.push(name);
            }
            sections.push((bars.len(), u32::try_from(number).ok()?));
        }
        bars.push(SongBar { at, metre: bar.metre, written: u32::try_from(index).ok()? });
        let (source, mut written) = *sources.get(index)?;
        let cells = draft.bars.get(source)?.cells();
        let length = draft.length(index);
        for (place, cell) in (0i64..).zip(cells) {
            let chord = match cell {
                Cell::Hold => continue,
                Cell::NoChord => None,
                Cell::Chord(symbol) => Some(symbol.chord()),
            };
            let offset = Ticks(length.0 * place / i64::try_from(cells.len()).ok()?);
            chords.push(SongChord { at: at + offset, chord, written });
            written += 1;
        }
        at += length;
    }
    let mut song = Song::new(chords, bars, at)?.in_sections(&sections);
    song.key = draft.key;
    song.tempo = draft.tempo.map(|tempo| quarters(tempo, draft.metre));
    Some(song)
}

/// Felt beats a minute as quarter notes a minute.
pub(super) fn quarters(tempo: f64, metre: Metre) -> f64 {
    tempo * metre.pulse().beats()
}
