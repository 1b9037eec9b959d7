//! The window, embedded in a host's under a display without a screen. Keeps a
//! screenshot in the target folder. Where there is no Xvfb, it says so.

#![cfg(target_os = "linux")]
// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod clap_host;
mod screen;
mod vst3_host;

use std::time::{Duration, Instant};

use clap_host::marks::ENTRY;
use clap_host::play::resident;
use clap_host::state::{closed, opened, with_chart};
use clap_host::{ClapHost, Clock, Event};
use clap_sys::ext::param_indication::CLAP_PARAM_INDICATION_AUTOMATION_PLAYING;
use screen::target::DropTarget;
use screen::{TestScreen, apart, colours, on_a_screen, save, until};
use vst3_host::{Vst3Host, menus};

const CHART: &str = "title: Fog over the Lake\nkey: Am\nmetre: 4/4\n\n[Verse]\n\
                     |: Am | F . G . | C . . G/B | % :|\n[Bridge]\n\
                     | Dm7 | E7sus4 . E7 . | Bbmaj7 | F#m7b5 . B7 . |\n";

#[test]
fn the_window_opens_in_a_host_and_draws_what_is_played() {
    let test = "the_window_opens_in_a_host_and_draws_what_is_played";
    let Some(display) = on_a_screen(test) else { return };
    let screen = TestScreen::open(&display);
    let mut host = ClapHost::load();
    assert!(host.restore(&with_chart(&host.save(), CHART)));
    host.start(48_000.0, 1024);
    host.set("Pattern", 10.0);
    let opened = Instant::now();
    let size = host.open_window(screen.parent.into()).expect("a window");
    assert_eq!(size, (1040, 740));

    // Two bars and a half, with the right hand on its chord.
    let mut drawn = None;
    for block in 0..500u32 {
        let beat = f64::from(block * 240) / 24_000.0;
        let keys: &[i16] = if beat < 4.0 { &[69, 72, 76] } else { &[65, 69, 72] };
        let mut events = vec![];
        if block == 0 || beat == 4.0 {
            events.extend([69, 72, 76, 65].map(|key| Event::off(0, key)));
            events.extend(keys.iter().map(|key| Event::on(0, *key)));
        }
        host.block(240, Some(Clock::at(beat)), &events);
        host.idle();
        if block % 25 == 0 {
            std::thread::sleep(Duration::from_millis(40));
            if drawn.is_none() && colours(&screen.picture()) > 8 {
                drawn = Some(opened.elapsed());
            }
        }
    }
    save("window.ppm", &screen.drawn());
    eprintln!("first drawn after {drawn:?}");
    host.close_window();
    // It opens again; its size is kept with the project.
    assert!(host.open_window(screen.parent.into()).is_some());
    assert!(host.resize_window(900, 640));
    std::thread::sleep(Duration::from_millis(500));
    host.close_window();
    let other = ClapHost::load();
    assert!(other.restore(&host.save()));
    assert_eq!(other.open_window(screen.parent.into()), Some((900, 640)));
    other.close_window();
}

#[test]
fn a_hosts_menu_opens_on_a_control_that_it_marks() {
    let test = "a_hosts_menu_opens_on_a_control_that_it_marks";
    let Some(display) = on_a_screen(test) else { return };
    let screen = TestScreen::open(&display);
    let host = ClapHost::started();
    host.open_window(screen.parent.into()).expect("a window");
    screen.drawn();
    screen.click(686, 364); // Settings
    let bare = screen.drawn();
    host.mark("Sparing to busy", true, CLAP_PARAM_INDICATION_AUTOMATION_PLAYING);
    let red = |picture: &[[u8; 3]]| picture.iter().filter(|pixel| **pixel == [200, 10, 10]).count();
    assert_eq!(red(&bare), 0);
    screen.save("settings.ppm");
    until("the control is not marked", || red(&screen.picture()) > 100);
    std::thread::sleep(Duration::from_millis(200));
    screen.save("marked.ppm");
    screen.second_click(BUSY.0, BUSY.1);
    let busy = host.param("Sparing to busy").id;
    until("the host is not asked", || {
        host.idle();
        host.notes.asked.get() == Some(busy)
    });
    std::thread::sleep(Duration::from_millis(500));
    screen.save("menu.ppm");
    screen.click(BUSY.0 + ENTRY_AT.0, BUSY.1 + ENTRY_AT.1);
    until("nothing is chosen", || {
        host.idle();
        host.notes.chosen.get() == Some((busy, ENTRY))
    });
    // The second button moves nothing.
    assert_eq!(host.block(64, None, &[]), []);
    assert_eq!(host.value(busy), 50.0);
    host.close_window();
}

/// The same in the other format.
#[test]
fn a_vst3_hosts_menu_opens_on_a_control() {
    let Some(display) = on_a_screen("a_vst3_hosts_menu_opens_on_a_control") else { return };
    let screen = TestScreen::open(&display);
    let host = Vst3Host::started();
    let view = host.open_window(screen.parent);
    screen.drawn();
    screen.click(686, 364); // Settings
    screen.drawn();
    screen.second_click(BUSY.0, BUSY.1);
    let busy = host.param("Sparing to busy");
    until("the host is not asked", || *host.told.asked.lock().unwrap() == [busy]);
    std::thread::sleep(Duration::from_millis(500));
    screen.save("vst3-menu.ppm");
    screen.click(BUSY.0 + ENTRY_AT.0, BUSY.1 + ENTRY_AT.1);
    until("nothing is chosen", || *host.told.chosen.lock().unwrap() == [menus::ENTRY]);
    assert!(host.told.edits.lock().unwrap().is_empty(), "the second button moves nothing");
    host.close_window(view);
}

/// That control's slider, and from there the host's first entry in the menu that opens.
const BUSY: (i16, i16) = (850, 460);
const ENTRY_AT: (i16, i16) = (60, 77);

#[test]
fn a_kept_take_is_dragged_out_of_the_window() {
    let Some(display) = on_a_screen("a_kept_take_is_dragged_out_of_the_window") else { return };
    take_dragged_to(&display, DropTarget::open);
}

/// A window behind which another answers, as desktops have it (XDND, "XdndProxy").
#[test]
fn a_kept_take_is_dragged_to_a_window_with_a_proxy() {
    let test = "a_kept_take_is_dragged_to_a_window_with_a_proxy";
    let Some(display) = on_a_screen(test) else { return };
    take_dragged_to(&display, DropTarget::behind_a_proxy);
}

/// The bare screen, where a desktop answers for it.
#[test]
fn a_kept_take_is_dragged_to_the_desktop() {
    let Some(display) = on_a_screen("a_kept_take_is_dragged_to_the_desktop") else { return };
    take_dragged_to(&display, |display, _| DropTarget::of_the_desktop(display));
}

fn take_dragged_to(display: &str, target: impl Fn(&str, i16) -> DropTarget) {
    let screen = TestScreen::open(display);
    let mut host = playing_host(CHART, false, 100);
    host.open_window(screen.parent.into()).expect("a window");
    screen.drawn();
    play_some(&mut host, 0..250);
    let track = target(display, 1100);
    let home = std::env::var("HOME").unwrap();
    let path = format!("{home}/Sinistra/Take 1.mid");
    screen.click(80, 724); // Keep what was just played
    until("nothing is kept", || std::path::Path::new(&path).exists());
    std::thread::sleep(Duration::from_millis(800));
    screen.save("kept.ppm");
    let dropped = std::thread::scope(|scope| {
        let waits = scope.spawn(|| track.wait());
        screen.drag(TAKE, (1250, 150), || track.was_offered());
        waits.join().unwrap()
    });
    assert_eq!(dropped.unwrap(), format!("file://{}\r\n", path.replace(' ', "%20")));
    // Let go over nothing, nothing happens.
    screen.drag(TAKE, (1250, 600), || true);
    host.close_window();
}

/// The name of a take that was just kept.
const TAKE: (i16, i16) = (360, 724);

/// By what opens files here: in the test one that writes down what it is to open.
#[test]
fn the_manual_is_opened_and_a_full_foot_takes_two_rows() {
    let test = "the_manual_is_opened_and_a_full_foot_takes_two_rows";
    let Some(display) = on_a_screen(test) else { return };
    let home = std::path::PathBuf::from(std::env::var_os("HOME").unwrap());
    let manual = home.join(".local/share/doc/sinistra/README.md");
    std::fs::create_dir_all(manual.parent().unwrap()).unwrap();
    std::fs::write(&manual, "# Sinistra\n").unwrap();
    let screen = TestScreen::open(&display);
    let mut host = playing_host(CHART, false, 100);
    host.open_window(screen.parent.into()).expect("a window");
    screen.drawn();
    screen.click(MANUAL.0, MANUAL.1);
    until("the manual is not opened", || {
        std::fs::read_to_string(home.join("opened"))
            .is_ok_and(|told| told.trim() == manual.to_str().unwrap())
    });
    play_some(&mut host, 0..250);
    screen.click(80, 724); // Keep what was just played
    until("nothing is kept", || home.join("Sinistra/Take 1.mid").exists());
    std::thread::sleep(Duration::from_millis(800));
    screen.save("full-foot.ppm");
    // Dark, at the right edge of the upper row.
    let light = screen.picture();
    screen.click(DARK.0, DARK.1);
    until("it is not dark", || screen.picture()[0] != light[0]);
    screen.save("full-foot-dark.ppm");
    host.close_window();
}

const MANUAL: (i16, i16) = (850, 724);
const DARK: (i16, i16) = (885, 699);

#[test]
fn without_a_display_the_plugin_refuses_the_window_and_plays_on() {
    if std::env::var_os("SINISTRA_DISPLAY").is_none() {
        let test = "without_a_display_the_plugin_refuses_the_window_and_plays_on";
        return apart(test, ":99999");
    }
    let host = ClapHost::started();
    assert_eq!(host.open_window(1), None);
    let out = host.block(
        64,
        Some(Clock::at(0.0)),
        &[Event::on(0, 64), Event::on(0, 67), Event::on(0, 72)],
    );
    assert!(out.len() >= 3);
}

#[test]
#[ignore = "writes pictures to be looked at: target/tmp/look-*.ppm"]
fn pictures_of_every_look() {
    let Some(display) = on_a_screen("pictures_of_every_look") else { return };
    for scale in [75, 100, 125, 175, 200, 250] {
        for dark in [false, true] {
            let screen = TestScreen::of_scale(&display, scale);
            let mut host = playing_host(CHART, dark, scale);
            host.open_window(screen.parent.into()).expect("a window");
            play_some(&mut host, 0..250);
            screen.drawn();
            play_some(&mut host, 250..270);
            std::thread::sleep(Duration::from_millis(500));
            screen.save(&look("look", dark, scale));
            host.close_window();
        }
    }
    // A chart with faults, and the settings.
    for dark in [false, true] {
        let screen = TestScreen::open(&display);
        let mut host = playing_host(&CHART.replace("E7sus4", "Hq7"), dark, 100);
        host.open_window(screen.parent.into()).expect("a window");
        play_some(&mut host, 0..250);
        screen.drawn();
        screen.click(162, 364);
        screen.click(686, 364);
        std::thread::sleep(Duration::from_millis(500));
        screen.save(&look("faults", dark, 100));
        host.close_window();
    }
}

#[test]
#[ignore = "writes pictures to be looked at: target/tmp/size-*.ppm"]
fn pictures_of_every_size() {
    let Some(display) = on_a_screen("pictures_of_every_size") else { return };
    for (width, height) in
        [(480, 320), (640, 400), (800, 600), (1040, 740), (1920, 1080), (2560, 1440)]
    {
        let screen = TestScreen::of_scale(&display, 250);
        let mut host = playing_host(CHART, false, 100);
        host.open_window(screen.parent.into()).expect("a window");
        assert!(host.resize_window(width, height), "{width} x {height}");
        play_some(&mut host, 0..250);
        screen.drawn();
        play_some(&mut host, 250..270);
        std::thread::sleep(Duration::from_millis(700));
        screen.save(&format!("size-{width}.ppm"));
        host.close_window();
    }
}

fn look(what: &str, dark: bool, scale: u16) -> String {
    format!("{what}-{}-{scale}.ppm", if dark { "dark" } else { "light" })
}

#[test]
#[ignore = "prints figures: frames of the window, memory, start; --release, --nocapture"]
fn figures_of_the_window() {
    let Some(display) = on_a_screen("figures_of_the_window") else { return };
    let screen = TestScreen::open(&display);
    let before = resident();
    let mut host = playing_host(CHART, false, 100);
    let loaded = resident();
    let start = Instant::now();
    host.open_window(screen.parent.into()).expect("a window");
    screen::until("the window is empty", || colours(&screen.picture()) > 8);
    let drawn = start.elapsed();
    screen.drawn();
    let opened = resident();
    let (start, busy) = (Instant::now(), processor_time());
    let mut block = 0;
    while start.elapsed() < Duration::from_secs(20) {
        play_some(&mut host, block..block + 1);
        block += 1;
        std::thread::sleep(Duration::from_millis(5));
    }
    let share = (processor_time() - busy) / start.elapsed().as_secs_f64();
    let after = resident();
    eprintln!("first drawn after {drawn:?}");
    eprintln!(
        "memory in MB: {before:.1} bare, {loaded:.1} loaded, {opened:.1} with the window, {after:.1} after 20 s"
    );
    eprintln!(
        "{share:.2} of a processor while playing: {:.1} ms for each of 60 frames a second",
        share * 1000.0 / 60.0
    );
    host.close_window();
}

/// What all threads of this process have computed, seconds; a tick is 10 ms.
fn processor_time() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<_> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
    fields[11..13].iter().map(|ticks| ticks.parse::<f64>().unwrap()).sum::<f64>() / 100.0
}

/// A host that is ready to play the chart in that look.
fn playing_host(chart: &str, dark: bool, scale: u16) -> ClapHost {
    let mut host = ClapHost::load();
    let mut state = opened(&with_chart(&host.save(), chart));
    let look = serde_json::json!({ "dark": dark, "scale": scale });
    state["fields"]["look"] = serde_json::json!(look.to_string());
    assert!(host.restore(&closed(&state)));
    host.start(48_000.0, 1024);
    host.set("Pattern", 10.0);
    host
}

/// Blocks of 240 frames, the chord on every bar line.
fn play_some(host: &mut ClapHost, blocks: std::ops::Range<u32>) {
    for block in blocks {
        let keys = [69, 72, 76];
        let mut events = vec![];
        if block % 400 == 0 {
            events.extend(keys.iter().filter(|_| block > 0).map(|key| Event::off(0, *key)));
            events.extend(keys.map(|key| Event::on(0, key)));
        }
        host.block(240, Some(Clock::at(f64::from(block * 240) / 24_000.0)), &events);
        host.idle();
    }
}
