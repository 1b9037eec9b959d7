//! The stage with its links to the free world; the same for every system.

use rtrb::{Consumer, Producer, RingBuffer};
use sinistra_core::engine::{Settings, Snapshot};

use crate::bridge::stage::{Command, KeyboardMessage, LeftHandWork, Report, Sink, Stage};
use crate::bridge::time::PaceChoice;

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
    looked: f64,
}

/// Joins a stage to the free world.
pub fn links(stage: Box<Stage>) -> (StagePlayer, Links) {
    let (to_stage, commands) = RingBuffer::new(64);
    let (reports, from_stage) = RingBuffer::new(4096);
    let (looks, seen) = RingBuffer::new(4);
    let player =
        StagePlayer { stage, sink: Sink::default(), commands, reports, looks, looked: f64::MIN };
    (player, Links { commands: to_stage, reports: from_stage, looks: seen })
}

impl StagePlayer {
    /// Plays a block into the sink. Real-time safe: news that find no room
    /// are lost.
    pub fn block(&mut self, now: f64, frames: u32, rate: f64, heard: &[KeyboardMessage]) {
        self.sink.due.clear();
        while let Ok(command) = self.commands.pop() {
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
        });
    }

    /// Whether a wish waits.
    pub fn is_wanted(&self) -> bool {
        !self.commands.is_empty()
    }
}
