//! A pattern: when the left hand plays, and what it would like to play there.

use alloc::borrow::ToOwned;
use alloc::boxed::Box;
use alloc::string::String;
use alloc::sync::Arc;
use alloc::vec;
use alloc::vec::Vec;

use arrayvec::ArrayVec;

use super::part::{Part, Parts, Voice};
use super::phrase::PHRASE;
use super::slot::{BarOfSlots, Slot, SlotAt};
use super::style::{PhraseAhead, Style};
use super::why::{FigureOf, Heard, Why};
use super::wish::{Wish, Wishes};
use super::written::WrittenBars;
use super::{FreeHand, adapt};
use crate::settings::Settings;
use crate::time::{Metre, Place, Ticks};

/// The most left hands that a style is weighed over.
const MOST_DRAWN: usize = 64;

/// How many empty bars are looked over for the next slot.
const EMPTY_BARS: i64 = 8;

/// For each variation its bars.
type Variations = Box<[Box<[BarOfSlots]>]>;

/// Compiled from a pattern file for every metre there is; fixed while it is in
/// the engine.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// As the player sees it.
    pub name: String,
    /// What it teaches or adds, in a sentence or two.
    pub about: String,
    /// By metre, see [`index`]: variations, bars, slots. Shared by all that play it.
    metres: Arc<[Variations]>,
    /// By metre, which left hand of the library each variation is from.
    sources: Arc<[Box<[u16]>]>,
    /// What the slots play.
    parts: Arc<[Part]>,
    /// Whether a voice is written above the bass.
    two_voices: bool,
    /// Whether a stroke wider than the hand is broken from below; else what it
    /// does not reach is left out.
    pub(super) rolls: bool,
    /// Whether an octave above the root is asked for somewhere.
    pub(super) goes_up: bool,
    /// How far above the root it goes otherwise, in semitones.
    pub(super) height: i32,
    /// Whether an octave below the root is asked for somewhere.
    pub(super) goes_down: bool,
    /// Whether the third is asked for somewhere, which must not lie low.
    pub(super) has_thirds: bool,
    /// Whether the hand improvises where it can ([`super::FreeHand`]); what is
    /// written is then for the metres in which it cannot.
    improvises: bool,
    /// The metres that are written; the others are fitted.
    written: Box<[Metre]>,
    /// Which of its variations each phrase has, where the hand draws from several.
    style: Option<Style>,
}

impl Pattern {
    /// Compiles what is written; every metre that is not is filled in from the
    /// nearest that is, or is silent if nothing is written. `fill` is what a
    /// slot beyond the written ones plays. Not for the audio thread: allocates.
    pub fn new(name: &str, about: &str, written: &[WrittenBars], fill: &Wishes) -> Self {
        let all = || written.iter().flat_map(|w| w.bars.iter().flatten());
        let two_voices = all().any(|(_, parts)| parts.tenor.is_some());
        let fill = Some(Part::plain(fill));
        let fill = match two_voices {
            // What is added moves above the bass.
            true => Parts { bass: None, tenor: fill },
            false => Parts { bass: fill, tenor: None },
        };
        let mut parts = Vec::new();
        let metres = all_metres()
            .map(|metre| {
                adapt::variations(written, metre)
                    .iter()
                    .map(|bars| {
                        let compiled = |bar| adapt::compile(bar, metre, &fill, &mut parts);
                        bars.iter().map(compiled).collect()
                    })
                    .collect()
            })
            .collect();
        let sources = all_metres().map(|metre| adapt::sources(written, metre).into()).collect();
        let asks = |wish| {
            let bass = all().filter_map(|(_, parts)| parts.bass.as_ref());
            bass.flat_map(|part| part.strokes.iter().flatten()).any(|asked| *asked == wish)
        };
        Self {
            name: name.to_owned(),
            about: about.to_owned(),
            metres,
            sources,
            parts: parts.into(),
            two_voices,
            rolls: true,
            goes_up: asks(Wish::OctaveUp) || asks(Wish::Octaves),
            height: [(Wish::Twelfth, 19), (Wish::Tenth, 16), (Wish::FifthUp, 7)]
                .into_iter()
                .find_map(|(wish, height)| asks(wish).then_some(height))
                // A voice above the bass wants a tenth.
                .max(two_voices.then_some(16))
                .unwrap_or(0),
            goes_down: asks(Wish::OctaveDown),
            has_thirds: asks(Wish::Third) || asks(Wish::ThirdUp),
            improvises: false,
            written: written.iter().map(|w| w.metre).collect(),
            style: None,
        }
    }

    /// The metres that are written, in the order of the file.
    pub fn written_metres(&self) -> &[Metre] {
        &self.written
    }

    /// Whether it is itself in `metre`: improvised, written for it, or for one whose
    /// beats are divided alike and fill it evenly.
    pub fn fits(&self, metre: Metre) -> bool {
        self.improvises(metre) || adapt::fits(&self.written, metre)
    }

    /// The same, for a hand that improvises where it can.
    #[must_use]
    pub fn improvising(self, improvises: bool) -> Self {
        Self { improvises, ..self }
    }

    /// The same, for a free hand that draws from what is written: each variation is
    /// a left hand. Allocates.
    #[must_use]
    pub fn drawing(self) -> Self {
        Self { style: Some(Style::new()), ..self }
    }

    /// Whether the hand draws from several left hands, phrase by phrase.
    pub fn draws(&self) -> bool {
        self.style.is_some()
    }

    /// Another song: its sections have no left hands yet. Real-time safe.
    pub fn forget_sections(&mut self) {
        if let Some(style) = &mut self.style {
            style.forget();
        }
    }

    /// Chooses the left hand of the phrase that the bar at `next` begins, if it begins
    /// one: with `section`, which bar of the song that is and which it repeats, and
    /// how often the right hand strikes a bar. Real-time safe.
    pub fn turn_to(
        &mut self,
        next: Place,
        section: (usize, usize),
        right: u8,
        settings: &Settings,
    ) {
        let Settings { seed, variety, .. } = *settings;
        let Some(mut style) = self.style.take() else { return };
        let phrase = next.number.div_euclid(PHRASE);
        let several = self.metres.get(index(next.metre)).map_or(0, |all| all.len());
        if several > 1 {
            let here = self.variation(next.metre, phrase - 1, seed);
            if next.number.rem_euclid(PHRASE) != 0 {
                style.begin(phrase, self.variation(next.metre, phrase, seed));
            } else {
                style.begin(phrase - 1, here);
                let strokes: ArrayVec<f32, MOST_DRAWN> =
                    (0..several).take(MOST_DRAWN).map(|n| self.strokes(next.metre, n)).collect();
                let strokes = strokes.as_slice();
                style.choose(&PhraseAhead { phrase, section, strokes, right, variety, seed });
            }
        }
        self.style = Some(style);
    }

    /// Strokes a bar of a variation, as written.
    fn strokes(&self, metre: Metre, variation: usize) -> f32 {
        let bars = self.metres.get(index(metre)).and_then(|all| all.get(variation));
        let bars = bars.map_or(&[][..], |bars| bars);
        let written = bars.iter().flat_map(|bar| bar.iter()).filter(|slot| slot.written()).count();
        written as f32 / bars.len().max(1) as f32
    }

    /// Which of its variations a phrase has.
    fn variation(&self, metre: Metre, phrase: i64, seed: u64) -> usize {
        let several = self.metres.get(index(metre)).map_or(0, |all| all.len());
        let chosen = self.style.as_ref().and_then(|style| style.of(phrase));
        match (chosen, several) {
            (_, 0 | 1) => 0,
            (Some((variation, _)), _) if variation < several => variation,
            _ => usize::try_from(mixed(seed, phrase) % several as u64).unwrap_or(0),
        }
    }

    /// What the bar at `place` is taken from, and why that. Real-time safe.
    pub fn why(&self, place: Place, seed: u64) -> Why {
        let phrase = place.number.div_euclid(PHRASE);
        let sources = self.sources.get(index(place.metre));
        let source = sources.and_then(|all| all.get(self.variation(place.metre, phrase, seed)));
        let figure = match source.copied() {
            None | Some(0) => FigureOf::Pattern,
            Some(number) => FigureOf::Library(number),
        };
        let chosen = self.style.as_ref().and_then(|style| style.of(phrase));
        let heard = match chosen {
            Some((_, heard)) if place.number.rem_euclid(PHRASE) == 0 => heard,
            Some(_) => Heard::GoesOn,
            None => Heard::Nothing,
        };
        Why { figure, heard, ..Why::default() }
    }

    /// The same; whether strokes wider than the hand are broken from below.
    #[must_use]
    pub fn rolling(self, rolls: bool) -> Self {
        Self { rolls, ..self }
    }

    /// Whether a voice is written above the bass, so that one may be held while
    /// the other moves.
    pub fn has_two_voices(&self) -> bool {
        self.two_voices
    }

    /// Whether the hand improvises where it can.
    pub fn is_free(&self) -> bool {
        self.improvises
    }

    /// Whether the hand improvises in `metre`, rather than play what is written.
    pub fn improvises(&self, metre: Metre) -> bool {
        self.improvises && FreeHand::plays_in(metre)
    }

    /// The root on every beat, in every metre. Allocates.
    pub fn default_boxed() -> Box<Self> {
        let root: Wishes = [Wish::Root].into_iter().collect();
        let part = Parts::bass(Part::plain(&root));
        let beats = (0..4).map(|n| (Ticks(n * Ticks::PER_BEAT), part.clone())).collect();
        let written = [WrittenBars { library: 0, metre: Metre::COMMON, bars: vec![beats] }];
        Box::new(Self::new("Roots on the beat", "", &written, &root))
    }

    /// The first slot that sounds strictly after `after`, over bar lines; the
    /// bars after `place` go on in its metre. Slots that are too sparing for
    /// `settings.busy` are among them, since a change may come there.
    /// `None` if the pattern is empty. Real-time safe.
    pub fn next_slot(&self, place: Place, after: Ticks, settings: &Settings) -> Option<SlotAt> {
        let here = place.of(after);
        (0..EMPTY_BARS).find_map(|n| {
            let place = here.of(Ticks(here.bar.0.saturating_add(n * here.metre.bar().0)));
            let slots = self.bar(place, settings.seed);
            slots.iter().enumerate().find_map(|(index, slot)| {
                let at = place.bar + slot.swung(settings.swing);
                let counts = slot.written() || settings.busy >= slot.from_busy;
                let grid = place.bar + slot.offset;
                (at > after && counts).then_some(SlotAt { at, grid, place, index })
            })
        })
    }

    /// The slots of the bar at `place` in the variation that `seed` chooses
    /// for its phrase. Real-time safe.
    pub fn bar(&self, place: Place, seed: u64) -> &[Slot] {
        let Some(variations) = self.metres.get(index(place.metre)) else { return &[] };
        let phrase = place.number.div_euclid(PHRASE);
        let bars = variations.get(self.variation(place.metre, phrase, seed));
        let Some(bars) = bars else { return &[] };
        let number = place.number.checked_rem_euclid(bars.len() as i64).unwrap_or(0);
        usize::try_from(number).ok().and_then(|number| bars.get(number)).map_or(&[], |bar| bar)
    }

    /// The slot that `at` names. Real-time safe.
    pub fn slot(&self, at: &SlotAt, seed: u64) -> Option<&Slot> {
        self.bar(at.place, seed).get(at.index)
    }

    /// What `voice` plays at `slot`. Real-time safe.
    pub fn part(&self, slot: &Slot, voice: Voice) -> Option<&Part> {
        self.parts.get(usize::from(slot.part(voice)?))
    }
}

/// Every metre that [`Metre::new`] accepts, in the order of [`index`].
fn all_metres() -> impl Iterator<Item = Metre> {
    [1, 2, 4, 8, 16, 32]
        .into_iter()
        .flat_map(|unit| (1..=32).filter_map(move |beats| Metre::new(beats, unit)))
}

fn index(metre: Metre) -> usize {
    metre.unit().trailing_zeros() as usize * 32 + usize::from(metre.beats()) - 1
}

/// A number without pattern for a phrase: the same seed gives the same music,
/// wherever it starts. (The finaliser of SplitMix64, from memory.)
const fn mixed(seed: u64, phrase: i64) -> u64 {
    let mut z = seed ^ phrase.cast_unsigned().wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(beats: u8, unit: u8) -> Place {
        let metre = Metre::new(beats, unit).expect("a metre");
        Place::first(metre)
    }

    #[test]
    fn slots_follow_each_other_over_bar_lines() {
        let pattern = Pattern::default_boxed();
        for (beats, unit, expected) in [
            (4, 4, [0, 960, 1920, 2880, 3840]),
            (3, 4, [0, 960, 1920, 2880, 3840]),
            (6, 8, [0, 1440, 2880, 4320, 5760]),
            (7, 8, [0, 960, 1920, 3360, 4320]), // 2 + 2 + 3
        ] {
            let mut after = Ticks(-1);
            for at in expected {
                let slot = pattern
                    .next_slot(place(beats, unit), after, &Settings::default())
                    .expect("a slot");
                assert_eq!(slot.at, Ticks(at), "{beats}/{unit}");
                after = slot.at;
            }
        }
    }

    #[test]
    fn a_slot_before_the_song_lies_in_a_bar_below_zero() {
        let slot = Pattern::default_boxed()
            .next_slot(place(4, 4), Ticks(-2000), &Settings::default())
            .expect("a slot");
        assert_eq!((slot.at, slot.place.number), (Ticks(-1920), -1));
    }

    #[test]
    fn every_metre_has_its_slots() {
        let pattern = Pattern::default_boxed();
        for metre in all_metres() {
            let place = Place::first(metre);
            let slots = pattern.bar(place, 1);
            assert!(slots.first().is_some_and(|slot| slot.offset == Ticks::ZERO), "{metre:?}");
            assert!(slots.is_sorted_by(|a, b| a.offset < b.offset), "{metre:?}");
            assert!(slots.iter().all(|slot| slot.offset < metre.bar()), "{metre:?}");
        }
    }
}
