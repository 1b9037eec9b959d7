//! The VST3 in a host: notes, controllers, system exclusive, the grid, state.

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

mod vst3_host;

use vst3::Steinberg::Vst::Event_::EventTypes_::*;
use vst3::Steinberg::Vst::RestartFlags_::kLatencyChanged;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3_host::{Out, ParameterChange, Vst3Host, event, off, on};

#[test]
fn notes_controllers_and_system_exclusive_go_through_in_place() {
    let host = Vst3Host::started();
    let message = [0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7];
    let mut sysex = event(7, kDataEvent as u32);
    sysex.__field0.data = DataEvent { size: 6, r#type: 0, bytes: message.as_ptr() };
    // Controllers come as changes of the parameters that the plugin maps.
    let mapping = host.component.cast::<IMidiMapping>().unwrap();
    let mut id = 0;
    assert_eq!(unsafe { mapping.getMidiControllerAssignment(0, 0, 64, &mut id) }, kResultOk);
    let out = host.block(
        64,
        None,
        vec![on(3, 72), sysex, off(63, 72)],
        vec![ParameterChange(id, 5, 100.0 / 127.0)],
    );
    assert_eq!(
        out,
        [
            Out::On(3, 0, 72),
            Out::Control(5, 64, 100),
            Out::SysEx(7, message.to_vec()),
            Out::Off(63, 0, 72)
        ]
    );
}

#[test]
fn notes_keep_their_ids() {
    let host = Vst3Host::started();
    let with_id = |mut note: Event, id: i32| {
        match u32::from(note.r#type) {
            kind if kind == kNoteOnEvent as u32 => note.__field0.noteOn.noteId = id,
            _ => note.__field0.noteOff.noteId = id,
        }
        note
    };
    let events = vec![
        with_id(on(0, 72), 5),
        with_id(on(1, 74), -1),
        with_id(off(2, 72), 5),
        with_id(off(3, 74), -1),
    ];
    host.block(64, None, events, vec![]);
    assert_eq!(*host.ids.borrow(), [5, -1, 5, -1]);
}

#[test]
fn what_the_host_sets_is_set_before_the_next_block_too() {
    let host = Vst3Host::started();
    host.block(64, None, vec![], vec![]);
    let controller = host.component.cast::<IEditController>().unwrap();
    let bypass = host.param("Bypass");
    unsafe {
        assert_eq!(controller.setParamNormalized(bypass, 1.0), kResultOk);
        assert_eq!(controller.getParamNormalized(bypass), 1.0);
    }
    host.block(64, None, vec![], vec![ParameterChange(bypass, 0, 1.0)]);
    host.block(64, None, vec![], vec![]);
    host.block(64, None, vec![], vec![]);
    assert_eq!(unsafe { controller.getParamNormalized(bypass) }, 1.0);
}

/// A C major chord at a frame of so many blocks of 300, from half a beat before the bar
/// on: when the right hand's notes and the left hand's roots come out, and how many of
/// the latter sound at the end.
fn played(host: &Vst3Host, blocks: i32, frame: i32) -> (Vec<i32>, Vec<i32>, i32) {
    let (mut right, mut strokes, mut sounding) = (vec![], vec![], 0);
    for block in 0..blocks {
        let chord =
            if block == 0 { [64, 67, 72].map(|key| on(frame, key)).to_vec() } else { vec![] };
        let beat = -0.5 + f64::from(block * 300) / 24_000.0;
        for out in host.block(300, Some(beat), chord, vec![]) {
            match out {
                Out::On(frame, _, key) if key < 60 => {
                    assert_eq!(key % 12, 0);
                    strokes.push(block * 300 + frame);
                    sounding += 1;
                }
                Out::On(frame, ..) => right.push(block * 300 + frame),
                Out::Off(_, _, key) if key < 60 => sounding -= 1,
                _ => {}
            }
        }
    }
    (right, strokes, sounding)
}

#[test]
fn the_left_hand_plays_on_the_hosts_grid_and_ends_with_it() {
    let host = Vst3Host::started();
    let (_, strokes, mut sounding) = played(&host, 200, 0);
    assert_eq!(strokes, [0, 12_000, 36_000]);
    let ends = host.block(64, None, vec![], vec![]);
    sounding -= ends.iter().filter(|out| matches!(out, Out::Off(..))).count() as i32;
    assert_eq!(sounding, 0);
}

#[test]
fn a_damaged_state_does_no_harm() {
    let host = Vst3Host::started();
    let saved = host.save();
    assert!(!host.restore(&saved[..saved.len() / 2]));
    assert!(!host.restore(b"nothing of the kind"));
    assert_eq!(host.save(), saved);
}

#[test]
fn look_ahead_delays_by_what_it_reports_and_the_grid_is_the_hosts() {
    let host = Vst3Host::started();
    let ahead = host.param("Look-ahead");
    assert_eq!(host.latency(), 0);
    host.block(64, None, vec![], vec![ParameterChange(ahead, 0, 0.25)]); // one beat of four
    let latency = host.latency() as i32;
    assert_eq!(latency, 24_000);
    // The framework posts the request from a thread of its own, or at once.
    let start = std::time::Instant::now();
    while host.told.restarts.lock().unwrap().is_empty() {
        assert!(start.elapsed().as_secs() < 10, "no restart was asked for");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert_eq!(*host.told.restarts.lock().unwrap(), [kLatencyChanged as i32]);
    host.restart();
    assert_eq!(host.latency(), 24_000);
    let (right, strokes, sounding) = played(&host, 300, 7);
    assert_eq!(right, [7; 3].map(|at| at + latency));
    assert_eq!(strokes, [7, 12_000, 36_000, 60_000].map(|at| at + latency));
    // It stops: all ends at once, the right hand's too.
    let ends = host.block(64, None, vec![], vec![ParameterChange(ahead, 0, 0.0)]);
    let offs = ends.iter().filter(|out| matches!(out, Out::Off(0, ..))).count() as i32;
    assert_eq!((ends.len() as i32, offs), (offs, sounding + 3));
    assert_eq!(host.latency(), 0);
}

#[test]
fn a_project_with_look_ahead_is_started_once() {
    let host = Vst3Host::started();
    let ahead = host.param("Look-ahead");
    host.block(64, None, vec![], vec![ParameterChange(ahead, 0, 0.25)]);
    let saved = host.save();
    // As hosts load it: the latency is asked for when the plugin is turned on.
    let loaded = Vst3Host::made();
    assert!(loaded.restore(&saved));
    loaded.start(48_000.0, 8192);
    assert_eq!(loaded.latency(), 24_000);
    loaded.block(64, None, vec![], vec![]);
    assert_eq!(*loaded.told.restarts.lock().unwrap(), []);
    // Later it is news, and to a host that asked before.
    loaded.stop();
    loaded.start(96_000.0, 8192);
    assert_eq!(*loaded.told.restarts.lock().unwrap(), [kLatencyChanged as i32]);
    let early = Vst3Host::made();
    assert!(early.restore(&saved));
    assert_eq!(early.latency(), 0);
    early.start(48_000.0, 8192);
    assert_eq!(*early.told.restarts.lock().unwrap(), [kLatencyChanged as i32]);
    assert_eq!(early.latency(), 24_000);
}

/// Blocks of a host that processes on another thread than the one which makes and drops.
fn elsewhere(host: &Vst3Host, blocks: impl FnOnce(&Vst3Host) + Send) {
    struct Lent<'a>(&'a Vst3Host);
    // SAFETY: the other thread has it alone until it has ended.
    unsafe impl Send for Lent<'_> {}
    let lent = Lent(host);
    std::thread::scope(|scope| {
        scope.spawn(move || {
            let lent = lent;
            blocks(lent.0);
        });
    });
}

#[test]
fn an_instance_may_go_while_it_is_still_being_told_of_what_was_set() {
    for round in 0..12 {
        let stays = (round % 3 == 0).then(Vst3Host::started);
        let hosts = [Vst3Host::started(), Vst3Host::started()];
        for host in hosts {
            let (bypass, edits) = (host.param("Bypass"), host.param("Edits"));
            elsewhere(&host, |host| {
                for block in 1..200 {
                    let set = f64::from(block % 2);
                    let edit = ParameterChange(edits, 0, f64::from(block) / 9999.0);
                    host.block(16, None, vec![], vec![ParameterChange(bypass, 0, set), edit]);
                }
            });
        }
        drop(stays);
    }
}
