//! What is wished for in the window: ports, zones, the order of the songs.

use clap::ValueEnum;
use sinistra_panel::stage::{Leads, Left, StageWish, Turn};

use super::LiveSession;
use crate::bridge::controls::{Action, Move};
use crate::bridge::pane::Errand;
use crate::bridge::ports::{Selector, stem};
use crate::bridge::rig::PIANO;
use crate::bridge::set::lines;
use crate::bridge::stage::{Ask, Command};
use crate::bridge::time::ClockSource;
use crate::bridge::zones::{self, ZoneHand, ZoneWords, Zones};

impl LiveSession {
    /// What the window was left for.
    pub(super) fn errands(&mut self) {
        let errands: Vec<_> = self.pane.iter().flat_map(|pane| pane.errands.try_iter()).collect();
        for errand in errands {
            match errand {
                Errand::Stage(command) => self.command(command),
                Errand::Wish(wish) => self.wish(wish),
                Errand::Save(written) => match self.save(&written) {
                    Ok(path) => self.say(&format!("saved: {}", path.display())),
                    Err(fault) => self.say(&fault.to_string()),
                },
            }
        }
    }

    /// What is wished for in the window.
    fn wish(&mut self, wish: StageWish) {
        match wish {
            StageWish::StartOrStop => self.press(Action::Start),
            StageWish::Tap => self.press(Action::Tap),
            StageWish::Tempo(tempo) => self.command(Command::Tempo(tempo)),
            StageWish::Lead(Leads::Own) => self.command(Command::Lead(ClockSource::Own)),
            StageWish::Lead(Leads::Hand) => self.command(Command::Lead(ClockSource::Hand)),
            StageWish::Lead(Leads::Midi) => self.command(Command::Lead(ClockSource::Midi)),
            StageWish::Panic => self.press(Action::Panic),
            StageWish::Left(Left::Plays) => self.press(Action::LeftPlays),
            StageWish::Left(Left::Roots) => self.press(Action::LeftRoots),
            StageWish::Left(Left::Rests) => self.press(Action::LeftRests),
            StageWish::OctaveDrop => self.press(Action::OctaveDrop),
            StageWish::Hold => self.press(Action::Hold),
            StageWish::Clicks => self.press(Action::Click),
            StageWish::Metronome(percent) => self.command(Command::ClickLoudness(percent)),
            StageWish::Piano(percent) => {
                self.words.volume = Some(percent);
                self.rig.piano(percent);
            }
            StageWish::Next => self.go(Ask::Next),
            StageWish::Previous => self.go(Ask::Previous),
            StageWish::Song(n) => self.go(Ask::Entry(u8::try_from(n).unwrap_or(u8::MAX))),
            StageWish::Move(from, to) => self.shift(from, to),
            StageWish::Hear(port, on) => self.rewire(&port, on, true),
            StageWish::SendTo(port, on) => self.rewire(&port, on, false),
            StageWish::Zone(n, turn) => self.rezone(n, turn),
            StageWish::AddZone => self.add_zone(),
            StageWish::Learn(n) => {
                if let Some(action) = Action::value_variants().get(n) {
                    self.how.learn.insert(0, *action);
                    self.learn_next();
                }
            }
            StageWish::RemoveZone(n) => {
                if n < self.words.zone.len() {
                    self.words.zone.remove(n);
                    self.zone();
                }
            }
            StageWish::Save | StageWish::FullScreen => {} // the window's own
        }
    }

    fn press(&mut self, action: Action) {
        self.command(Command::Do(action, Move::Press));
    }

    /// Each hand sounds as the words have it.
    pub(super) fn zone(&mut self) {
        let modules = self.words.zone.iter().map(|zone| zone.to.clone()).collect();
        if let Err(fault) = self.rig.zone(modules) {
            self.say(&fault);
        }
        if !self.words.zone.is_empty() || self.zoned {
            self.zoned = true;
            self.send(Command::Zones(Zones::new(&self.words.zone)));
        }
    }

    /// The zone at `n` is changed in the window.
    pub(super) fn rezone(&mut self, n: usize, turn: Turn) {
        let Some(zone) = self.words.zone.get_mut(n) else { return };
        match turn {
            Turn::Up => zone.transpose = (zone.transpose + 1).min(24),
            Turn::Down => zone.transpose = (zone.transpose - 1).max(-24),
            Turn::OctaveUp => zone.octave = (zone.octave + 1).min(4),
            Turn::OctaveDown => zone.octave = (zone.octave - 1).max(-4),
            Turn::Touch => zone.touch = zone.touch.next(),
            Turn::Channel => {
                zone.channel = match zone.channel {
                    None => Some(1),
                    Some(16) => None,
                    Some(channel) => Some(channel + 1),
                };
            }
        }
        self.zone();
    }

    /// A zone more: for the hand that has none yet, else for the left.
    pub(super) fn add_zone(&mut self) {
        let has = |hand| self.words.zone.iter().any(|zone| zone.hand == hand);
        let hand = if has(ZoneHand::Left) && !has(ZoneHand::Through) {
            ZoneHand::Through
        } else {
            ZoneHand::Left
        };
        if self.words.zone.len() < zones::MOST {
            self.words.zone.push(ZoneWords { hand, ..ZoneWords::default() });
            self.zone();
        }
    }

    pub(super) fn shift(&mut self, from: usize, to: usize) {
        if self.set.shift(from, to) {
            self.words.entry = lines(&self.words);
            self.words.chart.clear();
            let entry = self.words.entry.remove(from);
            self.words.entry.insert(to, entry);
        }
    }

    /// From now on `port` is heard, or sent to, or no longer.
    pub(super) fn rewire(&mut self, port: &str, on: bool, hears: bool) {
        let (from, to) = self.rig.open();
        if port == PIANO {
            return self.say("the built-in piano stays; its loudness goes down to 0");
        }
        let chosen = |open: Vec<String>, named: &[Selector], missing: &[String]| {
            let open = open.into_iter().filter(|name| name != PIANO);
            let mut names: Vec<_> = open.filter(|name| on || name != port).collect();
            if on && !names.iter().any(|name| name == port) {
                names.push(port.to_owned());
            }
            let mut all: Vec<_> = names
                .iter()
                .map(|name| match name.as_str() {
                    "virtual" => Selector::Virtual,
                    name => Selector::Name(stem(name).to_owned()),
                })
                .collect();
            // What is waited for is waited for still.
            all.extend(named.iter().filter(|n| missing.contains(&n.to_string())).cloned());
            if all.is_empty() { vec![Selector::Nothing] } else { all }
        };
        let missing = self.rig.missing();
        if hears {
            self.words.from = chosen(from, &self.words.from, &missing);
        } else {
            self.words.to = chosen(to, &self.words.to, &missing);
        }
        self.rig.rewire(self.words.from.clone(), self.words.to.clone());
    }
}
