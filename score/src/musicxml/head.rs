//! Title, key, metre and tempo.

use roxmltree::Node;

use super::{child, number, text_of};
use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::Metre;

/// `work-title`, else `movement-title`, in one line.
pub(super) fn title(root: Node<'_, '_>) -> String {
    let work = child(root, "work").and_then(|work| text_of(work, "work-title"));
    let title = work.filter(|t| !t.is_empty()).or_else(|| text_of(root, "movement-title"));
    let words: Vec<_> = title.unwrap_or("").split_whitespace().collect();
    words.join(" ").chars().filter(|c| !c.is_control()).take(200).collect()
}

/// `key`: fifths and mode. Church modes go with the third that they have;
/// without a mode it is major.
pub(super) fn key(node: Node<'_, '_>) -> Option<WrittenKey> {
    let fifths: i8 = number(node, "fifths")?;
    let major = i32::from(fifths) * 7;
    let mode = text_of(node, "mode").unwrap_or("major");
    // Semitones from the tonic of the major key with this signature.
    let (above, mode) = match mode {
        "minor" | "aeolian" => (9, Mode::Minor),
        "dorian" => (2, Mode::Minor),
        "phrygian" => (4, Mode::Minor),
        "locrian" => (11, Mode::Minor),
        "lydian" => (5, Mode::Major),
        "mixolydian" => (7, Mode::Major),
        _ => (0, Mode::Major),
    };
    let key = Key { tonic: PitchClass::new(major + above), mode };
    // A church mode's signature is a few fifths away from our key's, on its side.
    let side = (fifths.clamp(-7, 7) - key.fifths() + 6).div_euclid(12) * 12;
    let written = WrittenKey::new(key, key.fifths() + side).unwrap_or(key.into());
    (-7..=7).contains(&fifths).then_some(written)
}

/// `divisions`: how many a quarter note has; what is wrong with them.
pub(super) fn divisions(node: Node<'_, '_>) -> Result<f64, String> {
    let text = node.text().unwrap_or("").trim();
    let number = text.parse().ok().filter(|n: &f64| n.is_finite() && *n > 0.0);
    number.ok_or_else(|| format!("`{text}` divisions of a quarter note"))
}

/// `time`: beats such as `3+2` are added up; what is wrong with it.
pub(super) fn metre(node: Node<'_, '_>) -> Result<Metre, String> {
    let text = |name| text_of(node, name).unwrap_or("");
    let mut beats = text("beats").split('+').map(|part| part.trim().parse::<u8>().ok());
    let beats = beats.try_fold(0u8, |sum, part| sum.checked_add(part?));
    let metre =
        beats.zip(number(node, "beat-type")).and_then(|(beats, unit)| Metre::new(beats, unit));
    metre.ok_or_else(|| format!("no metre `{}/{}`", text("beats"), text("beat-type")))
}

/// Quarter notes a minute, from `sound` or a printed metronome mark.
pub(super) fn tempo(direction: Node<'_, '_>) -> Option<f64> {
    let sound = |node: Node<'_, '_>| node.attribute("tempo").and_then(|t| t.trim().parse().ok());
    let tempo = if direction.has_tag_name("sound") {
        sound(direction)
    } else {
        child(direction, "sound").and_then(sound).or_else(|| {
            let mark = direction.descendants().find(|node| node.has_tag_name("metronome"))?;
            let quarters = match text_of(mark, "beat-unit")? {
                "whole" => 4.0,
                "half" => 2.0,
                "quarter" => 1.0,
                "eighth" => 0.5,
                "16th" => 0.25,
                _ => return None,
            };
            let dots = mark.children().filter(|c| c.has_tag_name("beat-unit-dot")).count();
            let dotted = [1.0, 1.5, 1.75].get(dots).copied().unwrap_or(1.0);
            Some(number::<f64>(mark, "per-minute")? * quarters * dotted)
        })
    };
    tempo.filter(|tempo: &f64| tempo.is_finite() && *tempo > 0.0)
}

/// `swing` of the first `sound` that has one, as the percent of the beat before
/// the "and"; `None` where it is straight, of sixteenths, or harder than three to one.
pub(super) fn swing(root: Node<'_, '_>) -> Option<u8> {
    let swing = root.descendants().find(|node| node.has_tag_name("swing"))?;
    let of_eighths = text_of(swing, "swing-type").is_none_or(|value| value == "eighth");
    let (first, second): (f64, f64) = (number(swing, "first")?, number(swing, "second")?);
    let percent = (100.0 * first / (first + second)).round();
    (of_eighths && (51.0..=75.0).contains(&percent)).then_some(percent as u8)
}
