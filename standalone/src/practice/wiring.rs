//! The practice room's MIDI ports, kept connected by a thread of their own
//! while instruments come and go.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rtrb::{Consumer, Producer, RingBuffer};
use sinistra_core::engine::Message;

use crate::bridge::{
    BoxedWire, Came, DueMessage, Hub, HubControl, HubOrder, Keeper, Keyboards, MidiSystem, Plays,
    PortNews, Routes, Selector, Short, SystemName, Time, To, hub, spawn, system_of,
};
use crate::failure::Failure;
use crate::quiet::hushed;

/// How often the ports are looked at.
const LOOK: Duration = Duration::from_millis(400);
/// How often a keyboard is asked whether it fell silent.
const TEND: Duration = Duration::from_millis(20);
/// Messages that may wait, either way.
const QUEUE: usize = 4096;

#[derive(Clone, Debug)]
pub struct Ports {
    /// The MIDI system.
    pub system: SystemName,
    /// Keyboards; none named is all.
    pub from: Vec<Selector>,
    /// Sound modules.
    pub to: Vec<Selector>,
    /// Whether the player's own keys are sent on.
    pub echo: bool,
}

/// Ports at work: the room's side of the thread that carries its notes.
pub struct Wiring {
    epoch: Instant,
    wishes: Producer<WiringRequest>,
    heard: Consumer<(f64, Short)>,
    ring: Box<dyn Fn() + Send>,
    news: Receiver<PortNews>,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// What the room asks for.
enum WiringRequest {
    /// Sends it to every output.
    Play(Short),
    /// Ends every note of ours.
    Hush,
}

impl Wiring {
    /// Opens what there is; `built_in` is a sound of our own. Gives what was
    /// named, or needed, and is not there.
    ///
    /// # Errors
    /// If there is no thread left.
    pub fn open(
        ports: &Ports,
        built_in: Option<BoxedWire>,
    ) -> Result<(Self, Vec<Failure>), Failure> {
        // Without a module by name nothing but our own sound is played on.
        let taken = usize::from(ports.to.is_empty());
        let (wishes, to_room) = RingBuffer::new(QUEUE);
        let (from_room, heard) = RingBuffer::new(QUEUE);
        let room = RoomPlayer {
            keyboards: Keyboards::default(),
            echo: ports.echo,
            fell_silent: Arc::default(),
            wishes: to_room,
            heard: from_room,
            due: Vec::with_capacity(QUEUE),
            hushed: false,
        };
        let fell_silent = Arc::clone(&room.fell_silent);
        let all = Routes { left: u64::MAX, click: u64::MAX, clock: u64::MAX };
        let (hub, mut to_hub) = hub(room, all);
        let failed = |why| Failure::Machine(format!("no thread is left: {why}"));
        let carries = spawn(hub).map_err(failed)?;
        if let Some(wire) = built_in {
            to_hub.order(HubOrder::Plug(0, wire));
        }
        let bell = Arc::clone(&to_hub.told);
        let epoch = to_hub.epoch;
        let named = (ports.from.clone(), ports.to.clone());
        let (tell, news) = channel();
        let mut porter = Porter {
            system: hushed(|| system_of(ports.system)),
            keeper: Keeper::new(named, false, taken),
            desk: to_hub,
            carries,
            fell_silent,
            tell,
        };
        let lacks = hushed(|| porter.first_look(ports));
        let quit = Arc::<AtomicBool>::default();
        let over = Arc::clone(&quit);
        let thread = std::thread::Builder::new()
            .name("ports".into())
            .spawn(move || porter.keep(&over))
            .map_err(|e| failed(e.to_string()))?;
        let ring = Box::new(move || bell.bell.ring());
        Ok((Self { epoch, wishes, heard, ring, news, quit, thread: Some(thread) }, lacks))
    }

    /// Sends to every output.
    pub fn play(&mut self, message: Message) {
        self.wish(WiringRequest::Play(message.into()));
    }

    /// Every note of ours ends.
    pub fn hush(&mut self) {
        self.wish(WiringRequest::Hush);
    }

    fn wish(&mut self, wish: WiringRequest) {
        let _ = self.wishes.push(wish);
        (self.ring)();
    }

    /// The next message from a keyboard, and when it came.
    pub fn heard(&mut self) -> Option<(Instant, Message)> {
        loop {
            let (at, message) = self.heard.pop().ok()?;
            let at = self.epoch + Duration::from_secs_f64(at.max(0.0));
            if let Some(message) = Message::read(message) {
                return Some((at, message));
            }
        }
    }

    /// What became of the ports since the last question.
    pub fn news(&self) -> Option<PortNews> {
        self.news.try_recv().ok()
    }
}

impl Drop for Wiring {
    fn drop(&mut self) {
        self.quit.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// What plays in the room's ports: whatever the room wishes. Real-time safe.
struct RoomPlayer {
    keyboards: Keyboards,
    /// Whether keys go through.
    echo: bool,
    fell_silent: Arc<AtomicBool>,
    wishes: Consumer<WiringRequest>,
    heard: Producer<(f64, Short)>,
    due: Vec<DueMessage>,
    /// Every note of ours is to end.
    hushed: bool,
}

impl Plays for RoomPlayer {
    fn hear(&mut self, input: usize, at: f64, message: &[u8]) -> bool {
        let played = self.keyboards.hear(input, at, message) == Came::Played;
        if let Some(message) = Short::new(message).filter(|_| played) {
            let _ = self.heard.push((at, message));
        }
        played && self.echo
    }

    fn lost(&mut self, input: usize, at: f64, send: &mut dyn FnMut(Option<usize>, Short)) {
        let Self { keyboards, heard, echo, .. } = self;
        keyboards.lost(input, |end| {
            let _ = heard.push((at, end));
            if *echo {
                send(None, end);
            }
        });
    }

    fn is_lost(&mut self, now: f64) -> Option<usize> {
        let input = self.keyboards.fell_silent(now)?;
        self.fell_silent.store(true, Ordering::Release);
        Some(input)
    }

    fn sends(&mut self, now: f64, message: Short) {
        self.keyboards.sends(now, message);
    }

    fn play(&mut self, _: Time) -> bool {
        self.due.clear();
        self.hushed = false;
        while self.due.len() < QUEUE
            && let Ok(wish) = self.wishes.pop()
        {
            match wish {
                WiringRequest::Play(message) => {
                    self.due.push(DueMessage { frame: 0, to: To::Left, message })
                }
                WiringRequest::Hush => {
                    // What was wished before has been sent or is hushed as well.
                    self.due.clear();
                    self.hushed = true;
                }
            }
        }
        self.hushed
    }

    fn due(&self) -> &[DueMessage] {
        &self.due
    }

    fn is_busy(&self) -> bool {
        !self.wishes.is_empty()
    }

    fn rests(&mut self, _: f64) {}
}

/// Keeps the ports.
struct Porter {
    system: Box<dyn MidiSystem>,
    keeper: Keeper,
    desk: HubControl,
    carries: JoinHandle<Hub<RoomPlayer>>,
    fell_silent: Arc<AtomicBool>,
    tell: Sender<PortNews>,
}

impl Porter {
    /// Opens what is there; gives what is not.
    fn first_look(&mut self, ports: &Ports) -> Vec<Failure> {
        let (ins, outs) = match self.system.ports() {
            Ok(there) => there,
            Err(fault) => return vec![Failure::Machine(fault)],
        };
        self.look();
        let (hears, sends) = self.keeper.open();
        let mut lacks = Vec::new();
        if hears.is_empty() {
            lacks.push(missing("keyboard", &ports.from, ins.iter().map(|seen| &*seen.name)));
        }
        if sends.is_empty() && !ports.to.is_empty() {
            lacks.push(missing("sound module", &ports.to, outs.iter().map(|seen| &*seen.name)));
        }
        lacks
    }

    fn look(&mut self) {
        let tell = &self.tell;
        self.keeper.look(&mut *self.system, &mut self.desk, |news| {
            let _ = tell.send(news);
        });
    }

    fn keep(mut self, quit: &AtomicBool) {
        let mut looked = Instant::now();
        while !quit.load(Ordering::Acquire) {
            if self.fell_silent.swap(false, Ordering::AcqRel) {
                let _ = self.tell.send(PortNews::FellSilent);
            }
            if looked.elapsed() >= LOOK {
                self.look();
                looked = Instant::now();
            }
            std::thread::sleep(TEND);
        }
        self.keeper.close_inputs();
        self.desk.told.quit.store(true, Ordering::Release);
        self.desk.told.bell.ring();
        drop(self.carries.join()); // every note is off, and the wires close
    }
}

fn missing<'a>(what: &str, wanted: &[Selector], names: impl Iterator<Item = &'a str>) -> Failure {
    let names: Vec<&str> = names.collect();
    let there = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
    let advice = "hint: record a take elsewhere and have it judged with --take TAKE.mid";
    match wanted.first() {
        Some(wanted) => Failure::Input(format!(
            "no MIDI port `{wanted}` for the {what}\nports: {there}\n{advice}"
        )),
        None => Failure::Machine(format!("no MIDI {what}\nports: {there}\n{advice}")),
    }
}
