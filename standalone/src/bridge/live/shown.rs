//! What the window and the terminal are shown.

use clap::ValueEnum;
use sinistra_panel::home::Connections;
use sinistra_panel::stage::{ControlLine, Leads, Left, Port, StageScene};

use super::LiveSession;
use crate::bridge::controls::Action;
use crate::bridge::pane::Turned;
use crate::bridge::rig::QUIET;
use crate::bridge::show::About;
use crate::bridge::stage::LeftHandWork;
use crate::bridge::time::ClockSource;
use crate::bridge::zones::ZoneWords;

impl LiveSession {
    /// Lets the window know of the ports, and of what was said last.
    pub(super) fn show_wiring(&self) {
        if let Some(pane) = &self.pane {
            let (from, to) = self.rig.open();
            let wiring = Connections {
                from,
                to,
                waits_for: self.rig.missing(),
                dropped: self.rig.dropped(),
                late: self.rig.late(),
                said: self.said.clone(),
            };
            let scene = self.scene();
            let mut seen = pane.seen.lock();
            (seen.wiring, seen.scene) = (wiring, scene);
        }
    }

    /// What the window shows beside the music.
    pub(super) fn scene(&self) -> StageScene {
        let (from, to) = self.rig.open();
        let (could_hear, could_send) = self.rig.there();
        let lit: Vec<_> = self.monitor.lit().map(|input| self.rig.input(input)).collect();
        // Where inputs are not told apart, all that are open light up.
        let comes = |name: &String| lit.iter().any(|lit| lit.as_ref().is_none_or(|l| l == name));
        let port = |open: &[String], name: String, passes: bool| {
            let is_open = open.contains(&name);
            Port { open: is_open, active: is_open && passes, name }
        };
        let inputs = joined(&could_hear, &from).into_iter();
        let outputs = joined(&could_send, &to).into_iter();
        let look = self.seen.as_ref();
        let held = look.map(|look| look.held).unwrap_or_default();
        let time = look.map_or(self.options.time, |look| look.time);
        let moves = look.is_some_and(|look| look.moves);
        StageScene {
            moves,
            tempo: look
                .filter(|look| moves && look.snapshot.playing)
                .map_or(time.tempo, |look| look.snapshot.tempo),
            leads: match time.source {
                ClockSource::Own => Leads::Own,
                ClockSource::Hand => Leads::Hand,
                ClockSource::Midi => Leads::Midi,
            },
            left: match look.map_or(self.options.left, |look| look.left) {
                LeftHandWork::Plays => Left::Plays,
                LeftHandWork::Roots => Left::Roots,
                LeftHandWork::Rests => Left::Rests,
            },
            octave_drop: look.is_some_and(|look| look.octave_drop),
            holds: held.holds,
            clicks: held.clicks,
            piano: self.words.sound.then(|| self.words.volume.unwrap_or(QUIET)),
            metronome: held.click_loudness,
            songs: self.set.names(),
            at: self.set.at(),
            bars: self.set.bars(),
            inputs: inputs.map(|name| port(&from, name.clone(), comes(&name))).collect(),
            outputs: outputs.map(|name| port(&to, name, self.monitor.sends())).collect(),
            passed: self.monitor.last(),
            zones: self.words.zone.iter().map(ZoneWords::about).collect(),
            controls: self.controls(),
            full_screen: None, // the window's own business
        }
    }

    /// Lets the window know of the stage as it is now, with the lights.
    pub(super) fn show_look(&mut self) {
        let Some(pane) = &self.pane else { return };
        while let Ok(passed) = self.links.passed.pop() {
            self.monitor.note(passed);
        }
        let scene = self.scene();
        let mut seen = pane.seen.lock();
        seen.scene = scene;
        if let Some(look) = &self.seen {
            let (settings, tempo) = (look.settings, look.time.tempo);
            seen.snapshot = look.snapshot.clone();
            seen.turned = Some(Turned { settings, tempo, left: look.left });
        }
    }

    /// Lets the window know what is played.
    pub(super) fn show_entry(&self) {
        if let Some(pane) = &self.pane {
            let mut seen = pane.seen.lock();
            (seen.entry, seen.chosen) = (self.set.written(), None);
            seen.changes += 1;
        }
    }

    /// Lets the window know of another pattern; the chart stays.
    pub(super) fn show_pattern(&self, slug: &'static str) {
        if let Some(pane) = &self.pane {
            let mut seen = pane.seen.lock();
            seen.chosen = Some(slug);
        }
    }

    /// Every action with the control that does it.
    fn controls(&self) -> Vec<ControlLine> {
        let line = |action: &Action| ControlLine {
            does: action.name(),
            moved_by: self.words.map.iter().filter(|mapping| mapping.action == *action).fold(
                String::new(),
                |said, mapping| match said.as_str() {
                    "" => mapping.trigger.to_string(),
                    before => format!("{before}, {}", mapping.trigger),
                },
            ),
            waits: self.how.learn.first() == Some(action),
        };
        Action::value_variants().iter().map(line).collect()
    }

    pub(super) fn about(&self) -> About {
        About {
            entry: self.set.name().map(|(n, name)| format!("{n} {name}")),
            ports: self.rig.open(),
            dropped: self.rig.dropped(),
            late: self.rig.late(),
        }
    }
}

/// Both lists, each name once.
fn joined(there: &[String], open: &[String]) -> Vec<String> {
    let gone = open.iter().filter(|name| !there.contains(name));
    there.iter().chain(gone).cloned().collect()
}
