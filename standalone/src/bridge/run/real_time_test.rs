//! The real thread against the real clock, with cardboard wires.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use parking_lot::Mutex;
use rtrb::{Consumer, Producer, RingBuffer};
use sinistra_core::engine::Settings;

use super::{Links, links};
use crate::bridge::controls::{Action, Move};
use crate::bridge::hub::{Hub, HubControl, HubOrder, Routes, hub, spawn};
use crate::bridge::intake::{Intake, intake};
use crate::bridge::midi::{KeyState, Short};
use crate::bridge::outlet::{Refused, Wire};
use crate::bridge::period::{Bridge, Flags};
use crate::bridge::set::roots;
use crate::bridge::stage::{Command, LeftHandWork, Stage, StageOptions};
use crate::bridge::time::PaceChoice;

type Sent = Arc<Mutex<Vec<(Instant, Vec<u8>)>>>;

struct TimedTape(Sent);

impl Wire for TimedTape {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        self.0.lock().push((Instant::now(), message.to_vec()));
        Ok(())
    }
}

struct Bench {
    desk: HubControl,
    intake: Intake,
    links: Links,
    sent: Sent,
    flags: Arc<Flags>,
    thread: Option<std::thread::JoinHandle<Hub<Bridge>>>,
    _ways: (Producer<Box<Stage>>, Consumer<Box<Stage>>),
}

impl Bench {
    fn new(tempo: f64) -> Self {
        let options = StageOptions {
            time: PaceChoice { tempo, ..PaceChoice::default() },
            ..StageOptions::default()
        };
        let stage = || Box::new(Stage::new(options.clone(), roots(), roots(), 0.0));
        let (player, free) = links(stage());
        let (mut spares, spare) = RingBuffer::new(1);
        let (old, broken) = RingBuffer::new(4);
        spares.push(stage()).expect("room");
        let flags = Arc::<Flags>::default();
        let bridge = Bridge::new(player, Arc::default(), Arc::clone(&flags), (spare, old));
        let (hub, mut desk) = hub(bridge, Routes { left: 1, click: 1, clock: 1 });
        let thread = Some(spawn(hub).expect("a thread"));
        let (intake, inbox) = intake(desk.epoch, Arc::clone(&desk.told.bell));
        desk.order(HubOrder::Input(0, inbox));
        let sent = Sent::default();
        desk.order(HubOrder::Plug(0, Box::new(TimedTape(Arc::clone(&sent)))));
        wait("the module is greeted", || sent.lock().len() >= 96);
        sent.lock().clear();
        Self { desk, intake, links: free, sent, flags, thread, _ways: (spares, broken) }
    }

    fn chord(&mut self, keys: &[u8]) {
        keys.iter().for_each(|&key| self.intake.receive(&[0x90, key, 90]));
    }

    /// When each note of the left hand began.
    fn left(&self) -> Vec<Instant> {
        let sent = self.sent.lock();
        sent.iter().filter(|(_, m)| m[0] == 0x90 && m[1] < 60).map(|(at, _)| *at).collect()
    }

    fn sounding(&self) -> u32 {
        let mut down = KeyState::default();
        self.sent.lock().iter().filter_map(|(_, m)| Short::new(m)).for_each(|m| down.note(m));
        down.count()
    }

    fn end(&mut self) {
        self.desk.told.quit.store(true, Ordering::Release);
        self.desk.told.bell.ring();
        if let Some(thread) = self.thread.take() {
            drop(thread.join().expect("the thread ends well"));
        }
    }
}

/// Waits until it is so, at most a minute: the machine may be busy.
fn wait(what: &str, mut is_so: impl FnMut() -> bool) {
    let start = Instant::now();
    while !is_so() {
        assert!(start.elapsed() < Duration::from_secs(60), "in a minute: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn a_chord_wakes_the_left_hand_and_the_end_leaves_nothing_on() {
    let mut bench = Bench::new(240.0);
    std::thread::sleep(Duration::from_millis(400)); // it sleeps by now
    bench.chord(&[60, 64, 67]);
    wait("four notes of the left hand", || bench.left().len() >= 4);
    assert!(bench.sounding() >= 3);
    bench.end();
    assert_eq!(bench.sounding(), 0);
}

#[test]
fn when_the_stage_fails_its_notes_end_and_through_goes_on() {
    let mut bench = Bench::new(240.0);
    bench.chord(&[60, 64, 67]);
    wait("the left hand", || !bench.left().is_empty());
    let turned = Settings { busy: 90, ..Settings::default() };
    bench.links.commands.push(Command::Settings(turned)).expect("room");
    bench.links.commands.push(Command::Tempo(200.0)).expect("room");
    let roots = Command::Do(Action::LeftRoots, Move::Press);
    bench.links.commands.push(roots).expect("room");
    bench.links.commands.push(Command::Fail).expect("room");
    wait("the failure is told", || bench.flags.failed.load(Ordering::Acquire));
    wait("the left hand's notes end", || bench.sounding() == 3);
    bench.intake.receive(&[0x90, 72, 90]);
    wait("through goes on, whatever the stage does", || bench.sounding() == 4);
    // It begins afresh with the next chord.
    let before = bench.left().len();
    [60, 64, 67, 72].iter().for_each(|&key| bench.intake.receive(&[0x80, key, 0]));
    bench.chord(&[62, 65, 69]);
    wait("the left hand again", || bench.left().len() > before);
    // … but set as it was.
    while bench.links.looks.pop().is_ok() {}
    let mut look = None;
    wait("a look at the fresh stage", || {
        look = bench.links.looks.pop().ok();
        look.is_some()
    });
    let look = look.expect("a look");
    assert_eq!(look.settings, turned);
    assert_eq!(look.left, LeftHandWork::Roots);
    assert!((look.time.tempo - 200.0).abs() < 1e-9);
    bench.end();
    assert_eq!(bench.sounding(), 0);
}

/// `SINISTRA_SECONDS=600 cargo test --release -p sinistra figures -- --ignored --nocapture`
#[test]
#[ignore = "prints figures, and takes its time"]
fn figures_of_through_and_of_the_grid() {
    let seconds = std::env::var("SINISTRA_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(20);
    let mut bench = Bench::new(150.0);
    // The other core is busy.
    let busy = Arc::new(AtomicBool::new(true));
    let burner = std::thread::spawn({
        let busy = Arc::clone(&busy);
        move || {
            while busy.load(Ordering::Relaxed) {
                std::hint::spin_loop()
            }
        }
    });
    let start = Instant::now();
    bench.chord(&[60, 64, 67]);
    let mut n = 0u32;
    while start.elapsed() < Duration::from_secs(seconds) {
        // A busy player: an aftertouch message every two milliseconds.
        bench.intake.receive(&[0xD0, (n % 128) as u8]);
        n += 1;
        std::thread::sleep(Duration::from_millis(2));
    }
    let left = bench.left();
    bench.end();
    busy.store(false, Ordering::Relaxed);
    let _ = burner.join();
    let beat = 60.0 / 150.0;
    let mut off: Vec<f64> = left
        .iter()
        .skip(1)
        .map(|at| {
            // The grid is that of the chord's first key.
            let passed = at.duration_since(start).as_secs_f64() / beat;
            (passed - passed.round()) * beat * 1e6
        })
        .collect();
    let (first, last) =
        (off.iter().take(8).sum::<f64>() / 8.0, off.iter().rev().take(8).sum::<f64>() / 8.0);
    off.iter_mut().for_each(|o| *o = o.abs());
    off.sort_by(f64::total_cmp);
    println!("through, in to out: {}", bench.desk.told.through.line());
    println!("left hand after its time: {}", bench.desk.told.lateness.line());
    println!(
        "left hand off the grid over {seconds} s: median {:.0} µs, 99 % {:.0} µs, worst {:.0} µs; \
         mean of the first eight {first:.0} µs, of the last eight {last:.0} µs (drift)",
        off[off.len() / 2],
        off[off.len() * 99 / 100],
        off[off.len() - 1]
    );
}
