//! The desk: the texts that the player edits, and the ways to and from the
//! audio world.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use parking_lot::Mutex;
use sinistra_core::engine::{Settings, Snapshot};
use sinistra_core::foresee::Song;
use sinistra_core::play::Pattern;
use sinistra_panel::home::{PatternCard, PlayersText};
use sinistra_panel::take::{self, TakeLog};
use sinistra_panel::{look, music_folder};
use sinistra_score::{Chart, PatternFile};
use triple_buffer::{Input, Output, triple_buffer};

use super::delay::DelayReport;
use super::host::HostSide;
use crate::audio::mailbox::{Receiver, Sender, mailbox};

/// One for each instance; shared by the window, the state and the parameters.
pub struct Instance {
    papers: Mutex<Papers>,
    snapshot: Mutex<Output<Snapshot>>,
    log: Arc<TakeLog>,
    /// Whether a window is open.
    watched: AtomicBool,
    /// By how much the right hand is delayed.
    pub delay: DelayReport,
    /// The host's marks and menus.
    pub host: HostSide,
    /// The presets in teaching order.
    cards: &'static [PatternCard],
}

/// What lies on the desk, and the ways out.
struct Papers {
    texts: Texts,
    /// Both as they were when the last edit was over.
    settled: Texts,
    /// Both after each edit, by its number: a host that takes an edit back sets that.
    after: Vec<(i32, Texts)>,
    /// The window's size as the system counts it, if it was open.
    size: Option<(u32, u32)>,
    look: look::LookChoice,
    /// Fields of the state that a newer version wrote; kept for it.
    newer: BTreeMap<String, String>,
    songs: Sender<Option<Box<Song>>>,
    patterns: Sender<Option<Box<Pattern>>>,
}

/// Chart and own pattern.
type Texts = [String; 2];

/// Edits whose texts are remembered.
const EDITS: usize = 100;

/// The audio world's ends of the ways.
pub struct AudioSide {
    /// New charts.
    pub songs: Receiver<Option<Box<Song>>>,
    /// What to show.
    pub snapshot: Input<Snapshot>,
    /// What was just played.
    pub log: Arc<TakeLog>,
}

/// What becomes of a text with faults.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Faulty {
    /// While it is being written, what was played before goes on.
    GoOn,
    /// Loaded with a project, there is nothing to go on with.
    PlayNone,
}

impl Instance {
    /// A window opens or closes.
    pub fn watch(&self, open: bool) {
        self.watched.store(open, Ordering::Relaxed);
    }

    /// Whether anybody looks. Real-time safe.
    pub fn is_watched(&self) -> bool {
        self.watched.load(Ordering::Relaxed)
    }

    /// A tidy desk, the audio world's ends, and the way of the own pattern.
    pub fn new(
        cards: &'static [PatternCard],
    ) -> (Arc<Self>, AudioSide, Receiver<Option<Box<Pattern>>>) {
        let (songs, songs_in) = mailbox();
        let (patterns, patterns_in) = mailbox();
        let (snapshot_out, snapshot) = triple_buffer(&Snapshot::default());
        let log = Arc::new(TakeLog::default());
        let papers = Papers {
            texts: Texts::default(),
            settled: Texts::default(),
            after: Vec::new(),
            size: None,
            look: look::LookChoice::default(),
            newer: BTreeMap::new(),
            songs,
            patterns,
        };
        let desk = Self {
            papers: Mutex::new(papers),
            snapshot: Mutex::new(snapshot),
            log: log.clone(),
            watched: false.into(),
            delay: DelayReport::default(),
            host: HostSide::default(),
            cards,
        };
        let audio = AudioSide { songs: songs_in, snapshot: snapshot_out, log };
        (Arc::new(desk), audio, patterns_in)
    }

    /// The latest snapshot.
    pub fn snapshot(&self) -> Snapshot {
        self.snapshot.lock().read().clone()
    }

    /// The presets in teaching order.
    pub fn cards(&self) -> &[PatternCard] {
        self.cards
    }

    /// The name of a pattern by its number; numbers to come are named too.
    pub fn pattern_name(&self, number: i32) -> String {
        match self.cards.iter().find(|card| card.number == number) {
            Some(card) => card.name.clone(),
            None if number == 0 => "My own".into(),
            None => format!("(free {number})"),
        }
    }

    /// A text as it was written.
    pub fn text(&self, which: PlayersText) -> String {
        self.papers.lock().texts[which as usize].clone()
    }

    /// The look of the window.
    pub fn look(&self) -> look::LookChoice {
        self.papers.lock().look
    }

    /// What a newer version keeps with the project.
    pub fn newer(&self) -> BTreeMap<String, String> {
        self.papers.lock().newer.clone()
    }

    /// Keeps it, as it is, for the next save.
    pub fn set_newer(&self, newer: BTreeMap<String, String>) {
        self.papers.lock().newer = newer;
    }

    /// Remembers the look of the window.
    pub fn set_look(&self, look: look::LookChoice) {
        self.papers.lock().look = look.mended();
    }

    /// Lays a text on the desk and sends what it says to be played.
    pub fn set_text(&self, which: PlayersText, text: &str, faulty: Faulty) {
        let mut papers = self.papers.lock();
        text.clone_into(&mut papers.texts[which as usize]);
        let none = faulty == Faulty::PlayNone;
        match which {
            PlayersText::Chart => match Chart::read("chart", text) {
                Ok(chart) if !text.trim().is_empty() => {
                    papers.songs.send(Some(Box::new(chart.unfold())));
                }
                _ if none || text.trim().is_empty() => papers.songs.send(None),
                _ => {}
            },
            PlayersText::OwnPattern => match PatternFile::compile("my pattern", text) {
                Ok(pattern) => papers.patterns.send(Some(pattern)),
                Err(_) if none => papers.patterns.send(None),
                Err(_) => {}
            },
        }
    }

    /// An edit is over: the host's number for it was `before`, and is `now`.
    pub fn edited(&self, before: i32, now: i32) {
        let mut papers = self.papers.lock();
        let texts = papers.texts.clone();
        if !papers.after.iter().any(|(number, _)| *number == before) {
            let settled = papers.settled.clone();
            papers.after.push((before, settled));
        }
        papers.after.retain(|(number, _)| *number != now);
        papers.after.push((now, texts.clone()));
        papers.settled = texts;
        if papers.after.len() > EDITS {
            papers.after.remove(0);
        }
    }

    /// The host has set the number of edits: it took one back, or did it again. The
    /// texts are again as they were after it.
    pub fn recall(&self, number: i32) {
        let papers = self.papers.lock();
        let found = papers.after.iter().find(|(after, _)| *after == number);
        let Some(texts) = found.map(|(_, texts)| texts.clone()) else { return };
        drop(papers);
        for (which, text) in [PlayersText::Chart, PlayersText::OwnPattern].into_iter().zip(&texts) {
            if self.text(which) != *text {
                self.set_text(which, text, Faulty::GoOn);
            }
        }
        self.papers.lock().settled = texts;
    }

    /// A project was loaded: its texts are no edit of what was there.
    pub(super) fn settle(&self) {
        let mut papers = self.papers.lock();
        papers.settled = papers.texts.clone();
        papers.after.clear();
    }

    /// The window's size as the system counts it, if it is known.
    pub fn size(&self) -> Option<(u32, u32)> {
        self.papers.lock().size
    }

    /// Remembers the window's size with the project.
    pub fn set_size(&self, size: (u32, u32)) {
        self.papers.lock().size = Some(size);
    }

    /// Keeps the last bars, played with `settings`, where the player's music is.
    ///
    /// # Errors
    /// What went wrong, for the player to read.
    pub fn keep(&self, bars: usize, settings: &Settings) -> Result<PathBuf, String> {
        take::keep(&self.log, bars, settings, &music_folder()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_that_takes_an_edit_back_gets_the_texts_of_before() {
        let (desk, ..) = Instance::new(&[]);
        desk.set_text(PlayersText::Chart, "| C |", Faulty::PlayNone);
        desk.settle(); // as a project is loaded
        let edit = |chart: &str, before| {
            desk.set_text(PlayersText::Chart, chart, Faulty::GoOn);
            desk.edited(before, before + 1);
        };
        edit("| C | F |", 7);
        edit("| C | F | G |", 8);
        desk.recall(9);
        assert_eq!(
            desk.text(PlayersText::Chart),
            "| C | F | G |",
            "its own number changes nothing"
        );
        desk.recall(8);
        assert_eq!(desk.text(PlayersText::Chart), "| C | F |");
        desk.recall(7);
        assert_eq!(desk.text(PlayersText::Chart), "| C |");
        desk.recall(8);
        assert_eq!(desk.text(PlayersText::Chart), "| C | F |", "done again");
        // Another way on from there.
        edit("| Am |", 8);
        desk.recall(8);
        desk.recall(9);
        assert_eq!(desk.text(PlayersText::Chart), "| Am |");
        desk.recall(77);
        assert_eq!(desk.text(PlayersText::Chart), "| Am |", "a number of nobody's");
    }
}
