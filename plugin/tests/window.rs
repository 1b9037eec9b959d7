//! The window, embedded in a host's under a display without a screen. Keeps a
//! screenshot in the target folder. Where there is no Xvfb, it says so.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod clap_host;

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use clap_host::{Clock, Host, In};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{ConnectionExt, CreateWindowAux, ImageFormat, WindowClass};
use x11rb::wrapper::ConnectionExt as _;

/// Ended when the test ends, however it ends.
struct Display {
    server: Child,
    name: String,
}

impl Drop for Display {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

fn display() -> Option<Display> {
    let number = 200 + std::process::id() % 700;
    let name = format!(":{number}");
    let server = Command::new("Xvfb")
        .args([&name, "-screen", "0", "1280x900x24", "-nolisten", "tcp", "-noreset"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let display = Display { server, name };
    let start = Instant::now();
    while start.elapsed() < Duration::from_secs(20) {
        if x11rb::connect(Some(&display.name)).is_ok() {
            return Some(display);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("Xvfb did not start");
}

const CHART: &str = "title: Fog over the Lake\nkey: Am\nmetre: 4/4\n\n[Verse]\n\
                     |: Am | F . G . | C . . G/B | % :|\n[Bridge]\n\
                     | Dm7 | E7sus4 . E7 . | Bbmaj7 | F#m7b5 . B7 . |\n";

/// Runs a test of this file in a process of its own, on a display: a window's
/// last threads may outlive a test, and must not outlive their display.
fn apart(test: &str, display: &str) {
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", test, "--nocapture"])
        .env("SINISTRA_DISPLAY", display)
        .env("DISPLAY", display)
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success(), "{test}, apart, ended with {status}");
}

#[test]
fn the_window_opens_in_a_host_and_draws_what_is_played() {
    if let Ok(display) = std::env::var("SINISTRA_DISPLAY") {
        return open_and_play(&display);
    }
    let Some(display) = display() else {
        assert!(std::env::var_os("CI").is_none(), "under CI there must be an Xvfb");
        eprintln!("NOT RUN: there is no Xvfb here");
        return;
    };
    apart("the_window_opens_in_a_host_and_draws_what_is_played", &display.name);
}

fn open_and_play(display: &str) {
    let (x, screen) = x11rb::connect(Some(display)).unwrap();
    let root = x.setup().roots[screen].root;
    let parent = x.generate_id().unwrap();
    let depth = x11rb::COPY_DEPTH_FROM_PARENT;
    let attributes = CreateWindowAux::new().background_pixel(0);
    x.create_window(
        depth,
        parent,
        root,
        0,
        0,
        1040,
        740,
        0,
        WindowClass::INPUT_OUTPUT,
        0,
        &attributes,
    )
    .unwrap();
    x.map_window(parent).unwrap();
    x.sync().unwrap();

    let mut host = Host::load();
    let state = host.save();
    let fields = format!(
        "\"chart\":{}",
        serde_json::to_string(&serde_json::to_string(CHART).unwrap()).unwrap()
    );
    let text = String::from_utf8(state[8..].to_vec()).unwrap();
    let text = text.replace("\"chart\":\"\\\"\\\"\"", &fields);
    let mut with_chart = (text.len() as u64).to_le_bytes().to_vec();
    with_chart.extend_from_slice(text.as_bytes());
    assert!(host.restore(&with_chart));
    host.start(48_000.0, 1024);
    host.set("Pattern", 10.0);
    let opened = Instant::now();
    let size = host.open_window(parent.into()).expect("a window");
    assert_eq!(size, (1040, 740));

    // Two bars and a half, with the right hand on its chord.
    let mut drawn = None;
    for block in 0..500u32 {
        let beat = f64::from(block * 240) / 24_000.0;
        let keys: &[i16] = if beat < 4.0 { &[69, 72, 76] } else { &[65, 69, 72] };
        let mut events = vec![];
        if block == 0 || beat == 4.0 {
            events.extend([69, 72, 76, 65].map(|key| In::off(0, key)));
            events.extend(keys.iter().map(|key| In::on(0, *key)));
        }
        host.block(240, Some(Clock::at(beat)), &events);
        host.idle();
        if block % 25 == 0 {
            std::thread::sleep(Duration::from_millis(40));
            if drawn.is_none() && colours(&picture(&x, root)) > 8 {
                drawn = Some(opened.elapsed());
            }
        }
    }
    std::thread::sleep(Duration::from_millis(500));
    let picture = picture(&x, root);
    save("window.ppm", &picture);
    eprintln!("first drawn after {drawn:?}");
    assert!(colours(&picture) > 30, "the window is empty");
    host.close_window();
    // It opens again.
    assert!(host.open_window(parent.into()).is_some());
    host.close_window();
}

/// Red, green and blue of 1040 × 740 pixels.
fn picture(x: &impl Connection, root: u32) -> Vec<[u8; 3]> {
    let image = x
        .get_image(ImageFormat::Z_PIXMAP, root, 0, 0, 1040, 740, u32::MAX)
        .unwrap()
        .reply()
        .unwrap();
    image.data.chunks_exact(4).map(|pixel| [pixel[2], pixel[1], pixel[0]]).collect()
}

fn colours(picture: &[[u8; 3]]) -> usize {
    picture.iter().collect::<std::collections::HashSet<_>>().len()
}

fn save(name: &str, picture: &[[u8; 3]]) {
    let mut bytes = b"P6\n1040 740\n255\n".to_vec();
    bytes.extend(picture.iter().flatten());
    std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), bytes).unwrap();
}

#[test]
fn without_a_display_the_plugin_refuses_the_window_and_plays_on() {
    if std::env::var_os("SINISTRA_DISPLAY").is_none() {
        let test = "without_a_display_the_plugin_refuses_the_window_and_plays_on";
        return apart(test, ":99999");
    }
    let host = Host::started();
    assert_eq!(host.open_window(1), None);
    let out = host.block(64, Some(Clock::at(0.0)), &[In::on(0, 64), In::on(0, 67), In::on(0, 72)]);
    assert!(out.len() >= 3);
}
