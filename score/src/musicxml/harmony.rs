//! One `harmony` element as a chord symbol.

use roxmltree::Node;

use super::{child, number, text_of};
use sinistra_core::chord::{Alteration, Degree, Kind, Quality, Symbol};
use sinistra_core::pitch::{Letter, PitchClass, Spelled};

/// The chord, `None` for `kind` `none` (N.C.), or what is wrong.
pub(super) fn symbol(harmony: Node<'_, '_>) -> Result<Option<Symbol>, String> {
    let kind_text = text_of(harmony, "kind").ok_or("a harmony without a kind")?;
    let kind = Kind::from_name(kind_text).ok_or_else(|| format!("no kind `{kind_text}`"))?;
    if kind == Kind::None {
        return Ok(None);
    }
    let root =
        child(harmony, "root").ok_or("a harmony without a root (a function or a numeral)")?;
    let root = spelled(root, "root-step", "root-alter")?;
    let mut quality = Quality::plain(kind);
    for node in harmony.children().filter(|node| node.has_tag_name("degree")) {
        let degree = degree(node, kind)?;
        quality = quality.with(degree).ok_or("more changed degrees than a chord has room for")?;
    }
    let bass = match child(harmony, "bass") {
        Some(bass) => Some(spelled(bass, "bass-step", "bass-alter")?),
        None => None,
    };
    let symbol = tidy(Symbol { root, quality, bass });
    let inversion = number::<u8>(harmony, "inversion").unwrap_or(0);
    Ok(Some(if symbol.bass.is_none() { inverted(symbol, inversion) } else { symbol }))
}

fn spelled(node: Node<'_, '_>, step: &str, alter: &str) -> Result<Spelled, String> {
    let name = text_of(node, step).unwrap_or("");
    let letter = Letter::ALL
        .into_iter()
        .find(|letter| name.chars().eq([letter.name()]))
        .ok_or_else(|| format!("no note `{name}`"))?;
    let alter: f64 = number(node, alter).unwrap_or(0.0);
    if !(-2.0..=2.0).contains(&alter) || alter.fract() != 0.0 {
        return Err(format!("a note altered by {alter} semitones"));
    }
    Ok(Spelled::new(letter, alter as i8))
}

/// Altered and left-out degrees are relative to those that the kind has, added
/// ones to a dominant chord (`degree-alter` in the standard); ours are all the
/// latter.
fn degree(node: Node<'_, '_>, kind: Kind) -> Result<Degree, String> {
    let value: u8 = number(node, "degree-value").unwrap_or(0);
    if !(1..=13).contains(&value) {
        return Err("a degree that is not 1 to 13".to_owned());
    }
    let alter: f64 = number(node, "degree-alter").unwrap_or(0.0);
    if !(-2.0..=2.0).contains(&alter) || alter.fract() != 0.0 {
        return Err(format!("a degree altered by {alter} semitones"));
    }
    let alter = alter as i8;
    let change = match text_of(node, "degree-type") {
        Some("add") => Alteration::Add,
        Some("alter") => Alteration::Alter,
        Some("subtract") => Alteration::Subtract,
        other => return Err(format!("no degree type `{}`", other.unwrap_or(""))),
    };
    let natural = Degree { value, alter: 0, change }.class().index() as i32;
    let in_kind = [0i8, -1, 1, -2]
        .into_iter()
        .find(|off| kind.intervals().has(PitchClass::new(natural + i32::from(*off))));
    let alter = match (change, in_kind) {
        (Alteration::Alter | Alteration::Subtract, Some(off))
            if !owned_by_another(value, off, kind) =>
        {
            (alter + off).clamp(-2, 2)
        }
        _ => alter,
    };
    Ok(Degree { value, alter, change })
}

/// Whether the tone that lies so far from the natural degree is another degree
/// of the kind: the minor third is no lowered fourth.
fn owned_by_another(value: u8, off: i8, kind: Kind) -> bool {
    off != 0
        && match value % 7 {
            3 => false,
            5 => (off < 0 && kind.intervals().has(PitchClass::new(7))) || off < -1,
            0 => off < 0 && kind != Kind::DiminishedSeventh,
            _ => true,
        }
}

/// The same under the kind that its tones have a name for, such as 7♯5.
fn tidy(symbol: Symbol) -> Symbol {
    let same = |other: &Symbol| other.quality.tones() == symbol.quality.tones();
    let read = Symbol::read(&symbol.ascii()).ok().filter(same);
    Symbol { quality: read.map_or(symbol.quality, |read| read.quality), ..symbol }
}

/// The first inversion has the third in the bass, the second the fifth.
fn inverted(symbol: Symbol, inversion: u8) -> Symbol {
    let chord = symbol.chord();
    let bass = match inversion {
        1 => chord.third(),
        2 => chord.fifth(),
        3 => chord.seventh(),
        _ => None,
    };
    let Some(bass) = bass else { return symbol };
    let steps = i32::from(inversion) * 2;
    let letter = symbol.root.letter.step(steps);
    let alter = (bass.index() as i32 - letter.semitones() + 18).rem_euclid(12) - 6;
    let alter = i8::try_from(alter).unwrap_or(0);
    Symbol { bass: (alter.abs() <= 2).then_some(Spelled::new(letter, alter)), ..symbol }
}
