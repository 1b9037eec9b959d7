//! For training and measuring: what was learned replaced, and looked at. Not in a
//! build that ships.

use super::Engine;
use super::hands::Pianist;
use super::listener::Listener;
use crate::belief::begin::Worth;
use crate::belief::next;
use crate::foresee::model::ForesightModel;
use crate::foresee::{Forecast, Foresight};
use crate::hear::Ear;
use crate::play::free::Book;

impl Engine {
    /// With ears that have learned something else, its own and the one ahead.
    #[must_use]
    pub fn with_ear(self, change: impl Fn(Ear) -> Ear) -> Self {
        let split = self.program.settings.split;
        self.taught(|listener| {
            let ear = listener.ear_mut();
            *ear = change(core::mem::replace(ear, Ear::new(split)));
        })
    }

    /// With other tables of foresight and of what comes next.
    #[must_use]
    pub fn with_models(
        self,
        foresight: Option<&'static ForesightModel>,
        next: Option<&'static next::NextModel>,
    ) -> Self {
        self.taught(|listener| {
            if let Some(foresight) = foresight {
                listener.foresight = Foresight::with_model(foresight);
            }
            listener.model = next.unwrap_or(listener.model);
        })
    }

    fn taught(mut self, teach: impl Fn(&mut Listener)) -> Self {
        teach(&mut self.memory.listener);
        if let Some(scout) = &mut self.memory.scout {
            teach(&mut scout.listener);
        }
        self
    }

    /// With another book of bars for the hand that improvises.
    #[must_use]
    pub fn with_book(mut self, book: Book) -> Self {
        self.hands = Pianist::new(book);
        self
    }

    /// With another worth of strokes.
    #[must_use]
    pub fn with_worth(mut self, worth: Worth) -> Self {
        self.memory.worth = worth;
        self
    }

    /// Its ear.
    pub fn ear(&self) -> &Ear {
        self.memory.listener.ear()
    }

    /// What the last forecast was made of.
    pub fn signs_of_next(&self) -> Option<(next::NextSigns, Forecast)> {
        let listener = &self.memory.listener;
        listener.signs.zip(listener.forecast)
    }
}
