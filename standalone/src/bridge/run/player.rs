//! The stage with its links to the free world; the same for every system.

use rtrb::{Consumer, Producer, RingBuffer};
use sinistra_core::engine::{Settings, Snapshot};

use crate::bridge::midi::Short;
use crate::bridge::stage::{Command, KeyboardMessage, LeftHandWork, Report, Sink, Stage, Switched};
use crate::bridge::time::PaceChoice;
use crate::bridge::zones::Zones;

/// Seconds between two snapshots.
const A_LOOK: f64 = 0.04;

/// What the free world holds.
pub struct Links {
    /// Wishes.
    pub commands: Producer<Command>,
    /// News.
    pub reports: Consumer<Report>,
    /// Looks at the stage, the newest last.
    pub looks: Consumer<Look>,
    /// What came and went, for a monitor; nobody need read it.
    pub passed: Consumer<PassedMessage>,
}

/// A message that came or went.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassedMessage {
    /// The input that it came in at; `None` if it was sent.
    pub input: Option<usize>,
    pub message: Short,
}

/// What to show.
#[derive(Clone, Debug)]
pub struct Look {
    /// The engine's.
    pub snapshot: Snapshot,
    /// What the left hand does.
    pub left: LeftHandWork,
    /// The settings and the time as they were turned under the hands.
    pub settings: Settings,
    /// See [`Self::settings`].
    pub time: PaceChoice,
    /// Whether beats go by.
    pub moves: bool,
    pub held: Switched,
    /// The left hand plays an octave lower.
    pub octave_drop: bool,
}

/// The stage and its side of the links.
pub struct StagePlayer {
    /// Hears and plays.
    pub stage: Box<Stage>,
    /// What is to be sent after a block.
    pub sink: Sink,
    commands: Consumer<Command>,
    reports: Producer<Report>,
    looks: Producer<Look>,
    passed: Producer<PassedMessage>,
    looked: f64,
    /// Where each hand sounds, and how.
    zones: Zones,
    /// The zones are others: what sounds must end, for its ends would go elsewhere.
    rezoned: bool,
}

/// Joins a stage to the free world.
pub fn links(stage: Box<Stage>) -> (StagePlayer, Links) {
    let (to_stage, commands) = RingBuffer::new(64);
    let (reports, from_stage) = RingBuffer::new(4096);
    let (looks, seen) = RingBuffer::new(4);
    let (passed, monitor) = RingBuffer::new(1024);
    let sink = Sink::default();
    let (looked, zones, rezoned) = (f64::MIN, Zones::default(), false);
    let player =
        StagePlayer { stage, sink, commands, reports, looks, passed, looked, zones, rezoned };
    (player, Links { commands: to_stage, reports: from_stage, looks: seen, passed: monitor })
}

impl StagePlayer {
    /// Plays a block into the sink. Real-time safe: news that find no room
    /// are lost.
    pub fn block(&mut self, now: f64, frames: u32, rate: f64, heard: &[KeyboardMessage]) {
        self.sink.due.clear();
        while let Ok(command) = self.commands.pop() {
            if let Command::Zones(zones) = command {
                (self.zones, self.rezoned) = (zones, true);
                continue;
            }
            self.stage.command(command, now, &mut self.sink);
        }
        self.stage.block(now, frames, rate, heard, &mut self.sink);
        for news in self.sink.news.drain(..) {
            let _ = self.reports.push(news);
        }
        if now - self.looked >= A_LOOK || now < self.looked {
            self.look(now);
        }
    }

    /// Puts a fresh stage in the place of one that failed, which it gives
    /// back. Real-time safe.
    pub fn exchange(&mut self, mut fresh: Box<Stage>) -> Box<Stage> {
        fresh.resume(&mut self.stage);
        self.sink = self.sink.afresh();
        std::mem::replace(&mut self.stage, fresh)
    }

    /// Shows the stage as it is.
    pub fn look(&mut self, now: f64) {
        self.looked = now;
        let _ = self.looks.push(Look {
            snapshot: self.stage.snapshot().clone(),
            left: self.stage.left(),
            settings: self.stage.settings(),
            time: self.stage.time(),
            moves: self.stage.moves(),
            held: self.stage.held(),
            octave_drop: self.sink.drop_octave,
        });
    }

    /// Where each hand sounds, and how.
    pub fn zones(&self) -> &Zones {
        &self.zones
    }

    /// Whether the zones changed, once.
    pub fn rezoned(&mut self) -> bool {
        std::mem::take(&mut self.rezoned)
    }

    /// Notes down for a monitor what came or went; where nobody reads, nothing.
    pub fn note(&mut self, input: Option<usize>, message: Short) {
        let _ = self.passed.push(PassedMessage { input, message });
    }

    /// Whether a wish waits.
    pub fn is_wanted(&self) -> bool {
        !self.commands.is_empty()
    }
}
