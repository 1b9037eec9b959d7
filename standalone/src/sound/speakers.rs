//! The speakers: a part played aloud, or whatever comes in, live.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use cpal::Stream;
use cpal::traits::StreamTrait;
use sinistra_core::engine::Message;

use super::device::{Callback, DeviceState, default_output, start};
use super::{Cue, Player, Timbre};
use crate::failure::Failure;
use crate::quiet::hushed;

/// Frames between a key and its sound on stage: 5 ms at 48 kHz, if the device can.
const LIVE_BUFFER: u32 = 256;

/// Messages that may wait for the next callback.
const QUEUE: usize = 1024;

/// How often a waiting thread looks, and reports.
const LOOK: Duration = Duration::from_millis(10);

/// Plays `cues` through the default output, beginning quietly, and waits for
/// the end. Every 10 ms it tells `watch` the position in seconds; when `watch`
/// says `false`, the sound fades and that is the end.
///
/// # Errors
/// [`Failure::Machine`] when there is no device or it fails on the way.
pub fn play_aloud(
    cues: &[Cue],
    timbre: &Timbre,
    mut watch: impl FnMut(f64) -> bool,
) -> Result<(), Failure> {
    let cues = cues.to_vec();
    let speakers = Speakers::open(timbre, None, cues, None)?;
    let shared = &speakers.shared;
    let mut asked_to_stop = None::<Instant>;
    while !shared.over.load(Ordering::Acquire) {
        if shared.failed.load(Ordering::Acquire) {
            return Err(Failure::Machine("the sound device stopped working".into()));
        }
        let position = shared.frames.load(Ordering::Acquire) as f64 / speakers.rate;
        match asked_to_stop {
            None if !watch(position) => {
                shared.stop.store(true, Ordering::Release);
                asked_to_stop = Some(Instant::now());
            }
            // A device that does not call back any more cannot fade either.
            Some(asked) if asked.elapsed() > Duration::from_millis(500) => break,
            _ => {}
        }
        std::thread::sleep(LOOK);
    }
    Ok(())
}

/// The open output; dropping it ends the sound.
pub struct Speakers {
    shared: Arc<DeviceState>,
    rate: f64,
    stream: Stream,
}

/// The way in for live messages, from one thread. Wait-free.
pub struct Feed {
    queue: rtrb::Producer<Message>,
}

impl Feed {
    /// Sounds in the next callback; `false` if more than 1024 messages wait
    /// (the device has stopped). Real-time safe.
    pub fn send(&mut self, message: Message) -> bool {
        self.queue.push(message).is_ok()
    }
}

/// Opens the default output for live messages, with as little delay as the
/// device allows; begins quietly.
///
/// # Errors
/// [`Failure::Machine`] when there is no device, [`Failure::Input`] when the
/// SoundFont cannot be read.
pub fn go_live(timbre: &Timbre) -> Result<(Speakers, Feed), Failure> {
    let open = |buffer| {
        let (queue, waiting) = rtrb::RingBuffer::new(QUEUE);
        let speakers = Speakers::open(timbre, buffer, Vec::new(), Some(waiting))?;
        Ok((speakers, Feed { queue }))
    };
    // A device that refuses the small buffer after all gets its own.
    match open(Some(LIVE_BUFFER)) {
        Err(Failure::Machine(_)) => open(None),
        opened => opened,
    }
}

impl Speakers {
    /// Whether the device has failed since (unplugged, taken away).
    pub fn failed(&self) -> bool {
        self.shared.failed.load(Ordering::Acquire)
    }

    fn open(
        timbre: &Timbre,
        buffer: Option<u32>,
        cues: Vec<Cue>,
        waiting: Option<rtrb::Consumer<Message>>,
    ) -> Result<Self, Failure> {
        let (device, format, config) = hushed(|| default_output(buffer))?;
        let rate = config.sample_rate;
        // What is planned waits for the whole instrument; what is live does not.
        let live = waiting.is_some();
        let instrument = if live { timbre.open_live(rate) } else { timbre.open(rate) }?;
        let player = Player::new(instrument, cues).starting_quiet();
        let shared = Arc::new(DeviceState::default());
        let callback = Callback::new(player, waiting, &config, Arc::clone(&shared));
        let stream = hushed(|| start(&device, format, config, callback))?;
        Ok(Self { shared, rate: f64::from(rate), stream })
    }
}

impl Drop for Speakers {
    fn drop(&mut self) {
        // A click at the end is avoided where the device still calls back.
        self.shared.stop.store(true, Ordering::Release);
        let asked = Instant::now();
        while !self.shared.over.load(Ordering::Acquire)
            && !self.failed()
            && asked.elapsed() < Duration::from_millis(150)
        {
            std::thread::sleep(LOOK);
        }
        let _ = self.stream.pause();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::pitch::KeyNumber;

    /// By hand, since it can be heard: `cargo test -p sinistra -- --ignored aloud`.
    #[test]
    #[ignore = "plays a chord through the speakers"]
    fn a_chord_is_played_aloud_and_live() {
        let on = |n| Message::On { channel: 0, key: KeyNumber::clamped(n), velocity: 80 };
        let off = |n| Message::off(0, KeyNumber::clamped(n));
        let chord = [48, 60, 64, 67];
        let cues: Vec<Cue> = chord
            .iter()
            .flat_map(|&n| [Cue { at_s: 0.2, message: on(n) }, Cue { at_s: 1.2, message: off(n) }])
            .collect();
        let mut last = 0.0;
        play_aloud(&cues, &Timbre::Piano, |at_s| {
            last = at_s;
            true
        })
        .expect("a sound device");
        assert!(last > 1.2, "{last}");
        let (speakers, mut feed) = go_live(&Timbre::Piano).expect("a sound device");
        for n in chord {
            assert!(feed.send(on(n)));
            std::thread::sleep(Duration::from_millis(200));
        }
        assert!(!speakers.failed());
    }
}
