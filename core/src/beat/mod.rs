//! Where the beat is, from what a player strikes: **by my playing**.
//!
//! Several hypotheses of tempo and place run side by side (S. Dixon, "Automatic
//! extraction of tempo and beat from expressive performances", Journal of New
//! Music Research 30, 2001: multiple agents). Each follows the player with a
//! Kalman filter of the time of the beat, its length, and how the length changes
//! (A. T. Cemgil & al., "On tempo tracking: tempogram representation and Kalman
//! filtering", Journal of New Music Research 29, 2000), and weighs where in the
//! bar strokes fall: by what is usual, by what this player has done so far, and
//! by where a chart has chords (the bar pointer of N. Whiteley & al., "Bayesian
//! modelling of temporal structure in musical audio", ISMIR 2006). Sizes whose
//! source is not named are ours, by random search on made players and on half of
//! the human-timed songs of POP909; figures are those of the other half.

#![cfg_attr(not(test), deny(clippy::cast_possible_truncation, clippy::cast_sign_loss))]

mod agent;
mod place;
mod quarters;

use agent::{Agent, MODES, TakenAs};
use place::PLACES;
use quarters::{LastStruck, StrokeSigns};

use crate::maths;
use crate::pitch::{KeyNumber, PitchSet};

/// The most hypotheses at once.
const AGENTS: usize = 24;
/// The most ways of going on that are weighed at a stroke.
const WAYS: usize = 4 * AGENTS;
/// The first stroke may be a pick-up: how far after the beat, and the cost.
const STARTS: [(f64, f64); 3] = [(0.5, 2.0), (0.25, 4.0), (0.75, 4.0)];
/// How far off the hint the first tempo is likely to be, as a part of it (one
/// deviation).
const HINT: f64 = 0.2;
/// Strokes nearer than this are one: both hands together.
const TOGETHER_S: f64 = 0.03;
/// Costs are in nats. Of beginning to keep time, or no longer:
const CHANGES: f64 = 1.12;
/// Of a tempo an octave from that of the last bars, at each stroke.
const OCTAVE: f64 = 0.76;
/// How fast those follow the tempo, at a chord.
const GROWS: f64 = 0.25;
/// Of a tempo an octave beyond what is likely of the one that was hinted.
const BEYOND: f64 = 4.0;
/// What is likely of that, in octaves either way.
const AROUND: f64 = 0.4;
/// How fast the hint follows the tempo, at a chord.
const LEARNS: f64 = 0.02;
/// Of the guess that the tempo has just changed at once.
const JUMPS: f64 = 3.64;
/// Of the guess that the player has held a beat, or rested, and goes on as before:
/// the longer nothing was struck, in beats, the likelier.
const HOLDS: f64 = 6.0;
/// Of each beat that it has lasted.
const HELD: f64 = 0.3;
/// The most beats after the last stroke at which a hold is looked for.
const HELD_WITHIN: i64 = 16;
/// Of a stroke that has no place: an ornament or a slip.
const SLIP: f64 = 8.61;
/// What is left of a cost after a stroke.
const FORGETS: f64 = 0.985;
/// How much a key alone weighs, beside a chord.
const ALONE: f64 = 0.365;
/// Another hypothesis leads when it is better by so much.
const LEADS: f64 = 1.0;
/// Worse than the best by so much is given up.
const HOPELESS: f64 = 14.0;
/// Two hypotheses as near as this in place (beats) and tempo (parts) are one.
const TWINS: f64 = 0.03;
/// Without a stroke for so many bars the beat goes on by itself.
const COASTS_BARS: f64 = 1.5;
/// Slowest and fastest beat that is followed, a minute.
pub const SLOWEST: f64 = 30.0;
/// See [`SLOWEST`].
pub const FASTEST: f64 = 260.0;

/// A stroke of the player's: keys struck together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayerStroke {
    /// When its first key was struck, seconds.
    pub at: f64,
    /// How many keys.
    pub keys: u8,
    /// Their pitch classes; empty where they are not known.
    pub classes: PitchSet,
}

impl PlayerStroke {
    /// A stroke of so many keys of which no more is known.
    pub const fn of_keys(at: f64, keys: u8) -> Self {
        Self { at, keys, classes: PitchSet::EMPTY }
    }

    /// A stroke of one key.
    pub fn of_key(at: f64, key: KeyNumber) -> Self {
        Self::of_keys(at, 0).and(key)
    }

    /// The same with one key more.
    #[must_use]
    pub fn and(self, key: KeyNumber) -> Self {
        let (keys, classes) = (self.keys.saturating_add(1), self.classes.with(key.class()));
        Self { keys, classes, ..self }
    }

    fn is_chord(self) -> bool {
        self.keys >= 2
    }

    fn weight(self) -> f64 {
        if self.is_chord() { 1.0 } else { ALONE }
    }
}

/// Where the beat is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeatPosition {
    /// Beats from the first stroke.
    pub beat: f64,
    /// Beats a minute.
    pub tempo: f64,
}

/// A way to go on with a hypothesis at a stroke.
#[derive(Clone, Copy, Debug)]
struct Branch {
    cost: f64,
    agent: usize,
    /// The beat and the place in it that the stroke is taken for; `None` for a
    /// slip.
    to: Option<(i64, usize)>,
    /// Whether a chord is written there.
    written: bool,
    kind: TakenAs,
    mode: usize,
}

/// Follows a player. Fixed size; real-time safe.
///
/// ```
/// use sinistra_core::beat::{PlayerStroke, Tracker};
/// // A chord a bar of four, at 72 where 80 was expected.
/// let mut tracker = Tracker::new(0.0, 0.0, 80.0, 4);
/// for bar in 1..6 {
///     let at = f64::from(bar) * 4.0 * 60.0 / 72.0;
///     tracker.hear(PlayerStroke::of_keys(at, 3), |_| false);
/// }
/// assert!((tracker.beat(17.0).tempo - 72.0).abs() < 0.1);
/// ```
#[derive(Clone, Debug)]
pub struct Tracker {
    agents: [Agent; AGENTS],
    count: usize,
    /// Which leads.
    lead: usize,
    /// Beats of a bar.
    bar: usize,
    /// The tempo of the last bars: the logarithm of a beat's length.
    usual: f64,
    /// The tempo that was hinted; it slowly follows.
    hinted: f64,
    /// The last stroke.
    last: f64,
    /// The last few.
    struck: LastStruck,
}

impl Tracker {
    /// The first stroke, at `at` seconds, is beat `beat`; `hint` is the tempo to
    /// expect, in beats a minute; a bar has `bar` beats.
    pub fn new(at: f64, beat: f64, hint: f64, bar: usize) -> Self {
        let hint = hint.clamp(SLOWEST, FASTEST);
        let bar = bar.clamp(1, place::LONGEST);
        let first = Agent::new((at, beat), hint, HINT, bar);
        let mut agents = [first; AGENTS];
        for (agent, (after, cost)) in agents.iter_mut().skip(1).zip(STARTS) {
            *agent = Agent::new((at, beat + after), hint, HINT, bar);
            agent.cost = cost;
        }
        let usual = libm::log(60.0 / hint);
        let (hinted, struck) = (usual, LastStruck::default());
        Self { agents, count: 1 + STARTS.len(), lead: 0, bar, usual, hinted, last: at, struck }
    }

    /// Hears a stroke, in order of time; one that comes together with the last is
    /// the same. `expects` says whether a chord is
    /// written at a beat; where there is no chart, nowhere.
    pub fn hear(&mut self, stroke: PlayerStroke, expects: impl Fn(f64) -> bool) {
        if stroke.at - self.last < TOGETHER_S {
            return;
        }
        let mut ways = Ways::default();
        for (n, agent) in self.agents.iter().enumerate().take(self.count) {
            self.weigh((n, agent), stroke, &expects, &mut ways);
        }
        let signs = self.struck.hear(stroke, self.agents[self.lead].length());
        self.go_on(stroke, signs, ways.sorted());
        self.last = stroke.at;
    }

    /// The player's pedal goes down, or comes up, at `at` seconds: which is done with the
    /// beat.
    pub fn pedal(&mut self, at: f64, down: bool) {
        for agent in &mut self.agents[..self.count] {
            agent.pedal(at, down);
        }
    }

    /// Every way in which a hypothesis can take the stroke.
    fn weigh(
        &self,
        (n, agent): (usize, &Agent),
        stroke: PlayerStroke,
        expects: &impl Fn(f64) -> bool,
        ways: &mut Ways,
    ) {
        let (weight, chord) = (stroke.weight(), stroke.is_chord());
        let kept = agent.cost * FORGETS;
        let slip = Branch {
            cost: kept + SLIP * weight,
            agent: n,
            to: None,
            written: false,
            kind: TakenAs::On,
            mode: agent.mode,
        };
        ways.add(slip);
        let (beat, length) = agent.at(stroke.at);
        let kept = kept + weight * self.unlikely(length);
        // After a long pause the hand may have slowed down or hurried by much.
        let gap = beat - agent.beat;
        let wide = if chord { (0.45 * gap).clamp(0.5, 2.6) } else { 0.5 };
        let (first, last) =
            (maths::whole(libm::floor(beat - wide)), maths::whole(libm::ceil(beat + wide)));
        for whole in first..=last {
            for (place, part) in PLACES.iter().enumerate() {
                let to = whole as f64 + part;
                let beats = to - agent.beat;
                if beats < place::NEAREST || (to - beat).abs() > wide {
                    continue;
                }
                let written = expects(to);
                let falls = agent.falls((self.bar, whole, place), chord, beats, written);
                if kept + weight * falls > ways.best + HOPELESS {
                    continue;
                }
                let to = Some((whole, place));
                let at = Branch { cost: kept, agent: n, to, written, kind: TakenAs::On, mode: 0 };
                weigh_place(agent, stroke, (beats, falls), at, ways);
            }
        }
        if chord && agent.strokes >= 3 {
            self.weigh_holds((n, agent), (stroke, beat), expects, ways);
        }
    }

    /// What speaks against a beat of so many seconds.
    fn unlikely(&self, length: f64) -> f64 {
        let octaves = |from: f64| (libm::log(length) - from) / core::f64::consts::LN_2;
        let (off, beyond) = (octaves(self.usual), octaves(self.hinted).abs() - AROUND);
        OCTAVE * off * off + BEYOND * beyond.max(0.0) * beyond.max(0.0)
    }

    /// The ways in which a chord at a beat comes late as the player has held.
    fn weigh_holds(
        &self,
        (n, agent): (usize, &Agent),
        (stroke, beat): (PlayerStroke, f64),
        expects: &impl Fn(f64) -> bool,
        ways: &mut Ways,
    ) {
        let first = maths::whole(libm::floor(agent.beat)) + 1;
        let last = maths::whole(libm::floor(beat)).min(first + HELD_WITHIN - 1);
        for whole in first..=last {
            let to = whole as f64;
            let (beats, written) = (to - agent.beat, expects(to));
            let late = agent.late(agent::FREE, beats, stroke);
            if beats < place::NEAREST || !late.is_far || late.beats <= 0.0 {
                continue;
            }
            let falls = agent.falls((self.bar, whole, 0), true, beats, written);
            let held = HOLDS - libm::log(beats) + HELD * late.beats;
            let kept = agent.cost * FORGETS + self.unlikely(agent.length());
            ways.add(Branch {
                cost: kept + falls + held,
                agent: n,
                to: Some((whole, 0)),
                written,
                kind: TakenAs::Hold,
                mode: agent.mode,
            });
        }
    }

    /// Goes the best ways, and leads by the best of them.
    fn go_on(&mut self, stroke: PlayerStroke, signs: StrokeSigns, ways: &[Branch]) {
        let old = self.agents;
        let (beat, length) = old[self.lead].at(stroke.at);
        let best = ways.first().map_or(0.0, |way| way.cost);
        let (mut count, mut lead) = (0, (0, f64::INFINITY));
        for way in ways.iter().take_while(|way| way.cost <= best + HOPELESS) {
            if count == AGENTS {
                break;
            }
            let mut agent = old[way.agent];
            agent.cost = way.cost - best;
            agent.take(way, stroke, signs, self.bar);
            if self.agents[..count].iter().any(|other| agent.is_twin(other, stroke.at)) {
                continue;
            }
            // Who led goes on leading unless another is clearly better.
            let (its, long) = agent.at(stroke.at);
            let goes_on = (its - beat).abs() < 0.3 && (long / length - 1.0).abs() < 0.15;
            let judged = agent.cost - if goes_on { LEADS } else { 0.0 };
            if judged < lead.1 {
                lead = (count, judged);
            }
            self.agents[count] = agent;
            count += 1;
        }
        self.count = count.max(1);
        self.lead = lead.0;
        if stroke.is_chord() {
            let now = libm::log(self.agents[self.lead].length());
            self.usual += GROWS * (now - self.usual);
            self.hinted += LEARNS * (now - self.hinted);
        }
    }

    /// Where the beat is at `at` seconds.
    pub fn beat(&self, at: f64) -> BeatPosition {
        let (beat, length) = self.agents[self.lead].at(at);
        BeatPosition { beat, tempo: 60.0 / length }
    }

    /// Whether it goes on by itself at `at`, as the player has long struck
    /// nothing: a rest, or a fermata.
    pub fn coasts(&self, at: f64) -> bool {
        let bar = self.bar as f64 * self.agents[self.lead].length();
        at - self.last > COASTS_BARS * bar
    }

    /// Counts anew: `beats` are added to every place.
    pub fn shift(&mut self, beats: f64) {
        self.agents.iter_mut().for_each(|agent| agent.beat += beats);
    }
}

/// The ways to take a stroke for a place that lies so many beats on and costs
/// `falls`; all but cost, kind and mode is that of `at`, whose cost is what
/// speaks against the hypothesis.
fn weigh_place(
    agent: &Agent,
    stroke: PlayerStroke,
    (beats, falls): (f64, f64),
    at: Branch,
    ways: &mut Ways,
) {
    let weight = stroke.weight();
    for mode in (0..MODES).filter(|mode| agent.may(*mode, beats)) {
        let turns = if mode == agent.mode { 0.0 } else { CHANGES };
        let late = agent.late(mode, beats, stroke);
        let cost = at.cost + weight * (falls + late.cost) + turns;
        ways.add(Branch { cost, mode, ..at });
        if mode != agent::FREE || !stroke.is_chord() || agent.strokes < 3 || !late.is_far {
            continue;
        }
        if let Some(far) = agent.jump(beats, stroke.at) {
            let cost = at.cost + falls + JUMPS + far;
            ways.add(Branch { cost, kind: TakenAs::Jump, mode, ..at });
        }
    }
}

/// The best ways so far.
struct Ways {
    all: [Branch; WAYS],
    count: usize,
    best: f64,
}

impl Default for Ways {
    fn default() -> Self {
        let none = Branch {
            cost: f64::INFINITY,
            agent: 0,
            to: None,
            written: false,
            kind: TakenAs::On,
            mode: 0,
        };
        Self { all: [none; WAYS], count: 0, best: f64::INFINITY }
    }
}

impl Ways {
    /// Adds a way; where there is no room, the worst goes.
    fn add(&mut self, way: Branch) {
        if way.cost > self.best + HOPELESS {
            return;
        }
        self.best = self.best.min(way.cost);
        if let Some(place) = self.all.get_mut(self.count) {
            *place = way;
            self.count += 1;
            return;
        }
        let worst = self.all.iter_mut().max_by(|a, b| a.cost.total_cmp(&b.cost));
        if let Some(worst) = worst.filter(|worst| way.cost < worst.cost) {
            *worst = way;
        }
    }

    /// All of them, the best first.
    fn sorted(&mut self) -> &[Branch] {
        let all = &mut self.all[..self.count];
        all.sort_unstable_by(|a, b| a.cost.total_cmp(&b.cost));
        all
    }
}
