//! The thread that carries every note of ALSA, CoreMIDI, WinMM and the
//! built-in sound. It alone owns the outputs. A key goes through at once; the
//! left hand is played by the monotonic clock, a millisecond ahead. It is told
//! of ports over bounded queues, and neither locks nor allocates.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rtrb::{Consumer, Producer, RingBuffer};

use super::bell::Bell;
use super::intake::Inbox;
use super::keyboards::INPUTS;
use super::meter::Meter;
use super::midi::Short;
use super::outlet::{Outlet, Who, Wire};
use super::period::Time;
use super::plays::Plays;
use super::stage::To;
use super::urgent::{Urgency, urgent};
use super::zones::{MOST as ZONES, ZoneHand};

/// Outputs at most.
pub const OUTPUTS: usize = 16;
/// Frames a second: what a frame is worth when there is no sound card.
pub const RATE: f64 = 48_000.0;
/// A block is a millisecond: the left hand answers a chord within one.
const FRAMES: u32 = 48;
/// After this long with nothing to do, the thread sleeps until it is woken.
const IDLE_S: f64 = 0.3;
/// How long it then sleeps at most.
const SLEEP: Duration = Duration::from_secs(1);
/// More than this behind, time that is lost is not made up.
const LOST_S: f64 = 0.25;
/// Sleep is late by what the system allows itself (50 µs on Linux): before a
/// note, so much is waited awake.
const AWAKE_S: f64 = 60e-6;
/// How long the last ends may take.
const LAST_S: f64 = 1.5;

/// A wire that may be handed from thread to thread.
pub type BoxedWire = Box<dyn Wire + Send>;

/// What is asked of the thread.
pub enum HubOrder {
    /// A keyboard is plugged in at this input.
    Input(usize, Inbox),
    /// Its keys sound by themselves on these outputs, a bit each.
    Echoes(usize, u64),
    /// What is for this zone goes to these outputs, a bit each.
    Zone(usize, u64),
    /// An instrument is plugged in at this output.
    Plug(usize, BoxedWire),
    /// It is gone.
    Unplug(usize),
    /// It is no longer to be sent to: what sounds on it ends first.
    Leave(usize),
    /// To this output alone, and beside its notes: a loudness.
    Say(usize, Short),
    /// Every note ends, with all that MIDI knows on all channels.
    Panic,
}

/// What is no longer needed, to be dropped where dropping is allowed.
pub enum Spent {
    /// An output's.
    Wire(#[expect(dead_code, reason = "only dropped")] BoxedWire),
    /// An input's.
    Inbox(#[expect(dead_code, reason = "only dropped")] Inbox),
}

/// Which outputs (a bit each) hear what.
#[derive(Clone, Copy, Debug)]
pub struct Routes {
    /// The left hand.
    pub left: u64,
    /// The metronome.
    pub click: u64,
    /// MIDI clock.
    pub clock: u64,
}

impl Routes {
    fn of(self, to: To) -> u64 {
        match to {
            To::Left => self.left,
            To::Click => self.click,
            To::Clock => self.clock,
        }
    }
}

/// What the thread and the free world share. All of it is wait-free.
#[derive(Default)]
pub struct HubShared {
    /// Wakes the thread.
    pub bell: Arc<Bell>,
    /// How long through took.
    pub through: Meter,
    /// How late the left hand was sent.
    pub lateness: Meter,
    /// Messages given up.
    pub dropped: AtomicU32,
    /// Set to end the thread.
    pub quit: AtomicBool,
}

/// The free world's side.
pub struct HubControl {
    /// The bridge's second 0.
    pub epoch: Instant,
    /// See [`HubShared`].
    pub told: Arc<HubShared>,
    orders: Producer<HubOrder>,
    spent: Consumer<Spent>,
}

impl HubControl {
    /// Asks for something; what was spent meanwhile is dropped.
    pub fn order(&mut self, order: HubOrder) {
        self.tidy();
        let _ = self.orders.push(order);
        self.told.bell.ring();
    }

    /// Drops what was spent.
    pub fn tidy(&mut self) {
        while self.spent.pop().is_ok() {}
    }
}

/// An output, plugged in or not.
#[derive(Default)]
struct HubOutput {
    outlet: Outlet,
    wire: Option<BoxedWire>,
}

impl HubOutput {
    fn send(&mut self, who: Who, message: &[u8]) {
        match &mut self.wire {
            Some(wire) => self.outlet.send(who, 0, message, &mut **wire),
            None => self.outlet.note(who, message),
        }
    }

    /// Tries again what was refused. Whether nothing is owed any more.
    fn flush(&mut self) -> bool {
        self.wire.as_mut().is_none_or(|wire| self.outlet.flush(0, &mut **wire))
    }
}

struct HubInput {
    inbox: Inbox,
    echoes: u64,
}

/// The thread's side.
pub struct Hub<P> {
    plays: P,
    routes: Routes,
    epoch: Instant,
    told: Arc<HubShared>,
    inputs: [Option<HubInput>; INPUTS],
    outputs: [HubOutput; OUTPUTS],
    /// The outputs of each zone, a bit each.
    zones: [u64; ZONES],
    orders: Consumer<HubOrder>,
    spent: Producer<Spent>,
    /// Where the next block starts, in seconds.
    at: f64,
    /// When there was last something to do.
    busy: f64,
}

/// Both sides, second 0 being now.
pub fn hub<P: Plays>(plays: P, routes: Routes) -> (Hub<P>, HubControl) {
    let (orders, to_hub) = RingBuffer::new(256);
    let (from_hub, spent) = RingBuffer::new(256);
    let (told, epoch) = (Arc::<HubShared>::default(), Instant::now());
    let hub = Hub {
        plays,
        routes,
        epoch,
        told: Arc::clone(&told),
        inputs: Default::default(),
        outputs: Default::default(),
        zones: [u64::MAX; ZONES],
        orders: to_hub,
        spent: from_hub,
        at: 0.0,
        busy: 0.0,
    };
    (hub, HubControl { epoch, told, orders, spent })
}

/// Starts the thread. It is over, and everything off, some time after
/// [`HubShared::quit`].
///
/// # Errors
/// If the system has no thread left.
pub fn spawn<P: Plays + 'static>(hub: Hub<P>) -> Result<JoinHandle<Hub<P>>, String> {
    std::thread::Builder::new()
        .name("stage".into())
        .spawn(move || hub.run())
        .map_err(|e| format!("cannot start a thread: {e}"))
}

/// Sends a message of a hand at `at` seconds to those of `route` that are its zones', as
/// they make it; to all of `route` where it has none.
fn carry(
    plays: &mut impl Plays,
    outputs: &mut [HubOutput],
    (zones, route): ([u64; ZONES], u64),
    (part, who): (Option<ZoneHand>, Who),
    at: f64,
    message: &[u8],
) {
    let Some(all) = plays.zoned(part, message) else {
        if let Some(message) = Short::new(message) {
            plays.sends(at, message);
        }
        return to_each(outputs, route, who, message);
    };
    for (zone, made) in all {
        plays.sends(at, made);
        let own = zones.get(zone).copied().unwrap_or(u64::MAX);
        to_each(outputs, own & route, who, made.bytes());
    }
}

/// Sends to each output whose bit is set.
fn to_each(outputs: &mut [HubOutput], bits: u64, who: Who, message: &[u8]) {
    let ways = outputs.iter_mut().enumerate();
    ways.filter(|(to, _)| bits >> to & 1 == 1).for_each(|(_, way)| way.send(who, message));
}

impl<P: Plays> Hub<P> {
    fn run(mut self) -> Self {
        self.told.bell.here();
        urgent(Urgency::Stage);
        self.at = self.now();
        while !self.told.quit.load(Ordering::Acquire) {
            self.take();
            let now = self.now();
            if self.plays.is_busy() {
                self.busy = now;
            }
            if now - self.at > LOST_S {
                self.at = now;
            }
            self.block();
            if now - self.busy > IDLE_S && self.flush() {
                self.plays.rests(now);
                self.told.bell.wait(SLEEP);
                self.at = self.now();
            } else {
                self.wait_until(self.at, 0.0);
            }
        }
        self.farewell();
        self
    }

    fn now(&self) -> f64 {
        self.epoch.elapsed().as_secs_f64()
    }

    /// Takes what is asked and what was played, and sends it through.
    pub fn take(&mut self) {
        while let Ok(order) = self.orders.pop() {
            self.do_as_asked(order);
        }
        let now = self.now();
        for at in 0..INPUTS {
            self.take_from(at, now);
        }
        if let Some(input) = self.plays.is_lost(now) {
            self.lost(input, now);
        }
    }

    fn take_from(&mut self, at: usize, now: f64) {
        let Self { plays, inputs, outputs, zones, told, epoch, .. } = self;
        let Some(Some(HubInput { inbox, echoes })) = inputs.get_mut(at) else { return };
        while inbox.next(|came, message| {
            if plays.hear(at, came, message) {
                let to = (*zones, !*echoes);
                carry(plays, outputs, to, (Some(ZoneHand::Through), Who::Player), came, message);
                let took = epoch.elapsed().as_secs_f64() - came;
                told.through.count(Duration::from_secs_f64(took.max(0.0)));
            }
        }) {}
        let (over, lost_some) = (inbox.is_over(), inbox.lost_some());
        if over || lost_some {
            self.lost(at, now);
        }
        if over && let Some(input) = self.inputs.get_mut(at).and_then(Option::take) {
            let _ = self.spent.push(Spent::Inbox(input.inbox));
        }
    }

    fn lost(&mut self, input: usize, now: f64) {
        let Self { plays, inputs, outputs, zones, .. } = self;
        let echoes = inputs.get(input).and_then(Option::as_ref).map_or(0, |input| input.echoes);
        plays.lost(input, now, &mut |zone, end| {
            let of_zone = zone.and_then(|zone| zones.get(zone)).copied().unwrap_or(u64::MAX);
            to_each(outputs, of_zone & !echoes, Who::Player, end.bytes());
        });
    }

    fn do_as_asked(&mut self, order: HubOrder) {
        match order {
            HubOrder::Input(at, inbox) => {
                if let Some(place) = self.inputs.get_mut(at)
                    && let Some(old) = place.replace(HubInput { inbox, echoes: 0 })
                {
                    let _ = self.spent.push(Spent::Inbox(old.inbox));
                }
            }
            HubOrder::Echoes(at, echoes) => {
                if let Some(Some(input)) = self.inputs.get_mut(at) {
                    input.echoes = echoes;
                }
            }
            HubOrder::Plug(at, mut wire) => {
                if let Some(way) = self.outputs.get_mut(at) {
                    way.outlet.plug(&mut *wire);
                    if let Some(old) = way.wire.replace(wire) {
                        let _ = self.spent.push(Spent::Wire(old));
                    }
                }
            }
            HubOrder::Unplug(at) => {
                if let Some(way) = self.outputs.get_mut(at) {
                    way.outlet.unplug();
                    if let Some(old) = way.wire.take() {
                        let _ = self.spent.push(Spent::Wire(old));
                    }
                }
            }
            HubOrder::Leave(at) => {
                if let Some(way) = self.outputs.get_mut(at) {
                    if let Some(wire) = &mut way.wire {
                        way.outlet.silence(0, &mut **wire);
                    }
                    self.do_as_asked(HubOrder::Unplug(at));
                }
            }
            HubOrder::Say(at, message) => {
                if let Some(wire) = self.outputs.get_mut(at).and_then(|way| way.wire.as_mut()) {
                    let _ = wire.send(0, message.bytes());
                }
            }
            HubOrder::Zone(zone, outputs) => {
                if let Some(zone) = self.zones.get_mut(zone) {
                    *zone = outputs;
                }
            }
            HubOrder::Panic => {
                for way in &mut self.outputs {
                    if let Some(wire) = &mut way.wire {
                        way.outlet.silence(0, &mut **wire);
                    }
                }
            }
        }
    }

    /// Plays a millisecond, and sends what is due in it.
    pub fn block(&mut self) {
        let time = Time { now: self.at, frames: FRAMES, rate: RATE };
        if self.plays.play(time) {
            self.outputs.iter_mut().for_each(|way| way.outlet.hush_left());
            self.at = self.now();
        }
        if self.plays.rezoned() {
            self.do_as_asked(HubOrder::Panic);
        }
        let mut at = 0;
        while let Some(due) = self.plays.due().get(at).copied() {
            let when = time.now + f64::from(due.frame) / RATE;
            self.wait_until(when, AWAKE_S);
            let Self { plays, outputs, zones, routes, .. } = self;
            let whose = (ZoneHand::of(due.to), Who::Sinistra);
            let to = (*zones, routes.of(due.to));
            carry(plays, outputs, to, whose, when, due.message.bytes());
            if due.to == To::Left {
                let late = (self.now() - when).max(0.0);
                self.told.lateness.count(Duration::from_secs_f64(late));
            }
            at += 1;
        }
        self.flush();
        self.at += f64::from(FRAMES) / RATE;
    }

    /// Tries again what was refused. Whether nothing is owed any more.
    fn flush(&mut self) -> bool {
        let mut all = true;
        self.outputs.iter_mut().for_each(|way| all &= way.flush());
        let dropped = self.outputs.iter().map(|way| way.outlet.dropped()).sum();
        self.told.dropped.store(dropped, Ordering::Relaxed);
        all
    }

    /// Waits for `when`, the last `awake` seconds of it awake; what is played
    /// meanwhile goes through at once.
    fn wait_until(&mut self, when: f64, awake: f64) {
        loop {
            let left = when - self.now();
            if left <= 0.0 {
                return;
            }
            if left > awake {
                self.told.bell.wait(Duration::from_secs_f64((left - awake).min(1.0)));
                self.take();
            } else {
                std::hint::spin_loop();
            }
        }
    }

    /// Ends everything.
    pub fn farewell(&mut self) {
        self.take();
        self.outputs.iter_mut().for_each(|way| way.outlet.hush_all());
        let start = self.now();
        while !self.flush() && self.now() - start < LAST_S {
            std::thread::sleep(Duration::from_millis(2));
        }
        for HubOutput { outlet, wire } in &mut self.outputs {
            if let Some(wire) = wire {
                outlet.farewell(|end| {
                    let _ = wire.send(0, end.bytes());
                });
            }
        }
    }
}
