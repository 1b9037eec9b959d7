//! Look-ahead: the right hand is heard at once and sounds a span later.

use sinistra_core::engine::{Block, Engine, Transport};
use sinistra_core::time::Ticks;

use super::clock::{BlockStretch, HostTime};
use super::delay::EventDelay;
use super::lag::Lag;
use super::merge::Merge;
use super::player::SubBlock;
use super::span::{BeatSpan, BlockReport};
use super::through::{HostEvent, Through};

/// Frames by which a host may miss the place where it starts: some blocks.
const START: f64 = 4096.0;

/// The right hand on its way, and the clock that goes with it.
#[derive(Default)]
pub struct Ahead {
    /// How far.
    pub span: BeatSpan,
    /// What was heard and has not sounded yet.
    pub delay: EventDelay,
    /// The clock of what sounds.
    pub lag: Lag,
    /// The right hand as it is heard.
    pub hand: Through,
    /// Whether the host played, to see it stop.
    played: bool,
    /// Where it stood still last, in quarter notes.
    stood: Option<f64>,
    /// Whether the host tells where it is in what sounds, not in what the plugin
    /// hears; some do, and start as much before the place where they stood.
    sounding: bool,
}

impl Ahead {
    /// Whether the right hand is delayed.
    pub fn is_on(&self) -> bool {
        self.delay.frames() > 0
    }

    /// At the start of a block. A host that stops wants silence, so what is on
    /// its way is to be cut off then. Offline the span stays: hosts cannot
    /// start again in the midst of it. Real-time safe.
    pub fn follow(&mut self, said: BlockReport, frames: u32, live: bool) -> Follow {
        let changed = live && self.span.follow(said, frames);
        let stops = std::mem::replace(&mut self.played, said.playing) && !said.playing;
        Follow { changed, stops: stops && self.is_on() }
    }

    /// At the start of a block, before [`Self::follow`]: whose time is it that the
    /// host tells? Real-time safe.
    pub fn look_at(&mut self, host: &HostTime, tempo: f64, rate: f64) {
        let Some(beat) = host.beat else { return };
        if !host.playing {
            self.stood = Some(beat);
        } else if let Some(stood) = self.stood.take() {
            let frames = (stood - beat) * 60.0 / tempo * rate;
            let span = f64::from(self.span.frames());
            if self.is_on() && (frames - span).abs() < START {
                self.sounding = true;
            } else if frames.abs() < START {
                self.sounding = false;
            }
        }
    }

    /// Whether this block's clock is that of what sounds.
    pub fn is_sounding(&self) -> bool {
        self.sounding && self.played
    }

    /// What was on its way is cut off: ends and controllers come at once, notes
    /// that have not sounded never do. Then all begins anew. Real-time safe.
    pub fn cut(&mut self, engine: &mut Engine, transport: Transport) {
        let frames = self.span.frames();
        self.delay.cut(frames);
        self.hand.let_all_go();
        self.lag.restart(frames, transport);
        engine.lead(Ticks::ZERO, Ticks::ZERO);
    }

    /// The engine hears a part of a block, whose events go into the delay.
    /// Real-time safe.
    pub fn hear(&mut self, part: SubBlock, engine: &mut Engine, merge: &mut Merge) {
        part.each(self.lag.heard(), &mut self.hand.heard, |_, stretch, frames, events| {
            let transport = stretch.unrolled();
            engine.hear_ahead(&Block { frames, rate: part.rate, transport, events });
        });
        for event in self.hand.events.drain(..) {
            if let Err(event) = self.delay.push(event) {
                merge.drop(&event);
            }
        }
    }

    /// What sounds at the start of this block because it was cut off.
    pub fn next_cut(&mut self, merge: &mut Merge) -> Option<HostEvent> {
        loop {
            let event = self.delay.next_cut()?;
            if !matches!(event, HostEvent::NoteOn { .. }) {
                return Some(event);
            }
            merge.refuse(&event);
        }
    }

    /// Tells the engine how far it is ahead in stretch `n` of what is played.
    pub fn lead(lag: &Lag, n: usize, rate: f64, engine: &mut Engine) {
        let offset =
            lag.played().get(n).map_or(Ticks::ZERO, |stretch: &BlockStretch| stretch.offset);
        engine.lead(lag.ahead(n, rate), offset);
    }
}

/// What becomes of the delay in a block; cut it off if either is so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Follow {
    /// It is of other frames than before.
    pub changed: bool,
    /// The host has just stopped.
    pub stops: bool,
}
