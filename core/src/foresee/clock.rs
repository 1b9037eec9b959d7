//! Song time that only goes forward, whatever loops the host plays.

use crate::time::{Place, Ticks};

/// Turns the home's time into time that goes on: after a jump back, the bar
/// jumped to follows the bar that was left.
#[derive(Clone, Copy, Debug, Default)]
pub struct SongTime {
    shift: Ticks,
    bars: i64,
    /// The latest moment and the end and number of its bar, in our time.
    latest: Option<Latest>,
}

#[derive(Clone, Copy, Debug)]
struct Latest {
    at: Ticks,
    bar_end: Ticks,
    number: i64,
}

impl SongTime {
    /// Our time for the home's `at` in the bar `place`. Moves on.
    pub fn tell(&mut self, at: Ticks, place: Place) -> (Ticks, Place) {
        if let Some(latest) = self.latest
            && at + self.shift < latest.at - Ticks(Ticks::PER_BEAT / 2)
        {
            self.shift = latest.bar_end - place.bar;
            self.bars = latest.number + 1 - place.number;
            self.latest = None;
        }
        let (ours, there) = self.at(at, place);
        if self.latest.is_none_or(|latest| ours >= latest.at) {
            let bar = there.of(ours);
            let bar_end = bar.bar + bar.metre.bar();
            self.latest = Some(Latest { at: ours, bar_end, number: bar.number });
        }
        (ours, there)
    }

    /// What [`SongTime::tell`] would say; does not move on.
    pub fn ahead(mut self, at: Ticks, place: Place) -> (Ticks, Place) {
        self.tell(at, place)
    }

    /// The same where time has not jumped.
    pub fn at(&self, at: Ticks, place: Place) -> (Ticks, Place) {
        let there = Place {
            bar: place.bar + self.shift,
            number: place.number.saturating_add(self.bars),
            ..place
        };
        (at + self.shift, there)
    }

    /// The home's time for ours.
    pub fn home(&self, ours: Ticks) -> Ticks {
        ours - self.shift
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Metre;

    #[test]
    fn a_loop_of_the_host_goes_on_bar_after_bar() {
        let mut clock = SongTime::default();
        let first = Place::first(Metre::COMMON);
        let beat = |n: i64| Ticks(n * 960);
        let mut tell = |n: i64| clock.tell(beat(n), first.of(beat(n)));
        assert_eq!(tell(0).0, beat(0));
        assert_eq!(tell(7).0, beat(7));
        let (at, place) = tell(0); // bars 0 and 1 go round
        assert_eq!((at, place.number), (beat(8), 2));
        assert_eq!(tell(7).0, beat(15));
        assert_eq!(tell(1).0, beat(17));
        assert_eq!(clock.home(beat(17)), beat(1));
    }
}
