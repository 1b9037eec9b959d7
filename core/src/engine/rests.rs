//! When our left hand rests: the player's own plays, or the right is silent.

use crate::time::{Place, Ticks};

/// Before every song.
const LONG_AGO: Ticks = Ticks(i64::MIN / 2);

/// What keeps our hand down.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rests {
    /// The player's own left hand has the song until here.
    own_until: Option<Ticks>,
    /// Since when the right hand holds nothing; `None` while it does.
    silent_since: Option<Ticks>,
}

impl Rests {
    /// The player's own left hand plays at `at`: ours is back on the next bar.
    pub fn own_left(&mut self, at: Ticks, place: Place) {
        let bar = place.of(at);
        self.own_until = Some(bar.bar + bar.metre.bar());
    }

    /// The right hand holds something, or nothing.
    pub fn right(&mut self, holds: bool, at: Ticks) {
        self.silent_since = if holds { None } else { self.silent_since.or(Some(at)) };
    }

    /// Whether our hand rests at `at`, when it goes on for `hold` bars after
    /// the right one has let go.
    pub fn at(&self, at: Ticks, place: Place, hold: u8) -> bool {
        let patience = Ticks(place.metre.bar().0 * i64::from(hold));
        self.own_until.is_some_and(|until| at < until)
            || self.silent_since.is_some_and(|since| at >= since + patience)
    }

    /// Time starts: what was let go before is over.
    pub fn start(&mut self) {
        self.silent_since = self.silent_since.map(|_| LONG_AGO);
    }

    /// Time goes on from another place: deadlines there mean nothing.
    pub fn land(&mut self, at: Ticks) {
        self.own_until = None;
        self.silent_since =
            self.silent_since.map(|since| if since == LONG_AGO { since } else { at });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Metre;

    const BAR: Place = Place::first(Metre::COMMON);

    #[test]
    fn ours_is_back_on_the_bar_after_the_players_own() {
        let mut rests = Rests::default();
        rests.own_left(Ticks(1000), BAR);
        assert!(rests.at(Ticks(3839), BAR, 1));
        assert!(!rests.at(Ticks(3840), BAR, 1));
    }

    #[test]
    fn what_the_own_left_hand_had_ends_where_the_song_goes_on_from_elsewhere() {
        let mut rests = Rests::default();
        rests.own_left(Ticks(100 * 3840), BAR);
        rests.land(Ticks(960));
        assert!(!rests.at(Ticks(960), BAR, 1));
    }

    #[test]
    fn a_gap_between_two_chords_is_bridged() {
        let mut rests = Rests::default();
        rests.right(false, Ticks(960));
        assert!(!rests.at(Ticks(4799), BAR, 1));
        assert!(rests.at(Ticks(4800), BAR, 1));
        rests.right(true, Ticks(4900));
        assert!(!rests.at(Ticks(9000), BAR, 1));
    }

    #[test]
    fn what_was_let_go_before_the_start_is_over() {
        let mut rests = Rests::default();
        rests.right(false, Ticks(960));
        rests.start();
        rests.land(Ticks(3840));
        assert!(rests.at(Ticks(3840), BAR, 1));
        rests.right(true, Ticks(3840));
        rests.right(false, Ticks(4000));
        assert!(!rests.at(Ticks(4100), BAR, 1), "a chord is bridged as ever");
    }
}
