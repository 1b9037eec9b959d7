//! The rig of JACK (and PipeWire, through its JACK library): the stage runs
//! in the server's own thread, on its samples.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientStatus, Control, Error, MidiIn, MidiOut, NotificationHandler,
};

use super::again::Again;
use super::jack_process::{Graph, Process};
use super::jack_sound::{self, JackSound};
use super::stock::StageStock;
use super::{Rig, RigOrder};
use crate::bridge::outlet::Outlet;

use crate::bridge::ports::{
    CLIENT, ChosenPorts, PortNews, SeenPort, Selector, choose, client, is_own, seen,
};

/// How long the last note-offs may take.
const LAST: Duration = Duration::from_millis(1500);

/// How long the last of what was sent may take to leave before a cable is taken out.
const PARTS: Duration = Duration::from_millis(60);

/// A bridge on the same server.
const OTHER: &str = "Sinistra";

/// At work.
pub struct Jacked {
    client: Option<AsyncClient<ServerWatch, Process>>,
    name: String,
    stock: StageStock,
    graph: Arc<Graph>,
    from: Vec<Selector>,
    to: Vec<Selector>,
    /// What is connected, by us or by the user.
    ins: Vec<SeenPort>,
    outs: Vec<SeenPort>,
    /// What we asked for; the server makes a connection between two periods,
    /// which may be later than the next look.
    asked: Vec<SeenPort>,
    /// What the user parted: we do not connect it again.
    parted: Vec<SeenPort>,
    told: Vec<String>,
    missing: Vec<String>,
    /// Names of what is there, as it was last looked at.
    there: (Vec<String>, Vec<String>),
    /// The built-in sound is wished for, and waits for a sound device.
    unheard: bool,
    /// Another bridge was there before us, and that is not yet told.
    twice: bool,
}

/// Hears of the server's end, and of periods that somebody missed.
pub struct ServerWatch(Arc<Graph>);

impl NotificationHandler for ServerWatch {
    #[allow(unsafe_code, reason = "the library names it so; nothing here is")]
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.0.server_gone.store(true, Ordering::Release);
    }

    fn xrun(&mut self, _: &Client) -> Control {
        self.0.missed.store(true, Ordering::Release);
        Control::Continue
    }
}

impl Jacked {
    /// Joins the server.
    ///
    /// # Errors
    /// If there is none, or it refuses.
    pub fn start(order: RigOrder<'_>) -> Result<Self, String> {
        let client = client(CLIENT)?;
        let name = client.name().to_owned();
        let twice = seen(&client).0.iter().any(|port| port.name.starts_with(OTHER));
        let refuses = |e: Error| format!("JACK refuses: {e}");
        let input = client.register_port("in", MidiIn::default()).map_err(refuses)?;
        let output = client.register_port("out", MidiOut::default()).map_err(refuses)?;
        let graph = Arc::<Graph>::default();
        let (words, rate) = (order.words, client.sample_rate());
        let sound =
            words.sound.then(|| JackSound::open(&client, words, order.timbre)).transpose()?;
        let (bridge, stock) = StageStock::new(order);
        let unheard = sound.is_some();
        let process = Process {
            sound,
            input,
            output,
            bridge,
            outlet: Outlet::default(),
            graph: Arc::clone(&graph),
            frames: 0,
            last: None,
            greet_in: 0,
            again: Again::new(rate),
        };
        let watch = ServerWatch(Arc::clone(&graph));
        let client = client.activate_async(watch, process).map_err(refuses)?;
        Ok(Self {
            client: Some(client),
            name,
            stock,
            graph,
            from: words.from.clone(),
            to: words.to.clone(),
            ins: Vec::new(),
            outs: Vec::new(),
            asked: Vec::new(),
            parted: Vec::new(),
            told: Vec::new(),
            missing: Vec::new(),
            there: Default::default(),
            unheard,
            twice,
        })
    }

    /// Ports of others that are connected to our port `own`.
    fn joined(&self, own: &str, there: &[SeenPort]) -> Vec<SeenPort> {
        let client = self.client.as_ref().map(AsyncClient::as_client);
        let port = client.and_then(|client| client.port_by_name(&format!("{}:{own}", self.name)));
        let names = port.map(|port| port.get_connections()).unwrap_or_default();
        let seen = |name: String| SeenPort { id: name.clone(), name };
        names.into_iter().map(seen).filter(|port| there.contains(port)).collect()
    }

    /// Notices what came and went at our ports, by whosever hand.
    fn notice(&mut self, ins: &[SeenPort], outs: &[SeenPort], tell: &mut dyn FnMut(PortNews)) {
        self.parted.retain(|port| ins.contains(port) || outs.contains(port));
        let (mut now_in, mut now_out) = (self.joined("in", ins), self.joined("out", outs));
        self.asked.retain(|port| !now_in.contains(port) && !now_out.contains(port));
        now_in
            .extend(self.asked.iter().filter(|p| self.ins.contains(p) && ins.contains(p)).cloned());
        now_out.extend(
            self.asked.iter().filter(|p| self.outs.contains(p) && outs.contains(p)).cloned(),
        );
        for port in self.ins.iter().filter(|port| !now_in.contains(port)) {
            self.graph.lost.store(true, Ordering::Release);
            if ins.contains(port) {
                self.parted.push(port.clone());
                tell(PortNews::InParted(port.name.clone()));
            } else {
                tell(PortNews::InGone(port.name.clone()));
            }
        }
        for port in self.outs.iter().filter(|port| !now_out.contains(port)) {
            if outs.contains(port) {
                self.parted.push(port.clone());
                tell(PortNews::OutParted(port.name.clone()));
            } else {
                tell(PortNews::OutGone(port.name.clone()));
            }
        }
        for port in now_in.iter().filter(|port| !self.ins.contains(port)) {
            self.parted.retain(|parted| parted != port);
            tell(PortNews::Hears(port.name.clone()));
        }
        for port in now_out.iter().filter(|port| !self.outs.contains(port)) {
            self.parted.retain(|parted| parted != port);
            if self.outs.is_empty() {
                self.graph.greet.store(true, Ordering::Release);
            }
            tell(PortNews::SendsTo(port.name.clone()));
        }
        (self.ins, self.outs) = (now_in, now_out);
    }

    /// Once: not again if the user parts them.
    fn connect_sound(&mut self, tell: &mut dyn FnMut(PortNews)) {
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        if self.unheard {
            for name in jack_sound::connect(client, &self.name) {
                self.unheard = false;
                tell(PortNews::SendsTo(name));
            }
        }
    }

    fn connect(&mut self, chosen: ChosenPorts, tell: &mut dyn FnMut(PortNews)) {
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        let (own_in, own_out) = (format!("{}:in", self.name), format!("{}:out", self.name));
        for port in chosen.from {
            let known = self.ins.contains(&port) || self.parted.contains(&port);
            if !known && client.connect_ports_by_name(&port.name, &own_in).is_ok() {
                tell(PortNews::Hears(port.name.clone()));
                self.asked.push(port.clone());
                self.ins.push(port);
            }
        }
        for port in chosen.to {
            let known = self.outs.contains(&port) || self.parted.contains(&port);
            if !known && client.connect_ports_by_name(&own_out, &port.name).is_ok() {
                if self.outs.is_empty() {
                    // It may still sound what it was left with.
                    self.graph.greet.store(true, Ordering::Release);
                }
                tell(PortNews::SendsTo(port.name.clone()));
                self.asked.push(port.clone());
                self.outs.push(port);
            }
        }
        self.missing = chosen.missing.iter().map(ToString::to_string).collect();
        for (name, ports) in chosen.ambiguous {
            if !self.told.contains(&name) {
                self.told.push(name.clone());
                tell(PortNews::Ambiguous(name, ports));
            }
        }
        for missing in chosen.missing {
            let name = missing.to_string();
            if !self.told.contains(&name) {
                self.told.push(name.clone());
                tell(PortNews::WaitsFor(name));
            }
        }
    }
}

impl Rig for Jacked {
    fn tend(&mut self, tell: &mut dyn FnMut(PortNews)) {
        if self.stock.flags.fell_silent.swap(false, Ordering::AcqRel) {
            tell(PortNews::FellSilent);
        }
        if self.stock.flags.ring.swap(0, Ordering::AcqRel) > 0 {
            let (from, to) = self.open();
            tell(PortNews::Ring(from.join(", "), to.join(", ")));
        }
    }

    fn look(&mut self, tell: &mut dyn FnMut(PortNews)) {
        if self.graph.server_gone.load(Ordering::Acquire) {
            if self.client.take().is_some() {
                tell(PortNews::Failed("the JACK server is gone".into()));
            }
            return;
        }
        self.stock.refresh();
        if std::mem::take(&mut self.twice) {
            tell(PortNews::Twice);
        }
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        let (inputs, outputs) = seen(client);
        let names = |ports: &[SeenPort]| {
            ports.iter().filter(|port| !is_own(port)).map(|port| port.name.clone()).collect()
        };
        self.there = (names(&inputs), names(&outputs));
        self.notice(&inputs, &outputs, tell);
        let mut chosen = choose(&inputs, &outputs, &self.from, &self.to);
        if self.to.is_empty() && !self.outs.is_empty() {
            chosen.to.clear();
        }
        self.connect(chosen, tell);
        self.connect_sound(tell);
    }

    fn panic(&mut self) {
        self.stock.flags.panic.store(true, Ordering::Release);
    }

    fn open(&self) -> (Vec<String>, Vec<String>) {
        let names = |ports: &[SeenPort]| ports.iter().map(|port| port.name.clone()).collect();
        (names(&self.ins), names(&self.outs))
    }

    fn there(&self) -> (Vec<String>, Vec<String>) {
        self.there.clone()
    }

    fn rewire(&mut self, from: Vec<Selector>, to: Vec<Selector>) {
        (self.from, self.to) = (from, to);
        self.parted.clear();
        let Some(client) = self.client.as_ref().map(AsyncClient::as_client) else { return };
        let (inputs, outputs) = seen(client);
        let chosen = choose(&inputs, &outputs, &self.from, &self.to);
        let goes = |there: &[SeenPort], stays: &[SeenPort]| -> Vec<SeenPort> {
            there.iter().filter(|port| !stays.contains(port)).cloned().collect()
        };
        let (ins, outs) = (goes(&self.ins, &chosen.from), goes(&self.outs, &chosen.to));
        if !outs.is_empty() {
            // One port of ours goes to all of them: all are ended before one is left.
            self.stock.flags.panic.store(true, Ordering::Release);
            std::thread::sleep(PARTS);
        }
        let (own_in, own_out) = (format!("{}:in", self.name), format!("{}:out", self.name));
        for port in &ins {
            let _ = client.disconnect_ports_by_name(&port.name, &own_in);
        }
        for port in &outs {
            let _ = client.disconnect_ports_by_name(&own_out, &port.name);
        }
        if !ins.is_empty() {
            self.graph.lost.store(true, Ordering::Release);
        }
        self.ins.retain(|port| !ins.contains(port));
        self.outs.retain(|port| !outs.contains(port));
        self.asked.retain(|port| !ins.contains(port) && !outs.contains(port));
    }

    fn zone(&mut self, modules: Vec<Option<Selector>>) -> Result<(), String> {
        match modules.into_iter().flatten().next() {
            None => Ok(()),
            Some(module) => Err(format!(
                "zone: `to = \"{module}\"` has no effect on JACK, where every zone leaves by one \
                 port: tell them apart by channel"
            )),
        }
    }

    fn piano(&mut self, percent: u8) {
        self.graph.loudness.store(percent.min(100) + 1, Ordering::Release);
    }

    fn missing(&self) -> Vec<String> {
        self.missing.clone()
    }

    fn dropped(&self) -> u32 {
        self.stock.flags.dropped.load(Ordering::Relaxed)
    }

    fn is_over(&self) -> bool {
        self.client.is_none()
    }

    fn failed(&mut self) -> bool {
        self.stock.failed()
    }

    fn end(&mut self) -> Vec<String> {
        self.graph.end.store(true, Ordering::Release);
        let start = Instant::now();
        let is_gone = || self.graph.server_gone.load(Ordering::Acquire);
        while start.elapsed() < LAST && !is_gone() && !self.graph.ended.load(Ordering::Acquire) {
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
