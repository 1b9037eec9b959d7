//! A performance as a MIDI file, and as sound.

use std::path::{Path, PathBuf};

use sinistra_core::engine::Message;
use sinistra_core::time::Ticks;
use sinistra_score::midi_file::{NewTrack, write_tracks};
use sinistra_score::performance::messages;
use sinistra_score::{Chart, Performance};

use crate::sound::Cue;

/// Which hands are heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum HeardHands {
    /// Chords and the left hand to them
    Both,
    /// The left hand alone
    Left,
    /// The chords alone, to play the left hand to
    Right,
}

/// The hands that are heard, each with its name.
fn parts(
    performance: &Performance,
    hands: HeardHands,
) -> Vec<(&'static str, Vec<(Ticks, Message)>)> {
    let mut parts = Vec::new();
    if hands != HeardHands::Left {
        parts.push(("Right hand", messages(&performance.right)));
    }
    if hands != HeardHands::Right {
        parts.push(("Left hand", performance.left_messages()));
    }
    parts
}

/// A Standard MIDI File of format 1, a track a hand.
pub fn midi(chart: &Chart, performance: &Performance, hands: HeardHands) -> Vec<u8> {
    let parts = parts(performance, hands);
    let tracks: Vec<_> = parts
        .iter()
        .map(|(name, messages)| NewTrack { name, program: Some(0), messages })
        .collect();
    let song = &performance.song;
    let key = Some(chart.written_key());
    let span = (song.start(), song.end());
    write_tracks(chart.title(), key, &performance.timeline, span, &tracks)
}

/// What is to sound, from second 0.
pub fn cues(performance: &Performance, hands: HeardHands) -> Vec<Cue> {
    let timeline = &performance.timeline;
    let start = timeline.seconds(performance.song.start());
    let cue = |(at, message): (Ticks, Message)| Cue { at_s: timeline.seconds(at) - start, message };
    let mut cues: Vec<_> =
        parts(performance, hands).into_iter().flat_map(|(_, messages)| messages).map(cue).collect();
    // Both hands share a pedal: what ends does so before anything begins.
    let begins = |cue: &Cue| matches!(cue.message, Message::On { .. });
    cues.sort_by(|a, b| a.at_s.total_cmp(&b.at_s).then(begins(a).cmp(&begins(b))));
    cues
}

/// `TITLE.mid` and the like in the present folder; `TITLE-2` and so on where
/// any of the names is taken.
pub fn free_names(title: &str, extensions: &[&str]) -> Vec<PathBuf> {
    let plain = |c: char| if c.is_alphanumeric() || " -_'".contains(c) { c } else { '-' };
    let stem: String = title.chars().take(80).map(plain).collect();
    let stem = match stem.trim() {
        "" => "Untitled",
        stem => stem,
    };
    let named = |n: u32| -> Vec<PathBuf> {
        let suffix = if n == 1 { String::new() } else { format!("-{n}") };
        extensions.iter().map(|e| PathBuf::from(format!("{stem}{suffix}.{e}"))).collect()
    };
    let taken = |path: &PathBuf| Path::new(path).symlink_metadata().is_ok();
    (1..10_000).map(named).find(|names| !names.iter().any(taken)).unwrap_or_else(|| named(10_000))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_become_names_that_every_disk_takes() {
        let name = |title| free_names(title, &["mid"])[0].display().to_string();
        assert_eq!(name("Mill: a/b\\c?"), "Mill- a-b-c-.mid");
        assert_eq!(name("../../etc"), "------etc.mid");
        assert_eq!(name("  "), "Untitled.mid");
    }
}
