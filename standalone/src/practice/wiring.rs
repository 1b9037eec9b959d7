//! The practice room's MIDI ports, kept connected by a thread of their own
//! while instruments come and go.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use parking_lot::Mutex;
use rtrb::{Consumer, RingBuffer};
use sinistra_core::engine::Message;

use crate::bridge::{
    Arrived, ChannelKind, Intake, Keeper, News, Outlet, QUEUE, Selector, Shared, Short, System,
    SystemName, Who, Wire, system_of,
};
use crate::failure::Failure;
use crate::quiet::hushed;

/// How often the ports are looked at.
const LOOK: Duration = Duration::from_millis(400);
/// How often a keyboard is asked whether it fell silent.
const TEND: Duration = Duration::from_millis(20);
/// How long the last note-offs may take.
const LAST: Duration = Duration::from_millis(1500);
/// Inputs and outputs at most.
const MOST: usize = 8;

/// Which ports.
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

/// Ports at work.
pub struct Wiring {
    epoch: Instant,
    outlets: Arc<[Mutex<Outlet>]>,
    heard: Vec<Consumer<Arrived>>,
    news: Receiver<News>,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Wiring {
    /// Opens what there is; `built_in` is a sound of our own. Gives what was
    /// named, or needed, and is not there.
    ///
    /// # Errors
    /// If there is no thread left.
    pub fn open(
        ports: &Ports,
        built_in: Option<Box<dyn Wire>>,
    ) -> Result<(Self, Vec<Failure>), Failure> {
        let outlets: Arc<[Mutex<Outlet>]> = (0..MOST).map(|_| Mutex::default()).collect();
        // Without a module by name nothing but our own sound is played on.
        let taken = usize::from(ports.to.is_empty());
        if let (Some(wire), Some(first)) = (built_in, outlets.first()) {
            first.lock().plug(wire);
        }
        let through = if ports.echo { Arc::clone(&outlets) } else { Arc::from([]) };
        let shared = Shared::new(through);
        let (mut intakes, mut heard) = (Vec::new(), Vec::new());
        for _ in 0..MOST {
            let (producer, consumer) = RingBuffer::new(QUEUE);
            intakes.push(Arc::new(Mutex::new(Intake::new(shared.clone(), producer))));
            heard.push(consumer);
        }
        let named = (ports.from.clone(), ports.to.clone());
        let (tell, news) = channel();
        let mut desk = Desk {
            system: hushed(|| system_of(ports.system)),
            keeper: Keeper::new(named, false, intakes.clone(), Arc::clone(&outlets), taken),
            intakes,
            tell,
        };
        let lacks = hushed(|| desk.first_look(ports));
        let quit = Arc::<AtomicBool>::default();
        let over = Arc::clone(&quit);
        let thread = std::thread::Builder::new()
            .name("ports".into())
            .spawn(move || desk.keep(&over))
            .map_err(|e| Failure::Machine(format!("no thread is left: {e}")))?;
        let epoch = shared.epoch;
        Ok((Self { epoch, outlets, heard, news, quit, thread: Some(thread) }, lacks))
    }

    /// Sends to every output.
    pub fn play(&self, message: Message) {
        let short = match message {
            Message::On { channel, key, velocity } => Short::on(channel, key, velocity),
            Message::Off { channel, key, velocity } => Short::off(channel, key, velocity),
            Message::Control { channel, controller, value } => {
                Short::channel_message(0xB0, channel, controller, value)
            }
        };
        self.outlets.iter().for_each(|outlet| {
            let mut outlet = outlet.lock();
            outlet.send(Who::Sinistra, short.bytes());
            outlet.flush();
        });
    }

    /// Every note of ours ends.
    pub fn hush(&self) {
        self.outlets.iter().for_each(|outlet| outlet.lock().hush_left());
    }

    /// The next message from a keyboard, and when it came.
    pub fn heard(&mut self) -> Option<(Instant, Message)> {
        // Of several keyboards, in the order in which it was played.
        let first = self
            .heard
            .iter_mut()
            .filter(|queue| !queue.is_empty())
            .min_by(|a, b| when(a).total_cmp(&when(b)))?;
        let Arrived { at, message } = first.pop().ok()?;
        let at = self.epoch + Duration::from_secs_f64(at.max(0.0));
        match message.channel().and_then(heard_as) {
            Some(message) => Some((at, message)),
            None => self.heard(),
        }
    }

    /// What became of the ports since the last question.
    pub fn news(&self) -> Option<News> {
        self.news.try_recv().ok()
    }
}

impl Drop for Wiring {
    fn drop(&mut self) {
        self.outlets.iter().for_each(|outlet| outlet.lock().hush_all());
        let start = Instant::now();
        while start.elapsed() < LAST && self.outlets.iter().any(|outlet| !outlet.lock().flush()) {
            std::thread::sleep(Duration::from_millis(2));
        }
        self.quit.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn when(queue: &Consumer<Arrived>) -> f64 {
    queue.peek().map_or(f64::INFINITY, |arrived| arrived.at)
}

fn heard_as((channel, kind): (u8, ChannelKind)) -> Option<Message> {
    Some(match kind {
        ChannelKind::On(key, velocity) => Message::On { channel, key, velocity },
        ChannelKind::Off(key, velocity) => Message::Off { channel, key, velocity },
        ChannelKind::Control(controller, value) => Message::Control { channel, controller, value },
        _ => return None,
    })
}

/// The thread's side.
struct Desk {
    system: Box<dyn System>,
    keeper: Keeper,
    intakes: Vec<Arc<Mutex<Intake>>>,
    tell: Sender<News>,
}

impl Desk {
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
        self.keeper.look(&mut *self.system, |news| {
            let _ = tell.send(news);
        });
    }

    fn keep(mut self, quit: &AtomicBool) {
        let mut looked = Instant::now();
        while !quit.load(Ordering::Acquire) {
            for intake in &self.intakes {
                let mut intake = intake.lock();
                if intake.fell_silent() {
                    intake.lost();
                    let _ = self.tell.send(News::FellSilent);
                }
            }
            if looked.elapsed() >= LOOK {
                self.look();
                looked = Instant::now();
            }
            std::thread::sleep(TEND);
        }
        self.keeper.close();
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
