//! Tells the ear what came before, so that it can learn from its own place.

use sinistra_core::foresee::Foresight;
use sinistra_core::hear::Ear;
use sinistra_core::time::{Metre, Place, Ticks};

use super::data::Label;

/// Tells the chord before at every onset, the right one some time later, now
/// and then a wrong one: an ear that is always right would never learn to
/// leave a chord that it had misheard. The same in every run.
pub struct Teacher {
    seed: u64,
    /// The label of which `delay` and `wrong` were drawn.
    index: Option<usize>,
    delay: i64,
    wrong: bool,
}

impl Teacher {
    pub fn new(seed: u32) -> Self {
        Self { seed: u64::from(seed) * 104_729 + 1, index: None, delay: 0, wrong: false }
    }

    fn draw(&mut self, sides: u64) -> u64 {
        // A linear congruential generator (Knuth's constants) will do.
        self.seed = self
            .seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.seed >> 33) % sides
    }

    /// Before a question at `now`.
    pub fn teach(
        &mut self,
        labels: &[Label],
        now: Ticks,
        ear: &mut Ear,
        foresight: &mut Foresight,
    ) {
        // Labels are told once they have begun, not ahead.
        let Some(index) = labels.partition_point(|l| l.at < now).checked_sub(1) else { return };
        let label = labels[index];
        if self.index != Some(index) {
            self.index = Some(index);
            self.delay = [1, 1, 480, 960, 1920][self.draw(5) as usize];
            self.wrong = self.draw(6) == 0;
            let place = Place { bar: Ticks::ZERO, metre: Metre::COMMON, number: 0 };
            let told = if self.draw(8) == 0 {
                labels[self.draw(labels.len() as u64) as usize]
            } else {
                label
            };
            foresight.chord_started(label.at, told.chord, place.of(label.at));
        }
        let before = index.checked_sub(1).map(|i| labels[i]);
        if self.wrong {
            let other = labels[self.draw(labels.len() as u64) as usize];
            if now.0 - label.at.0 <= 240 {
                ear.correct(other.chord, label.at);
            }
        } else if now.0 - label.at.0 >= self.delay {
            ear.correct(label.chord, label.at);
        } else if let Some(before) = before {
            ear.correct(before.chord, before.at);
        }
    }
}
