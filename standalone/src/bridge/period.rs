//! The bridge without a device: what the keyboards sent goes in, what the
//! outputs are to be sent comes out, a period at a time. JACK's process, the
//! thread of the other systems and the tests drive it; none of it waits, locks
//! or allocates.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use arrayvec::ArrayVec;
use rtrb::{Consumer, Producer};

use super::feedback::Came;
use super::keyboards::Keyboards;
use super::midi::{ACTIVE_SENSING, Short};
use super::outlet::{Outlet, Who, Wire};
use super::run::{After, Guard, StagePlayer};
use super::stage::{Command, DueMessage, KeyboardMessage, MOST_HEARD, Stage};
use super::withheld::Withheld;
#[cfg(doc)]
use super::zones::Zones;
use super::zones::{MOST as ZONES, ZoneHand};

/// Messages of one period that the stage hears; through knows no such limit.
const HEARD: usize = 16_384;
/// Messages of one period that the stage sends.
const DUE: usize = 16_384;

/// What the bridge and the free world share.
#[derive(Default)]
pub struct Flags {
    /// A keyboard that promised to be heard of was not.
    pub fell_silent: AtomicBool,
    /// The input, from 1, at which what was sent comes back; 0 for none.
    pub ring: AtomicU32,
    /// Our own code failed.
    pub failed: AtomicBool,
    /// Every note, now.
    pub panic: AtomicBool,
    /// Messages given up.
    pub dropped: AtomicU32,
}

/// A stretch of time.
#[derive(Clone, Copy, Debug)]
pub struct Time {
    /// Its beginning, seconds on the bridge's clock.
    pub now: f64,
    /// Its length.
    pub frames: u32,
    /// Frames a second.
    pub rate: f64,
}

impl Time {
    fn at(&self, frame: u32) -> f64 {
        self.now + f64::from(frame) / self.rate
    }
}

/// Hears, and plays.
pub struct Bridge {
    player: StagePlayer,
    guard: Guard,
    withheld: Arc<Withheld>,
    flags: Arc<Flags>,
    keyboards: Keyboards,
    /// What the stage hears next, in order.
    heard: Vec<KeyboardMessage>,
    /// What is to be sent in this period, in order.
    due: Vec<DueMessage>,
    /// Something was not heard by the stage: a note-off may be among it.
    lost_some: bool,
    /// A fresh stage for when this one fails, and the way home of that one.
    spare: Consumer<Box<Stage>>,
    old: Producer<Box<Stage>>,
    /// The stage failed and is to be exchanged.
    broken: bool,
    /// The stage failed too often: through alone goes on.
    given_up: bool,
}

impl Bridge {
    /// A bridge at rest. Not real-time safe.
    pub fn new(
        player: StagePlayer,
        withheld: Arc<Withheld>,
        flags: Arc<Flags>,
        (spare, old): (Consumer<Box<Stage>>, Producer<Box<Stage>>),
    ) -> Self {
        Self {
            player,
            guard: Guard::default(),
            withheld,
            flags,
            keyboards: Keyboards::default(),
            heard: Vec::with_capacity(HEARD),
            due: Vec::with_capacity(DUE),
            lost_some: false,
            spare,
            old,
            broken: false,
            given_up: false,
        }
    }

    /// `bytes`, one whole message, came from `input` at `at` seconds; the
    /// stage hears it at `frame` of the period to come. Whether it goes through.
    pub fn hear(&mut self, input: usize, at: f64, frame: u32, bytes: &[u8]) -> bool {
        match self.keyboards.hear(input, at, bytes) {
            Came::Played => {}
            Came::Echo => return false,
            Came::Ring => {
                self.flags.ring.store(u32::try_from(input + 1).unwrap_or(0), Ordering::Release);
                return false;
            }
        }
        if let Some(message) = Short::new(bytes) {
            let heard = KeyboardMessage { at, frame, keyboard: input, message };
            self.player.note(Some(input), message);
            tell(&mut self.heard, &mut self.lost_some, heard);
        }
        !self.withheld.has(bytes)
    }

    /// The keyboard at `input` is gone, at `at` seconds: what was down on it
    /// comes up. `send` is given each end that goes through,
    /// with the zone that it is for.
    pub fn lost(&mut self, input: usize, at: f64, mut send: impl FnMut(Option<usize>, Short)) {
        // After what else came, so that all stays in order.
        let frame = self.heard.last().map_or(0, |last| last.frame);
        let Self { keyboards, heard, lost_some, withheld, player, .. } = self;
        keyboards.lost(input, |end| {
            tell(heard, lost_some, KeyboardMessage { at, frame, keyboard: input, message: end });
            if withheld.has(end.bytes()) {
                return;
            }
            match player.zones().each(ZoneHand::Through, end.bytes()) {
                None => send(None, end),
                Some(all) => all.into_iter().for_each(|(zone, end)| send(Some(zone), end)),
            }
        });
    }

    /// A keyboard to be taken for lost: it promised to be heard of and was
    /// not, or what we sent came back from it.
    pub fn is_lost(&mut self, now: f64) -> Option<usize> {
        if let Some(input) = self.keyboards.cut() {
            return Some(input);
        }
        let input = self.keyboards.fell_silent(now)?;
        self.flags.fell_silent.store(true, Ordering::Release);
        Some(input)
    }

    /// We send `message` at `now`: it must not come back as if it were played.
    pub fn sends(&mut self, now: f64, message: Short) {
        self.player.note(None, message);
        self.keyboards.sends(now, message);
    }

    /// What the zones of a hand make of a message, as [`Zones::each`]; `None` for what is
    /// of no hand.
    pub fn zoned(
        &self,
        part: Option<ZoneHand>,
        message: &[u8],
    ) -> Option<ArrayVec<(usize, Short), ZONES>> {
        self.player.zones().each(part?, message)
    }

    /// Whether the zones changed, once: then what sounds must end.
    pub fn rezoned(&mut self) -> bool {
        self.player.rezoned()
    }

    /// Plays the period, having heard what came. What is due is in order of
    /// its frame; empty where the stage has failed. `true` if it failed now.
    pub fn play(&mut self, time: Time) -> bool {
        self.due.clear();
        self.exchange();
        if self.given_up || self.broken {
            self.heard.clear();
            return false;
        }
        let Self { player, heard, due, .. } = self;
        if std::mem::take(&mut self.lost_some) {
            player.stage.command(Command::LetGo, time.now, &mut player.sink);
        }
        let work = || parts(player, time, heard, due);
        let failed = self.guard.run(time.now, work);
        self.heard.clear();
        if let Err(after) = failed {
            self.flags.failed.store(true, Ordering::Release);
            self.due.clear();
            self.broken = true;
            self.given_up = after == After::GiveUp;
            return true;
        }
        false
    }

    /// What [`Self::play`] wants sent.
    pub fn due(&self) -> &[DueMessage] {
        &self.due
    }

    /// Whether time moves, or something waits to be done.
    pub fn is_busy(&self) -> bool {
        self.player.stage.moves() || self.player.is_wanted() || !self.heard.is_empty()
    }

    /// Shows the stage as it is.
    pub fn look(&mut self, now: f64) {
        self.player.look(now);
    }

    /// A stage that failed is exchanged for a fresh one, once it is there.
    fn exchange(&mut self) {
        if self.broken
            && !self.given_up
            && let Ok(fresh) = self.spare.pop()
        {
            let failed = self.player.exchange(fresh);
            let _ = self.old.push(failed);
            self.broken = false;
        }
    }

    /// One whole period with one keyboard port and one output, sample for
    /// sample: `came` are frame and message, in order. With `end`, nothing
    /// begins any more.
    pub fn period<'a>(
        &mut self,
        time: Time,
        came: impl Iterator<Item = (u32, &'a [u8])> + Clone,
        (outlet, wire): (&mut Outlet, &mut dyn Wire),
        end: bool,
    ) {
        // What goes through is sent in a second walk, in order with ours.
        let mut through = Bits::default();
        for (n, (frame, bytes)) in came.clone().enumerate() {
            through.set(n, self.hear(0, time.at(frame), frame, bytes));
        }
        if let Some(input) = self.is_lost(time.now) {
            self.lost(input, time.now, |_, end| {
                outlet.send(Who::Player, 0, end.bytes(), &mut *wire);
            });
        }
        if end {
            self.due.clear();
            self.heard.clear();
        } else if self.play(time) {
            outlet.hush_left();
        }
        let panic = self.flags.panic.swap(false, Ordering::AcqRel);
        if self.player.rezoned() {
            // Before anything of this period goes by the new ones.
            outlet.silence(0, &mut *wire);
        }
        let silent = panic || end;
        let due = std::mem::take(&mut self.due);
        let mut ours = due.iter().peekable();
        let last = time.frames.saturating_sub(1);
        let mut send = |part, who, frame: u32, bytes: &[u8], bridge: &mut Self| {
            if silent && begins(bytes) {
                return;
            }
            let mut one = |bytes: &[u8], bridge: &mut Self| {
                if let Some(message) = Short::new(bytes) {
                    bridge.sends(time.at(frame), message);
                }
                outlet.send(who, frame, bytes, &mut *wire);
            };
            match bridge.zoned(part, bytes) {
                None => one(bytes, bridge),
                Some(all) => all.iter().for_each(|(_, made)| one(made.bytes(), bridge)),
            }
        };
        for (n, next) in came.map(Some).chain([None]).enumerate() {
            // Ours that come before the player's next; behind the last, the rest.
            let is_next = |frame| next.is_none_or(|(next, _)| frame < next);
            while let Some(due) = ours.next_if(|due| is_next(due.frame)) {
                let (part, frame) = (ZoneHand::of(due.to), due.frame.min(last));
                send(part, Who::Sinistra, frame, due.message.bytes(), self);
            }
            if let Some((frame, bytes)) = next.filter(|_| through.has(n)) {
                send(Some(ZoneHand::Through), Who::Player, frame, bytes, self);
            }
        }
        self.due = due;
        if panic {
            outlet.silence(last, &mut *wire);
        } else if end {
            outlet.hush_all();
        }
        outlet.flush(last, &mut *wire);
        self.flags.dropped.store(outlet.dropped(), Ordering::Relaxed);
    }
}

/// Lets the stage hear something; whether there was no room is noted.
fn tell(all: &mut Vec<KeyboardMessage>, lost_some: &mut bool, heard: KeyboardMessage) {
    // Nothing in the stage listens to active sensing.
    if heard.message.status() == ACTIVE_SENSING {
        return;
    }
    if all.len() < HEARD {
        all.push(heard);
    } else {
        *lost_some = true;
    }
}

/// Plays a period in as many parts as it takes for the stage to hear it all.
fn parts(
    player: &mut StagePlayer,
    time: Time,
    heard: &mut [KeyboardMessage],
    due: &mut Vec<DueMessage>,
) {
    let mut from = 0;
    let mut rest = heard;
    loop {
        let many = rest.len().min(MOST_HEARD);
        let (now, later) = std::mem::take(&mut rest).split_at_mut(many);
        let to = later.first().map_or(time.frames, |first| first.frame.clamp(from, time.frames));
        now.iter_mut().for_each(|heard| heard.frame = heard.frame.saturating_sub(from));
        player.block(time.at(from), to - from, time.rate, now);
        for sent in &player.sink.due {
            if due.len() < DUE {
                due.push(DueMessage { frame: sent.frame + from, ..*sent });
            }
        }
        if later.is_empty() {
            return;
        }
        (from, rest) = (to, later);
    }
}

/// Whether a message begins something: not sent any more at the end.
fn begins(message: &[u8]) -> bool {
    Short::new(message).is_some_and(|m| m.status() & 0xF0 == 0x90 && m.two() > 0)
}

/// A yes or no for each message of a period.
struct Bits([u64; HEARD / 64]);

impl Default for Bits {
    fn default() -> Self {
        Self([0; HEARD / 64])
    }
}

impl Bits {
    fn set(&mut self, n: usize, yes: bool) {
        if let Some(word) = self.0.get_mut(n / 64) {
            *word |= u64::from(yes) << (n % 64);
        }
    }

    /// Past the last, which nobody sends in one period, everything goes through.
    fn has(&self, n: usize) -> bool {
        self.0.get(n / 64).is_none_or(|word| word >> (n % 64) & 1 == 1)
    }
}

#[cfg(test)]
#[path = "period_test.rs"]
mod tests;
