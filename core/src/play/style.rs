//! A style: several left hands that the free hand draws from, phrase by phrase.
//!
//! - A section that comes back, of the chart or heard, has its left hand back.
//! - Otherwise half of the phrases keep the left hand of the phrase before; all of them
//!   where the player wants one figure, none where many.
//! - The others move on to one that is busier where the right hand leaves room, and
//!   more sparing where it is busy.

use crate::maths;
use alloc::boxed::Box;
use alloc::vec;

use super::phrase::{MOST_BARS, PHRASE};
use super::why::Heard;
use crate::chance::Chance;

/// A bar of a chart that was given none yet.
const NONE: u8 = u8::MAX;

/// Strokes of a right hand that is neither busy nor sparing, in a bar of four
/// quarters: the mean of POP909-CL, to the next whole number.
const USUAL_RIGHT: f32 = 6.0;

/// How many strokes more (or fewer) a bar has for each that the right hand has fewer
/// (or more). By ear.
const ANSWERS: f32 = 0.6;

/// What a phrase is played with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Chosen {
    phrase: i64,
    variation: u8,
    heard: Heard,
}

/// What a left hand is chosen by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhraseAhead<'a> {
    /// The number of the phrase.
    pub phrase: i64,
    /// The song's bar that it begins with, and the first one like it.
    pub section: (usize, usize),
    /// Strokes a bar of each left hand.
    pub strokes: &'a [f32],
    /// Strokes of the right hand in the bar before.
    pub right: u8,
    /// One figure 0 ..= 100 many.
    pub variety: u8,
    /// The player's.
    pub seed: u64,
}

/// Which left hand each phrase has. Fixed size once made.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// The phrase that is played and the one that comes.
    chosen: [Option<Chosen>; 2],
    given: Box<[u8]>,
}

impl Style {
    /// Nothing is chosen yet. Allocates.
    pub fn new() -> Self {
        Self { chosen: [None; 2], given: vec![NONE; MOST_BARS].into() }
    }

    /// Another song. Real-time safe.
    pub fn forget(&mut self) {
        self.chosen = [None; 2];
        self.given.fill(NONE);
    }

    /// The left hand of a phrase, and why that. Real-time safe.
    pub fn of(&self, phrase: i64) -> Option<(usize, Heard)> {
        let chosen = self.chosen.iter().flatten().find(|chosen| chosen.phrase == phrase)?;
        Some((chosen.variation.into(), chosen.heard))
    }

    /// Writes down what a phrase began with. Real-time safe.
    pub fn begin(&mut self, phrase: i64, variation: usize) {
        if self.of(phrase).is_none() {
            self.put(phrase, variation, Heard::Beginning);
        }
    }

    /// Chooses for a phrase that comes, if it has none yet. Real-time safe.
    pub fn choose(&mut self, ahead: &PhraseAhead<'_>) {
        if ahead.strokes.is_empty() || self.of(ahead.phrase).is_some() {
            return;
        }
        let mut chance = Chance::new(ahead.seed);
        chance.stir(ahead.phrase.unsigned_abs() << 8 | u64::from(ahead.right));
        let (bar, first) = ahead.section;
        if let Some((before, _)) = self.of(ahead.phrase - 1) {
            // What the phrase before was begun with, wherever that was.
            self.give(bar.checked_sub(maths::count(PHRASE)), before);
        }
        let back = self.given.get(first).filter(|_| first < bar).copied().map(usize::from);
        let back = back.filter(|given| *given < ahead.strokes.len());
        let before = self.of(ahead.phrase - 1).map(|(variation, _)| variation);
        let (variation, heard) = match (back, before) {
            (Some(back), _) => (back, Heard::Section),
            (None, Some(before))
                if ahead.strokes.len() == 1
                    || chance.part() < 1.0 - f32::from(ahead.variety) / 100.0 =>
            {
                (before, Heard::GoesOn)
            }
            _ => answer(ahead, before, &mut chance),
        };
        self.give(Some(bar), variation);
        self.put(ahead.phrase, variation, heard);
    }

    fn give(&mut self, bar: Option<usize>, variation: usize) {
        if let Some(given) = bar.and_then(|bar| self.given.get_mut(bar)) {
            *given = u8::try_from(variation).unwrap_or(NONE);
        }
    }

    fn put(&mut self, phrase: i64, variation: usize, heard: Heard) {
        let variation = u8::try_from(variation).unwrap_or(0);
        self.chosen = [self.chosen[1], Some(Chosen { phrase, variation, heard })];
    }
}

/// Another left hand than `before`, by what the right hand leaves open.
fn answer(ahead: &PhraseAhead<'_>, before: Option<usize>, chance: &mut Chance) -> (usize, Heard) {
    let many = ahead.strokes.len() as f32;
    let room = USUAL_RIGHT - f32::from(ahead.right);
    let wanted = ahead.strokes.iter().sum::<f32>() / many + ANSWERS * room;
    let mut best = (f32::INFINITY, 0);
    for (index, strokes) in ahead.strokes.iter().enumerate() {
        let cost = (strokes - wanted).abs() + 3.0 * chance.part();
        if Some(index) != before && cost < best.0 {
            best = (cost, index);
        }
    }
    let heard = match room {
        room if room >= 2.0 => Heard::RightRests,
        room if room <= -2.0 => Heard::RightBusy,
        _ => Heard::Phrase,
    };
    (best.1, heard)
}

#[cfg(test)]
mod tests {
    use super::*;
    use alloc::vec::Vec;

    const STROKES: [f32; 3] = [2.0, 5.0, 9.0];

    fn ahead(phrase: i64, right: u8, seed: u64) -> PhraseAhead<'static> {
        let bar = usize::try_from(4 * phrase).expect("a bar");
        PhraseAhead { phrase, section: (bar, bar), strokes: &STROKES, right, variety: 50, seed }
    }

    #[test]
    fn a_busy_right_hand_gets_a_sparing_left_and_the_other_way_round() {
        let mean = |right| {
            let chosen = (1..200).map(|seed| {
                let mut style = Style::new();
                style.choose(&ahead(0, right, seed));
                STROKES[style.of(0).expect("chosen").0]
            });
            chosen.sum::<f32>() / 199.0
        };
        assert!(mean(1) > mean(6) + 1.0 && mean(6) > mean(12) + 1.0, "{} {}", mean(1), mean(12));
    }

    #[test]
    fn a_phrase_keeps_what_it_has_and_a_section_gets_its_own_back() {
        let mut kept = 0;
        for seed in 1..100 {
            let mut style = Style::new();
            style.choose(&ahead(0, 6, seed));
            let first = style.of(0);
            style.choose(&ahead(0, 12, seed + 1));
            assert_eq!(style.of(0), first, "chosen once");
            style.choose(&ahead(1, 6, seed));
            kept += usize::from(style.of(1).map(|c| c.0) == first.map(|c| c.0));
            style.choose(&PhraseAhead { section: (8, 0), ..ahead(2, 6, seed) });
            assert_eq!(style.of(2).map(|c| c.0), first.map(|c| c.0));
            assert_eq!(style.of(2).map(|c| c.1), Some(Heard::Section));
        }
        assert!((30..70).contains(&kept), "{kept} of 99 phrases keep their left hand");
    }

    #[test]
    fn one_figure_is_kept_through_all_phrases_and_many_change_with_each() {
        let changes = |variety| {
            let mut style = Style::new();
            let chosen = |phrase| {
                style.choose(&PhraseAhead { variety, ..ahead(phrase, 6, 5) });
                style.of(phrase).expect("chosen").0
            };
            let all: Vec<usize> = (0..40).map(chosen).collect();
            all.windows(2).filter(|pair| pair[0] != pair[1]).count()
        };
        assert_eq!([changes(0), changes(100)], [0, 39]);
        assert!((10..30).contains(&changes(50)), "{}", changes(50));
    }
}
