//! A set-up as it is played: what was turned under the hands or set in the window,
//! as the words that would set it so.

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::Mode;
use sinistra_core::maths;
use sinistra_core::pitch::{KeyNumber, PitchClass};

use super::{EntryWords, SetupWords, resolve};
use crate::bridge::run::Look;
use crate::bridge::stage::LeftHandWork;

/// `words` as they are played now. Where there is a set, the song at `at` has what
/// differs for itself; else all is said for every song.
pub fn as_played(
    words: &SetupWords,
    at: Option<usize>,
    look: &Look,
    pattern: Option<&str>,
) -> SetupWords {
    let mut words = words.clone();
    let Ok(general) = resolve(&words) else { return words };
    let now = look.settings;
    let clicks = look.held.click_loudness;
    put(&mut words.click_loudness, clicks, clicks == general.click_loudness);
    let tempo = (look.time.tempo * 10.0).round() / 10.0;
    match at.and_then(|at| words.entry.get_mut(at)) {
        Some(entry) => {
            put(&mut entry.tempo, tempo, look.time.tempo == general.time.tempo);
            put(&mut entry.left, look.left, look.left == general.left);
            song(entry, &general.settings, &now);
            if let Some(pattern) = pattern {
                entry.pattern = Some(pattern.to_owned());
            }
        }
        None => {
            put(&mut words.tempo, tempo, look.time.tempo == general.time.tempo);
            put(&mut words.left, look.left, look.left == LeftHandWork::default());
            every_song(&mut words, &now);
            if let Some(pattern) = pattern {
                words.pattern = vec![pattern.to_owned()];
            }
        }
    }
    words
}

/// Sets a word, if it was set before or its value is not the usual.
fn put<T>(word: &mut Option<T>, now: T, usual: bool) {
    if word.is_some() || !usual {
        *word = Some(now);
    }
}

fn percent(part: f32) -> u8 {
    u8::try_from(maths::frames((part * 100.0).round().into())).unwrap_or(u8::MAX)
}

/// Sets the words that a song may have for itself and the whole set has as well.
macro_rules! shared {
    ($words:expr, $usual:expr, $now:expr) => {
        put(&mut $words.split, note($now.split), $now.split == $usual.split);
        put(&mut $words.busy, $now.busy, $now.busy == $usual.busy);
        put(&mut $words.variety, $now.variety, $now.variety == $usual.variety);
        put(&mut $words.swing, percent($now.swing), $now.swing == $usual.swing);
        put(&mut $words.length, percent($now.length), $now.length == $usual.length);
        put(&mut $words.loose, percent($now.loose), $now.loose == $usual.loose);
        put(&mut $words.sustain, $now.pedal, $now.pedal == $usual.pedal);
        put(&mut $words.loudness, percent($now.loudness), $now.loudness == $usual.loudness);
    };
}

fn song(entry: &mut EntryWords, usual: &Settings, now: &Settings) {
    shared!(entry, usual, now);
    if now.channel != usual.channel {
        entry.channel = now.channel.map(|channel| channel + 1);
    }
    if now.key != usual.key {
        entry.key = Some(key(now.key));
    }
}

fn every_song(words: &mut SetupWords, now: &Settings) {
    let usual = Settings::default();
    shared!(words, usual, now);
    put(&mut words.lowest, note(now.lowest), now.lowest == usual.lowest);
    put(&mut words.highest, note(now.highest), now.highest == usual.highest);
    put(&mut words.reach, now.reach, now.reach == usual.reach);
    put(&mut words.certainty, percent(now.certainty), now.certainty == usual.certainty);
    put(&mut words.hold_bars, now.hold_bars, now.hold_bars == usual.hold_bars);
    put(&mut words.seed, now.seed, now.seed == usual.seed);
    let wait = u8::try_from(maths::frames(now.window_ms.round().min(150.0).into())).unwrap_or(0);
    put(&mut words.window, wait, now.window_ms == usual.window_ms);
    words.channel = now.channel.map(|channel| channel + 1);
    put(&mut words.key, key(now.key), now.key == usual.key);
}

/// As a set-up file has it: `C4`, `F#2`.
fn note(number: KeyNumber) -> String {
    format!("{}{}", class(number.class()), number.octave())
}

/// `auto`, `F#`, `F#m`.
fn key(choice: KeyChoice) -> String {
    match choice {
        KeyChoice::Auto => "auto".into(),
        KeyChoice::Fixed(key) if key.mode == Mode::Minor => format!("{}m", class(key.tonic)),
        KeyChoice::Fixed(key) => class(key.tonic).into(),
    }
}

fn class(class: PitchClass) -> &'static str {
    class.of(&["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bridge::stage::Switched;
    use sinistra_core::engine::Snapshot;

    fn look(words: &SetupWords) -> Look {
        let options = resolve(words).expect("right");
        let held = Switched { click_loudness: options.click_loudness, ..Switched::default() };
        let snapshot = Snapshot::default();
        let (settings, time, left) = (options.settings, options.time, options.left);
        Look { snapshot, left, settings, time, moves: false, held, octave_drop: false }
    }

    #[test]
    fn what_nobody_turned_is_not_written_and_what_was_turned_comes_back() {
        let mut words = SetupWords { busy: Some(40), ..SetupWords::default() };
        assert_eq!(as_played(&words, None, &look(&words), None), words);
        let mut turned = look(&words);
        turned.settings.split = KeyNumber::clamped(54);
        turned.settings.swing = 0.67;
        turned.settings.key = KeyChoice::Fixed(sinistra_core::key::Key {
            tonic: PitchClass::new(6),
            mode: Mode::Minor,
        });
        turned.time.tempo = 72.0;
        turned.left = LeftHandWork::Roots;
        let kept = as_played(&words, None, &turned, Some("waltz"));
        let again = resolve(&kept).expect("right");
        assert_eq!((again.settings, again.left), (turned.settings, turned.left));
        assert_eq!(again.time.tempo, 72.0);
        assert_eq!(kept.pattern, ["waltz"]);
        // In a set, the song alone has it.
        words.entry = vec![EntryWords::default(), EntryWords::default()];
        let kept = as_played(&words, Some(1), &turned, None);
        assert_eq!(kept.entry[0], EntryWords::default());
        let song = &kept.entry[1];
        assert_eq!((song.split.as_deref(), song.swing, song.busy), (Some("F#3"), Some(67), None));
        assert_eq!((song.key.as_deref(), song.tempo), (Some("F#m"), Some(72.0)));
        assert_eq!(kept.busy, Some(40));
    }
}
