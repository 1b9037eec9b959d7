//! A chart as a guide: by the home's bars, where it is law, or by the hand.

use arrayvec::ArrayVec;

use super::follower::Follower;
use super::{Forecast, Song, Source, chart};
use crate::chord::Chord;
use crate::time::Ticks;

/// A chart, and who leads through it.
#[derive(Clone, Copy, Debug)]
pub struct Followed<'a> {
    /// The chart.
    pub song: &'a Song,
    /// Whether its place follows the hand (on stage, in practice) or the home's
    /// bars, exactly.
    pub by_hand: bool,
}

/// What was heard since the chart was last looked at.
#[derive(Clone, Copy, Debug)]
enum ChordNews {
    Heard { home: Ticks, at: Ticks, chord: Chord },
    Revised { at: Ticks, chord: Chord },
}

/// Reads the chart for foresight. Real-time safe but for [`Guide::new`].
#[derive(Debug)]
pub struct Guide {
    follower: Follower,
    /// Whether the follower knows the present chart.
    begun: bool,
    news: ArrayVec<ChordNews, 4>,
    /// The last chord heard and its home time.
    last: Option<(Ticks, Chord)>,
}

impl Guide {
    /// Knows no chart. Not for the audio thread: allocates.
    pub fn new() -> Self {
        Self { follower: Follower::new(), begun: false, news: ArrayVec::new(), last: None }
    }

    /// From the start of a chart.
    pub fn begin(&mut self) {
        self.begun = false;
        self.news.clear();
        self.last = None;
    }

    /// A chord came: `home` by the home's clock, `at` by ours.
    pub fn hear(&mut self, home: Ticks, at: Ticks, chord: Chord) {
        self.tell(ChordNews::Heard { home, at, chord });
    }

    /// The chord that came `at` was in truth `chord`.
    pub fn revise(&mut self, at: Ticks, chord: Chord) {
        self.tell(ChordNews::Revised { at, chord });
    }

    fn tell(&mut self, news: ChordNews) {
        if self.news.is_full() {
            self.news.remove(0); // no chart is looked at
        }
        self.news.push(news);
    }

    /// Follows what was heard since the last look.
    fn catch_up(&mut self, chart: Followed<'_>) {
        while self.follow_a_part(chart) {}
    }

    /// Follows one thing that was heard; `false` if there was none.
    pub fn follow_a_part(&mut self, Followed { song, by_hand }: Followed<'_>) -> bool {
        if by_hand && !self.begun {
            self.follower.begin(song);
        }
        self.begun = true;
        let Some(news) = self.news.pop_at(0) else { return false };
        match news {
            ChordNews::Heard { at, chord, .. } if by_hand => self.follower.hear(song, at, chord),
            ChordNews::Revised { at, chord } if by_hand => self.follower.revise(song, at, chord),
            ChordNews::Heard { home, chord, .. } => self.last = Some((home, chord)),
            ChordNews::Revised { .. } => {}
        }
        true
    }

    /// What the chart says comes next; its time is the home's where the bars
    /// lead, ours where the hand leads.
    pub fn forecast(&mut self, chart: Followed<'_>, now: Ticks, ours: Ticks) -> Option<Forecast> {
        self.catch_up(chart);
        let song = chart.song;
        if chart.by_hand {
            return self.follower.forecast(song, ours);
        }
        let mut next = chart::next(song, now)?;
        if self.ahead(next.0, next.1) {
            next = chart::next(song, next.1)?;
        }
        let (chord, at, _) = next;
        Some(Forecast::new(chord, at, 1.0, Source::Chart))
    }

    /// Whether what is to come at `at` was struck ahead of its bar already.
    fn ahead(&self, next: Chord, at: Ticks) -> bool {
        self.last.is_some_and(|(struck, chord)| {
            chord.same_bass(next) && (at - struck).0 <= Ticks::PER_BEAT
        })
    }

    /// The chord that the bars say holds at `now`, or that was struck ahead of
    /// its bar; `None` where the hand leads.
    pub fn written(&mut self, chart: Followed<'_>, now: Ticks) -> Option<Chord> {
        if chart.by_hand {
            return None;
        }
        self.catch_up(chart);
        let song = chart.song;
        match chart::next(song, now) {
            Some((chord, at, _)) if self.ahead(chord, at) => Some(chord),
            _ => song.chords().get(chart::holds(song, now)?)?.chord,
        }
    }

    /// Index of the song's chord that holds.
    pub fn chord(&self, chart: Followed<'_>, now: Ticks, ours: Ticks) -> Option<usize> {
        match chart.by_hand {
            true => self.follower.position(chart.song, ours).map(|position| position.chord),
            false => chart::holds(chart.song, now),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::pitch::PitchClass;

    #[test]
    fn what_was_struck_ahead_of_its_bar_does_not_come_again() {
        let major = |root| Chord::new(PitchClass::new(root), Kind::Major);
        let bars = [0, 5, 7].map(major);
        let chords = (0..).step_by(3840).map(Ticks).zip(bars.map(Some));
        let song = Song::in_common_time(chords, 3).expect("a song");
        let chart = Followed { song: &song, by_hand: false };
        let mut guide = Guide::new();
        let now = Ticks(3360);
        let next = guide.forecast(chart, now, now).expect("a chord");
        assert_eq!((next.chord, next.at), (bars[1], Ticks(3840)));
        guide.hear(now, now, bars[1]);
        let next = guide.forecast(chart, now, now).expect("a chord");
        assert_eq!((next.chord, next.at), (bars[2], Ticks(7680)));
    }
}
