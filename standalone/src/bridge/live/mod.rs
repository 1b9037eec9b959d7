//! From the words to the last note: opens, plays, and closes.

mod kept;
mod reports;
mod shown;
mod start;
mod wishes;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use sinistra_panel::take::TakeLog;

use super::controls::{Action, Move};
use super::monitor::Monitor;
use super::pane::Pane;
use super::rig::Rig;
use super::run::{Links, Look, keep_failures};
use super::set::SetList;
use super::setup::{SetupWords, resolve, save};
use super::show::{Json, Lines, LogFile, Pressed, Quiet, Screen, Show};
use super::stage::{Ask, Command, SetEntry, StageOptions};
use super::watch::FileWatch;
use crate::failure::Failure;
use crate::options::decimal;
use crate::quiet::hushed;
use crate::sound::Timbre;
use start::{absent, idle, start};
pub use start::{ports_of, system_of};

/// How often the ports are looked at.
const LOOK: Duration = Duration::from_millis(400);
/// How often news are shown.
const TICK: Duration = Duration::from_millis(20);

/// How it is shown and kept, beside the words.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct How {
    /// Save what is said here, with what is learned, as a set-up file
    #[arg(long, value_name = "FILE.toml")]
    pub save: Option<PathBuf>,
    /// Replace the file of --save if it is there
    #[arg(long)]
    pub force: bool,
    /// The next control that you move does this; may be given again
    #[arg(long, value_name = "ACTION")]
    pub learn: Vec<Action>,
    /// Show it in a window, and set everything there; closing it ends the
    /// bridge
    #[arg(long)]
    pub window: bool,
    /// Show nothing
    #[arg(long)]
    pub quiet: bool,
    /// Show a line of JSON an event
    #[arg(long, conflicts_with = "quiet")]
    pub json: bool,
    /// Add what happens to a log file
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// End after so many seconds
    #[arg(long = "for", value_name = "SECONDS", value_parser = decimal(0.0, 1e6, "seconds"))]
    pub for_seconds: Option<f64>,
    /// The set-up file that the words came from.
    #[arg(skip)]
    pub loaded: Option<PathBuf>,
    /// What was said beside the set-up file, and goes before it.
    #[arg(skip)]
    pub said: SetupWords,
    /// What the built-in sound plays on.
    #[arg(skip)]
    pub timbre: Timbre,
    /// The song to begin with, from 1.
    #[arg(skip)]
    pub song: Option<usize>,
    /// Set and ports are kept for the next start.
    #[arg(skip)]
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
    let mut options = resolve(&words).map_err(Failure::Input)?;
    let set = SetList::read(&words).map_err(Failure::Input)?;
    let log = how.log.as_deref().map(LogFile::open).transpose().map_err(Failure::Machine)?;
    if let Some(path) = &how.save {
        save(path, &words, how.loaded.as_deref(), how.force)?;
    }
    keep_failures();
    let mut links = None;
    let take = pane.as_ref().map_or_else(Arc::default, |pane| pane.log.clone());
    options.log = Some(take.clone());
    let started = hushed(|| start(&words, &options, &how.timbre, &mut links));
    let (rig, links, absent) = match (started, links) {
        (Ok(rig), Some(links)) => (rig, links, None),
        // A window stays, and waits for the system; a terminal can be told.
        (Err(fault), _) if pane.is_some() => (absent(), idle(&options), Some(fault)),
        (Err(fault), _) => return Err(Failure::Machine(fault)),
        (Ok(_), None) => return Err(Failure::Machine("the stage did not start".into())),
    };
    let show = shown(&how);
    let said = String::new();
    let (given, seen, below) = (SetEntry::default(), None, None);
    let (monitor, watch) = (Monitor::default(), FileWatch::over(how.loaded.as_deref(), &words));
    let mut session = LiveSession {
        words,
        how,
        set,
        options,
        rig,
        links,
        show,
        log,
        take,
        pane,
        said,
        given,
        seen,
        below,
        monitor,
        watch,
        zoned: false,
        chosen: None,
    };
    if let Some(fault) = absent {
        session.say(&fault);
    }
    session.first();
    session.play(&end.told);
    session.keep_last();
    for line in session.rig.end() {
        session.log(&line);
    }
    session.say("ended, every note is off");
    Ok(()) // dropping the screen gives the terminal back
}

/// Where it is told what goes on.
fn shown(how: &How) -> Box<dyn Show> {
    if how.quiet {
        return Box::new(Quiet);
    }
    if how.json {
        return Box::new(Json::default());
    }
    match (!how.window).then(Screen::take).flatten() {
        Some(screen) => Box::new(screen),
        None => Box::new(Lines),
    }
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
            std::thread::sleep(Duration::from_secs_f64(seconds));
            let _ = by_time.send(());
        });
    }
    Ok(End { stop, told })
}

/// The bridge while it plays, from the free world.
struct LiveSession {
    words: SetupWords,
    how: How,
    set: SetList,
    options: StageOptions,
    rig: Box<dyn Rig>,
    links: Links,
    show: Box<dyn Show>,
    log: Option<LogFile>,
    /// Both hands, for takes.
    take: Arc<TakeLog>,
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
    watch: FileWatch,
    /// Zones were set: where there are none any more, that is told too.
    zoned: bool,
    /// The pattern that a control chose, until another is chosen otherwise.
    chosen: Option<&'static str>,
}

impl LiveSession {
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
        self.say_if_fitted();
        self.learn_next();
    }

    /// A waltz on four, and the like.
    fn say_if_fitted(&mut self) {
        if let Some(fitted) = self.set.fitted() {
            self.say(&fitted);
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
            self.errands();
            for pressed in self.show.pressed() {
                match pressed {
                    Pressed::End => return,
                    Pressed::Keep => self.keep_take(),
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

    /// The MIDI system went: a new rig as soon as it is back, set as it was.
    fn again(&mut self, news: &mut Vec<String>) {
        let mut links = None;
        if let Some(seen) = &self.seen {
            self.options.settings = seen.settings;
            self.options.time = seen.time;
            self.options.left = seen.left;
        }
        if let (Ok(rig), Some(links)) =
            (hushed(|| start(&self.words, &self.options, &self.how.timbre, &mut links)), links)
        {
            (self.rig, self.links) = (rig, links);
            self.zone();
            news.push("the MIDI system is back".into());
            self.give_again();
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
            self.say_if_fitted();
        }
    }

    /// Chart and pattern for a stage that begins afresh; all else is set.
    fn give_again(&mut self) {
        self.command(Command::Entry(self.given.clone()));
    }

    fn command(&mut self, command: Command) {
        if matches!(command, Command::Pattern(_) | Command::Entry(_)) {
            self.chosen = None;
        }
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
