//! The recorded notes of the piano, decoded once and shared.

use std::io::Cursor;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Once, OnceLock};

use lewton::inside_ogg::OggStreamReader;

/// One recorded note.
pub struct Recording {
    /// The MIDI key number that was struck.
    pub key: u8,
    /// Samples a second.
    pub rate: u32,
    /// Left and right; begins at the hammer's stroke, ends in a fade.
    pub frames: Vec<[i16; 2]>,
}

/// Seconds of a note that are kept. By then the longest bass note has faded
/// to a hundredth of its start, and decoding takes time and memory.
const LONGEST_S: usize = 12;

/// Seconds over which the end of what is kept fades away.
const FADE_S: f32 = 0.8;

/// Part of a note's peak that counts as the stroke.
const STROKE: f32 = 0.05;

/// Seconds kept before the stroke, so that its own onset is not cut.
const BEFORE_STROKE_S: f32 = 0.002;

macro_rules! recorded {
    ($($key:literal $name:literal)*) => {
        /// The keys that were recorded, lowest first.
        pub const KEYS: &[u8] = &[$($key),*];

        /// Key number and OGG Vorbis file; see `presets/sounds/README.md` for the source.
        static FILES: &[(u8, &[u8])] = &[$(($key, include_bytes!(concat!(
            env!("CARGO_MANIFEST_DIR"), "/../presets/sounds/piano/", $name, "v10.ogg"
        )))),*];
    };
}

recorded![
    24 "C1" 30 "F#1"
    33 "A1" 36 "C2" 39 "D#2" 42 "F#2"
    45 "A2" 48 "C3" 51 "D#3" 54 "F#3"
    57 "A3" 60 "C4" 63 "D#4" 66 "F#4"
    69 "A4" 72 "C5" 75 "D#5" 78 "F#5"
    81 "A5" 84 "C6" 87 "D#6" 90 "F#6"
    93 "A6" 96 "C7" 99 "D#7" 102 "F#7"
    105 "A7" 108 "C8"
];

/// Each as it is decoded, in the order of [`FILES`]; `None` for one that cannot be.
static DECODED: [OnceLock<Option<Recording>>; FILES.len()] =
    [const { OnceLock::new() }; FILES.len()];

/// The `n`th note, if it is decoded by now. Real-time safe.
pub fn ready(n: usize) -> Option<&'static Recording> {
    DECODED.get(n)?.get()?.as_ref()
}

/// Has them decoded behind the caller's back, the first keys within a few
/// milliseconds: all over the keyboard first, then those between.
pub fn begin() {
    static BEGUN: Once = Once::new();
    BEGUN.call_once(|| {
        // Without a thread they are decoded by whoever asks for all.
        let _ = std::thread::Builder::new().name("recordings".into()).spawn(|| decode_all(1));
    });
}

/// All recorded notes, lowest first. Decodes what is not yet decoded (about a second,
/// on all cores); not for the audio thread.
pub fn all() -> impl Iterator<Item = &'static Recording> {
    decode_all(std::thread::available_parallelism().map_or(1, usize::from).min(4));
    (0..FILES.len()).filter_map(ready)
}

fn decode_all(threads: usize) {
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(&n) = COARSE_FIRST.get(next.fetch_add(1, Ordering::Relaxed)) {
            if let (Some(place), Some(&(key, file))) = (DECODED.get(n), FILES.get(n)) {
                place.get_or_init(|| decode(key, file));
            }
        }
    };
    std::thread::scope(|scope| (0..threads).for_each(|_| drop(scope.spawn(work))));
}

/// Every place of [`FILES`] once: each eighth, then those half way between, and so on.
const COARSE_FIRST: [usize; FILES.len()] = {
    let (mut order, mut filled, mut step) = ([0; FILES.len()], 0, 8);
    while step > 0 {
        let mut n = 0;
        while n < FILES.len() {
            if step == 8 || !n.is_multiple_of(2 * step) {
                order[filled] = n;
                filled += 1;
            }
            n += step;
        }
        step /= 2;
    }
    order
};

/// The recording in a file; `None` for one that is not stereo Vorbis. Takes some
/// milliseconds, and allocates.
pub fn decode(key: u8, file: &[u8]) -> Option<Recording> {
    let mut reader = OggStreamReader::new(Cursor::new(file)).ok()?;
    if reader.ident_hdr.audio_channels != 2 {
        return None;
    }
    let rate = reader.ident_hdr.audio_sample_rate;
    let longest = LONGEST_S * rate as usize;
    let mut frames: Vec<[i16; 2]> = Vec::with_capacity(longest);
    while frames.len() < longest {
        let Some(packet) = reader.read_dec_packet_itl().ok()? else { break };
        let (pairs, _) = packet.as_chunks::<2>();
        frames.extend_from_slice(pairs);
    }
    frames.truncate(longest);
    frames.drain(..stroke(&frames, rate));
    fade_out(&mut frames, rate);
    Some(Recording { key, rate, frames })
}

/// The frame at which a note is to begin.
fn stroke(frames: &[[i16; 2]], rate: u32) -> usize {
    let level = |frame: &[i16; 2]| frame[0].unsigned_abs().max(frame[1].unsigned_abs());
    let peak = frames.iter().map(level).max().unwrap_or(0);
    let threshold = (f32::from(peak) * STROKE) as u16;
    let at = frames.iter().position(|frame| level(frame) > threshold).unwrap_or(0);
    at.saturating_sub((BEFORE_STROKE_S * rate as f32) as usize)
}

fn fade_out(frames: &mut [[i16; 2]], rate: u32) {
    let length = ((FADE_S * rate as f32) as usize).min(frames.len());
    for (left, frame) in frames.iter_mut().rev().take(length).enumerate() {
        let gain = left as f32 / length as f32;
        *frame = frame.map(|sample| (f32::from(sample) * gain) as i16);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_is_a_note_that_starts_at_once() {
        assert_eq!(all().count(), FILES.len());
        for recording in all() {
            assert_eq!(recording.rate, 48_000, "key {}", recording.key);
            assert!(recording.frames.len() > 2 * 48_000, "key {}", recording.key);
            let begins = stroke(&recording.frames, recording.rate);
            assert!(begins <= 1, "key {} begins {begins} frames late", recording.key);
        }
    }

    #[test]
    fn every_note_is_decoded_once_and_the_first_are_all_over_the_keyboard() {
        let mut order = COARSE_FIRST.to_vec();
        assert_eq!(order[..4], [0, 8, 16, 24]);
        order.sort_unstable();
        assert!(order.into_iter().eq(0..FILES.len()));
    }

    #[test]
    fn no_key_of_a_piano_is_farther_than_a_minor_third_from_a_recording() {
        let apart = |key: u8| all().map(|r| r.key.abs_diff(key)).min();
        assert!((21..=108).all(|key| apart(key) <= Some(3)));
        assert!((29..=108).all(|key| apart(key) <= Some(1)));
    }
}
