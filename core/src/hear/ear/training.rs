//! For training and measuring; not for the audio thread.

use alloc::boxed::Box;
use alloc::vec::Vec;

use super::felt::{self, Felt};
use super::scorer::{Scorer, ScorerInput, ScorerWeights};
use super::signs::{self, ChordSigns};
use super::{Ear, hindsight, past};
use crate::hear::Expected;
use crate::time::{Place, Ticks};

impl Ear {
    /// With other weights, in rows: for training. Allocates, and never frees.
    #[must_use]
    pub fn trained(
        mut self,
        now: Option<&[f32]>,
        again: Option<&[f32]>,
        bar: Option<&[f32]>,
    ) -> Self {
        let read = |row: &[f32], [classes, steps, scalars, globals]: [usize; 4]| {
            let inputs = 12 * (classes + steps) + scalars;
            let weights = ScorerWeights::from_row(inputs, globals, row);
            &*Box::leak(Box::new(Scorer::new(&weights, classes, steps)))
        };
        if let Some(row) = now {
            use signs::{CLASSES, GLOBALS, SCALARS, STEPS};
            self.scorer = read(row, [CLASSES, STEPS, SCALARS, GLOBALS]);
        }
        if let Some(row) = again {
            use hindsight::{CLASSES, GLOBALS, SCALARS, STEPS};
            self.hindsight = read(row, [CLASSES, STEPS, SCALARS, GLOBALS]);
        }
        if let Some(row) = bar {
            self.felt = Felt::new(Box::leak(Box::new(felt::FeltWeights::from_row(row))));
        }
        self
    }

    /// What the scorer would look at, as one row: classes, steps, scalars and
    /// globals. For training; not for the audio thread.
    pub fn signs(&mut self, now: Ticks, place: Place, expected: &Expected) -> Vec<f32> {
        self.catch_up(now, place);
        row(ChordSigns::gather(self, now, place, expected).view())
    }

    /// The same for what was `age` frames ago; with the moment.
    pub fn signs_of_past(&mut self, age: i64) -> Option<(Ticks, Vec<f32>)> {
        let frame = self.past.now() - age;
        (frame >= self.past.first() && frame % 2 == 0).then(|| {
            self.likeness.look(&self.past);
            let signs = hindsight::HindsightSigns::gather(self, frame, age, self.place);
            (self.past.start_of(frame) + Ticks(past::EARLY), row(signs.view()))
        })
    }

    /// What the feeling of the bar looks at; for training.
    pub fn signs_of_bar(&self) -> Vec<f32> {
        let (told, known) = self.felt.told();
        told.into_iter().flatten().chain([known]).collect()
    }
}

/// All in a row.
fn row(view: ScorerInput<'_>) -> Vec<f32> {
    let blocks = view.classes.iter().chain(view.steps).chain(view.scalars).flatten();
    blocks.chain(view.globals).copied().collect()
}
