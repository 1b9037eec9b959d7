//! Hearing and foresight together: what chord holds, and what comes.

use super::known::Known;
use crate::chord::Chord;
use crate::foresee::{Forecast, Foresight, Song};
use crate::hear::{Ear, Expected, Hearing};
use crate::key::Key;
use crate::pitch::{PitchClass, PitchSet};
use crate::time::{Place, Ticks};

/// What is known about the song from outside at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Given<'a> {
    /// The bar that holds the moment.
    pub place: Place,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// The key that the player or the chart names.
    pub key: Option<Key>,
    /// The chart, followed by the home's bars.
    pub song: Option<&'a Song>,
    /// The right hand heard ahead of time.
    pub known: Option<Known>,
    /// Whether [`Listener::think`] will be called when it is due: foresight
    /// need not have its answer at once.
    pub leisure: bool,
}

/// An ear whose hearing is told to foresight, and the other way round.
pub struct Listener {
    /// The right hand.
    pub ear: Ear,
    foresight: Foresight,
    forecast: Option<Forecast>,
    /// With a chart: the last answer, and since when it holds.
    answer: Option<(Chord, Ticks)>,
    /// Whether the place in the chart follows the hand.
    by_hand: bool,
    /// When foresight thinks next.
    thought: Option<Ticks>,
    /// A chord was heard to begin then, and foresight has yet to think what
    /// follows it.
    begun: Option<Ticks>,
    /// What foresight has yet to be told of it.
    news: News,
    /// Between two parts of a thought.
    step: Ticks,
}

/// A change that was heard.
#[derive(Clone, Copy, Debug, Default)]
struct News {
    /// The chord before, judged again.
    revised: Option<Chord>,
    /// The chord, when it began and the bar of that.
    begun: Option<(Ticks, Chord, Place)>,
}

impl News {
    /// Tells a part, if any is left; `true` if so.
    fn tell_a_part(&mut self, foresight: &mut Foresight) -> bool {
        if let Some(before) = self.revised.take() {
            foresight.revise(before);
        } else if let Some((since, chord, place)) = self.begun.take() {
            foresight.chord_started(since, chord, place);
        } else {
            return false;
        }
        true
    }
}

/// Milliseconds between two parts of a thought, so that a block of 64 frames at
/// 44.1 kHz (1.45 ms) never has two of them.
const STEP_MS: f64 = 1.5;

/// A hand that comes this early plays the chart's next chord already.
const EARLY: Ticks = Ticks(Ticks::PER_BEAT / 4);

impl Listener {
    /// Has heard nothing yet. Not for the audio thread: allocates.
    pub fn new(ear: Ear) -> Self {
        Self {
            ear,
            foresight: Foresight::new(),
            forecast: None,
            answer: None,
            by_hand: false,
            thought: None,
            begun: None,
            news: News::default(),
            step: Ticks(1),
        }
    }

    /// Hears the chord at `at`, tells foresight of a change, and asks it what
    /// comes next.
    pub fn listen(&mut self, at: Ticks, given: Given<'_>) -> Hearing {
        let Given { place, tempo, key, song, known, leisure } = given;
        self.begun = self.begun.filter(|_| leisure && song.is_none());
        if self.begun.is_none() {
            self.tell();
        }
        let expected = match known.and_then(|known| known.expected(at)) {
            Some(expected) => expected,
            // What has just begun does not end at once.
            None if self.begun.is_some() => Expected { change: Some(0.0), ..Expected::NOTHING },
            None => self.foresight.expected(at, place, key, song),
        };
        let hearing = self.ear.listen(at, place, tempo, &expected);
        let hearing = self.by_the_chart(at, hearing, song);
        if let (true, Some(chord)) = (hearing.changed, hearing.chord) {
            self.tell();
            let since = hearing.since;
            let begun = Some((since, chord, place.of(since)));
            self.news = News { revised: hearing.revised, begun };
            if leisure && song.is_none() {
                self.begun = self.begun.or(Some(at));
                self.step = Ticks::of_ms(STEP_MS, tempo).max(Ticks(1));
                self.thought = Some(at + self.step);
            } else {
                self.tell();
            }
        }
        let known = known.and_then(|known| known.next(at));
        if self.begun.is_some() {
            // The one thing that cannot be known at the instant of a change is
            // what follows; all that the hand plays then is the chord itself.
            self.forecast = known;
            return hearing;
        }
        let foreseen = self.foresight.forecast(at, place, key, song);
        self.forecast = known.or(foreseen);
        // Where the home's bars tell the chart's chords, there is no need to.
        let told = song.is_some() && !self.by_hand;
        self.thought = if told { None } else { self.next_thought(at) };
        hearing
    }

    /// Tells foresight all that it does not know yet.
    fn tell(&mut self) {
        while self.news.tell_a_part(&mut self.foresight) {}
    }

    /// When [`Listener::think`] is due.
    pub fn thought(&self) -> Option<Ticks> {
        self.thought
    }

    /// Does a part of foresight's work, at `at` in the bar `place`: before it is
    /// needed, or for the chord that has just begun; then, at last, gives what
    /// follows it, and since when it was heard.
    pub fn think(
        &mut self,
        at: Ticks,
        place: Place,
        key: Option<Key>,
    ) -> Option<(Ticks, Forecast)> {
        let busy = self.news.tell_a_part(&mut self.foresight) || self.foresight.think(at, key);
        let mut found = None;
        if !busy
            && let Some(since) = self.begun.take()
            && self.forecast.is_none()
        {
            self.forecast = self.foresight.forecast(at, place, key, None);
            found = self.forecast.map(|next| (since, next));
        }
        self.thought = match busy || self.ear.think(at, place) {
            true => Some(at + self.step),
            false => self.next_thought(at),
        };
        found
    }

    /// Whether a chord has just begun and what follows it is not known yet.
    pub fn is_thinking(&self) -> bool {
        self.begun.is_some()
    }

    /// When there is something to think about next, after `at`.
    fn next_thought(&self, at: Ticks) -> Option<Ticks> {
        let next = self.foresight.next_thought(at)?;
        Some(next.min(self.ear.next_thought().max(at + self.step)))
    }

    /// Time has jumped, or stands still.
    pub fn pause(&mut self) {
        self.thought = None;
        self.begun = None;
    }

    /// A right hand cannot show what lies below it, and one set of keys can be
    /// two chords (C6 and Am7): where all it holds is in the chart's chord, or
    /// has its root, the chart knows the rest.
    fn by_the_chart(&mut self, at: Ticks, mut hearing: Hearing, song: Option<&Song>) -> Hearing {
        let (Some(song), Some(heard)) = (song, hearing.chord) else {
            self.answer = None;
            return hearing;
        };
        let held = classes(self.ear.right());
        let known = |at| {
            let written = song.chords().get(self.foresight.chart_chord(at, song)?)?.chord?;
            // Where the chart follows the hand, the hand tells the chords.
            let (common, foreign) = (held.and(written.tones()), held.minus(written.tones()));
            if !self.by_hand && common.len() >= 2 && foreign.len() <= 1 {
                Some(written)
            } else {
                (written.root == heard.root && heard.bass == heard.root)
                    .then(|| heard.over(written.bass))
            }
        };
        let chord = known(at).or_else(|| known(at + EARLY)).unwrap_or(heard);
        let same =
            |before: &(Chord, Ticks)| before.0.root == chord.root && before.0.bass == chord.bass;
        let since = match self.answer.filter(same) {
            Some((_, since)) => since,
            None if hearing.changed => hearing.since,
            None => at,
        };
        hearing.changed = self.answer.is_none_or(|before| !same(&before));
        hearing.since = since;
        hearing.chord = Some(chord);
        self.answer = Some((chord, since));
        hearing
    }

    /// What comes next, as of the last moment that was listened to.
    pub fn forecast(&self) -> Option<Forecast> {
        self.forecast
    }

    /// Whether the place in the chart follows the hand or the home's bars.
    pub fn follow_hand(&mut self, by_hand: bool) {
        self.foresight.follow_hand(by_hand);
        self.by_hand = by_hand;
    }

    /// There is another chart, or none.
    pub fn chart_changed(&mut self) {
        self.foresight.chart_changed();
    }

    /// Index in the song's chords of the one that holds at `at`.
    pub fn chart_chord(&self, at: Ticks, song: &Song) -> Option<usize> {
        self.foresight.chart_chord(at, song)
    }

    /// Whether the player keeps to the chart's bars.
    pub fn trusts(&self) -> bool {
        self.foresight.trusts_chart()
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.news = News::default();
        self.foresight.forget();
        self.ear.forget();
        self.forecast = None;
        self.answer = None;
        self.pause();
    }
}

/// The classes of keys; bit n is key n.
fn classes(keys: u128) -> PitchSet {
    (0..128).filter(|key| keys >> key & 1 == 1).map(PitchClass::new).collect()
}
