//! The window, embedded in a host's under a display without a screen. Keeps a
//! screenshot in the target folder. Where there is no Xvfb, it says so.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod clap_host;
mod screen;

use std::time::{Duration, Instant};

use clap_host::{Clock, Host, In, with_chart};
use screen::{Screen, apart, colours, on_a_screen, save};

const CHART: &str = "title: Fog over the Lake\nkey: Am\nmetre: 4/4\n\n[Verse]\n\
                     |: Am | F . G . | C . . G/B | % :|\n[Bridge]\n\
                     | Dm7 | E7sus4 . E7 . | Bbmaj7 | F#m7b5 . B7 . |\n";

#[test]
fn the_window_opens_in_a_host_and_draws_what_is_played() {
    if let Ok(display) = std::env::var("SINISTRA_DISPLAY") {
        return open_and_play(&display);
    }
    on_a_screen("the_window_opens_in_a_host_and_draws_what_is_played");
}

fn open_and_play(display: &str) {
    let screen = Screen::open(display);
    let mut host = Host::load();
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
            events.extend([69, 72, 76, 65].map(|key| In::off(0, key)));
            events.extend(keys.iter().map(|key| In::on(0, *key)));
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
    // It opens again.
    assert!(host.open_window(screen.parent.into()).is_some());
    host.close_window();
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
