//! A word of a row: what a voice strikes at a place, and how.

use sinistra_core::play::{Held, Part, Tones, Wish};
use sinistra_core::time::{Metre, Ticks};

/// What stands at a place of a voice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// `-`: nothing is struck, what sounds goes on.
    Nothing,
    /// `_`: the note before is held on through this place.
    Tie,
    /// A stroke, or `rest`: silence.
    Part(Part),
}

/// The most tones that stand for each other at a place.
const MOST: usize = 6;

/// What is wrong with a word: which of its bytes, what, and what would be right.
pub type Wrong = (std::ops::Range<usize>, String, String);

/// Reads a word; lengths are counted in the unit of `metre`.
pub fn read(word: &str, metre: Option<Metre>) -> Result<Said, Vec<Wrong>> {
    match word {
        "-" => return Ok(Said::Nothing),
        "_" => return Ok(Said::Tie),
        "rest" => return Ok(Said::Part(Part::default())),
        _ => {}
    }
    let mut wrong = Vec::new();
    let accent = word.starts_with('>');
    let marked = usize::from(accent);
    let rolled = word[marked..].starts_with('~');
    let start = marked + usize::from(rolled);
    let (tones, held) = held(&word[start..], start, metre, &mut wrong);
    let mut strokes = Vec::new();
    let mut from = start;
    for stroke in tones.split('/') {
        let struck = struck(stroke, from, &mut wrong);
        from += stroke.len() + 1;
        if strokes.len() == MOST {
            wrong.push((
                from - 1..from - 1 + stroke.len(),
                "too many wishes for one place".into(),
                "six are enough".into(),
            ));
        } else {
            strokes.push(struck);
        }
    }
    if wrong.is_empty() {
        Ok(Said::Part(Part { strokes: strokes.into(), accent, held, rolled }))
    } else {
        Err(wrong)
    }
}

/// The tones of one stroke, which stands at byte `from`.
fn struck(stroke: &str, mut from: usize, wrong: &mut Vec<Wrong>) -> Tones {
    let mut struck = Tones::new();
    let whole = from..from + stroke.len();
    for name in stroke.split('+') {
        let span = from..from + name.len();
        match Wish::from_name(name) {
            Some(wish) if struck.try_push(wish).is_err() => {
                let most = format!("a hand strikes {} keys at the most", struck.capacity());
                wrong.push((span, "too many tones in one stroke".into(), most));
            }
            Some(_) => {}
            None => {
                let names = Wish::ALL.map(Wish::name).join(", ");
                let hint = format!("tones are {names}");
                wrong.push((span, format!("`{name}` is no tone"), hint));
            }
        }
        from += name.len() + 1;
    }
    if struck.len() > 1 {
        if let Some(alone) = struck.iter().find(|wish| stands_alone(**wish)) {
            let what = format!("`{}` stands alone", alone.name());
            let hint = "strokes are joined from tones: root+fifth+octave-up";
            wrong.push((whole, what, hint.into()));
        } else if let Some((low, high)) = out_of_order(&struck) {
            let what = format!("`{}` lies below `{}`", high.name(), low.name());
            wrong.push((whole, what, "write a stroke from its lowest tone up".into()));
        }
    }
    struck
}

/// What is behind the tones: how long they are held.
fn held<'a>(
    word: &'a str,
    start: usize,
    metre: Option<Metre>,
    wrong: &mut Vec<Wrong>,
) -> (&'a str, Held) {
    if let Some((tones, length)) = word.split_once(':') {
        let from = start + tones.len() + 1;
        let counted = length.parse::<f64>().ok().filter(|n| (1.0 / 12.0..=64.0).contains(n));
        let held = match (length, counted) {
            ("change", _) => Held::Change,
            (_, Some(counts)) => {
                let unit = metre.map_or(Ticks::PER_BEAT, |metre| metre.unit_ticks().0);
                Held::For(Ticks((unit as f64 * counts).round() as i64))
            }
            _ => {
                let what = format!("`{length}` is no length");
                let hint = "a length is a number of counts such as 2 or 1.5, or change";
                wrong.push((from..from + length.len(), what, hint.into()));
                Held::Usual
            }
        };
        return (tones, held);
    }
    match word.strip_suffix('.') {
        Some(tones) => (tones, Held::Detached),
        None => match word.strip_suffix('_') {
            Some(tones) => (tones, Held::Joined),
            None => (word, Held::Usual),
        },
    }
}

/// What is chosen by a rule of its own cannot be joined to others.
fn stands_alone(wish: Wish) -> bool {
    wish.leads() || matches!(wish, Wish::Chord | Wish::Walk | Wish::Octaves)
}

/// How far above the bass a tone lies at least and at most, in semitones, where
/// the writing says so.
fn height(wish: Wish) -> Option<(i32, i32)> {
    Some(match wish {
        Wish::OctaveDown => (-12, -12),
        Wish::ThirdUp => (3, 5),
        Wish::FifthUp => (6, 8),
        Wish::OctaveUp => (12, 12),
        Wish::Octaves => (0, 12),
        Wish::AddedNinth => (13, 14),
        Wish::Tenth => (15, 16),
        Wish::Twelfth => (18, 20),
        _ => return None,
    })
}

/// Two tones of a stroke of which the later must lie lower.
fn out_of_order(stroke: &Tones) -> Option<(Wish, Wish)> {
    stroke.windows(2).find_map(|pair| {
        let &[low, high] = pair else { return None };
        let top = match low {
            // A root in a stroke is its bass, or the octave above it.
            Wish::Root => return (high == Wish::OctaveDown).then_some((low, high)),
            _ => height(low)?.0,
        };
        let under = match high {
            Wish::Root if low != Wish::OctaveDown => return None,
            high => height(high)?.1,
        };
        (under <= top).then_some((low, high))
    })
}

/// The least span of a stroke that begins on the root, in semitones, and how it
/// is said. What else is joined finds a place within an octave.
pub fn width(stroke: &Tones) -> i32 {
    let first = stroke.first().map_or(0, |wish| match wish {
        Wish::Root => 0,
        wish => height(*wish).map_or(12, |(_, most)| most),
    });
    let last = stroke.iter().filter_map(|wish| height(*wish)).map(|(least, _)| least).max();
    last.map_or(0, |last| last - first)
}

/// Whether what is struck above the bass surely lies no higher than it.
pub fn crosses(bass: &Part, tenor: &Part) -> bool {
    let top = |part: &Part| {
        let strokes = part.strokes.iter();
        strokes.filter_map(|tones| tones.iter().map(|w| height(*w).map_or(0, |h| h.0)).max()).min()
    };
    let bottom = |part: &Part| {
        let strokes = part.strokes.iter();
        let first = strokes.filter_map(|tones| tones.first().copied());
        first.map(|wish| height(wish).map_or(i32::MAX, |h| h.1)).max()
    };
    top(bass).zip(bottom(tenor)).is_some_and(|(top, bottom)| bottom <= top)
}
