//! Writes a performance as a WAV file.

use std::io::BufWriter;
use std::path::Path;

use super::{Cue, Instrument, Player};
use crate::failure::Failure;
use crate::files;

/// Frames rendered at a time.
const BLOCK: usize = 1024;

/// Seconds after the last cue at which the sound is let go, whatever it does.
const LONGEST_TAIL_S: f64 = 8.0;

/// Seconds of the fade when it is.
const FADE_S: f32 = 0.5;

/// What was written; full scale is 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Levels {
    /// Length of the file in seconds.
    pub seconds: f64,
    /// The highest sample.
    pub peak: f32,
    /// Root of the mean square over all of it.
    pub rms: f32,
}

/// Writes `cues` as played on `instrument`: 16-bit stereo at its rate. An
/// existing file is replaced only when `force` says so; nothing half-written
/// is left behind. It begins quietly, as the speakers do: nobody knows how loud
/// they are set where it is opened.
///
/// # Errors
/// [`Failure::Input`] when the file exists and is not to be replaced,
/// [`Failure::Machine`] when it cannot be written.
pub fn write_wav(
    path: &Path,
    cues: &[Cue],
    instrument: Box<dyn Instrument>,
    force: bool,
) -> Result<Levels, Failure> {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: instrument.rate(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut player = Player::new(instrument, cues.to_vec()).starting_quiet();
    let mut levels = Levels::default();
    files::write_by(path, force, |file| {
        let mut writer = hound::WavWriter::new(BufWriter::new(file), spec).map_err(plain)?;
        levels = perform(&mut player, spec.sample_rate, |left, right| {
            writer.write_sample(to_16_bit(left))?;
            writer.write_sample(to_16_bit(right))
        })
        .map_err(plain)?;
        writer.finalize().map_err(plain)
    })?;
    Ok(levels)
}

/// Plays to the end of the last tail, a frame at a time into `write`.
fn perform<E>(
    player: &mut Player,
    rate: u32,
    mut write: impl FnMut(f32, f32) -> Result<(), E>,
) -> Result<Levels, E> {
    let mut levels = Levels::default();
    let mut squares = 0.0f64;
    let mut fade = 1.0f32;
    let (mut left, mut right) = ([0.0f32; BLOCK], [0.0f32; BLOCK]);
    while !player.is_over() && fade > 0.0 {
        let late = player.position_s() > player.last_cue_s() + LONGEST_TAIL_S;
        player.render(&mut left, &mut right);
        for (&left, &right) in left.iter().zip(&right) {
            if late {
                fade = (fade - 1.0 / (FADE_S * rate as f32)).max(0.0);
            }
            let (left, right) = (left * fade, right * fade);
            levels.peak = levels.peak.max(left.abs()).max(right.abs());
            squares += f64::from(left * left + right * right) / 2.0;
            write(left, right)?;
        }
    }
    levels.seconds = player.position_s();
    let frames = levels.seconds * f64::from(rate);
    levels.rms = if frames > 0.0 { (squares / frames).sqrt() as f32 } else { 0.0 };
    Ok(levels)
}

fn to_16_bit(sample: f32) -> i16 {
    (sample * 32_767.0).round() as i16
}

fn plain(error: hound::Error) -> std::io::Error {
    match error {
        hound::Error::IoError(error) => error,
        other => std::io::Error::other(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::Piano;
    use sinistra_core::engine::Message;
    use sinistra_core::pitch::KeyNumber;

    fn chord() -> Vec<Cue> {
        let key = |n| KeyNumber::new(n).expect("a key");
        let on = |n| Message::On { channel: 0, key: key(n), velocity: 80 };
        let off = |n| Message::off(0, key(n));
        [48u8, 60, 64, 67]
            .into_iter()
            .flat_map(|n| [Cue { at_s: 0.0, message: on(n) }, Cue { at_s: 0.5, message: off(n) }])
            .collect()
    }

    #[test]
    fn a_file_holds_what_its_levels_say() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("chord.wav");
        let levels =
            write_wav(&path, &chord(), Box::new(Piano::new(48_000)), false).expect("written");
        let mut reader = hound::WavReader::open(&path).expect("a WAV file");
        let spec = reader.spec();
        assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (2, 48_000, 16));
        let samples: Vec<i16> = reader.samples().map(|s| s.expect("a sample")).collect();
        let highest = samples.iter().map(|s| s.unsigned_abs()).max().expect("samples");
        assert!((f32::from(highest) / 32_767.0 - levels.peak).abs() < 1e-4);
        assert!((0.02..0.7).contains(&levels.peak), "{levels:?}");
        assert!((0.6..4.0).contains(&levels.seconds), "{levels:?}");
        let last = &samples[samples.len() - 200..];
        assert!(last.iter().all(|s| s.abs() < 40), "the tail is not cut off");
    }

    #[test]
    fn a_note_that_never_ends_still_ends_the_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("stuck.wav");
        let stuck: Vec<Cue> = chord().into_iter().filter(|cue| cue.at_s == 0.0).collect();
        let levels =
            write_wav(&path, &stuck, Box::new(Piano::new(48_000)), false).expect("written");
        assert!(levels.seconds < LONGEST_TAIL_S + 1.0, "{levels:?}");
    }

    #[test]
    fn a_file_that_is_there_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("mine.wav");
        std::fs::write(&path, "mine").expect("written");
        let refused = write_wav(&path, &chord(), Box::new(Piano::new(48_000)), false);
        assert!(matches!(refused, Err(Failure::Input(_))));
        assert_eq!(std::fs::read(&path).expect("there"), b"mine");
    }
}
