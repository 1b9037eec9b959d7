//! One answer from chart, memory and odds: what comes, when, how surely.

use alloc::boxed::Box;

use super::clock::SongTime;
use super::event::{LATE, RootSpan};
use super::guide::{Followed, Guide};
use super::history::History;
use super::model::ForesightModel;
use super::outlook::{self, Features, Outlook};
use super::{Forecast, Source, tables};
use crate::chord::{Chord, NamedChord};
use crate::hear::Expected;
use crate::key::{Key, Mode};
use crate::pitch::{PitchClass, Semitones};
use crate::time::{Place, Ticks};

/// Knows the song so far and says what comes. Allocates in
/// [`Foresight::new`] and never after; everything else is real-time safe.
#[derive(Debug)]
pub struct Foresight {
    model: &'static ForesightModel,
    clock: SongTime,
    history: History,
    /// The chord now and the one before, as they were told.
    told: [Option<RootSpan>; 2],
    guide: Guide,
    outlook: Outlook,
    asked: UpToDate,
    room: Box<Features>,
}

/// How far `outlook` is up to date.
#[derive(Clone, Copy, Debug, Default)]
struct UpToDate {
    /// The moment for which the history is looked at.
    looking: Option<Ticks>,
    /// The moment that was looked at.
    seen: Option<Ticks>,
    /// The moment that the roots were asked for.
    roots: Option<Ticks>,
    /// Whether the times of the present chord are laid out, and looked at.
    laid_out: bool,
    filled: bool,
    /// The moment that the times were asked for.
    times: Option<Ticks>,
    /// Whether there is an answer, be it to an earlier moment of this chord.
    answered: bool,
}

impl Default for Foresight {
    fn default() -> Self {
        Self::new()
    }
}

impl Foresight {
    /// Has heard nothing yet. Not for the audio thread: allocates.
    pub fn new() -> Self {
        Self::with_model(&tables::MODEL)
    }

    /// With other tables than the shipped ones, to measure them.
    pub fn with_model(model: &'static ForesightModel) -> Self {
        Self {
            model,
            clock: SongTime::default(),
            history: History::new(&model.odds),
            told: [None; 2],
            guide: Guide::new(),
            outlook: Outlook::NOTHING,
            asked: UpToDate::default(),
            room: Features::new(),
        }
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.history.clear();
        self.clock = SongTime::default();
        self.told = [None; 2];
        self.asked = UpToDate::default();
        self.guide.begin();
    }

    /// There is another chart, or none, or the same from its start; or another
    /// leads through it.
    pub fn chart_changed(&mut self) {
        self.guide.begin();
    }

    /// Index in the song's chords of the one that holds at `now`: by the
    /// home's bars, or where the hand is.
    pub fn chart_chord(&self, now: Ticks, chart: Followed<'_>) -> Option<usize> {
        self.guide.chord(chart, now, self.clock.at(now, PLACELESS).0)
    }

    /// A chord was struck at `at`, whose bar is `place`. Also tells a change
    /// of colour or bass above the same root. A chord that comes within a
    /// quarter of a beat of the one before corrects it.
    pub fn chord_started(&mut self, at: Ticks, chord: Chord, place: Place) {
        let home = at;
        let (at, place) = self.clock.tell(at, place);
        let event = RootSpan::new(at, chord, place);
        self.asked = UpToDate::default();
        if let Some(present) = self.told[0]
            && (event.at - present.at).abs() < Ticks(Ticks::PER_BEAT / 4)
            && self.history.take_back(1)
        {
            let corrected = present.with_chord(chord);
            self.told[0] = Some(corrected);
            self.guide.revise(present.at, chord);
            self.history.push(corrected);
            return;
        }
        self.told = [Some(event), self.told[0]];
        self.guide.hear(home, event.at, chord);
        self.history.push(event);
    }

    /// `chord` was struck at `at`, in the bar `place`: what `chart` says comes after
    /// it, at once. The chord itself has yet to be told as ever.
    pub fn follow(
        &mut self,
        at: Ticks,
        chord: Chord,
        place: Place,
        chart: Followed<'_>,
    ) -> Option<Forecast> {
        let (ours, _) = self.clock.tell(at, place);
        self.guide.hear(at, ours, chord);
        self.guided(Some(chart), at, ours)
    }

    /// The chord that ends now was in truth `chord`: judged again when the
    /// whole of it had sounded. To be told before the next one.
    pub fn revise(&mut self, chord: Chord) {
        let Some(present) = self.told[0] else { return };
        if present.chord == chord || !self.history.take_back(1) {
            return;
        }
        let revised = present.with_chord(chord);
        self.guide.revise(present.at, chord);
        self.told[0] = Some(revised);
        self.asked = UpToDate::default();
        self.history.push(revised);
        if let Some(end) = revised.ended {
            self.history.end(end);
        }
    }

    /// What the ear thinks by now of the chords that have lately ended, at `now` on the
    /// home's clock: `sure` says of a stretch of it and a root how likely that was, where
    /// it knows. A misheard chord then counts little.
    pub fn doubt(&mut self, now: Ticks, sure: impl Fn(Ticks, Ticks, PitchClass) -> Option<f32>) {
        for index in (0..self.history.events().len().saturating_sub(1)).rev().take(JUDGED_AGAIN) {
            let Some([event, next]) = self.history.events().get(index..index + 2) else { return };
            let (from, until) = (self.clock.home(event.at), self.clock.home(next.at));
            if until < now - STILL_JUDGED {
                return;
            }
            let root = PitchClass::new(event.root.into());
            if let Some(sure) = sure(from, until, root) {
                self.history.doubt(index, sure);
            }
        }
    }

    /// The hand let go at `at` and holds no chord.
    pub fn chord_ended(&mut self, at: Ticks) {
        let (at, _) = self.clock.at(at, PLACELESS);
        if let Some(present) = &mut self.told[0] {
            present.ended = Some(at);
        }
        self.history.end(at);
        self.asked = UpToDate::default();
    }

    /// Chords remembered, neighbours of one root counted once.
    pub fn remembered(&self) -> usize {
        self.history.events().len()
    }

    /// What comes after `now`. `place` is the bar of `now`; `key` is the key
    /// where the player or the chart set it (`None`: it is heard from the
    /// chords).
    ///
    /// Cheap until the next chord or the next half of a beat. At `leisure` it stays so
    /// until [`Foresight::think`] has thought: the answer is the last one to the chord
    /// that holds, if there is one.
    pub fn forecast(
        &mut self,
        now: Ticks,
        place: Place,
        key: Option<Key>,
        chart: Option<Followed<'_>>,
        leisure: bool,
    ) -> Option<Forecast> {
        let (ours, _) = self.clock.tell(now, place);
        let guided = self.guided(chart, now, ours);
        match guided {
            Some(sure) if sure.certainty >= ALONE => Some(sure),
            _ => match (guided, self.remembered_forecast(ours, key, leisure)) {
                (Some(a), Some(b)) => Some(if a.certainty >= b.certainty { a } else { b }),
                (a, b) => a.or(b),
            },
        }
    }

    /// Time goes on to `now`, in the bar `place`, and nobody asks what comes.
    pub fn pass(&mut self, now: Ticks, place: Place) {
        self.clock.tell(now, place);
    }

    /// By memory and odds.
    fn remembered_forecast(
        &mut self,
        ours: Ticks,
        key: Option<Key>,
        leisure: bool,
    ) -> Option<Forecast> {
        let (onset, moment) = self.ask(ours, key, leisure)?;
        let (root, certainty) = self.outlook.root();
        let (span, when_certainty) = self.outlook.span(outlook::gone(moment - onset))?;
        Some(Forecast {
            chord: self.outlook.chord(root, &self.history),
            at: self.clock.home(onset + span),
            certainty,
            when_certainty,
            together: certainty.min(when_certainty),
            source: self.outlook.source(root),
            other: self.other(&self.outlook.roots, |class| class == root),
        })
    }

    /// Odds of the next root as last forecast, C first, 0 for the present
    /// one; they sum to 1 once a chord was heard.
    pub fn odds(&self) -> &[f32; 12] {
        &self.outlook.roots
    }

    /// The chord meant on `root` if it came next, and who says so.
    pub fn meant(&self, root: PitchClass) -> (Chord, Source) {
        (self.outlook.chord(root, &self.history), self.outlook.source(root))
    }

    /// What else may come by `odds` of the next root, if anything is worth a word.
    pub fn other(&self, odds: &[f32; 12], but: impl Fn(PitchClass) -> bool) -> Option<NamedChord> {
        let (root, certainty) = PitchClass::likeliest(odds, but)?;
        let chord = self.outlook.chord(root, &self.history);
        (certainty >= NamedChord::LEAST).then_some(NamedChord { chord, certainty })
    }

    /// What to expect of a chord that is being struck at `at`; `leisure` as for
    /// [`Foresight::forecast`].
    pub fn expected(
        &mut self,
        at: Ticks,
        place: Place,
        key: Option<Key>,
        chart: Option<Followed<'_>>,
        leisure: bool,
    ) -> Expected {
        if let Some(written) = chart.and_then(|chart| self.written(at, chart)) {
            return written;
        }
        let (ours, _) = self.clock.ahead(at, place);
        // Asked just before `at`: a chart's change at `at` itself is to come.
        let early = -LATE;
        let guided = self.guided(chart, at + early, ours + early);
        if let Some(next) = guided.filter(|next| next.certainty >= ALONE) {
            let near = (next.at - at).abs() <= LATE;
            let change = next.when_certainty.min(WRITTEN);
            let change = if near { change } else { (1.0 - change).min(0.3) };
            return told(next.chord, next.certainty.min(WRITTEN), change);
        }
        let mut expected = Expected::NOTHING;
        if let Some((onset, _)) = self.ask(ours, key, leisure) {
            expected.odds = self.outlook.roots;
            expected.chords = self.outlook.chords;
            expected.change = Some(self.outlook.change_at(ours - onset));
        }
        expected
    }

    /// What the chart says comes next, by the home's clock.
    fn guided(&mut self, chart: Option<Followed<'_>>, now: Ticks, ours: Ticks) -> Option<Forecast> {
        let chart = chart?;
        let next = self.guide.forecast(chart, now, ours)?;
        let at = if chart.by_hand { self.clock.home(next.at) } else { next.at };
        Some(Forecast { at, ..next })
    }

    /// The chart's chord by the home's bars: at every moment, not only where it
    /// changes, so that an ear that was led astray finds back.
    fn written(&mut self, at: Ticks, chart: Followed<'_>) -> Option<Expected> {
        let chord = self.guide.written(chart, at + LATE)?;
        Some(told(chord, WRITTEN, WRITTEN))
    }

    /// Asks the model anew if there is reason to, but at leisure; gives the present
    /// onset and the moment that was asked for.
    fn ask(&mut self, at: Ticks, key: Option<Key>, leisure: bool) -> Option<(Ticks, Ticks)> {
        let (onset, moment) = self.moment(at, key)?;
        if !(leisure && self.asked.answered) {
            while self.ask_a_part(moment) {}
        }
        Some((onset, moment))
    }

    /// Whether an answer at `at`, in the bar `place`, takes no thinking.
    pub fn is_ready(&mut self, at: Ticks, place: Place, key: Option<Key>) -> bool {
        let (ours, _) = self.clock.ahead(at, place);
        let UpToDate { seen, roots, times, .. } = self.asked;
        self.moment(ours, key).is_none_or(|(_, moment)| {
            [seen, roots, times].iter().all(|asked| *asked == Some(moment))
        })
    }

    /// The present onset, and the moment that an answer at `at` is for.
    fn moment(&mut self, at: Ticks, key: Option<Key>) -> Option<(Ticks, Ticks)> {
        let told = key.map(|key| signature(key).number());
        let (events, running) = self.history.events_and_running();
        let now = events.last()?;
        if running.tell_key(events, told) {
            self.asked = UpToDate::default();
        }
        // A new colour above the same root, or silence, is not the change.
        let told = self.told[0].map_or(now.at, |event| event.ended.unwrap_or(event.at));
        let at = if told > now.at { at.max(told + LATE * 2) } else { at };
        let half = (now.pulse / 2).max(Ticks(1));
        let halves = (at - now.at - LATE).div_euclid(half).max(0);
        // At the onset itself nothing has failed to come yet.
        Some((now.at, if halves == 0 { now.at } else { now.at + half * halves + LATE }))
    }

    /// One part of the work: each takes about as long. `false` if none was left.
    fn ask_a_part(&mut self, moment: Ticks) -> bool {
        let (outlook, room) = (&mut self.outlook, &mut *self.room);
        let history = &self.history;
        if self.asked.seen != Some(moment) {
            if self.asked.looking != Some(moment) {
                room.begin(history);
                self.asked.looking = Some(moment);
            }
            if room.look_on(history, moment) {
                return true;
            }
            room.fill(history, moment);
            self.asked = UpToDate { seen: Some(moment), roots: None, times: None, ..self.asked };
        } else if self.asked.roots != Some(moment) {
            outlook.ask_roots(history, self.model, room);
            self.asked.roots = Some(moment);
        } else if !self.asked.laid_out {
            outlook.lay_out(history);
            self.asked.laid_out = true;
        } else if !self.asked.filled {
            if room.look_on_for_times(history, &outlook.spans) {
                return true;
            }
            room.fill_times(history, &outlook.spans);
            self.asked.filled = true;
        } else if self.asked.times != Some(moment) {
            outlook.ask_times(history, self.model, moment, room);
            self.asked.times = Some(moment);
            self.asked.answered = true;
        } else {
            return false;
        }
        true
    }

    /// When to [`Foresight::think`] next, after `now`: once in each half of
    /// the felt beat that the chord holds, when it is too late to strike there.
    pub fn next_thought(&self, now: Ticks) -> Option<Ticks> {
        let event = self.history.events().last()?;
        let half = (event.pulse / 2).max(Ticks(1));
        let from = event.at + LATE;
        let ours = self.clock.at(now, PLACELESS).0;
        let halves = (ours - from).div_euclid(half).max(0) + 1;
        Some(self.clock.home(from + half * halves))
    }

    /// Makes up its mind at leisure, a part at a time; `false` if none was left.
    /// Changes no answer, only when the work is done. Where a chart is sure, there is
    /// no more to think about.
    pub fn think(&mut self, now: Ticks, key: Option<Key>, chart: Option<Followed<'_>>) -> bool {
        if chart.is_some_and(|chart| self.guide.follow_a_part(chart)) {
            return true;
        }
        let ours = self.clock.at(now, PLACELESS).0;
        let guided = self.guided(chart, now, ours);
        let sure = guided.is_some_and(|next| next.certainty >= ALONE);
        !sure && self.moment(ours, key).is_some_and(|(_, moment)| self.ask_a_part(moment))
    }

    /// The key signature that the chords so far speak for, as a major key.
    pub fn key(&self) -> Key {
        Key { tonic: self.history.running().likeliest_signature(), mode: Mode::Major }
    }
}

/// What a chart tells: this chord, so surely, with so likely a change.
fn told(chord: Chord, certainty: f32, change: f32) -> Expected {
    let mut expected = Expected { told: true, change: Some(change), ..Expected::NOTHING };
    expected.odds = [(1.0 - certainty) / 11.0; 12];
    *chord.root.of_mut(&mut expected.odds) = certainty;
    *chord.root.of_mut(&mut expected.chords) = Some(chord);
    expected
}

/// A chart that is less sure than this must compare itself with memory.
const ALONE: f32 = 0.75;

/// How much is believed of what a chart says.
pub const WRITTEN: f32 = 0.98;

/// The ear judges what is past for so long, and a little more.
const STILL_JUDGED: Ticks = Ticks(5 * Ticks::PER_BEAT);

/// No more chords than that are asked about.
const JUDGED_AGAIN: usize = 8;

/// For moments whose bar does not matter.
const PLACELESS: Place = Place::first(crate::time::Metre::COMMON);

/// The major tonic that shares the key's signature.
fn signature(key: Key) -> PitchClass {
    match key.mode {
        Mode::Major => key.tonic,
        Mode::Minor => key.tonic.transpose(Semitones(3)),
    }
}

#[cfg(test)]
mod tests;
