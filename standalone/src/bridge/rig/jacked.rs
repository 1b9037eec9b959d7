//! The rig of JACK (and PipeWire, through its JACK library): the stage runs
//! in the server's own thread, on its samples.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use jack::{AsyncClient, ClientStatus, Error, MidiIn, MidiOut, NotificationHandler};

use super::jack_process::{Flags, Process};
use super::jack_sound::{self, JackSound};
use super::{Order, Rig};
use crate::bridge::midi::Down;
use crate::bridge::ports::{CLIENT, Chosen, News, Seen, Selector, choose, client, seen};
use crate::bridge::run::{Guard, links};
use crate::bridge::set::{roots, usual};
use crate::bridge::stage::Stage;
use crate::bridge::withheld::Withheld;

/// How long the last note-offs may take.
const LAST: Duration = Duration::from_millis(1500);

/// At work.
pub struct Jacked {
    client: Option<AsyncClient<Watch, Process>>,
    name: String,
    flags: Arc<Flags>,
    from: Vec<Selector>,
    to: Vec<Selector>,
    /// What we connected: not again if the user parts it.
    ins: Vec<Seen>,
    outs: Vec<Seen>,
    told: Vec<String>,
    /// The built-in sound is wished for, and waits for a sound device.
    unheard: bool,
}

/// Hears of the server's end.
pub struct Watch(Arc<Flags>);

impl NotificationHandler for Watch {
    #[allow(unsafe_code)]
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.0.server_gone.store(true, Ordering::Release);
    }
}

impl Jacked {
    /// Joins the server.
    ///
    /// # Errors
    /// If there is none, or it refuses.
    pub fn start(order: Order<'_>) -> Result<Self, String> {
        let client = client(CLIENT)?;
        let name = client.name().to_owned();
        let refuses = |e: Error| format!("JACK refuses: {e}");
        let input = client.register_port("in", MidiIn::default()).map_err(refuses)?;
        let output = client.register_port("out", MidiOut::default()).map_err(refuses)?;
        let (flags, withheld) = (Arc::<Flags>::default(), Arc::<Withheld>::default());
        withheld.set_clock(order.words.clock_out);
        order.options.map.withhold(&withheld);
        let (player, free) = links(Stage::new(order.options, usual(), roots(), 0.0));
        *order.links = Some(free);
        let sound = order.words.sound.then(|| JackSound::open(&client, order.words)).transpose()?;
        let unheard = sound.is_some();
        let process = Process {
            sound,
            input,
            output,
            player,
            withheld,
            flags: Arc::clone(&flags),
            frames: 0,
            last: None,
            guard: Guard::default(),
            player_down: Down::default(),
            ours_down: Down::default(),
            delivered: Down::default(),
            owes: false,
            given_up: false,
        };
        let watch = Watch(Arc::clone(&flags));
        let client = client.activate_async(watch, process).map_err(refuses)?;
        Ok(Self {
            client: Some(client),
            name,
            flags,
            from: order.words.from.clone(),
            to: order.words.to.clone(),
            ins: Vec::new(),
            outs: Vec::new(),
            told: Vec::new(),
            unheard,
        })
    }

    /// Once: not again if the user parts them.
    fn connect_sound(&mut self, tell: &mut dyn FnMut(News)) {
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        if self.unheard {
            for name in jack_sound::connect(client, &self.name) {
                self.unheard = false;
                tell(News::SendsTo(name));
            }
        }
    }

    fn connect(&mut self, chosen: Chosen, tell: &mut dyn FnMut(News)) {
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        let (own_in, own_out) = (format!("{}:in", self.name), format!("{}:out", self.name));
        for port in chosen.from {
            if !self.ins.contains(&port)
                && client.connect_ports_by_name(&port.name, &own_in).is_ok()
            {
                tell(News::Hears(port.name.clone()));
                self.ins.push(port);
            }
        }
        for port in chosen.to {
            if !self.outs.contains(&port)
                && client.connect_ports_by_name(&own_out, &port.name).is_ok()
            {
                tell(News::SendsTo(port.name.clone()));
                self.outs.push(port);
            }
        }
        for missing in chosen.missing {
            let name = missing.to_string();
            if !self.told.contains(&name) {
                self.told.push(name.clone());
                tell(News::WaitsFor(name));
            }
        }
    }
}

impl Rig for Jacked {
    fn look(&mut self, tell: &mut dyn FnMut(News)) {
        if self.flags.server_gone.load(Ordering::Acquire) {
            if self.client.take().is_some() {
                tell(News::Failed("the JACK server is gone".into()));
            }
            return;
        }
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        let (inputs, outputs) = seen(client);
        let gone = |open: &mut Vec<Seen>, there: &[Seen]| {
            let gone: Vec<Seen> = open.iter().filter(|p| !there.contains(p)).cloned().collect();
            open.retain(|p| there.contains(p));
            gone
        };
        for port in gone(&mut self.ins, &inputs) {
            self.flags.lost.store(true, Ordering::Release);
            tell(News::InGone(port.name));
        }
        for port in gone(&mut self.outs, &outputs) {
            tell(News::OutGone(port.name));
        }
        let mut chosen = choose(&inputs, &outputs, &self.from, &self.to);
        if self.to.is_empty() && !self.outs.is_empty() {
            chosen.to.clear();
        }
        self.connect(chosen, tell);
        self.connect_sound(tell);
    }

    fn wake(&self) {} // the server wakes us

    fn panic(&mut self) {
        self.flags.panic.store(true, Ordering::Release);
    }

    fn open(&self) -> (Vec<String>, Vec<String>) {
        let names = |ports: &[Seen]| ports.iter().map(|port| port.name.clone()).collect();
        (names(&self.ins), names(&self.outs))
    }

    fn dropped(&self) -> u32 {
        self.flags.dropped.load(Ordering::Relaxed)
    }

    fn late(&self) -> u64 {
        0 // what is sent is sent on its sample
    }

    fn is_over(&self) -> bool {
        self.client.is_none()
    }

    fn failed(&mut self) -> bool {
        self.flags.failed.swap(false, Ordering::AcqRel)
    }

    fn end(&mut self) -> Vec<String> {
        self.flags.end.store(true, Ordering::Release);
        let start = Instant::now();
        let is_gone = || self.flags.server_gone.load(Ordering::Acquire);
        while start.elapsed() < LAST && !is_gone() && !self.flags.ended.load(Ordering::Acquire) {
            std::thread::sleep(Duration::from_millis(2));
        }
        // One period more, so that the last of it has left our buffer.
        std::thread::sleep(Duration::from_millis(30));
        if let Some(client) = self.client.take() {
            let _ = client.deactivate();
        }
        vec!["ended with JACK".into()]
    }
}
