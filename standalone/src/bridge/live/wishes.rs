//! What is wished for in the window: ports, zones, the order of the songs.

use sinistra_panel::stage::Turn;

use super::LiveSession;
use crate::bridge::pane::Wish;
use crate::bridge::ports::{Selector, stem};
use crate::bridge::rig::PIANO;
use crate::bridge::set::lines;
use crate::bridge::stage::Command;
use crate::bridge::zones::{self, Part, ZoneWords, Zones};

impl LiveSession {
    /// What is wished for in the window.
    pub(super) fn wishes(&mut self) {
        let wishes: Vec<Wish> = self.pane.iter().flat_map(|pane| pane.wishes.try_iter()).collect();
        for wish in wishes {
            match wish {
                Wish::Stage(command) => self.command(command),
                Wish::Go(ask) => self.go(ask),
                Wish::Move(from, to) => self.shift(from, to),
                Wish::Hear(port, on) => self.rewire(&port, on, true),
                Wish::SendTo(port, on) => self.rewire(&port, on, false),
                Wish::Zone(n, turn) => self.rezone(n, turn),
                Wish::AddZone => self.add_zone(),
                Wish::RemoveZone(n) => {
                    if n < self.words.zone.len() {
                        self.words.zone.remove(n);
                        self.zone();
                    }
                }
                Wish::Piano(percent) => {
                    self.words.volume = Some(percent);
                    self.rig.piano(percent);
                }
                Wish::Save(written) => match self.save(&written) {
                    Ok(path) => self.say(&format!("saved: {}", path.display())),
                    Err(fault) => self.say(&fault.to_string()),
                },
            }
        }
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
        let hand = if has(Part::Left) && !has(Part::Through) { Part::Through } else { Part::Left };
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
