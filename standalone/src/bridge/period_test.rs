//! Periods without a device.

use super::*;
use crate::bridge::midi::KeyState;
use crate::bridge::outlet::Refused;
use crate::bridge::run::{Links, links};
use crate::bridge::set::roots;
use crate::bridge::stage::StageOptions;
use crate::bridge::time::PaceChoice;

const RATE: f64 = 48_000.0;
const FRAMES: u32 = 128;

/// What was sent, each with its frame from the start; with so much room a period.
struct PeriodTape {
    sent: Vec<(u64, Vec<u8>)>,
    begin: u64,
    room: usize,
}

impl Wire for PeriodTape {
    fn send(&mut self, frame: u32, message: &[u8]) -> Result<(), Refused> {
        self.room = self.room.checked_sub(1).ok_or(Refused)?;
        assert!(frame < FRAMES);
        if self.sent.len() < self.sent.capacity() {
            let kept = assert_no_alloc::permit_alloc(|| message.to_vec());
            self.sent.push((self.begin + u64::from(frame), kept));
        }
        Ok(())
    }
}

struct TestStand {
    bridge: Bridge,
    outlet: Outlet,
    tape: PeriodTape,
    links: Links,
    _ways: (Producer<Box<Stage>>, Consumer<Box<Stage>>),
    period: u64,
}

impl TestStand {
    fn new() -> Self {
        let time = PaceChoice { tempo: 120.0, ..PaceChoice::default() };
        let options = StageOptions { time, ..StageOptions::default() };
        let (player, links) = links(Box::new(Stage::new(options, roots(), roots(), 0.0)));
        let (spares, spare) = rtrb::RingBuffer::new(1);
        let (old, home) = rtrb::RingBuffer::new(4);
        let bridge = Bridge::new(player, Arc::default(), Arc::default(), (spare, old));
        let tape = PeriodTape { sent: Vec::with_capacity(100_000), begin: 0, room: 0 };
        let outlet = Outlet::default();
        Self { bridge, outlet, tape, links, _ways: (spares, home), period: 0 }
    }

    /// A period in which these come, on a wire with so much room.
    fn play(&mut self, came: &[(u32, Vec<u8>)], room: usize) {
        let now = (self.period * u64::from(FRAMES)) as f64 / RATE;
        let time = Time { now, frames: FRAMES, rate: RATE };
        (self.tape.begin, self.tape.room) = (self.period * u64::from(FRAMES), room);
        let came = came.iter().map(|(frame, bytes)| (*frame, bytes.as_slice()));
        let Self { bridge, outlet, tape, .. } = self;
        assert_no_alloc::assert_no_alloc(|| bridge.period(time, came, (outlet, tape), false));
        self.period += 1;
    }

    /// So many periods in which nothing comes.
    fn rest(&mut self, periods: u32, room: usize) {
        (0..periods).for_each(|_| self.play(&[], room));
    }

    fn sounding(&self) -> u32 {
        let mut down = KeyState::default();
        self.tape.sent.iter().filter_map(|(_, m)| Short::new(m)).for_each(|m| down.note(m));
        down.count()
    }
}

fn chord(frame: u32) -> Vec<(u32, Vec<u8>)> {
    [60, 64, 67].map(|key| (frame, vec![0x90, key, 90])).into()
}

#[test]
fn through_keeps_its_frame_and_the_left_hand_is_on_its_own() {
    let mut stand = TestStand::new();
    stand.play(&chord(17), 999);
    stand.rest(400, 999);
    let ons: Vec<(u64, u8)> = stand
        .tape
        .sent
        .iter()
        .filter(|(_, m)| m[0] == 0x90 && m[2] > 0)
        .map(|(at, m)| (*at, m[1]))
        .collect();
    assert_eq!(ons[..3], [(17, 60), (17, 64), (17, 67)]);
    let left: Vec<u64> = ons.iter().filter(|(_, key)| *key < 60).map(|(at, _)| *at).collect();
    assert!(left.len() >= 2, "{ons:?}");
    assert!(left.iter().skip(1).all(|at| (at - 17) % 24_000 <= 1), "{left:?}");
}

#[test]
fn ten_thousand_messages_of_one_period_go_through_in_order_and_are_all_heard() {
    let mut stand = TestStand::new();
    stand.play(&chord(0), 9);
    let ends = [60, 64, 67].map(|key| (127, vec![0x80, key, 0]));
    let mut many: Vec<(u32, Vec<u8>)> = (0..9_990u32)
        .map(|n| (n * 127 / 10_000, vec![0xB3, (n % 60) as u8, (n % 128) as u8]))
        .collect();
    many.extend(ends);
    let before = stand.tape.sent.len();
    stand.play(&many, 700); // the wire takes a part of it a period
    stand.rest(30, 700);
    let through: Vec<&Vec<u8>> = stand.tape.sent[before..]
        .iter()
        .map(|(_, m)| m)
        .filter(|m| m[0] == 0xB3 || m[1] >= 60)
        .collect();
    assert_eq!(through.len(), many.len());
    assert!(through.iter().zip(&many).all(|(sent, (_, came))| *sent == came));
    assert_eq!(stand.outlet.dropped(), 0);
    stand.rest(6000, 700); // the stage heard the ends: the left hand rests
    assert_eq!(stand.sounding(), 0);
}

#[test]
fn a_ring_of_wires_is_cut_and_the_player_plays_on() {
    let mut stand = TestStand::new();
    let mut back: Vec<(u32, Vec<u8>)> = chord(0);
    let mut most = 0;
    for n in 0..2000u32 {
        let before = stand.tape.sent.len();
        stand.play(&back, 9_999);
        back = stand.tape.sent[before..].iter().map(|(_, m)| (0, m.clone())).collect();
        most = most.max(if n > 20 { back.len() } else { 0 });
        if n == 1500 {
            back = [60, 64, 67].map(|key| (0, vec![0x80, key, 0])).into();
        }
    }
    assert_eq!(stand.bridge.flags.ring.load(Ordering::Acquire), 1);
    assert!(most <= 8, "{most} messages in one period");
    stand.rest(6000, 9_999);
    assert_eq!(stand.sounding(), 0);
}

#[test]
fn zones_carry_each_hand_and_what_sounds_ends_when_they_change() {
    use crate::bridge::zones::{ZoneWords, Zones};
    let zones = |lines: &[&str]| {
        let words: Vec<ZoneWords> =
            lines.iter().map(|line| toml::from_str(line).expect(line)).collect();
        Command::Zones(Zones::new(&words))
    };
    let mut stand = TestStand::new();
    let both = ["hand = \"left\"\nchannel = 2\noctave = -1", "hand = \"through\"\ntranspose = 3"];
    stand.links.commands.push(zones(&both)).expect("room");
    stand.play(&[], 9_999);
    stand.tape.sent.clear();
    stand.play(&chord(17), 9_999);
    stand.rest(400, 9_999);
    let ons = stand.tape.sent.iter().filter(|(_, m)| m[0] & 0xF0 == 0x90 && m[2] > 0);
    let (left, through): (Vec<_>, Vec<_>) = ons.map(|(_, m)| m).partition(|m| m[0] == 0x91);
    let keys: Vec<u8> = through.iter().map(|m| m[1]).collect();
    assert_eq!(keys, [63, 67, 70], "the hand that is heard is not the one that sounds");
    assert!(left.len() >= 2 && left.iter().all(|m| m[1] % 12 == 0 && m[1] < 48), "{left:?}");
    // Another channel in the middle of it: nothing of before is left sounding.
    stand.links.commands.push(zones(&["hand = \"left\"\nchannel = 5"])).expect("room");
    stand.play(&[], 9_999);
    assert_eq!(stand.sounding(), 0);
    stand.play(&[60, 64, 67].map(|key| (0, vec![0x80, key, 0])), 9_999);
    stand.rest(6000, 9_999);
    assert_eq!(stand.sounding(), 0);
}
