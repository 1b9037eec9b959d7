//! Hearing and foresight together: what chord holds, and what comes.

use arrayvec::ArrayVec;

use super::known::Known;
use crate::belief::next;
use crate::chord::Chord;
use crate::foresee::{Followed, Forecast, Foresight, Source, WRITTEN};
use crate::hear::{Ear, Expected, Hearing};
use crate::key::Key;
use crate::maths;
use crate::midi::Message;
use crate::pitch::{KeyNumber, PitchClass, PitchSet};
use crate::settings::{KeyChoice, Settings};
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
    /// The chart, and who leads through it.
    pub chart: Option<Followed<'a>>,
    /// The right hand heard ahead of time.
    pub known: Option<Known>,
    /// Whether [`Listener::think`] will be called when it is due: foresight
    /// need not have its answer at once.
    pub leisure: bool,
}

/// An ear whose hearing is told to foresight, and the other way round.
pub struct Listener {
    ear: Ear,
    /// The last answer of [`Listener::ask`] and what it was to, until something is
    /// struck.
    said: Option<(Ticks, Option<Known>, Hearing)>,
    /// When it listened last, if that puts off what is struck just after.
    pub(super) heard: Option<Ticks>,
    pub(super) foresight: Foresight,
    pub(super) forecast: Option<Forecast>,
    /// With a chart: the last answer, and since when it holds.
    answer: Option<(Chord, Ticks)>,
    /// When foresight thinks next.
    thought: Option<Ticks>,
    /// A chord was heard to begin then, and foresight has yet to think what
    /// follows it.
    begun: Option<Ticks>,
    /// What foresight has yet to be told of it, and of those before, the oldest first.
    news: ArrayVec<ChangeNews, 4>,
    /// Between two parts of a thought.
    step: Ticks,
    /// What was last looked at to say what comes next, end to end.
    pub(super) signs: Option<next::NextSigns>,
    /// Time has just gone on from elsewhere.
    landed: bool,
    /// Whether it thinks after another that listens at the same time.
    pub(super) second: bool,
    /// Odds of the next root, end to end.
    odds: [f32; 12],
    /// How sure chords have lately been heard, 0..=1.
    lately: f32,
    pub(super) model: &'static next::NextModel,
}

/// A change that was heard.
#[derive(Clone, Copy, Debug)]
struct ChangeNews {
    /// The chord before, judged again.
    revised: Option<Chord>,
    /// The chord, when it began and the bar of that.
    begun: (Ticks, Chord, Place),
}

/// Milliseconds between two parts of a thought, so that a block of 64 frames at
/// 44.1 kHz (1.45 ms) never has two of them.
const STEP_MS: f64 = 1.5;

/// The same in ticks, so many at least.
fn step(tempo: f64) -> Ticks {
    Ticks(maths::whole(libm::ceil(STEP_MS * tempo / 60_000.0 * Ticks::PER_BEAT as f64)))
}

/// Into so many parts a thought falls.
const PARTS: i64 = 8;

/// How much of how sure chords have lately been is the last one's.
const LAST: f32 = 0.1;

/// A hand that comes this early plays the chart's next chord already.
const EARLY: Ticks = Ticks(Ticks::PER_BEAT / 4);

impl Listener {
    /// Has heard nothing yet. Not for the audio thread: allocates.
    pub fn new(settings: &Settings) -> Self {
        let mut ear = Ear::new(settings.split);
        ear.set_key(settings.key);
        Self {
            ear,
            said: None,
            heard: None,
            foresight: Foresight::new(),
            forecast: None,
            answer: None,
            thought: None,
            begun: None,
            news: ArrayVec::new(),
            step: Ticks(1),
            signs: None,
            landed: false,
            second: false,
            odds: [0.0; 12],
            lately: 0.5,
            model: &next::MODEL,
        }
    }

    /// The right hand as it is heard.
    pub fn ear(&self) -> &Ear {
        &self.ear
    }

    /// Something happens to it: what was said is not an answer any more.
    pub(super) fn ear_mut(&mut self) -> &mut Ear {
        self.said = None;
        &mut self.ear
    }

    /// The player does something at `at`. Only what is struck makes what was said a moment
    /// ago no answer any more.
    pub fn take_in(&mut self, at: Ticks, message: Message) {
        match message {
            Message::On { key, velocity: velocity @ 1.., .. } => {
                self.ear_mut().note_on(at, key, velocity);
            }
            Message::On { key, .. } | Message::Off { key, .. } => self.ear.note_off(at, key),
            Message::Control { controller, value, .. } => self.ear.control(at, controller, value),
        }
    }

    /// The lowest key of the right hand from now on.
    pub fn set_split(&mut self, split: KeyNumber) {
        self.ear_mut().set_split(split);
    }

    /// The key of the song: given, or heard.
    pub fn set_key(&mut self, key: KeyChoice) {
        self.ear_mut().set_key(key);
    }

    /// See [`Ear::set_lateness`].
    pub fn set_lateness(&mut self, lateness: Ticks) {
        self.ear.set_lateness(lateness);
    }

    /// See [`Ear::settle`].
    pub fn settle(&mut self) {
        self.ear.settle();
    }

    /// See [`Listener::listen`]; asked again before anything is struck, at the same
    /// instant or, without a chart, a moment later, it says the same, while time moves.
    pub fn ask(&mut self, at: Ticks, given: Given<'_>) -> Hearing {
        let moment = step(given.tempo);
        let settles = self.settles(given.tempo).is_some_and(|due| due <= at);
        let holds = |then: Ticks| {
            let soon = (then..=then + moment).contains(&at);
            at == then || given.chart.is_none() && !settles && soon
        };
        match self.said {
            Some((then, known, hearing))
                if given.leisure && known == given.known && holds(then) =>
            {
                hearing
            }
            _ => {
                let hearing = self.listen(at, given);
                // A chord judged again is told once.
                self.said = Some((at, given.known, Hearing { revised: None, ..hearing }));
                hearing
            }
        }
    }

    /// Until when what is struck at `at` is left unheard, so soon after the last time
    /// that it listened: a block of 64 frames has no two hearings.
    pub fn puts_off(&self, at: Ticks, tempo: f64) -> Option<Ticks> {
        let heard = self.heard.filter(|heard| *heard <= at)?;
        Some(heard + step(tempo)).filter(|free| *free > at)
    }

    /// When the last stroke has settled, or so soon after that no block has two hearings.
    pub fn settles(&self, tempo: f64) -> Option<Ticks> {
        let due = self.ear.due()?;
        Some(self.puts_off(due, tempo).unwrap_or(due))
    }

    /// Hears the chord at `at`, tells foresight of a change, and asks it what
    /// comes next.
    pub fn listen(&mut self, at: Ticks, given: Given<'_>) -> Hearing {
        let Given { place, tempo, key, chart, known, leisure } = given;
        self.heard = Some(at);
        // Where the home's bars tell the chart's chords, memory is not asked.
        let told = chart.is_some_and(|chart| !chart.by_hand);
        self.begun = self.begun.filter(|_| leisure && !told);
        if self.begun.is_none() && !(leisure && told) {
            self.tell();
        }
        let landed = core::mem::take(&mut self.landed) && leisure && chart.is_none();
        let expected = if landed && !self.foresight.is_ready(at, place, key) {
            // What comes after a jump is thought about once it has begun.
            self.begun = Some(at);
            self.thought = Some(at + self.step);
            Expected::NOTHING
        } else if self.begun.is_some() {
            // What has just begun does not end at once.
            Expected { change: Some(0.0), ..Expected::NOTHING }
        } else {
            self.foresight.expected(self.ear.meant(at), place, key, chart, leisure)
        };
        let expected = Expected { ahead: known.and_then(|known| known.roots), ..expected };
        let hearing = self.ear.listen(at, place, tempo, &expected);
        let hearing = self.by_the_chart(at, hearing, chart);
        let mut written = None;
        if let (true, Some(chord)) = (hearing.changed, hearing.chord) {
            if chart.is_some() || self.news.is_full() {
                self.tell();
            }
            self.lately += LAST * (hearing.certainty - self.lately);
            let since = hearing.since;
            let begun = (since, chord, place.of(since));
            self.news.push(ChangeNews { revised: hearing.revised, begun });
            if leisure {
                self.begun = self.begun.or(Some(at)).filter(|_| !told);
                self.step = step(tempo);
                self.thought = Some(at + self.step);
                written = chart
                    .and_then(|chart| self.foresight.follow(since, chord, place.of(since), chart));
            } else {
                self.tell();
            }
        }
        let known = known.and_then(|known| known.next(at)).or(written);
        if self.begun.is_some() {
            // What follows, but by a chart, cannot be known at the instant of a
            // change; all that the hand plays then is the chord itself.
            self.forecast = known;
            self.signs = None;
            return hearing;
        }
        self.forecast = known.or_else(|| self.foresee(at, place, key, chart, leisure));
        self.thought = self.next_thought(at, told);
        hearing
    }

    /// What comes next, and how surely, the ear's doubt counted in.
    fn foresee(
        &mut self,
        at: Ticks,
        place: Place,
        key: Option<Key>,
        chart: Option<Followed<'_>>,
        leisure: bool,
    ) -> Option<Forecast> {
        if self.second {
            self.foresight.pass(at, place);
            return None; // for nobody asks a second ear what comes
        }
        let mut said = self.foresight.forecast(at, place, key, chart, leisure)?;
        self.signs = None;
        if matches!(said.source, Source::Chart | Source::LookAhead) {
            return Some(said);
        }
        let hearing = self.ear.hearing();
        let present = next::Present {
            at,
            since: hearing.since,
            remembered: self.foresight.remembered(),
            lately: self.lately,
        };
        let signs = next::NextSigns::gather(&self.ear, self.foresight.odds(), &said, present);
        self.odds = signs.odds(self.model);
        let holds = hearing.chord.map(|chord| chord.root);
        if let Some((root, odds)) = PitchClass::likeliest(&self.odds, |root| Some(root) == holds) {
            if root != said.chord.root {
                (said.chord, said.source) = self.foresight.meant(root);
            }
            said.certainty = odds;
            let but = |other| other == root || Some(other) == holds;
            said.other = self.foresight.other(&self.odds, but);
            said.together = signs.together(self.model, &self.odds, root);
        }
        self.signs = Some(signs);
        Some(said)
    }

    /// Tells foresight all that it does not know yet.
    fn tell(&mut self) {
        while self.tell_a_part() {}
    }

    /// Tells foresight a part of it, if any is left; `true` if so.
    fn tell_a_part(&mut self) -> bool {
        let Some(news) = self.news.first_mut() else { return false };
        if let Some(before) = news.revised.take() {
            self.foresight.revise(before);
        } else {
            let (since, chord, place) = self.news.remove(0).begun;
            self.foresight.doubt(since, |from, until, root| self.ear.was(from, until, root));
            self.foresight.chord_started(since, chord, place);
        }
        true
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
        chart: Option<Followed<'_>>,
    ) -> Option<(Ticks, Forecast)> {
        let told = chart.is_some_and(|chart| !chart.by_hand);
        let busy = self.tell_a_part() || !told && self.foresight.think(at, key, chart);
        let mut found = None;
        let known = self.forecast.is_some_and(|next| next.source == Source::LookAhead);
        if !busy
            && let Some(since) = self.begun.take()
            && !known
        {
            let is_new = self.forecast.is_none();
            self.forecast = self.foresee(at, place, key, chart, true);
            found = self.forecast.filter(|_| is_new).map(|next| (since, next));
        }
        self.thought = match busy || self.ear.think(at, place) {
            true => Some(at + self.step),
            false => self.next_thought(at, told),
        };
        found
    }

    /// Whether a chord has just begun and what follows it is not known yet.
    pub fn is_thinking(&self) -> bool {
        self.begun.is_some()
    }

    /// When there is something to think about next, after `at`: to hear again, and
    /// to foresee where a chart has not `told`.
    fn next_thought(&self, at: Ticks, told: bool) -> Option<Ticks> {
        if !self.news.is_empty() {
            return Some(at + self.step);
        }
        let hear = self.ear.next_thought().max(at + self.step);
        let foresee = if told { None } else { self.foresight.next_thought(at) };
        let first = foresee.map_or(hear, |foresee| foresee.min(hear));
        Some(if self.second { first + Ticks(PARTS * self.step.0) } else { first })
    }

    /// Time has jumped, or stands still.
    pub fn pause(&mut self) {
        self.said = None;
        self.heard = None;
        self.thought = None;
        self.begun = None;
        self.landed = true;
    }

    /// Where the home's bars tell the chart's chords, they are law. Where the
    /// chart follows the hand, the hand tells the chords, and the chart what a
    /// right hand cannot show: the bass.
    fn by_the_chart(
        &mut self,
        at: Ticks,
        mut hearing: Hearing,
        chart: Option<Followed<'_>>,
    ) -> Hearing {
        let (Some(chart), Some(heard)) = (chart, hearing.chord) else {
            self.answer = None;
            return hearing;
        };
        let Followed { song, by_hand } = chart;
        let written = |at| song.chords().get(self.foresight.chart_chord(at, chart)?)?.chord;
        let held = classes(self.ear.right());
        let fits = |written: &Chord| {
            held.and(written.tones()).len() >= 2 && held.minus(written.tones()).len() <= 1
        };
        let same_root = |written: Chord| {
            (written.root == heard.root && heard.bass == heard.root)
                .then(|| heard.over(written.bass))
        };
        let (now, soon) = (written(at), written(at + EARLY));
        let chord = match by_hand {
            true => now.and_then(same_root).or(soon.and_then(same_root)),
            // A hand that is early plays the next chord already.
            false if now.is_some_and(|now| !fits(&now)) => soon.filter(fits).or(now),
            false => now,
        };
        if let (Some(written), false) = (chord, by_hand) {
            hearing.know(written, WRITTEN);
        }
        let chord = chord.unwrap_or(heard);
        let same = |before: &(Chord, Ticks)| before.0.same_bass(chord);
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

    /// There is another chart, or none, or another leads through it.
    pub fn chart_changed(&mut self) {
        self.said = None;
        self.foresight.chart_changed();
    }

    /// Index in the song's chords of the one that holds at `at`.
    pub fn chart_chord(&self, at: Ticks, chart: Followed<'_>) -> Option<usize> {
        self.foresight.chart_chord(at, chart)
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.news.clear();
        self.foresight.forget();
        self.ear.forget();
        self.forecast = None;
        self.answer = None;
        self.lately = 0.5;
        self.pause();
    }
}

/// The classes of keys; bit n is key n.
fn classes(keys: u128) -> PitchSet {
    (0..128).filter(|key| keys >> key & 1 == 1).map(PitchClass::new).collect()
}
