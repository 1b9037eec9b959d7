//! A chorus that was just played, read from the log: the chart that was heard, and both
//! hands, to be printed and practised.

use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, KeyChoice, Message, Settings};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Role, Why, swing, tones};
use sinistra_core::time::Ticks;

use super::file::{midi_file, span};
use super::log::{LoggedEvent, What};
use super::stroke::LoggedStroke;
use crate::midi_file::HandTrack;
use crate::performance::HandNote;
use crate::practice::Exercise;
use crate::{Chart, Cut, MidiFile, Performance, Timeline, find_pattern, two_hands};

/// Where strokes are counted: sixteenths, and thirds of half a beat beside them.
const GRIDS: [i64; 2] = [Ticks::PER_BEAT / 4, Ticks::PER_BEAT / 6];
/// A stroke so near a sixteenth is on it.
const NEAR: i64 = Ticks::PER_BEAT / 16;

/// The last `bars` bars of the log, as they were played with `settings`, by the name
/// `title`. The chords are those that are heard in the whole log, each judged when all
/// of it had sounded. `None` where no chord was heard or our hand played nothing.
pub fn chorus(
    entries: &[LoggedEvent],
    bars: usize,
    settings: &Settings,
    title: &str,
) -> Option<Exercise> {
    let (bytes, (from, _)) = (midi_file(entries, bars)?, span(entries, bars)?);
    let (start, _) = span(entries, usize::MAX)?;
    let file = MidiFile::read(title, &bytes).ok()?;
    let timeline = file.timeline();
    let strokes = strokes(entries, from);
    let chords = with_basses(&heard(entries, settings, from - start)?, &strokes);
    let key = match settings.key {
        KeyChoice::Fixed(key) => Some(key.into()),
        KeyChoice::Auto => None,
    };
    let pulse = timeline.place(Ticks::ZERO).metre.pulse().beats();
    let tempo = timeline.tempo(Ticks::ZERO);
    let place = |at| timeline.place(at);
    let chart = Chart::captured(title, key, Some(tempo / pulse), &chords, file.end(), place)?;
    let song = chart.unfold();
    let writer = Writer {
        chords: &chords,
        strokes: &strokes,
        song_key: chart.written_key().key(),
        timeline,
        swing: settings.swing,
    };
    let left = writer.notes(&file.messages(&track(2)), |at, chord, key, before| {
        let stroke = writer.stroke(at, key);
        let role = stroke.map(|stroke| stroke.role).or_else(|| Writer::role(chord, key, before));
        (role, stroke.map(|stroke| stroke.why))
    });
    let right = writer.notes(&file.messages(&track(1)), |_, _, _, _| (None, None));
    let timeline = Timeline::of_song(&song, tempo);
    let swing = settings.swing;
    let performance = Performance { song, timeline, swing, right, left, pedal: Vec::new() };
    let about = "A chorus of the left hand, kept to practise from.";
    (!performance.left.is_empty()).then(|| Exercise::of(&chart, &performance, title, about))
}

/// A hand's track of a take.
const fn track(number: usize) -> HandTrack {
    HandTrack { track: Some(number), channel: None, drums: true }
}

/// The chords of the log from `from` on, each with its time from there.
fn heard(
    entries: &[LoggedEvent],
    settings: &Settings,
    from: Ticks,
) -> Option<Vec<(Ticks, Option<Chord>)>> {
    let bytes = midi_file(entries, usize::MAX)?;
    let file = MidiFile::read("log", &bytes).ok()?;
    let pattern = find_pattern("roots-on-the-beat")?.compile().ok()?;
    let mut engine = Engine::new(*settings, pattern);
    let cut = Cut { rate: 48_000.0, block: 1024 };
    let chords = two_hands(&mut engine, &file, &file.messages(&track(1)), None, cut).chords;
    let later = chords.partition_point(|chord| chord.0 <= from);
    let held = chords.get(later.checked_sub(1)?..later)?.iter().map(|held| (Ticks::ZERO, held.1));
    let after = chords.get(later..)?.iter().map(|(at, chord)| (*at - from, *chord));
    Some(held.chain(after).collect())
}

/// What is known of our hand's strokes, by their time from `from` on.
fn strokes(entries: &[LoggedEvent], from: Ticks) -> Vec<(Ticks, LoggedStroke)> {
    let stroke = |entry: &LoggedEvent| match entry.what {
        What::Stroke(stroke) => Some((entry.at - from, stroke)),
        _ => None,
    };
    entries.iter().filter_map(stroke).collect()
}

/// Our hand knows the bass after a slash, which the right hand does not strike: where it
/// played to such a chord of the same root, that is the chord, from its first stroke on.
fn with_basses(
    chords: &[(Ticks, Option<Chord>)],
    strokes: &[(Ticks, LoggedStroke)],
) -> Vec<(Ticks, Option<Chord>)> {
    let mut all = Vec::new();
    for (n, (at, chord)) in chords.iter().enumerate() {
        let Some(mut now) = *chord else {
            all.push((*at, None));
            continue;
        };
        let near = Ticks(NEAR);
        let end = chords.get(n + 1).map_or(Ticks(i64::MAX), |next| next.0 - near);
        let inside = strokes.iter().filter(|(when, _)| (*at - near..end).contains(when));
        let mut basses = inside
            .filter(|(_, stroke)| stroke.root == now.root)
            .map(|(when, stroke)| (*when, stroke.bass))
            .peekable();
        // Before the first stroke nobody says otherwise.
        now.bass = basses.peek().map_or(now.bass, |first| first.1);
        all.push((*at, Some(now)));
        for (when, bass) in basses {
            if bass != now.bass {
                now.bass = bass;
                all.push((when, Some(now)));
            }
        }
    }
    all
}

/// Writes down what a hand did.
struct Writer<'a> {
    chords: &'a [(Ticks, Option<Chord>)],
    strokes: &'a [(Ticks, LoggedStroke)],
    song_key: Key,
    timeline: &'a Timeline,
    swing: f32,
}

impl Writer<'_> {
    /// The notes of `messages`; `about` says what a key that was struck at a time is to its
    /// chord, and why it was struck, and knows the notes before.
    fn notes(
        &self,
        messages: &[(Ticks, Message)],
        about: impl Fn(Ticks, Chord, KeyNumber, &[HandNote]) -> (Option<Role>, Option<Why>),
    ) -> Vec<HandNote> {
        let mut notes: Vec<HandNote> = Vec::new();
        let mut open: Vec<usize> = Vec::new();
        for (at, message) in messages {
            match *message {
                Message::On { key, velocity, .. } => {
                    let counted = self.counted(*at);
                    let Some(chord) = self.chord_at(counted) else { continue };
                    let (role, why) = about(*at, chord, key, &notes);
                    open.push(notes.len());
                    notes.push(HandNote {
                        at: counted,
                        until: counted + Ticks(1),
                        sounds: (*at, *at + Ticks(1)),
                        key,
                        velocity,
                        role,
                        why,
                        chord,
                        song_key: self.song_key,
                    });
                }
                Message::Off { key, .. } => {
                    let ends = |n: &usize| notes.get(*n).is_some_and(|note| note.key == key);
                    let Some(place) = open.iter().position(ends) else { continue };
                    if let Some(note) = notes.get_mut(open.remove(place)) {
                        note.until = swing::counted(*at, self.timeline.place(*at), self.swing)
                            .max(note.until);
                        note.sounds.1 = (*at).max(note.sounds.1);
                    }
                }
                Message::Control { .. } => {}
            }
        }
        notes.sort_by_key(|note| (note.at, note.key));
        notes
    }

    /// What is known of a key that our hand struck: the bridge may have sent it an octave
    /// lower.
    fn stroke(&self, at: Ticks, key: KeyNumber) -> Option<LoggedStroke> {
        let near = |(when, stroke): &&(Ticks, LoggedStroke)| {
            (*when - at).0.abs() <= NEAR && stroke.key.class() == key.class()
        };
        let found = self.strokes.iter().filter(near);
        let nearest = found.min_by_key(|(when, stroke)| (stroke.key != key, (*when - at).0.abs()));
        nearest.map(|(_, stroke)| *stroke)
    }

    /// The chord that holds, or the one that comes first.
    fn chord_at(&self, at: Ticks) -> Option<Chord> {
        let until = self.chords.partition_point(|chord| chord.0 <= at + Ticks(NEAR));
        let (before, after) = self.chords.split_at(until);
        before.iter().rev().chain(after).find_map(|chord| chord.1)
    }

    /// Where a stroke is counted, however loosely it was played.
    fn counted(&self, at: Ticks) -> Ticks {
        let at = swing::counted(at, self.timeline.place(at), self.swing).0;
        let [sixteenth, third] = GRIDS.map(|grid| (at + grid / 2).div_euclid(grid) * grid);
        Ticks(if (sixteenth - at).abs() <= NEAR { sixteenth } else { third })
    }

    /// What a key is to its chord; the root again, in another octave, is an octave.
    fn role(chord: Chord, key: KeyNumber, before: &[HandNote]) -> Option<Role> {
        let class = key.class();
        let is_root = |note: &&HandNote| note.chord == chord && note.role == Some(Role::Root);
        let root = before.iter().rev().find(is_root);
        Some(match class {
            _ if class == chord.root && root.is_some_and(|root| root.key != key) => Role::Octave,
            _ if class == chord.root => Role::Root,
            _ if class == chord.bass => Role::Bass,
            _ if chord.tones().has(class) => tones::role(chord, class),
            _ => Role::Passing,
        })
    }
}
