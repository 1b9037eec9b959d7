//! The window under a player's hands, in both formats: an edit marks the
//! project as changed, and what was just played is kept in a file.

#![cfg(target_os = "linux")]
// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod clap_host;
mod screen;
mod vst3_host;

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap_host::play::{BEAT, chord};
use clap_host::{Clock, Event};
use screen::{TestScreen, on_a_screen, save, until};
use sinistra_core::midi::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::MidiFile;
use sinistra_score::midi_file::HandTrack;

/// Places in the window at 100 %.
const WRITE: (i16, i16) = (162, 364);
const EDITOR: (i16, i16) = (200, 420);
const KEEP: (i16, i16) = (110, 723);

fn write_a_chart(screen: &TestScreen) {
    screen.drawn();
    screen.click(WRITE.0, WRITE.1);
    std::thread::sleep(Duration::from_millis(300));
    screen.click(EDITOR.0, EDITOR.1);
    screen.type_text("| C | G |");
}

#[test]
fn an_edit_marks_the_project_as_changed_in_a_clap_host() {
    let Some(display) = on_a_screen("an_edit_marks_the_project_as_changed_in_a_clap_host") else {
        return;
    };
    let screen = TestScreen::open(&display);
    let host = clap_host::ClapHost::started();
    let edits = host.param("Edits").id;
    assert!(host.open_window(screen.parent.into()).is_some());
    let mut changes = vec![];
    let mut listen = || {
        for out in host.block(64, Some(Clock::stopped(0.0)), &[]) {
            changes.extend(matches!(out, Event::Param { id, .. } if id == edits).then_some(()));
        }
        host.idle();
    };
    listen();
    write_a_chart(&screen);
    let written = || String::from_utf8_lossy(&host.save()[8..]).contains("| C | G |");
    until("the chart is not in the state", written);
    save("edited.ppm", &screen.picture());
    // The edit is over when no key has come for two seconds.
    for _ in 0..80 {
        listen();
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(changes.len(), 1, "nine letters are one edit");
    // The host takes its one gesture back, and does it again: the chart goes with it.
    let now = host.value(edits);
    for (count, there) in [(now - 1.0, false), (now, true), (now - 1.0, false)] {
        host.set("Edits", count);
        let chart = || {
            host.block(64, Some(Clock::stopped(0.0)), &[]);
            host.idle();
            written() == there
        };
        until("the chart did not follow the host's undo", chart);
    }
    host.close_window();
    host.set("Edits", now);
    let again = || {
        host.block(64, Some(Clock::stopped(0.0)), &[]);
        host.idle();
        written()
    };
    until("without a window it did not", again);
}

#[test]
fn an_edit_marks_the_project_as_changed_in_a_vst3_host() {
    let Some(display) = on_a_screen("an_edit_marks_the_project_as_changed_in_a_vst3_host") else {
        return;
    };
    let screen = TestScreen::open(&display);
    let host = vst3_host::Vst3Host::started();
    let edits = host.param("Edits");
    let view = host.open_window(screen.parent);
    write_a_chart(&screen);
    save("edited-vst3.ppm", &screen.picture());
    let written = || String::from_utf8_lossy(&host.save()).contains("| C | G |");
    until("the chart is not in the state", written);
    let told = || host.told.edits.lock().unwrap().clone();
    until("the host has not heard of the edit", || !told().is_empty());
    assert_eq!(told(), [edits], "nine letters are one edit");
    host.close_window(view);
}

#[test]
fn what_was_just_played_is_kept_and_nothing_is_written_over() {
    let Some(display) = on_a_screen("what_was_just_played_is_kept_and_nothing_is_written_over")
    else {
        return;
    };
    let screen = TestScreen::open(&display);
    let home = PathBuf::from(std::env::var_os("HOME").unwrap());
    let host = clap_host::ClapHost::started();
    host.set("Pattern", 10.0);
    assert!(host.open_window(screen.parent.into()).is_some());
    screen.drawn();
    // Twelve bars of the chord on every bar line; the last eight are kept.
    for block in 0..12 * 4 * BEAT / 480 {
        let frame = block * 480;
        let mut events = vec![];
        if frame % (4 * BEAT) == 0 {
            events.extend([64, 67, 72].iter().filter(|_| frame > 0).map(|k| Event::off(0, *k)));
            events.extend(chord(0, &[64, 67, 72]));
        }
        host.block(480, Some(Clock::at(f64::from(frame) / f64::from(BEAT))), &events);
    }
    screen.click(KEEP.0, KEEP.1);
    let [first, second] = ["Take 1.mid", "Take 2.mid"].map(|n| home.join("Sinistra").join(n));
    let whole =
        |path: &Path| std::fs::read(path).is_ok_and(|bytes| midly::Smf::parse(&bytes).is_ok());
    until("no take was kept", || whole(&first));
    save("kept.ppm", &screen.picture());
    let bytes = std::fs::read(&first).expect("the take");
    let take = MidiFile::read("take", &bytes).unwrap();
    let names: Vec<_> = take.tracks().iter().filter_map(|track| track.name.as_deref()).collect();
    assert!(names.contains(&"Right hand") && names.contains(&"Left hand"), "{names:?}");
    let all = HandTrack { track: None, channel: None, drums: false };
    let on = |(at, message)| match message {
        Message::On { key, .. } => Some((at, key)),
        _ => None,
    };
    let notes: Vec<(Ticks, KeyNumber)> = take.messages(&all).into_iter().filter_map(on).collect();
    let right = notes.iter().filter(|(_, key)| *key >= KeyNumber::MIDDLE_C).count();
    let left = notes.iter().filter(|(_, key)| *key < KeyNumber::MIDDLE_C).count();
    assert_eq!(right, 8 * 3, "eight bars of three notes");
    assert!(left >= 8 * 4, "{left}");
    assert!(notes.iter().all(|(at, _)| at.beats() < 32.0));
    // Once more: another file, the first as it was.
    screen.click(KEEP.0, KEEP.1);
    until("no second take was kept", || whole(&second));
    assert_eq!(std::fs::read(&first).unwrap(), bytes);
    host.close_window();
}
