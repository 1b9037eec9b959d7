//! What the stage tells of.

use std::time::{Duration, Instant};

use sinistra_core::engine::Snapshot;
use sinistra_core::pitch::KeyNumber;
use sinistra_score::pattern::PatternCard;
use sinistra_score::wording;

use super::LiveSession;
use crate::bridge::controls::{Action, Map, Mapping, Trigger};
use crate::bridge::run::{Look, last_failure};
use crate::bridge::setup::save;
use crate::bridge::stage::{Ask, Command, Report};
use crate::scores;

/// A key below the split is told of no more often than this.
const BELOW: Duration = Duration::from_secs(60);

impl LiveSession {
    pub(super) fn news(&mut self) {
        if self.rig.failed() {
            let what = last_failure().map_or_else(String::new, |what| format!(" ({what})"));
            self.say(&format!("the left hand failed and was started again; through went on{what}"));
            self.give_again();
        }
        while let Ok(report) = self.links.reports.pop() {
            self.show.report(&report);
            match report {
                Report::OldPattern(pattern) => drop(pattern),
                Report::OldSong(song) => drop(song),
                Report::Ask(Ask::Panic) => {
                    self.rig.panic();
                    self.say("every note is ended");
                }
                Report::Ask(Ask::Pattern(number)) => {
                    self.choose(PatternCard::presets(), number.into())
                }
                Report::Ask(Ask::Style(part)) => {
                    let styles = PatternCard::improvising();
                    let place = usize::from(part) * styles.len() / 128;
                    self.choose(styles, place);
                }
                Report::Ask(ask) => self.go(ask),
                Report::Learned(action, trigger) => self.learned(action, trigger),
                Report::Coasts(tempo) => {
                    self.say(&format!(
                        "nothing is struck: the beat goes on by itself at {tempo:.0}"
                    ));
                }
                Report::ClockLost => self.say(
                    "MIDI clock stopped coming, though its sender said no stop: the beat rests \
                     (is its cable in, and does it send clock?)",
                ),
                Report::Below(key, split) => self.below(key, split),
                _ => {}
            }
        }
        let mut last: Option<Look> = None;
        while let Ok(look) = self.links.looks.pop() {
            last = Some(look);
        }
        if let Some(look) = last {
            let about = self.about();
            self.show.look(&look, &about);
            self.seen = Some(look);
        }
        self.show_look();
    }

    /// Lays down what a control chose, and shows it.
    fn choose(&mut self, cards: &'static [PatternCard], place: usize) {
        let Some(card) = cards.get(place) else {
            let most = cards.len();
            return self
                .say(&format!("the library has no left hand {}: there are {most}", place + 1));
        };
        if self.chosen == Some(card.slug) {
            return; // a dial that moves within the same
        }
        let Ok(pattern) = scores::pattern(card.slug) else { return };
        self.command(Command::Pattern(pattern));
        self.say(&format!("the left hand: {}", card.name));
        self.chosen = Some(card.slug);
        self.show_pattern(card.slug);
    }

    /// Told now and then: who plays a left hand of their own knows.
    pub(super) fn below(&mut self, key: KeyNumber, split: KeyNumber) {
        if self.below.is_none_or(|at| at.elapsed() > BELOW) {
            self.below = Some(Instant::now());
            let in_key =
                self.seen.as_ref().map_or(Snapshot::default().key, |look| look.snapshot.key);
            let (key, split) = (wording::note(key, in_key), wording::note(split, in_key));
            self.say(&format!(
                "{key} lies below the split ({split}): it counts as your own left hand, and ours \
                 rests until the next bar"
            ));
        }
    }

    pub(super) fn learn_next(&mut self) {
        if let Some(action) = self.how.learn.first().copied() {
            self.say(&format!("move the control that shall do: {}", action.name()));
            self.command(Command::Learn(action));
        }
    }

    pub(super) fn learned(&mut self, action: Action, trigger: Trigger) {
        self.words.map.retain(|m| m.trigger != trigger);
        self.words.map.push(Mapping { action, trigger, through: true });
        self.options.map = Map::new(&self.words.map);
        self.say(&format!("{trigger} now does: {}", action.name()));
        self.how.learn.retain(|a| *a != action);
        if let Some(path) = &self.how.save {
            // It was ours when we started: saved again with what was learned.
            if let Err(fault) = save(path, &self.words, Some(path), true) {
                self.say(&fault.to_string());
            }
        } else if self.how.learn.is_empty() && self.pane.is_none() {
            self.say("add --save FILE.toml to keep what is learned");
        }
        self.learn_next();
    }
}
