//! Keeps the chosen ports connected while instruments come and go.

use std::sync::Arc;

use parking_lot::Mutex;

use super::choose::{Selector, choose};
use super::system::{Closer, Seen, System};
use crate::bridge::intake::Intake;
use crate::bridge::outlet::Outlet;

/// What happened to a port.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum News {
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
}

impl std::fmt::Display for News {
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
        }
    }
}

struct In {
    port: Option<Seen>,
    slot: usize,
    _open: Box<dyn Closer>,
}

struct Out {
    port: Option<Seen>,
    slot: usize,
}

/// Holds what is open.
pub struct Keeper {
    from: Vec<Selector>,
    to: Vec<Selector>,
    /// Whether keys are sent back to the instrument that they are on.
    echo: bool,
    intakes: Vec<Arc<Mutex<Intake>>>,
    outlets: Arc<[Mutex<Outlet>]>,
    /// Outputs that are taken by something else: the built-in sound.
    taken: usize,
    ins: Vec<In>,
    outs: Vec<Out>,
    told: Vec<String>,
    missing: Vec<String>,
}

impl Keeper {
    /// For these ports. The first `taken` outlets are left alone.
    pub fn new(
        (from, to): (Vec<Selector>, Vec<Selector>),
        echo: bool,
        intakes: Vec<Arc<Mutex<Intake>>>,
        outlets: Arc<[Mutex<Outlet>]>,
        taken: usize,
    ) -> Self {
        let (ins, outs, told, missing) = Default::default();
        Self { from, to, echo, intakes, outlets, taken, ins, outs, told, missing }
    }

    /// Looks at what is there, closes what went and opens what came.
    pub fn look(&mut self, system: &mut dyn System, mut tell: impl FnMut(News)) {
        let (inputs, outputs) = match system.ports() {
            Ok(ports) => ports,
            Err(fault) => return self.tell_once(fault.clone(), News::Failed(fault), &mut tell),
        };
        // What was named by number stays what it was, wherever it moves.
        pin(&mut self.from, &inputs);
        pin(&mut self.to, &outputs);
        self.close_gone(&inputs, &outputs, &mut tell);
        let mut chosen = choose(&inputs, &outputs, &self.from, &self.to);
        if self.to.is_empty() {
            // By default one module: the one that is open stays.
            let open = self.outs.iter().any(|out| out.port.is_some());
            if open || self.taken > 0 {
                chosen.to.clear();
            }
        }
        self.missing = chosen.missing.iter().map(ToString::to_string).collect();
        for missing in chosen.missing {
            let name = missing.to_string();
            self.tell_once(format!("no {name}"), News::WaitsFor(name), &mut tell);
        }
        let outs = chosen.to.into_iter().map(Some).chain(chosen.own_out.then_some(None));
        for port in outs.collect::<Vec<_>>() {
            if !self.outs.iter().any(|out| out.port == port) {
                self.open_out(system, port, &mut tell);
            }
        }
        let ins = chosen.from.into_iter().map(Some).chain(chosen.own_in.then_some(None));
        for port in ins.collect::<Vec<_>>() {
            if !self.ins.iter().any(|input| input.port == port) {
                self.open_in(system, port, &mut tell);
            }
        }
        self.note_echoes();
    }

    /// No more comes in.
    pub fn close_inputs(&mut self) {
        self.ins.clear();
    }

    /// Closes everything. What sounds must have been ended before.
    pub fn close(&mut self) {
        self.ins.clear();
        for out in self.outs.drain(..) {
            if let Some(outlet) = self.outlets.get(out.slot) {
                let wire = outlet.lock().unplug();
                drop(wire);
            }
        }
    }

    /// The names of what is open: heard, then sent to.
    pub fn open(&self) -> (Vec<String>, Vec<String>) {
        let name = |port: &Option<Seen>| port.as_ref().map_or("virtual".into(), |p| p.name.clone());
        (
            self.ins.iter().map(|i| name(&i.port)).collect(),
            self.outs.iter().map(|o| name(&o.port)).collect(),
        )
    }

    /// What was named and is not there.
    pub fn missing(&self) -> &[String] {
        &self.missing
    }

    fn close_gone(&mut self, ins: &[Seen], outs: &[Seen], tell: &mut impl FnMut(News)) {
        let is_gone = |port: &Option<Seen>, there: &[Seen]| {
            port.as_ref().is_some_and(|port| !there.contains(port))
        };
        for at in (0..self.ins.len()).rev() {
            if is_gone(&self.ins[at].port, ins) {
                let In { port, slot, _open } = self.ins.swap_remove(at);
                drop(_open); // before the intake is told: no more comes in
                if let Some(intake) = self.intakes.get(slot) {
                    intake.lock().lost();
                }
                tell(News::InGone(port.map_or_else(String::new, |p| p.name)));
            }
        }
        for at in (0..self.outs.len()).rev() {
            if is_gone(&self.outs[at].port, outs) {
                let Out { port, slot } = self.outs.swap_remove(at);
                if let Some(outlet) = self.outlets.get(slot) {
                    let wire = outlet.lock().unplug();
                    drop(wire);
                }
                tell(News::OutGone(port.map_or_else(String::new, |p| p.name)));
            }
        }
    }

    fn open_in(
        &mut self,
        system: &mut dyn System,
        port: Option<Seen>,
        tell: &mut impl FnMut(News),
    ) {
        let free = (0..self.intakes.len()).find(|slot| self.ins.iter().all(|i| i.slot != *slot));
        let Some((slot, intake)) = free.and_then(|s| Some((s, self.intakes.get(s)?))) else {
            return;
        };
        let name = port.as_ref().map_or("a virtual port", |p| &p.name).to_owned();
        match system.hear(port.as_ref(), Arc::clone(intake)) {
            Ok(open) => {
                self.told.retain(|told| !told.contains(&name));
                self.ins.push(In { port, slot, _open: open });
                tell(News::Hears(name));
            }
            Err(fault) => {
                let fault = format!("cannot hear {name}: {fault}");
                self.tell_once(fault.clone(), News::Failed(fault), tell);
            }
        }
    }

    fn open_out(
        &mut self,
        system: &mut dyn System,
        port: Option<Seen>,
        tell: &mut impl FnMut(News),
    ) {
        let free = (self.taken..self.outlets.len())
            .find(|slot| self.outs.iter().all(|out| out.slot != *slot));
        let Some((slot, outlet)) = free.and_then(|s| Some((s, self.outlets.get(s)?))) else {
            return;
        };
        let name = port.as_ref().map_or("a virtual port", |p| &p.name).to_owned();
        match system.send(port.as_ref()) {
            Ok(wire) => {
                self.told.retain(|told| !told.contains(&name));
                outlet.lock().plug(wire);
                self.outs.push(Out { port, slot });
                tell(News::SendsTo(name));
            }
            Err(fault) => {
                let fault = format!("cannot send to {name}: {fault}");
                self.tell_once(fault.clone(), News::Failed(fault), tell);
            }
        }
    }

    /// An instrument that is heard and sent to sounds its keys by itself.
    fn note_echoes(&self) {
        for input in &self.ins {
            let Some(intake) = self.intakes.get(input.slot) else { continue };
            let same = |out: &&Out| {
                !self.echo
                    && matches!((&input.port, &out.port), (Some(a), Some(b)) if a.name == b.name)
            };
            let echoes = self.outs.iter().filter(same).fold(0u64, |bits, o| bits | 1 << o.slot);
            intake.lock().echoes = echoes;
        }
    }

    fn tell_once(&mut self, what: String, news: News, tell: &mut impl FnMut(News)) {
        if !self.told.contains(&what) {
            self.told.push(what);
            tell(news);
        }
    }
}

/// Numbers become names as soon as a port is there.
fn pin(selectors: &mut [Selector], ports: &[Seen]) {
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
fn stem(name: &str) -> &str {
    match name.rsplit_once(' ') {
        Some((stem, end)) if end.split(':').all(|part| part.parse::<u8>().is_ok()) => stem,
        _ => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bridge::intake::{QUEUE, Shared};
    use crate::bridge::outlet::{Refused, Wire};

    /// A system of cardboard: ports by name, and what was sent to each.
    #[derive(Default)]
    struct Cardboard {
        ins: Vec<&'static str>,
        outs: Vec<&'static str>,
        sent: Sent,
    }

    /// Port and message, in order.
    type Sent = Arc<Mutex<Vec<(String, Vec<u8>)>>>;

    struct Tape(String, Sent);

    impl Wire for Tape {
        fn send(&mut self, message: &[u8]) -> Result<(), Refused> {
            self.1.lock().push((self.0.clone(), message.to_vec()));
            Ok(())
        }
    }

    impl System for Cardboard {
        fn ports(&mut self) -> Result<(Vec<Seen>, Vec<Seen>), String> {
            let seen = |names: &Vec<&str>| {
                names.iter().map(|n| Seen { id: (*n).into(), name: (*n).into() }).collect()
            };
            Ok((seen(&self.ins), seen(&self.outs)))
        }

        fn hear(
            &mut self,
            _: Option<&Seen>,
            intake: Arc<Mutex<Intake>>,
        ) -> Result<Box<dyn Closer>, String> {
            Ok(Box::new(intake))
        }

        fn send(&mut self, port: Option<&Seen>) -> Result<Box<dyn Wire>, String> {
            let name = port.map_or("virtual", |p| &p.name).to_owned();
            Ok(Box::new(Tape(name, Arc::clone(&self.sent))))
        }
    }

    struct Bench {
        keeper: Keeper,
        system: Cardboard,
        intakes: Vec<Arc<Mutex<Intake>>>,
        news: Vec<String>,
    }

    impl Bench {
        fn new(from: &[&str], to: &[&str]) -> Self {
            let read = |list: &[&str]| list.iter().map(|s| s.parse().expect(s)).collect::<Vec<_>>();
            let outlets: Arc<[Mutex<Outlet>]> = (0..4).map(|_| Mutex::default()).collect();
            let shared = Shared::new(Arc::clone(&outlets));
            let intakes: Vec<_> = (0..4)
                .map(|_| {
                    let (queue, _) = rtrb::RingBuffer::new(QUEUE);
                    Arc::new(Mutex::new(Intake::new(shared.clone(), queue)))
                })
                .collect();
            let keeper = Keeper::new((read(from), read(to)), false, intakes.clone(), outlets, 0);
            Self { keeper, system: Cardboard::default(), intakes, news: Vec::new() }
        }

        fn look(&mut self, ins: &[&'static str], outs: &[&'static str]) -> Vec<String> {
            (self.system.ins, self.system.outs) = (ins.to_vec(), outs.to_vec());
            let news = &mut self.news;
            self.keeper.look(&mut self.system, |n| news.push(n.to_string()));
            std::mem::take(&mut self.news)
        }

        /// What reached the modules since the last time, all-notes-off apart.
        fn sent(&self) -> Vec<(String, Vec<u8>)> {
            let mut sent = std::mem::take(&mut *self.system.sent.lock());
            sent.retain(|(_, m)| m.get(1) != Some(&123));
            sent
        }
    }

    #[test]
    fn it_waits_for_the_keyboard_and_connects_when_it_comes() {
        let mut bench = Bench::new(&["keys"], &["module"]);
        assert_eq!(bench.look(&[], &[]), ["waits for keys", "waits for module"]);
        assert!(bench.look(&[], &[]).is_empty()); // said once
        assert_eq!(bench.look(&["Keys 20:0"], &[]), ["hears Keys 20:0"]);
        assert_eq!(bench.look(&["Keys 20:0"], &["Module"]), ["sends to Module"]);
        bench.intakes[0].lock().receive(&[0x90, 60, 1]);
        assert_eq!(bench.sent(), [("Module".into(), vec![0x90, 60, 1])]);
    }

    #[test]
    fn a_keyboard_unplugged_in_the_middle_of_a_chord_leaves_no_note_on() {
        let mut bench = Bench::new(&[], &[]);
        bench.look(&["Keys"], &["Module"]);
        bench.intakes[0].lock().receive(&[0x90, 60, 1]);
        bench.intakes[0].lock().receive(&[0xB0, 64, 127]);
        bench.sent();
        assert_eq!(bench.look(&[], &["Module"]), ["Keys is unplugged: its notes are ended"]);
        let ends = [vec![0x80, 60, 64], vec![0xB0, 64, 0]].map(|m| ("Module".to_owned(), m));
        assert_eq!(bench.sent(), ends);
    }

    #[test]
    fn a_module_that_comes_back_is_connected_again() {
        let mut bench = Bench::new(&[], &["module"]);
        bench.look(&["Keys"], &["Module"]);
        bench.intakes[0].lock().receive(&[0x90, 60, 1]);
        assert_eq!(
            bench.look(&["Keys"], &[]),
            ["Module is gone: waiting for it", "waits for module"]
        );
        bench.sent();
        assert_eq!(bench.look(&["Keys"], &["Module"]), ["sends to Module"]);
        assert_eq!(bench.sent(), [("Module".into(), vec![0x80, 60, 64])]); // and all notes off
    }

    #[test]
    fn a_piano_that_is_both_does_not_hear_its_own_keys_again() {
        let mut bench = Bench::new(&[], &[]);
        bench.look(&["Piano", "Pads"], &["Piano"]);
        bench.intakes[0].lock().receive(&[0x90, 60, 1]);
        assert!(bench.sent().is_empty());
        bench.intakes[1].lock().receive(&[0x90, 40, 1]);
        assert_eq!(bench.sent().len(), 1);
    }

    #[test]
    fn by_default_one_module_sounds_and_a_second_changes_nothing() {
        let mut bench = Bench::new(&[], &[]);
        bench.look(&["Keys"], &["Module"]);
        assert!(bench.look(&["Keys"], &["Another", "Module"]).is_empty());
    }

    #[test]
    fn a_port_named_by_number_keeps_its_name_when_numbers_move() {
        let mut bench = Bench::new(&["2"], &["1"]);
        bench.look(&["Pads 20:0", "Keys 24:0"], &["Module"]);
        bench.look(&["Pads 20:0"], &["Module"]);
        let news = bench.look(&["Keys 28:0", "Pads 20:0"], &["Module"]);
        assert_eq!(news, ["hears Keys 28:0"]);
    }
}
