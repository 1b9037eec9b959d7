//! Keeps the chosen ports connected while instruments come and go.

use std::sync::Arc;

use super::choose::{ChosenPorts, Selector, choose, is_own};
use super::system::{Closer, MidiSystem, SeenPort};
use crate::bridge::hub::{HubControl, HubOrder, OUTPUTS};
use crate::bridge::intake::intake;
use crate::bridge::keyboards::INPUTS;

/// What happened to a port.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum PortNews {
    Hears(String),
    SendsTo(String),
    InGone(String),
    OutGone(String),
    /// Somebody took the cable out: it stays out.
    InParted(String),
    OutParted(String),
    Failed(String),
    /// A keyboard that promised to be heard of was not (active sensing).
    FellSilent,
    /// Named and not there, told once.
    WaitsFor(String),
    /// A name that could be several ports, and those: the first is taken.
    Ambiguous(String, Vec<String>),
    /// What is sent to the second comes back from the first.
    Ring(String, String),
    /// Another bridge is at work.
    Twice,
}

impl std::fmt::Display for PortNews {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Hears(port) => write!(f, "hears {port}"),
            Self::SendsTo(port) => write!(f, "sends to {port}"),
            Self::InGone(port) => write!(f, "{port} is unplugged: its notes are ended"),
            Self::OutGone(port) => write!(f, "{port} is gone: waiting for it"),
            Self::InParted(port) => write!(f, "{port} was disconnected: its notes are ended"),
            Self::OutParted(port) => write!(f, "{port} was disconnected"),
            Self::Failed(fault) => f.write_str(fault),
            Self::FellSilent => {
                f.write_str("a keyboard fell silent (active sensing): its notes are ended")
            }
            Self::WaitsFor(port) => write!(f, "waits for {port}"),
            Self::Ambiguous(name, ports) => {
                let first = ports.first().map_or("", String::as_str);
                write!(
                    f,
                    "`{name}` could be {}: {first} is taken; say more of its name",
                    ports.join(" or ")
                )
            }
            Self::Ring(from, to) => write!(
                f,
                "what is sent to {to} comes back from {from}: the ring is cut; switch off there \
                 what sends its input on (MIDI thru, echo)"
            ),
            Self::Twice => f.write_str(
                "another Sinistra is at work here: on the same ports every note sounds twice; \
                 end one of them",
            ),
        }
    }
}

struct KeptInput {
    port: Option<SeenPort>,
    slot: usize,
    echoes: u64,
    _open: Box<dyn Closer>,
}

struct OutputPort {
    port: Option<SeenPort>,
    slot: usize,
}

/// Why a port is closed.
#[derive(Clone, Copy)]
enum Closing {
    Gone,
    Left,
}

/// A port's name, or that it is ours.
fn name(port: &Option<SeenPort>) -> String {
    port.as_ref().map_or_else(|| "virtual".into(), |port| port.name.clone())
}

/// Holds what is open.
pub struct Keeper {
    from: Vec<Selector>,
    to: Vec<Selector>,
    /// Whether keys are sent back to the instrument that they are on.
    echo: bool,
    /// The first outputs are left alone: the built-in sound has them.
    taken: usize,
    ins: Vec<KeptInput>,
    outs: Vec<OutputPort>,
    told: Vec<String>,
    missing: Vec<String>,
    /// Names of what is there, as it was last looked at.
    there: (Vec<String>, Vec<String>),
    /// Whether the ports were looked at before.
    looked: bool,
    /// Others were chosen since.
    rewired: bool,
    /// The module of each zone, and the outputs that it had last.
    zones: Vec<(Option<Selector>, u64)>,
}

impl Keeper {
    /// For these ports. The first `taken` outputs are left alone.
    pub fn new((from, to): (Vec<Selector>, Vec<Selector>), echo: bool, taken: usize) -> Self {
        let (ins, outs, told, missing, there, looked, rewired, zones) = Default::default();
        Self { from, to, echo, taken, ins, outs, told, missing, there, looked, rewired, zones }
    }

    /// For these ports from the next look on.
    pub fn rewire(&mut self, from: Vec<Selector>, to: Vec<Selector>) {
        (self.from, self.to, self.rewired) = (from, to, true);
    }

    /// The module that each zone names, from the next look on.
    pub fn zone(&mut self, modules: impl Iterator<Item = Option<Selector>>) {
        self.zones = modules.map(|module| (module, 0)).collect();
    }

    /// Names of what could be heard, then of what could be sent to.
    pub fn there(&self) -> &(Vec<String>, Vec<String>) {
        &self.there
    }

    /// Looks at what is there, closes what went and opens what came.
    pub fn look(
        &mut self,
        system: &mut dyn MidiSystem,
        desk: &mut HubControl,
        mut tell: impl FnMut(PortNews),
    ) {
        desk.tidy();
        let (inputs, outputs) = match system.ports() {
            Ok(ports) => ports,
            Err(fault) => return self.tell_once(fault.clone(), PortNews::Failed(fault), &mut tell),
        };
        // Before a port of ours is open, one of that name is another's.
        if !std::mem::replace(&mut self.looked, true) && inputs.iter().chain(&outputs).any(is_own) {
            tell(PortNews::Twice);
        }
        // What was named by number stays what it was, wherever it moves.
        pin(&mut self.from, &inputs);
        pin(&mut self.to, &outputs);
        let gone = |port: Option<&SeenPort>, heard: bool| {
            let there = if heard { &inputs } else { &outputs };
            port.is_some_and(|port| !there.contains(port))
        };
        self.close(desk, Closing::Gone, gone, &mut tell);
        let names = |ports: &[SeenPort]| {
            ports.iter().filter(|port| !is_own(port)).map(|port| port.name.clone()).collect()
        };
        self.there = (names(&inputs), names(&outputs));
        let mut chosen = choose(&inputs, &outputs, &self.from, &self.to);
        if std::mem::take(&mut self.rewired) {
            let ins = (&chosen.from, chosen.own_in);
            let outs = (&chosen.to, chosen.own_out);
            let left = |port: Option<&SeenPort>, heard: bool| {
                let (ports, own) = if heard { ins } else { outs };
                !port.map_or(own, |port| ports.contains(port))
            };
            self.close(desk, Closing::Left, left, &mut tell);
        }
        if self.to.is_empty() {
            // By default one module: the one that is open stays.
            let open = self.outs.iter().any(|out| out.port.is_some());
            if open || self.taken > 0 {
                chosen.to.clear();
            }
        }
        self.open_chosen(system, desk, chosen, &mut tell);
        self.note_echoes(desk);
        self.note_zones(desk, &outputs);
    }

    /// Tells what was named in vain, and opens what is chosen and is not open.
    fn open_chosen(
        &mut self,
        system: &mut dyn MidiSystem,
        desk: &mut HubControl,
        chosen: ChosenPorts,
        tell: &mut impl FnMut(PortNews),
    ) {
        for (name, ports) in chosen.ambiguous {
            let news = PortNews::Ambiguous(name.clone(), ports);
            self.tell_once(format!("several {name}"), news, tell);
        }
        self.missing = chosen.missing.iter().map(ToString::to_string).collect();
        for missing in chosen.missing {
            let name = missing.to_string();
            self.tell_once(format!("no {name}"), PortNews::WaitsFor(name), tell);
        }
        let outs = chosen.to.into_iter().map(Some).chain(chosen.own_out.then_some(None));
        for port in outs.collect::<Vec<_>>() {
            if !self.outs.iter().any(|out| out.port == port) {
                self.open_out(system, desk, port, tell);
            }
        }
        let ins = chosen.from.into_iter().map(Some).chain(chosen.own_in.then_some(None));
        for port in ins.collect::<Vec<_>>() {
            if !self.ins.iter().any(|input| input.port == port) {
                self.open_in(system, desk, port, tell);
            }
        }
    }

    /// Zones go with their modules, wherever those are plugged in.
    fn note_zones(&mut self, desk: &mut HubControl, outputs: &[SeenPort]) {
        let Self { zones, outs, .. } = self;
        for (n, (module, before)) in zones.iter_mut().enumerate() {
            let bits = match module {
                None => u64::MAX,
                Some(module) => {
                    let chosen = choose(&[], outputs, &[], std::slice::from_ref(module));
                    let own = |out: &&OutputPort| match &out.port {
                        Some(port) => chosen.to.contains(port),
                        None => chosen.own_out,
                    };
                    outs.iter().filter(own).fold(0, |bits, out| bits | 1 << out.slot)
                }
            };
            if bits != std::mem::replace(before, bits) {
                desk.order(HubOrder::Zone(n, bits));
            }
        }
    }

    /// No more comes in.
    pub fn close_inputs(&mut self) {
        self.ins.clear();
    }

    /// The names of what is open: heard, then sent to.
    pub fn open(&self) -> (Vec<String>, Vec<String>) {
        (
            self.ins.iter().map(|i| name(&i.port)).collect(),
            self.outs.iter().map(|o| name(&o.port)).collect(),
        )
    }

    /// The name of what is heard at an input.
    pub fn input(&self, slot: usize) -> Option<String> {
        let open = self.ins.iter().find(|input| input.slot == slot)?;
        open.port.as_ref().map(|port| port.name.clone())
    }

    /// What was named and is not there.
    pub fn missing(&self) -> &[String] {
        &self.missing
    }

    /// Closes what is gone, or goes because it is no longer chosen: `goes` is
    /// asked with each port, and whether it is heard.
    fn close(
        &mut self,
        desk: &mut HubControl,
        why: Closing,
        goes: impl Fn(Option<&SeenPort>, bool) -> bool,
        tell: &mut impl FnMut(PortNews),
    ) {
        for at in (0..self.ins.len()).rev() {
            if self.ins.get(at).is_some_and(|input| goes(input.port.as_ref(), true)) {
                // Its queue is abandoned with it: what was down comes up.
                let KeptInput { port, _open, .. } = self.ins.swap_remove(at);
                drop(_open);
                desk.told.bell.ring();
                tell(match why {
                    Closing::Gone => PortNews::InGone(name(&port)),
                    Closing::Left => PortNews::InParted(name(&port)),
                });
            }
        }
        for at in (0..self.outs.len()).rev() {
            if self.outs.get(at).is_some_and(|out| goes(out.port.as_ref(), false)) {
                let OutputPort { port, slot } = self.outs.swap_remove(at);
                let (order, news) = match why {
                    Closing::Gone => (HubOrder::Unplug(slot), PortNews::OutGone(name(&port))),
                    Closing::Left => (HubOrder::Leave(slot), PortNews::OutParted(name(&port))),
                };
                desk.order(order);
                tell(news);
            }
        }
    }

    fn open_in(
        &mut self,
        system: &mut dyn MidiSystem,
        desk: &mut HubControl,
        port: Option<SeenPort>,
        tell: &mut impl FnMut(PortNews),
    ) {
        let Some(slot) = (0..INPUTS).find(|slot| self.ins.iter().all(|i| i.slot != *slot)) else {
            return;
        };
        let name = port.as_ref().map_or("a virtual port", |p| &p.name).to_owned();
        let (intake, inbox) = intake(desk.epoch, Arc::clone(&desk.told.bell));
        match system.hear(port.as_ref(), intake) {
            Ok(open) => {
                desk.order(HubOrder::Input(slot, inbox));
                self.told.retain(|told| !told.contains(&name));
                self.ins.push(KeptInput { port, slot, echoes: 0, _open: open });
                tell(PortNews::Hears(name));
            }
            Err(fault) => {
                let fault = format!("cannot hear {name}: {fault}");
                self.tell_once(fault.clone(), PortNews::Failed(fault), tell);
            }
        }
    }

    fn open_out(
        &mut self,
        system: &mut dyn MidiSystem,
        desk: &mut HubControl,
        port: Option<SeenPort>,
        tell: &mut impl FnMut(PortNews),
    ) {
        let free = (self.taken..OUTPUTS).find(|slot| self.outs.iter().all(|o| o.slot != *slot));
        let Some(slot) = free else { return };
        let name = port.as_ref().map_or("a virtual port", |p| &p.name).to_owned();
        match system.send(port.as_ref()) {
            Ok(wire) => {
                self.told.retain(|told| !told.contains(&name));
                desk.order(HubOrder::Plug(slot, wire));
                self.outs.push(OutputPort { port, slot });
                tell(PortNews::SendsTo(name));
            }
            Err(fault) => {
                let fault = format!("cannot send to {name}: {fault}");
                self.tell_once(fault.clone(), PortNews::Failed(fault), tell);
            }
        }
    }

    /// An instrument that is heard and sent to sounds its keys by itself.
    fn note_echoes(&mut self, desk: &mut HubControl) {
        for input in &mut self.ins {
            let same = |out: &&OutputPort| {
                !self.echo
                    && matches!((&input.port, &out.port), (Some(a), Some(b)) if a.name == b.name)
            };
            let echoes = self.outs.iter().filter(same).fold(0u64, |bits, o| bits | 1 << o.slot);
            if echoes != std::mem::replace(&mut input.echoes, echoes) {
                desk.order(HubOrder::Echoes(input.slot, echoes));
            }
        }
    }

    fn tell_once(&mut self, what: String, news: PortNews, tell: &mut impl FnMut(PortNews)) {
        if !self.told.contains(&what) {
            self.told.push(what);
            tell(news);
        }
    }
}

/// Numbers become names as soon as a port is there.
fn pin(selectors: &mut [Selector], ports: &[SeenPort]) {
    for selector in selectors {
        if let Selector::Number(number) = selector
            && let Some(port) = ports.get(*number - 1)
        {
            *selector = Selector::Name(stem(&port.name).to_owned());
        }
    }
}

/// A name without the `20:0` that ALSA's client numbers add: they change when
/// an instrument is plugged in again.
pub fn stem(name: &str) -> &str {
    match name.rsplit_once(' ') {
        Some((stem, end)) if end.split(':').all(|part| part.parse::<u8>().is_ok()) => stem,
        _ => name,
    }
}

#[cfg(test)]
mod tests;
