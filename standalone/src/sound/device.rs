//! The sound device: found, opened in its own format, and called back by.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, Device, ErrorKind, FromSample, SampleFormat, SizedSample, Stream, StreamConfig,
    SupportedBufferSize,
};
use sinistra_core::engine::Message;

use super::Player;
use crate::failure::Failure;

/// Frames rendered at a time.
const CHUNK: usize = 256;

/// Seconds of the fade when the sound is stopped.
const STOP_FADE_S: f32 = 0.04;

/// What both threads see. The audio thread writes `frames` and `over`, the
/// device `failed`, the waiting thread `stop`.
#[derive(Default)]
pub struct DeviceState {
    /// Frames played so far.
    pub frames: AtomicU64,
    /// Nothing more will sound.
    pub over: AtomicBool,
    /// The device is gone.
    pub failed: AtomicBool,
    /// Fade and end.
    pub stop: AtomicBool,
}

/// What the device calls for sound. Real-time safe.
pub struct Callback {
    player: Player,
    /// Live messages; `None` for a part that ends by itself.
    waiting: Option<rtrb::Consumer<Message>>,
    shared: Arc<DeviceState>,
    channels: usize,
    fade: f32,
    fade_step: f32,
    left: [f32; CHUNK],
    right: [f32; CHUNK],
}

impl Callback {
    /// For a device of `config`.
    pub fn new(
        player: Player,
        waiting: Option<rtrb::Consumer<Message>>,
        config: &StreamConfig,
        shared: Arc<DeviceState>,
    ) -> Self {
        Self {
            player,
            waiting,
            shared,
            channels: usize::from(config.channels.max(1)),
            fade: 1.0,
            fade_step: 1.0 / (STOP_FADE_S * config.sample_rate as f32),
            left: [0.0; CHUNK],
            right: [0.0; CHUNK],
        }
    }

    /// Fills `out`, interleaved.
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T]) {
        if let Some(waiting) = &mut self.waiting {
            while let Ok(message) = waiting.pop() {
                self.player.play(message);
            }
        }
        let stopping = self.shared.stop.load(Ordering::Acquire);
        for chunk in out.chunks_mut(CHUNK * self.channels) {
            let frames = chunk.len() / self.channels;
            let (Some(left), Some(right)) =
                (self.left.get_mut(..frames), self.right.get_mut(..frames))
            else {
                return;
            };
            self.player.render(left, right);
            let sides = left.iter().zip(&*right);
            for (frame, (&left, &right)) in chunk.chunks_mut(self.channels).zip(sides) {
                if stopping {
                    self.fade = (self.fade - self.fade_step).max(0.0);
                }
                spread(frame, left * self.fade, right * self.fade);
            }
            self.shared.frames.fetch_add(frames as u64, Ordering::Release);
        }
        let ended = self.waiting.is_none() && self.player.is_over();
        if ended || self.fade <= 0.0 {
            self.shared.over.store(true, Ordering::Release);
        }
    }
}

/// One frame onto the device's channels: the middle on one, left and right on
/// the first two of more, silence on the rest.
fn spread<T: SizedSample + FromSample<f32>>(frame: &mut [T], left: f32, right: f32) {
    match frame {
        [only] => *only = T::from_sample((left + right) / 2.0),
        [first, second, rest @ ..] => {
            *first = T::from_sample(left);
            *second = T::from_sample(right);
            rest.fill(T::from_sample(0.0));
        }
        [] => {}
    }
}

/// The default output, its sample format, and its own configuration with
/// callbacks of about `buffer` frames where it lets us choose.
pub fn default_output(
    buffer: Option<u32>,
) -> Result<(Device, SampleFormat, StreamConfig), Failure> {
    let none = || Failure::Machine("there is no sound device".into());
    let device = cpal::default_host().default_output_device().ok_or_else(none)?;
    let supported = device.default_output_config().map_err(|e| match e.kind() {
        // What ALSA's default device says on a machine without a sound card.
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => none(),
        _ => Failure::Machine(format!("the sound device does not work: {e}")),
    })?;
    let mut config = supported.config();
    config.buffer_size = match (buffer, supported.buffer_size()) {
        (Some(frames), SupportedBufferSize::Range { min, max }) if min <= max => {
            BufferSize::Fixed(frames.clamp(*min, *max))
        }
        _ => BufferSize::Default,
    };
    Ok((device, supported.sample_format(), config))
}

/// Opens the stream and lets it run.
pub fn start(
    device: &Device,
    format: SampleFormat,
    config: StreamConfig,
    callback: Callback,
) -> Result<Stream, Failure> {
    let stream = match format {
        SampleFormat::F32 => build::<f32>(device, config, callback),
        SampleFormat::F64 => build::<f64>(device, config, callback),
        SampleFormat::I8 => build::<i8>(device, config, callback),
        SampleFormat::I16 => build::<i16>(device, config, callback),
        SampleFormat::I24 => build::<cpal::I24>(device, config, callback),
        SampleFormat::I32 => build::<i32>(device, config, callback),
        SampleFormat::U8 => build::<u8>(device, config, callback),
        SampleFormat::U16 => build::<u16>(device, config, callback),
        SampleFormat::U32 => build::<u32>(device, config, callback),
        other => {
            return Err(Failure::Machine(format!(
                "the sound device wants samples as {other}, which is not known here"
            )));
        }
    };
    let failed = |e: cpal::Error| Failure::Machine(format!("the sound device does not open: {e}"));
    let stream = stream.map_err(failed)?;
    stream.play().map_err(failed)?;
    Ok(stream)
}

fn build<T: SizedSample + FromSample<f32>>(
    device: &Device,
    config: StreamConfig,
    mut callback: Callback,
) -> Result<Stream, cpal::Error> {
    let shared = Arc::clone(&callback.shared);
    device.build_output_stream(
        config,
        move |out: &mut [T], _| callback.fill(out),
        move |error| {
            // A late buffer or a new default device is no end of the music.
            let passing = [ErrorKind::Xrun, ErrorKind::DeviceChanged, ErrorKind::RealtimeDenied];
            if !passing.contains(&error.kind()) {
                shared.failed.store(true, Ordering::Release);
            }
        },
        None,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_sides_reach_devices_of_one_two_and_six_channels() {
        let mut one = [9.0f32];
        spread(&mut one, 0.5, 0.25);
        assert_eq!(one, [0.375]);
        let mut six = [9.0f32; 6];
        spread(&mut six, 0.5, 0.25);
        assert_eq!(six, [0.5, 0.25, 0.0, 0.0, 0.0, 0.0]);
        let mut unsigned = [0u8; 2];
        spread(&mut unsigned, 0.0, 0.0);
        assert_eq!(unsigned, [128, 128], "silence of an unsigned format is its middle");
    }
}
