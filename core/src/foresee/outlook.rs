//! What the song so far and the odds say of the next change, at one moment.

#![allow(
    clippy::indexing_slicing,
    reason = "columns of one length, cut to it before they are gone through"
)]

use alloc::boxed::Box;

use super::event::{CAPACITY, LATE, RootSpan};
use super::history::History;
use super::model::ForesightModel;
use super::root_votes::RootTally;
use super::time_features::{self, MOST, Spans, TimeTally};
use super::{Source, root_features};
use crate::chord::{Chord, Kind};
use crate::net::softmax;
use crate::pitch::{PitchClass, Semitones};
use crate::time::Ticks;

/// Odds of every root and every time, and the chord meant on each root.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// Odds of the twelve roots, C first; 0 for the present one.
    pub roots: [f32; 12],
    /// Times since the present chord's onset that are thought of.
    pub spans: Spans,
    /// Their odds.
    pub times: [f32; MOST],
    /// The chord last heard on each root in the most similar place, where
    /// there was one.
    pub chords: [Option<Chord>; 12],
    /// Whether each root has followed in this song.
    pub heard: [bool; 12],
}

impl Outlook {
    /// Knows nothing.
    pub const NOTHING: Self = Self {
        roots: [0.0; 12],
        spans: Spans::new_const(),
        times: [0.0; MOST],
        chords: [None; 12],
        heard: [false; 12],
    };

    /// Asks the model for the root after the last chord; `room` has been filled.
    pub fn ask_roots(&mut self, history: &History, model: &ForesightModel, room: &Features) {
        let Some(now) = history.events().last() else { return };
        model.roots.score(&room.roots, &room.moment, &mut self.roots);
        if let Some(present) = self.roots.get_mut(usize::from(now.root)) {
            *present = f32::MIN;
        }
        softmax(&mut self.roots);
    }

    /// What does not depend on how long the last chord has held: which times
    /// there are, and which chord is meant on each root.
    pub fn lay_out(&mut self, history: &History) {
        let Some((now, past)) = history.events().split_last() else { return };
        self.spans = time_features::spans(history);
        self.recall(history, now, past);
    }

    /// Asks the model for the time of the change, if the last chord still holds
    /// at `at`; `room` has been filled, and the times laid out.
    pub fn ask_times(
        &mut self,
        history: &History,
        model: &ForesightModel,
        at: Ticks,
        room: &Features,
    ) {
        let Some(now) = history.events().last() else { return };
        let times = &mut self.times[..self.spans.len()];
        model.times.score(&room.times, &room.moment, times);
        for (score, span) in times.iter_mut().zip(&self.spans) {
            if *span <= gone(at - now.at) {
                *score = f32::MIN;
            }
        }
        softmax(times);
    }

    /// The chord on each root, from the place in the song most like this one.
    fn recall(&mut self, history: &History, now: &RootSpan, past: &[RootSpan]) {
        self.chords = [None; 12];
        self.heard = [false; 12];
        let mut likeness = [0.0f32; 12];
        let (repeats, line) = (history.repeats(), history.line());
        let next = line.roots.get(1..).unwrap_or(&[]);
        for (j, &root) in next.iter().enumerate().take(CAPACITY).rev() {
            let alike = repeats.roots[j] > 0 || repeats.moves[j] >= 2;
            if !alike && likeness[usize::from(root) % 12] >= 0.1 {
                continue; // as most of them
            }
            let like = match (repeats.roots[j] > 0, repeats.moves[j]) {
                (true, _) => 1.0 + repeats.soft[j],
                (false, moves @ 2..) => 0.5 + f32::from(moves) / 100.0,
                (false, _) => 0.1,
            };
            // In another key, if only the movements are the same.
            let elsewhere = repeats.roots[j] == 0 && repeats.moves[j] >= 2;
            let by = if elsewhere { now.root + 12 - line.roots[j] } else { 0 };
            let root = usize::from(root + by) % 12;
            self.heard[root] |= like > 0.1;
            if like > likeness[root] {
                likeness[root] = like;
                let chord = past.get(j + 1).unwrap_or(now).chord;
                self.chords[root] = Some(chord.transpose(Semitones(by.into())));
            }
        }
    }

    /// The likeliest root and its odds.
    pub fn root(&self) -> (PitchClass, f32) {
        PitchClass::likeliest(&self.roots, |_| false).unwrap_or((PitchClass::C, 0.0))
    }

    /// The likeliest span and its odds. Where neighbours less than a quarter
    /// of a beat apart are both likely, they speak for each other.
    ///
    /// Of those after `gone`, if there are any: what was asked for an earlier moment
    /// knows of others.
    pub fn span(&self, gone: Ticks) -> Option<(Ticks, f32)> {
        let odds = self.spans.iter().zip(&self.times).map(|(span, odds)| (*span, *odds));
        let to_come = odds.clone().filter(|(span, _)| *span > gone);
        to_come.max_by(|a, b| a.1.total_cmp(&b.1)).or_else(|| Some((*self.spans.last()?, 0.0)))
    }

    /// How likely the change comes within an eighth of a beat of `span`, if
    /// it has not come before.
    pub fn change_at(&self, span: Ticks) -> f32 {
        let (mut here, mut later) = (0.0, 0.0);
        for (known, odds) in self.spans.iter().zip(&self.times) {
            if (*known - span).abs() <= LATE {
                here += odds;
            } else if *known > span {
                later += odds;
            }
        }
        here / (here + later).max(1e-6)
    }

    /// Who says that `root` comes.
    pub fn source(&self, root: PitchClass) -> Source {
        if root.of(&self.heard) { Source::Memory } else { Source::Odds }
    }

    /// The chord meant on `root`: as heard in this song, else the triad that is
    /// likeliest there after the last chord of `history`.
    pub fn chord(&self, root: PitchClass, history: &History) -> Chord {
        let known = self.chords.get(root.index()).copied().flatten();
        known.unwrap_or_else(|| {
            let now = history.events().last();
            Chord::new(root, now.map_or(Kind::Major, |now| history.running().kind(now, root)))
        })
    }
}

/// After so long a time it is too late for a change that was to come then.
pub fn gone(held: Ticks) -> Ticks {
    held - LATE / 2
}

/// Room for the features: too large to make anew each time.
#[derive(Debug)]
pub struct Features {
    /// Features of the twelve roots, a column a feature.
    pub roots: [[f32; 12]; root_features::OWN],
    /// Features of the times, a column a feature.
    pub times: [[f32; MOST]; time_features::OWN],
    /// Features of the moment.
    pub moment: [f32; root_features::SHARED],
    /// What the history says of both, as far as it was looked at.
    root_tally: RootTally,
    time_tally: TimeTally,
}

impl Features {
    /// On the heap: 16 kB. Not for the audio thread.
    pub fn new() -> Box<Self> {
        Box::new(Self {
            roots: [[0.0; 12]; root_features::OWN],
            times: [[0.0; MOST]; time_features::OWN],
            moment: [0.0; root_features::SHARED],
            root_tally: RootTally::default(),
            time_tally: TimeTally::NONE,
        })
    }

    /// Nothing of `history` was looked at yet.
    pub fn begin(&mut self, history: &History) {
        self.root_tally = RootTally::begin(history);
        self.time_tally = TimeTally::begin(history);
    }

    /// Looks at some more of `history` for the roots: its last chord still holds at
    /// `at`. Whether any of it is left.
    pub fn look_on(&mut self, history: &History, at: Ticks) -> bool {
        root_features::look_on(history, at, &mut self.root_tally)
    }

    /// The same for the times `spans`, which do not depend on how long it has held.
    pub fn look_on_for_times(&mut self, history: &History, spans: &[Ticks]) -> bool {
        self.time_tally.look_on(history, spans)
    }

    /// All of the history was looked at for the roots.
    pub fn fill(&mut self, history: &History, at: Ticks) {
        let Self { roots, moment, root_tally, .. } = self;
        root_features::fill(history, at, root_tally, roots, moment);
    }

    /// All of the history was looked at for the times.
    pub fn fill_times(&mut self, history: &History, spans: &[Ticks]) {
        time_features::fill(history, spans, &self.time_tally, &mut self.times);
    }
}
