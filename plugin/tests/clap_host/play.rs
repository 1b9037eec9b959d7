//! A right hand played into the host, and what came of it.

use super::{ClapHost, Clock, Event};

/// Frames of a beat at 120 to the minute and 48 kHz.
pub const BEAT: u32 = 24_000;

/// How hard [`Event::on`] strikes, as it comes out: the framework has 32 bits.
pub const VELOCITY: f64 = (100.0_f64 / 127.0) as f32 as f64;

/// Plays from `beat` on in blocks of `size`, with events at frames from there.
pub fn play(host: &ClapHost, beat: f64, frames: u32, size: u32, events: &[Event]) -> Vec<Event> {
    play_in(host, beat, frames, || size, events)
}

/// The same in blocks of changing size.
pub fn play_in(
    host: &ClapHost,
    beat: f64,
    frames: u32,
    size: impl FnMut() -> u32,
    events: &[Event],
) -> Vec<Event> {
    let clock = |at| Some(Clock::at(beat + f64::from(at) / f64::from(BEAT)));
    play_by(host, clock, frames, size, events)
}

/// The same by any clock, which is asked for the frame that each block starts at.
pub fn play_by(
    host: &ClapHost,
    clock: impl Fn(u32) -> Option<Clock>,
    frames: u32,
    mut size: impl FnMut() -> u32,
    events: &[Event],
) -> Vec<Event> {
    let mut out = vec![];
    let mut start = 0;
    while start < frames {
        let size = size().min(frames - start);
        let here: Vec<Event> =
            events.iter().filter_map(|event| shifted(event, start, size)).collect();
        let block = host.block(size, clock(start), &here);
        out.extend(block.into_iter().map(|o| later(o, start)));
        start += size;
    }
    out
}

/// The event at its frame of a block, if it lies in it.
fn shifted(event: &Event, start: u32, size: u32) -> Option<Event> {
    let mut event = event.clone();
    let frame = event.frame();
    let inside = (start..start + size).contains(frame);
    *frame = frame.wrapping_sub(start);
    inside.then_some(event)
}

fn later(mut event: Event, by: u32) -> Event {
    *event.frame() += by;
    event
}

pub fn chord(frame: u32, keys: &[i16]) -> Vec<Event> {
    keys.iter().map(|key| Event::on(frame, *key)).collect()
}

/// The left hand's strokes: frame and key of note-ons below middle C.
pub fn strokes(out: &[Event]) -> Vec<(u32, i16)> {
    out.iter()
        .filter_map(|event| match event {
            Event::On { frame, key, .. } if *key < 60 => Some((*frame, *key)),
            _ => None,
        })
        .collect()
}

/// The frames of those alone.
pub fn beats(out: &[Event]) -> Vec<u32> {
    strokes(out).iter().map(|(frame, _)| *frame).collect()
}

/// Keys that sound at the end.
pub fn sounding(out: &[Event]) -> Vec<i16> {
    let mut keys = vec![];
    for event in out {
        match event {
            Event::On { key, .. } => keys.push(*key),
            Event::Off { key, .. } => {
                let at = keys.iter().position(|k| k == key).expect("an off without an on");
                keys.remove(at);
            }
            _ => {}
        }
    }
    keys
}

/// The event some frames earlier; it must be that late.
pub fn earlier(mut event: Event, by: u32) -> Event {
    let frame = event.frame();
    *frame = frame.checked_sub(by).expect("it is that late");
    event
}

/// Memory of this process, MB.
pub fn resident() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<f64>().unwrap() / 1024.0
}
