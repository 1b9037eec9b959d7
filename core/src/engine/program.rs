//! What is fixed until the home changes it: settings, pattern, chart.

use alloc::boxed::Box;

use crate::foresee::{Followed, Song, chart};
use crate::key::Key;
use crate::play::Pattern;
use crate::settings::{KeyChoice, Settings};
use crate::time::{Metre, Place, Ticks};

/// What to play, and how.
#[derive(Debug)]
pub struct Program {
    /// What the player set.
    pub settings: Settings,
    /// When the left hand plays and what it wishes to play there.
    pub pattern: Box<Pattern>,
    /// The chart.
    pub song: Option<Box<Song>>,
    /// Whether the place in the chart follows the hand.
    pub by_hand: bool,
}

impl Program {
    /// The chart, and who leads through it.
    pub fn chart(&self) -> Option<Followed<'_>> {
        self.song.as_deref().map(|song| Followed { song, by_hand: self.by_hand })
    }

    /// The chart, if the home's bars are its bars.
    pub fn song_in_bars(&self) -> Option<&Song> {
        self.song.as_deref().filter(|_| !self.by_hand)
    }

    /// The key that the player or the chart names.
    pub fn key(&self) -> Option<Key> {
        match self.settings.key {
            KeyChoice::Fixed(key) => Some(key),
            KeyChoice::Auto => self.song.as_ref().and_then(|song| song.key),
        }
    }

    /// The bar that holds `at`: the chart's if there is one, else the home's,
    /// counted on from the bar `home`.
    pub fn place_of(&self, at: Ticks, home: Place) -> Place {
        self.song_in_bars().map_or_else(|| home.of(at), |song| song.place(at))
    }

    /// Whether a bar of this metre is improvised.
    pub fn improvises(&self, metre: Metre) -> bool {
        self.pattern.improvises(metre)
    }

    /// Whether the chart, played by its bars, says no chord (N.C.) at `at`: the
    /// left hand rests.
    pub fn tacet(&self, at: Ticks) -> bool {
        self.song_in_bars().is_some_and(|song| chart::silent(song, at))
    }

    /// The end of a note struck at `at` that would last `until`: no later than
    /// the chart's next silence.
    pub fn end_of(&self, at: Ticks, until: Ticks) -> Ticks {
        let silence = self.song_in_bars().and_then(|song| chart::silence(song, at, until));
        silence.unwrap_or(until)
    }

    /// The end of the song, if `at` lies under the chart's last chord.
    pub fn last_end(&self, at: Ticks) -> Option<Ticks> {
        let (from, end) = self.song_in_bars()?.last_chord()?;
        (from <= at).then_some(end)
    }

    /// The longest that a slot waits for the right hand, `tempo` in quarter notes
    /// a minute.
    pub fn patience(&self, tempo: f64) -> Ticks {
        Ticks::of_ms(f64::from(self.settings.window_ms), tempo)
    }
}
