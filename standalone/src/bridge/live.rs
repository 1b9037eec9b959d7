//! From the words to the last note: opens, plays, and closes.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use super::controls::{Action, Map, Mapping, Move};
use super::pane::{Pane, Turned};
use super::ports::{JackPorts, MidiSystem, Midir, SeenPort, jack_is_there, jack_ports};
use super::rig::{Absent, Jacked, Rig, RigOrder, Wired};
use super::run::{Links, Look, keep_failures, last_failure, links};
use super::set::{SetList, roots};
use super::setup::{SetupWords, SystemName, resolve, save};
use super::show::{About, Json, Lines, LogFile, Pressed, Quiet, Screen, Show, key_name};
use super::stage::{Ask, Command, Report, SetEntry, Stage, StageOptions};
use sinistra_core::engine::Snapshot;
use sinistra_core::pitch::KeyNumber;
use sinistra_panel::home::Connections;

use crate::failure::Failure;
use crate::quiet::hushed;

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
    let mut night =
        Night { words, how, set, options, rig, links, show, log, pane, said, given, seen, below };
    if let Some(fault) = absent {
        night.say(&fault);
    }
    night.first();
    night.play(&end.told);
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
}

impl Night {
    /// Before the first port is open.
    fn first(&mut self) {
        if let Some(entry) = self.set.entry() {
            self.command(Command::Entry(entry));
        }
        self.show_entry();
        self.learn_next();
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
        self.show_wiring();
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
            pane.seen.lock().wiring = wiring;
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
            if let Some(pane) = &self.pane {
                let (settings, tempo) = (look.settings, look.time.tempo);
                let mut seen = pane.seen.lock();
                seen.snapshot = look.snapshot.clone();
                seen.turned = Some(Turned { settings, tempo, left: look.left });
            }
            let about = self.about();
            self.show.look(&look, &about);
            self.seen = Some(look);
        }
    }

    /// What is wished for in the window.
    fn wishes(&mut self) {
        let wishes: Vec<Command> =
            self.pane.iter().flat_map(|pane| pane.wishes.try_iter()).collect();
        for wish in wishes {
            self.command(wish);
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
            Command::Entry(entry) => {
                let pattern = entry.pattern.clone().or_else(|| self.given.pattern.take());
                let (song, bars) = (entry.song.clone(), entry.bars.clone());
                self.given = SetEntry { pattern, song, bars, ..SetEntry::default() };
            }
            _ => {}
        }
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
