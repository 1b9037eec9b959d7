//! Fits what a pattern writes into every metre, and orders its slots from
//! sparing to busy. Free world: allocates.

use alloc::vec::Vec;

use super::accent::{self, FeltBeat};
use super::part::{Part, Parts};
use super::slot::{BarOfSlots, Slot};
use super::written::WrittenBars;
use crate::time::{Metre, Ticks};

/// The places of a bar with what is played there, in time order.
type Places = Vec<(Ticks, Parts)>;

/// The most slots of a bar, so that the worst block stays short.
const MOST_SLOTS: usize = 64;

/// For each variation of the pattern its bars in `metre`: as written, else
/// made from the nearest metre that is.
pub fn variations(written: &[WrittenBars], metre: Metre) -> Vec<Vec<Places>> {
    let Some(nearest) = written.iter().map(|w| w.metre).min_by_key(|m| distance(*m, metre)) else {
        return Vec::new();
    };
    let sources = written.iter().filter(|w| w.metre == nearest);
    sources
        .map(|source| match source.metre == metre {
            true => source.bars.clone(),
            false => source.bars.iter().map(|bar| adapted(bar, nearest, metre)).collect(),
        })
        .collect()
}

/// Whether one of the metres that are written is `metre`, or repeats in it evenly.
pub fn fits(written: &[Metre], metre: Metre) -> bool {
    let fits = |from: &Metre| matches!(distance(*from, metre), (_, false, false, _));
    written.iter().any(fits)
}

/// Which left hand of the library each of the [`variations`] is from.
pub fn sources(written: &[WrittenBars], metre: Metre) -> Vec<u16> {
    let nearest = written.iter().map(|w| w.metre).min_by_key(|m| distance(*m, metre));
    written.iter().filter(|w| Some(w.metre) == nearest).map(|w| w.library).collect()
}

/// How foreign `from` is to `to`: the same first, then the same way of dividing
/// the beat, then bars that repeat evenly, then the count of felt beats.
fn distance(from: Metre, to: Metre) -> (bool, bool, bool, usize) {
    let (source, target) = (accent::beats(from), accent::beats(to));
    let ternary =
        |beats: &accent::Beats| beats.iter().filter(|b| b.ternary).count() * 2 > beats.len();
    (
        from != to,
        ternary(&source) != ternary(&target),
        !target.len().is_multiple_of(source.len().max(1)),
        source.len().abs_diff(target.len()),
    )
}

/// One bar of `from` played in `to`: the first beat stays first, the last
/// stays last (it leads on), the strong one in the middle stays strong.
fn adapted(bar: &Places, from: Metre, to: Metre) -> Places {
    let (source, target) = (accent::beats(from), accent::beats(to));
    let mut places = Places::new();
    for (index, beat) in target.iter().enumerate() {
        let origin = origin(index, beat, target.len(), source.len());
        let Some(old) = source.get(origin) else { continue };
        for (offset, parts) in bar {
            let into = *offset - old.start;
            if into >= Ticks::ZERO
                && into < old.length
                && let Some(moved) = moved(into, old, beat)
            {
                places.push((beat.start + moved, parts.clone()));
            }
        }
        // A bar of one beat: the last beat's offbeats still lead on.
        if let ([_], Some(last)) = (target.as_slice(), source.last()) {
            for (offset, parts) in bar.iter().filter(|(offset, _)| *offset > last.start) {
                if let Some(moved) = moved(*offset - last.start, last, beat) {
                    places.retain(|(at, _)| *at != beat.start + moved);
                    places.push((beat.start + moved, parts.clone()));
                }
            }
        }
    }
    places.sort_by_key(|(at, _)| *at);
    places.dedup_by_key(|(at, _)| *at);
    places
}

/// Which beat of the source plays in beat `index` of the target.
fn origin(index: usize, beat: &FeltBeat, targets: usize, sources: usize) -> usize {
    if sources == 0 || targets.is_multiple_of(sources) {
        return index % sources.max(1);
    }
    let last = sources - 1;
    match index {
        0 => 0,
        _ if index + 1 == targets => last,
        _ if beat.level == 1 && targets > 3 && sources == 4 => 2,
        _ => 1.min(last),
    }
}

/// Where a place `into` one beat falls in another: halves become the last
/// third of a beat in three and back, so that an offbeat still leads on.
fn moved(into: Ticks, from: &FeltBeat, to: &FeltBeat) -> Option<Ticks> {
    // In twelfths of the beat: halves, thirds and quarters are whole.
    let twelfth = into.0 * 12 / from.length.0.max(1);
    let twelfth = match (from.ternary, to.ternary, twelfth) {
        (false, true, 6) => 8,
        (false, true, 3) => 4,
        (false, true, 9) => 10,
        (true, false, 8) => 6,
        (true, false, 0) => 0,
        (true, false, _) => return None,
        (_, _, same) => same,
    };
    Some(Ticks(to.length.0 * twelfth / 12))
}

/// The written places with their fills: when each sounds, from sparing to busy.
/// What they play is put among `parts`.
pub fn compile(places: &Places, metre: Metre, fill: &Parts, parts: &mut Vec<Part>) -> BarOfSlots {
    let beats = accent::beats(metre);
    let mut number = |part: &Option<Part>| {
        let part = part.as_ref()?;
        let known = parts.iter().position(|other| other == part);
        let number = known.unwrap_or_else(|| {
            parts.push(part.clone());
            parts.len() - 1
        });
        u16::try_from(number).ok()
    };
    let mut slot = |offset: Ticks, played: &Parts| Slot {
        offset,
        parts: [number(&played.bass), number(&played.tenor)],
        from_busy: 0,
        level: accent::level(&beats, offset),
        swings: swings(offset, metre, &beats),
    };
    let mut written: Vec<Slot> =
        places.iter().take(MOST_SLOTS).map(|(offset, parts)| slot(*offset, parts)).collect();
    let mut fills: Vec<Slot> = fill_places(&beats)
        .filter(|at| *at < metre.bar() && places.iter().all(|(offset, _)| offset != at))
        .map(|at| slot(at, fill))
        .take(MOST_SLOTS - written.len())
        .collect();
    rank(&mut written, 0);
    rank(&mut fills, 50);
    written.append(&mut fills);
    written.sort_by_key(|slot| slot.offset);
    written.into()
}

/// Spreads the slots over the fifty steps above `base`, the strongest place
/// first; of equals the later, which leads on to the next bar.
fn rank(slots: &mut [Slot], base: usize) {
    slots.sort_by_key(|slot| (slot.level, core::cmp::Reverse(slot.offset)));
    let count = slots.len();
    for (index, slot) in slots.iter_mut().enumerate() {
        slot.from_busy = u8::try_from(base + (50 * (index + 1)).div_ceil(count)).unwrap_or(100);
    }
}

/// Where a busy hand adds notes: the divisions of the beat, and the last
/// quarter (or sixth) of it, which leads into the next.
fn fill_places(beats: &accent::Beats) -> impl Iterator<Item = Ticks> + '_ {
    beats.iter().flat_map(|beat| {
        let twelfths: &[i64] = if beat.ternary { &[0, 4, 8, 10] } else { &[0, 6, 9] };
        twelfths.iter().map(|twelfth| beat.start + Ticks(beat.length.0 * twelfth / 12))
    })
}

/// The beat in which swing moves a place: binary beats of quarter notes, but
/// not triplets in them.
fn swings(offset: Ticks, metre: Metre, beats: &accent::Beats) -> Option<(Ticks, Ticks)> {
    if metre.unit() > 4 {
        return None;
    }
    let beat = beats.iter().rev().find(|beat| beat.start <= offset)?;
    let into = offset - beat.start;
    let triplet = into.0 * 3 % beat.length.0 == 0;
    (!triplet).then_some((beat.start, beat.length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::play::{Part, Voice, Wish};

    fn metre(beats: u8, unit: u8) -> Metre {
        Metre::new(beats, unit).expect("a metre")
    }

    #[test]
    fn a_metre_that_is_written_is_its_own_nearest() {
        let waltz = metre(3, 4);
        for other in [metre(3, 8), metre(3, 2), metre(6, 4), Metre::COMMON] {
            assert!(distance(waltz, waltz) < distance(other, waltz), "{other:?}");
        }
    }

    #[test]
    fn each_place_has_what_is_written_there() {
        let part = |wish| Part::plain(&[wish].into_iter().collect());
        let [root, fifth] = [Wish::Root, Wish::Fifth].map(|wish| Parts::bass(part(wish)));
        let above = Parts { bass: None, tenor: Some(part(Wish::Tenth)) };
        let beats = [&root, &fifth, &root, &above];
        let places: Vec<_> = (0..).map(|n| Ticks(960 * n)).zip(beats.map(Clone::clone)).collect();
        let mut parts = Vec::new();
        let bar = compile(&places, Metre::COMMON, &root, &mut parts);
        for (place, written) in &places {
            let slot = bar.iter().find(|slot| slot.offset == *place).expect("a slot");
            let has = |voice| slot.part(voice).and_then(|number| parts.get(usize::from(number)));
            assert_eq!(has(Voice::Bass), written.bass.as_ref(), "{place:?}");
            assert_eq!(has(Voice::Tenor), written.tenor.as_ref(), "{place:?}");
        }
        assert_eq!(parts.len(), 3, "each once");
    }
}
