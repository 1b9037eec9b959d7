//! The time of the song's memory: the home's time, but never backwards. A
//! loop of eight bars played twice is eight bars and eight more.

use crate::time::{Place, Ticks};

/// How far the memory's time is ahead of the home's.
#[derive(Clone, Copy, Debug, Default)]
pub struct SongTime {
    shift: Ticks,
    latest: Ticks,
}

impl SongTime {
    /// The memory's time of the home's `at`.
    pub fn of(self, at: Ticks) -> Ticks {
        at + self.shift
    }

    /// The home's time of the memory's `at`.
    pub fn back(self, at: Ticks) -> Ticks {
        at - self.shift
    }

    /// A place in the memory's time.
    pub fn place(self, place: Place) -> Place {
        Place { bar: place.bar + self.shift, ..place }
    }

    /// The home's time has come to `at`.
    pub fn reached(&mut self, at: Ticks) {
        self.latest = self.latest.max(self.of(at));
    }

    /// The home's time goes on from `at`. Whole bars are added, so that the
    /// first beat stays the first beat.
    pub fn land(&mut self, at: Ticks, bar: Ticks) {
        let behind = (self.latest - self.of(at)).0;
        if behind > 0 {
            let bar = bar.0.max(1);
            self.shift += Ticks((behind + bar - 1).div_euclid(bar) * bar);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loop_goes_on_in_memory_on_the_same_beat() {
        let mut time = SongTime::default();
        time.reached(Ticks(4 * 3840 - 10));
        time.land(Ticks(0), Ticks(3840));
        assert_eq!(time.of(Ticks(0)), Ticks(4 * 3840));
        assert_eq!(time.back(Ticks(4 * 3840)), Ticks(0));
        time.land(Ticks(5 * 3840), Ticks(3840)); // forward: nothing to add
        assert_eq!(time.of(Ticks(0)), Ticks(4 * 3840));
    }
}
