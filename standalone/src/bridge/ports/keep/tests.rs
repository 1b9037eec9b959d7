use super::*;
use std::collections::HashMap;

use parking_lot::Mutex;

use crate::bridge::hub::{BoxedWire, Hub, Routes, hub};
use crate::bridge::intake::Intake;
use crate::bridge::keyboards::Keyboards;
use crate::bridge::midi::Short;
use crate::bridge::outlet::{Refused, Wire};
use crate::bridge::period::Time;
use crate::bridge::plays::Plays;
use crate::bridge::stage::DueMessage;

/// A system of cardboard: ports by name, the keys of each, and what was
/// sent to each.
#[derive(Default)]
struct Cardboard {
    ins: Vec<&'static str>,
    outs: Vec<&'static str>,
    keys: KeyboardIntakes,
    sent: Sent,
}

type KeyboardIntakes = Arc<Mutex<HashMap<String, Intake>>>;
/// Port and message, in order.
type Sent = Arc<Mutex<Vec<(String, Vec<u8>)>>>;

struct PortTape(String, Sent);

impl Wire for PortTape {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        self.1.lock().push((self.0.clone(), message.to_vec()));
        Ok(())
    }
}

/// Closes the cable when it goes.
struct Cable(String, KeyboardIntakes);

impl Drop for Cable {
    fn drop(&mut self) {
        self.1.lock().remove(&self.0);
    }
}

impl MidiSystem for Cardboard {
    fn ports(&mut self) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
        let seen = |names: &Vec<&str>| {
            names.iter().map(|n| SeenPort { id: (*n).into(), name: (*n).into() }).collect()
        };
        Ok((seen(&self.ins), seen(&self.outs)))
    }

    fn hear(&mut self, port: Option<&SeenPort>, intake: Intake) -> Result<Box<dyn Closer>, String> {
        let name = port.map_or("virtual", |p| &p.name).to_owned();
        self.keys.lock().insert(name.clone(), intake);
        Ok(Box::new(Cable(name, Arc::clone(&self.keys))))
    }

    fn send(&mut self, port: Option<&SeenPort>) -> Result<BoxedWire, String> {
        let name = port.map_or("virtual", |p| &p.name).to_owned();
        Ok(Box::new(PortTape(name, Arc::clone(&self.sent))))
    }
}

/// Nobody plays; everything goes through.
#[derive(Default)]
struct Nobody(Keyboards);

impl Plays for Nobody {
    fn hear(&mut self, input: usize, at: f64, message: &[u8]) -> bool {
        self.0.hear(input, at, message);
        true
    }
    fn lost(&mut self, input: usize, _: f64, send: &mut dyn FnMut(Option<usize>, Short)) {
        self.0.lost(input, |end| send(None, end));
    }
    fn is_lost(&mut self, now: f64) -> Option<usize> {
        self.0.fell_silent(now)
    }
    fn sends(&mut self, _: f64, _: Short) {}
    fn play(&mut self, _: Time) -> bool {
        false
    }
    fn due(&self) -> &[DueMessage] {
        &[]
    }
    fn is_busy(&self) -> bool {
        false
    }
    fn rests(&mut self, _: f64) {}
}

struct Bench {
    keeper: Keeper,
    system: Cardboard,
    hub: Hub<Nobody>,
    desk: HubControl,
    news: Vec<String>,
}

impl Bench {
    fn new(from: &[&str], to: &[&str]) -> Self {
        let read = |list: &[&str]| list.iter().map(|s| s.parse().expect(s)).collect::<Vec<_>>();
        let all = Routes { left: u64::MAX, click: u64::MAX, clock: u64::MAX };
        let (hub, desk) = hub(Nobody::default(), all);
        let keeper = Keeper::new((read(from), read(to)), false, 0);
        Self { keeper, system: Cardboard::default(), hub, desk, news: Vec::new() }
    }

    fn look(&mut self, ins: &[&'static str], outs: &[&'static str]) -> Vec<String> {
        (self.system.ins, self.system.outs) = (ins.to_vec(), outs.to_vec());
        let news = &mut self.news;
        self.keeper.look(&mut self.system, &mut self.desk, |n| news.push(n.to_string()));
        self.hub.take();
        std::mem::take(&mut self.news)
    }

    /// A message from a keyboard.
    fn play(&mut self, name: &str, message: &[u8]) {
        self.system.keys.lock().get_mut(name).expect("plugged in").receive(message);
        self.hub.take();
    }

    /// What reached the modules since the last time; without the 96 messages
    /// that a module is greeted with.
    fn sent(&self) -> Vec<(String, Vec<u8>)> {
        let mut sent = std::mem::take(&mut *self.system.sent.lock());
        let greeted = sent.iter().position(|(_, m)| *m == [0xBF, 123, 0]);
        if let Some(end) = greeted {
            sent.drain(end + 1 - 96..=end);
        }
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
    bench.play("Keys 20:0", &[0x90, 60, 1]);
    assert_eq!(bench.sent(), [("Module".into(), vec![0x90, 60, 1])]);
}

#[test]
fn a_keyboard_unplugged_in_the_middle_of_a_chord_leaves_no_note_on() {
    let mut bench = Bench::new(&[], &[]);
    bench.look(&["Keys"], &["Module"]);
    bench.play("Keys", &[0x90, 60, 1]);
    bench.play("Keys", &[0xB0, 64, 127]);
    bench.sent();
    assert_eq!(bench.look(&[], &["Module"]), ["Keys is unplugged: its notes are ended"]);
    let ends = [vec![0x80, 60, 64], vec![0xB0, 64, 0]].map(|m| ("Module".to_owned(), m));
    assert_eq!(bench.sent(), ends);
}

#[test]
fn a_module_that_comes_back_is_connected_again() {
    let mut bench = Bench::new(&[], &["module"]);
    bench.look(&["Keys"], &["Module"]);
    bench.play("Keys", &[0x90, 60, 1]);
    assert_eq!(bench.look(&["Keys"], &[]), ["Module is gone: waiting for it", "waits for module"]);
    bench.sent();
    assert_eq!(bench.look(&["Keys"], &["Module"]), ["sends to Module"]);
    assert_eq!(bench.sent(), [("Module".into(), vec![0x80, 60, 64])]); // and all notes off
}

#[test]
fn a_module_that_is_no_longer_chosen_is_ended_and_left() {
    let mut bench = Bench::new(&[], &["module"]);
    bench.look(&["Keys"], &["Module", "Organ"]);
    bench.play("Keys", &[0x90, 60, 1]);
    bench.sent();
    bench.keeper.rewire(vec![], vec!["organ".parse().expect("a name")]);
    let news = bench.look(&["Keys"], &["Module", "Organ"]);
    assert_eq!(news, ["Module was disconnected", "sends to Organ"]);
    let sent = bench.sent();
    assert!(sent.contains(&("Module".into(), vec![0x80, 60, 64])), "{sent:?}");
    bench.play("Keys", &[0x90, 64, 1]);
    assert_eq!(bench.sent(), [("Organ".into(), vec![0x90, 64, 1])]);
    // No module at all is a choice as well.
    bench.keeper.rewire(vec![], vec![Selector::Nothing]);
    assert_eq!(bench.look(&["Keys"], &["Module", "Organ"]), ["Organ was disconnected"]);
}

#[test]
fn a_piano_that_is_both_does_not_hear_its_own_keys_again() {
    let mut bench = Bench::new(&[], &[]);
    bench.look(&["Piano", "Pads"], &["Piano"]);
    bench.sent();
    bench.play("Piano", &[0x90, 60, 1]);
    assert!(bench.sent().is_empty());
    bench.play("Pads", &[0x90, 40, 1]);
    assert_eq!(bench.sent().len(), 1);
}

#[test]
fn by_default_one_module_sounds_and_a_second_changes_nothing() {
    let mut bench = Bench::new(&[], &[]);
    bench.look(&["Keys"], &["Module"]);
    assert!(bench.look(&["Keys"], &["Another", "Module"]).is_empty());
}

#[test]
fn another_bridge_that_was_there_before_us_is_told_of() {
    let twice = "another Sinistra is at work here";
    let told = Bench::new(&[], &[]).look(&["Sinistra out"], &["Sinistra in"]);
    assert!(told.len() == 1 && told[0].starts_with(twice), "{told:?}");
    let mut bench = Bench::new(&[], &[]);
    bench.look(&["Keys"], &[]);
    assert!(bench.look(&["Keys", "Sinistra out"], &[]).is_empty(), "our own");
}

#[test]
fn a_port_named_by_number_keeps_its_name_when_numbers_move() {
    let mut bench = Bench::new(&["2"], &["1"]);
    bench.look(&["Pads 20:0", "Keys 24:0"], &["Module"]);
    bench.look(&["Pads 20:0"], &["Module"]);
    let news = bench.look(&["Keys 28:0", "Pads 20:0"], &["Module"]);
    assert_eq!(news, ["hears Keys 28:0"]);
}
