//! From the words to the last note: opens, plays, and closes.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use super::controls::{Action, Map, Mapping, Move};
use super::monitor::Monitor;
use super::pane::{Pane, Turned, Wish, Written};
use super::ports::{
    JackPorts, MidiSystem, Midir, SeenPort, Selector, jack_is_there, jack_ports, stem,
};
use super::rig::{Absent, Jacked, PIANO, QUIET, Rig, RigOrder, Wired};
use super::run::{Links, Look, keep_failures, last_failure, links};
use super::set::{SetList, lines, roots};
use super::setup::{Last, SetupWords, SystemName, as_played, load, resolve, save};
use super::show::{About, Json, Lines, LogFile, Pressed, Quiet, Screen, Show, key_name};
use super::stage::{Ask, Command, LeftHandWork, Report, SetEntry, Stage, StageOptions};
use super::time::ClockSource;
use super::watch::Watch;
use super::zones::{self, Part, ZoneWords, Zones};
use sinistra_core::engine::Snapshot;
use sinistra_core::pitch::KeyNumber;
use sinistra_panel::home::Connections;
use sinistra_panel::stage::{Leads, Left, Port, Scene, Turn};

use crate::failure::Failure;
use crate::quiet::hushed;
use crate::{files, scores};

/// How often the ports are looked at.
const LOOK: Duration = Duration::from_millis(400);
/// A key below the split is told of no more often than this.
const BELOW: Duration = Duration::from_secs(60);
/// How often news are shown.
const TICK: Duration = Duration::from_millis(20);

/// How it is shown and kept, beside the words.
#[derive(Clone, Debug, Default)]
pub struct How {
    /// The set-up file that the words came from.
    pub loaded: Option<PathBuf>,
    /// Where to save the set-up.
    pub save: Option<PathBuf>,
    /// Whether a file there may be replaced.
    pub force: bool,
    /// What the next controls that move shall do.
    pub learn: Vec<Action>,
    /// Show nothing.
    pub quiet: bool,
    /// Show JSON.
    pub json: bool,
    /// A log file.
    pub log: Option<PathBuf>,
    /// Seconds after which to end.
    pub for_seconds: Option<f64>,
    /// There is a window: the terminal only says what happens.
    pub window: bool,
    /// What was said beside the set-up file, and goes before it.
    pub said: SetupWords,
    /// The song to begin with, from 1.
    pub song: Option<usize>,
    /// Set and ports are kept for the next start.
    pub keeps_last: bool,
}

/// What ends the bridge.
pub struct End {
    /// Ends it.
    pub stop: Sender<()>,
    /// Told when to end.
    told: Receiver<()>,
}

/// Plays until it is told to end.
///
/// # Errors
/// If the words are wrong, or the MIDI system does not answer.
pub fn live(words: SetupWords, how: How) -> Result<(), Failure> {
    let end = ends(how.for_seconds)?;
    play(words, how, end, None)
}

/// Plays until `end`, with a window to be told if there is one.
///
/// # Errors
/// As [`live`].
pub fn play(words: SetupWords, how: How, end: End, pane: Option<Pane>) -> Result<(), Failure> {
    let resolved = resolve(&words).map_err(Failure::Input)?;
    let set = SetList::read(&words).map_err(Failure::Input)?;
    let log = how.log.as_deref().map(LogFile::open).transpose().map_err(Failure::Machine)?;
    if let Some(path) = &how.save {
        save(path, &words, how.loaded.as_deref(), how.force)?;
    }
    keep_failures();
    let mut links = None;
    let mut options = resolved.options;
    options.log = pane.as_ref().map(|pane| pane.log.clone());
    let started = hushed(|| start(&words, &options, &mut links));
    let (rig, links, absent) = match (started, links) {
        (Ok(rig), Some(links)) => (rig, links, None),
        // A window stays, and waits for the system; a terminal can be told.
        (Err(fault), _) if pane.is_some() => (absent(), idle(&options), Some(fault)),
        (Err(fault), _) => return Err(Failure::Machine(fault)),
        (Ok(_), None) => return Err(Failure::Machine("the stage did not start".into())),
    };
    let show: Box<dyn Show> = match () {
        () if how.quiet => Box::new(Quiet),
        () if how.json => Box::new(Json::default()),
        () if how.window => Box::new(Lines),
        () => match Screen::take() {
            Some(screen) => Box::new(screen),
            None => Box::new(Lines),
        },
    };
    let said = String::new();
    let (given, seen, below) = (SetEntry::default(), None, None);
    let (monitor, watch) = (Monitor::default(), Watch::over(how.loaded.as_deref(), &words));
    let mut night = Night {
        words,
        how,
        set,
        options,
        rig,
        links,
        show,
        log,
        pane,
        said,
        given,
        seen,
        below,
        monitor,
        watch,
        zoned: false,
    };
    if let Some(fault) = absent {
        night.say(&fault);
    }
    night.first();
    night.play(&end.told);
    night.keep_last();
    for line in night.rig.end() {
        night.log(&line);
    }
    night.say("ended, every note is off");
    Ok(()) // dropping the screen gives the terminal back
}

fn absent() -> Box<dyn Rig> {
    Box::new(Absent)
}

/// The free world's side of a stage that nobody runs.
fn idle(options: &StageOptions) -> Links {
    links(Box::new(Stage::new(options.clone(), roots(), roots(), 0.0))).1
}

/// The rig that the words ask for.
fn start(
    words: &SetupWords,
    options: &StageOptions,
    links: &mut Option<Links>,
) -> Result<Box<dyn Rig>, String> {
    let order = RigOrder { words, options: options.clone(), links };
    let jack = is_jack(words.system.unwrap_or_default());
    if jack {
        return Ok(Box::new(Jacked::start(order)?));
    }
    Ok(Box::new(Wired::start(Box::new(Midir::default()), order)?))
}

/// Whether JACK is meant. It runs because somebody wants it; but where the
/// system itself has MIDI ports, those are meant.
fn is_jack(system: SystemName) -> bool {
    match system {
        SystemName::Alsa => false,
        SystemName::Jack => true,
        SystemName::Auto => {
            let has_ports = hushed(|| Midir::default().ports());
            has_ports.map_or(true, |(ins, outs)| ins.is_empty() && outs.is_empty())
                && jack_is_there()
        }
    }
}

/// What is there: ports to hear from, then to send to.
///
/// # Errors
/// If the system does not answer.
pub fn ports_of(system: SystemName) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
    if is_jack(system) { jack_ports() } else { hushed(|| Midir::default().ports()) }
}

/// The MIDI system itself, for who plays without the stage.
pub fn system_of(system: SystemName) -> Box<dyn MidiSystem> {
    if is_jack(system) { Box::new(JackPorts) } else { Box::new(Midir::default()) }
}

/// Told when to end: by a signal, a closed terminal, or the time.
///
/// # Errors
/// If the system cannot tell us of signals.
pub fn ends(for_seconds: Option<f64>) -> Result<End, Failure> {
    let (tell, told) = channel();
    let (by_time, stop) = (tell.clone(), tell.clone());
    ctrlc::set_handler(move || {
        let _ = tell.send(());
    })
    .map_err(|e| Failure::Machine(format!("cannot listen to signals: {e}")))?;
    if let Some(seconds) = for_seconds {
        std::thread::spawn(move || {
            std::thread::sleep(Duration::from_secs_f64(seconds.clamp(0.0, 1e6)));
            let _ = by_time.send(());
        });
    }
    Ok(End { stop, told })
}

struct Night {
    words: SetupWords,
    how: How,
    set: SetList,
    options: StageOptions,
    rig: Box<dyn Rig>,
    links: Links,
    show: Box<dyn Show>,
    log: Option<LogFile>,
    pane: Option<Pane>,
    /// What was said last.
    said: String,
    /// What the stage was given to play, in case that it begins afresh.
    given: SetEntry,
    /// What the stage looked like last.
    seen: Option<Look>,
    /// When a key below the split was last told of.
    below: Option<Instant>,
    /// Lights and the last messages.
    monitor: Monitor,
    /// Files that are played from.
    watch: Watch,
    /// Zones were set: where there are none any more, that is told too.
    zoned: bool,
}

impl Night {
    /// Before the first port is open.
    fn first(&mut self) {
        if let Some(song) = self.how.song.and_then(|song| u8::try_from(song - 1).ok()) {
            self.set.go(Ask::Entry(song));
        }
        if let Some(entry) = self.set.entry() {
            self.command(Command::Entry(entry));
        }
        self.zone();
        self.show_entry();
        self.learn_next();
    }

    /// Each hand sounds as the words have it.
    fn zone(&mut self) {
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
    fn rezone(&mut self, n: usize, turn: Turn) {
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
    fn add_zone(&mut self) {
        let has = |hand| self.words.zone.iter().any(|zone| zone.hand == hand);
        let hand = if has(Part::Left) && !has(Part::Through) { Part::Through } else { Part::Left };
        if self.words.zone.len() < zones::MOST {
            self.words.zone.push(ZoneWords { hand, ..ZoneWords::default() });
            self.zone();
        }
    }

    fn play(&mut self, end: &Receiver<()>) {
        let mut looked: Option<Instant> = None;
        loop {
            let all = looked.is_none_or(|at| at.elapsed() >= LOOK);
            if all {
                looked = Some(Instant::now());
            }
            self.look_at_ports(all);
            self.news();
            self.wishes();
            for pressed in self.show.pressed() {
                match pressed {
                    Pressed::End => return,
                    Pressed::Does(action) => self.command(Command::Do(action, Move::Press)),
                }
            }
            match end.recv_timeout(TICK) {
                Err(RecvTimeoutError::Timeout) => {}
                _ => return,
            }
        }
    }

    fn look_at_ports(&mut self, all: bool) {
        let mut news = Vec::new();
        self.rig.tend(&mut |n| news.push(n.to_string()));
        if all {
            self.look_at_all(&mut news);
        }
        for words in news {
            self.say(&words);
        }
    }

    fn look_at_all(&mut self, news: &mut Vec<String>) {
        self.rig.look(&mut |n| news.push(n.to_string()));
        if self.rig.is_over() {
            self.again(news);
        }
        self.read_anew(news);
        self.show_wiring();
    }

    /// Files that changed on the disk; one with a fault changes nothing.
    fn read_anew(&mut self, news: &mut Vec<String>) {
        let changed = self.watch.changed();
        if changed.is_empty() {
            return;
        }
        let names: Vec<_> = changed.iter().map(|file| file.display().to_string()).collect();
        let names = names.join(", ");
        match self.read_set(&changed) {
            Ok((words, fresh)) => {
                self.words = words;
                if self.set.read_anew(fresh)
                    && let Some(entry) = self.set.entry()
                {
                    self.give(&entry);
                    self.send(Command::Anew(entry));
                }
                self.watch = Watch::over(self.how.loaded.as_deref(), &self.words);
                self.show_entry();
                news.push(format!("{names}: read anew"));
            }
            Err(fault) => news.push(format!("{fault}\n{names}: what was read before goes on")),
        }
    }

    /// The songs as they stand on the disk now.
    fn read_set(&self, changed: &[PathBuf]) -> Result<(SetupWords, SetList), String> {
        let mut words = self.words.clone();
        if let Some(file) = self.how.loaded.as_ref().filter(|file| changed.contains(file)) {
            let read = load(file).map_err(|fault| fault.to_string())?;
            let SetupWords { entry, chart, pattern, .. } = self.how.said.clone().over(read);
            (words.entry, words.chart, words.pattern) = (entry, chart, pattern);
        }
        let set = SetList::read(&words)?;
        Ok((words, set))
    }

    /// Lets the window know of the ports, and of what was said last.
    fn show_wiring(&self) {
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
    fn scene(&self) -> Scene {
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
        Scene {
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
            full_screen: None, // the window's own business
        }
    }

    /// The MIDI system went: a new rig as soon as it is back, set as it was.
    fn again(&mut self, news: &mut Vec<String>) {
        let mut links = None;
        if let Some(seen) = &self.seen {
            self.options.settings = seen.settings;
            self.options.time = seen.time;
            self.options.left = seen.left;
        }
        if let (Ok(rig), Some(links)) =
            (hushed(|| start(&self.words, &self.options, &mut links)), links)
        {
            (self.rig, self.links) = (rig, links);
            self.zone();
            news.push("the MIDI system is back".into());
            self.give_again();
        }
    }

    fn news(&mut self) {
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

    /// Lets the window know of the stage as it is now, with the lights.
    fn show_look(&mut self) {
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

    /// What is wished for in the window.
    fn wishes(&mut self) {
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

    fn shift(&mut self, from: usize, to: usize) {
        if self.set.shift(from, to) {
            self.words.entry = lines(&self.words);
            self.words.chart.clear();
            let entry = self.words.entry.remove(from);
            self.words.entry.insert(to, entry);
        }
    }

    /// From now on `port` is heard, or sent to, or no longer.
    fn rewire(&mut self, port: &str, on: bool, hears: bool) {
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

    /// Keeps the set-up as it is played. What stood in the file before is kept beside.
    fn save(&mut self, written: &Written) -> Result<PathBuf, Failure> {
        let path = match &self.how.loaded {
            Some(path) => path.clone(),
            None => new_set()?,
        };
        let mut words = self.words.clone();
        if let Some(look) = &self.seen {
            words = as_played(&words, self.set.at(), look, written.pattern.as_deref());
        }
        self.keep_chart(&path, &mut words, &written.chart)?;
        if let Ok(before) = std::fs::read(&path) {
            files::write(&path.with_extension("before.toml"), &before, true)?;
        }
        save(&path, &words, Some(&path), true)?;
        let fresh = SetList::read(&words).map_err(Failure::Input)?;
        self.set.read_anew(fresh);
        (self.words, self.how.loaded) = (words, Some(path.clone()));
        self.watch = Watch::over(self.how.loaded.as_deref(), &self.words);
        Ok(path)
    }

    /// A chart that was written in the window becomes a file beside the set-up's.
    fn keep_chart(&self, setup: &Path, words: &mut SetupWords, text: &str) -> Result<(), Failure> {
        let named = self.set.named().0;
        let before = named.and_then(|name| scores::chart(&name).ok());
        let same = before.map_or_else(String::new, |chart| chart.to_string()) == text;
        if same || sinistra_score::Chart::read("chart", text).is_err() {
            return Ok(());
        }
        let folder = setup.parent().unwrap_or(Path::new("."));
        let path = numbered(folder, "Chart", "txt")?;
        files::write(&path, text.as_bytes(), false)?;
        let name = Some(path.display().to_string());
        match self.set.at().and_then(|at| words.entry.get_mut(at)) {
            Some(entry) => entry.chart = name,
            None => words.chart = name.into_iter().collect(),
        }
        Ok(())
    }

    /// For the next start.
    fn keep_last(&self) {
        if self.how.keeps_last {
            let setup = self.how.loaded.as_ref().and_then(|path| std::path::absolute(path).ok());
            let song = self.set.at().map(|at| at + 1);
            let (from, to) = (self.words.from.clone(), self.words.to.clone());
            Last { setup, song, from, to, volume: self.words.volume }.keep();
        }
    }

    /// Lets the window know what is played.
    fn show_entry(&self) {
        if let Some(pane) = &self.pane {
            let mut seen = pane.seen.lock();
            seen.entry = self.set.named();
            seen.changes += 1;
        }
    }

    fn about(&self) -> About {
        About {
            entry: self.set.name().map(|(n, name)| format!("{n} {name}")),
            ports: self.rig.open(),
            dropped: self.rig.dropped(),
            late: self.rig.late(),
        }
    }

    fn go(&mut self, ask: Ask) {
        if self.set.go(ask) {
            if let Some(entry) = self.set.entry() {
                self.command(Command::Entry(entry));
            }
            self.show_entry();
            if let Some((n, name)) = self.set.name() {
                let words = format!("entry {n} of {}: {name}", self.set.len());
                self.say(&words);
            }
        }
    }

    /// Told now and then: who plays a left hand of their own knows.
    fn below(&mut self, key: KeyNumber, split: KeyNumber) {
        if self.below.is_none_or(|at| at.elapsed() > BELOW) {
            self.below = Some(Instant::now());
            let in_key =
                self.seen.as_ref().map_or(Snapshot::default().key, |look| look.snapshot.key);
            let (key, split) = (key_name(key, in_key), key_name(split, in_key));
            self.say(&format!(
                "{key} lies below the split ({split}): it counts as your own left hand, and ours \
                 rests until the next bar"
            ));
        }
    }

    fn learn_next(&mut self) {
        if let Some(action) = self.how.learn.first().copied() {
            self.say(&format!("move the control that shall do: {}", action.name()));
            self.command(Command::Learn(action));
        }
    }

    fn learned(&mut self, action: Action, trigger: super::controls::Trigger) {
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
        } else if self.how.learn.is_empty() {
            self.say("add --save FILE.toml to keep what is learned");
        }
        self.learn_next();
    }

    /// Chart and pattern for a stage that begins afresh; all else is set.
    fn give_again(&mut self) {
        self.command(Command::Entry(self.given.clone()));
    }

    fn command(&mut self, command: Command) {
        match &command {
            Command::Pattern(pattern) => self.given.pattern = Some(pattern.clone()),
            Command::Entry(entry) => self.give(entry),
            _ => {}
        }
        self.send(command);
    }

    /// Remembers what the stage has to play.
    fn give(&mut self, entry: &SetEntry) {
        let pattern = entry.pattern.clone().or_else(|| self.given.pattern.take());
        let (song, bars) = (entry.song.clone(), entry.bars.clone());
        self.given = SetEntry { pattern, song, bars, ..SetEntry::default() };
    }

    fn send(&mut self, command: Command) {
        let _ = self.links.commands.push(command);
        self.rig.wake();
    }

    fn say(&mut self, words: &str) {
        self.log(words);
        self.show.say(words);
        words.clone_into(&mut self.said);
        self.show_wiring();
    }

    fn log(&mut self, words: &str) {
        if let Some(log) = &mut self.log {
            log.line(words);
        }
    }
}

/// Both lists, each name once.
fn joined(there: &[String], open: &[String]) -> Vec<String> {
    let gone = open.iter().filter(|name| !there.contains(name));
    there.iter().chain(gone).cloned().collect()
}

/// A new file for a set, where takes are kept too.
fn new_set() -> Result<PathBuf, Failure> {
    let folders = directories::UserDirs::new();
    let folder = folders.as_ref().map(|user| user.audio_dir().unwrap_or(user.home_dir()));
    let folder = folder
        .ok_or_else(|| Failure::Machine("no home folder was found to keep the set in".into()))?
        .join("Sinistra");
    std::fs::create_dir_all(&folder)
        .map_err(|why| Failure::Machine(format!("{}: {why}", folder.display())))?;
    numbered(&folder, "Set", "toml")
}

/// `Set 1.toml`, `Set 2.toml` …: the first that is not there.
fn numbered(folder: &Path, name: &str, kind: &str) -> Result<PathBuf, Failure> {
    let mut all = (1..10_000).map(|n| folder.join(format!("{name} {n}.{kind}")));
    all.find(|path| !path.exists())
        .ok_or_else(|| Failure::Machine(format!("{}: full of sets", folder.display())))
}
