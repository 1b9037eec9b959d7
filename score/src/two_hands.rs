//! A recorded right hand becomes two hands.

use crate::left_track::left_track;
use crate::performance::{HandNote, RightKey, plan};
use crate::{Cut, LeftNote, MidiFile, Rehearsed, RightHandRests, Timeline, rehearse_and_listen};
use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, Message};
use sinistra_core::foresee::Song;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// What the left hand makes of a recorded right hand.
pub struct TwoHands {
    /// Its notes, in time order.
    pub notes: Vec<LeftNote>,
    /// The chords that were heard, `None` where nothing holds.
    pub chords: Vec<(Ticks, Option<Chord>)>,
    /// The notes as messages, for [`MidiFile::with_track`].
    pub track: Vec<(Ticks, Message)>,
}

/// The real engine over a file, its tempo and metre as the transport. `messages`
/// is what it is to hear of the file, in time order; `song` is its chart, if it has
/// one: then all bars are known, and the left hand's octaves are chosen over the whole.
pub fn two_hands(
    engine: &mut Engine,
    file: &MidiFile<'_>,
    messages: &[(Ticks, Message)],
    song: Option<Song>,
    cut: Cut,
) -> TwoHands {
    let timeline = file.timeline();
    let song = song.map(|song| {
        let lead_in = lead_in(file, &song, messages);
        song.moved(lead_in)
    });
    if let Some(song) = &song {
        drop(engine.swap_song(Some(Box::new(song.clone()))));
    }
    let frame = |at: Ticks| timeline.frame(at, cut.rate);
    let events: Vec<_> = messages.iter().map(|(at, message)| (frame(*at), *message)).collect();
    let Rehearsed { notes, chords, pedal } =
        rehearse_and_listen(engine, timeline, &events, (0, frame(file.end())), cut);
    let split = engine.settings().split;
    // A chart says what holds in a rest; without one nobody does.
    let rests = match &song {
        Some(song) => RightHandRests::of_chart(song, messages, split, file.end()),
        None => RightHandRests::of(messages, timeline, split, file.end()),
    };
    let mut notes = rests.hush(notes, timeline, cut.rate);
    if song.is_some() {
        let mut planned = hand_notes(&notes, timeline, cut.rate);
        let right = right_keys(messages, split, file.end());
        plan(&mut planned, &right, timeline, engine.settings());
        let keys = planned.iter().map(|note| note.key);
        notes.iter_mut().zip(keys).for_each(|(note, key)| note.played.key = key);
    }
    let chords = rests.write(&chords);
    let (notes, mut track) = left_track(notes, file, cut.rate);
    let moved = |(at, message)| (timeline.tick_at_frame(at, cut.rate), message);
    track.extend(pedal.into_iter().map(moved));
    Message::sort(&mut track);
    TwoHands { notes, chords, track }
}

/// What was played, as notes of a hand.
fn hand_notes(notes: &[LeftNote], timeline: &Timeline, rate: f64) -> Vec<HandNote> {
    let note = |note: &LeftNote| {
        let tick = |frame| timeline.tick_at_frame(frame, rate);
        let (from, until) = (tick(note.on), tick(note.off));
        let at = note.played.grid.unwrap_or(from);
        HandNote::of(&note.played, at, until, (from, until))
    };
    notes.iter().map(note).collect()
}

/// The keys of the right hand, from `split` up, by when they begin.
fn right_keys(messages: &[(Ticks, Message)], split: KeyNumber, end: Ticks) -> Vec<RightKey> {
    let mut keys: Vec<RightKey> = Vec::new();
    for (at, message) in messages {
        match message {
            Message::On { key, .. } if *key >= split => keys.push((*key, (*at, end))),
            Message::Off { key, .. } => {
                let open = keys.iter_mut().rev().find(|open| open.0 == *key);
                open.into_iter().for_each(|open| open.1.1 = open.1.1.min(*at));
            }
            _ => {}
        }
    }
    keys
}

/// Where the chart's first full bar lies in the file: with a pick-up on the
/// file's second bar line, if the right hand plays before it.
fn lead_in(file: &MidiFile<'_>, song: &Song, messages: &[(Ticks, Message)]) -> Ticks {
    let bar = file.timeline().place(Ticks::ZERO).metre.bar();
    let plays = messages.iter().any(|(at, m)| *at < bar && matches!(m, Message::On { .. }));
    if song.start() < Ticks::ZERO && plays { bar } else { Ticks::ZERO }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::midi_file::{NewTrack, write_tracks};
    use crate::performance::{leaps, messages};
    use crate::{Chart, Performance, find_pattern};
    use sinistra_core::engine::Settings;

    /// Leaps of the left hand to a recorded right hand, its octaves planned or not.
    fn leaps_of(chart: &str, pattern: &str, planned: bool) -> usize {
        let song = Chart::read("c", chart).unwrap().unfold();
        let pattern = || find_pattern(pattern).unwrap().compile().unwrap();
        let settings = Settings::default();
        let recorded = Performance::of(song.clone(), 92.0, pattern(), settings);
        let right = messages(&recorded.right);
        let tracks = [NewTrack { name: "Right hand", program: None, messages: &right }];
        let span = (song.start(), song.end());
        let bytes = write_tracks("c", None, &recorded.timeline, span, &tracks);
        let file = MidiFile::read("c.mid", &bytes).unwrap();
        let part = file.right_hand(None, None, settings.split).unwrap();
        let heard = file.messages(&part);
        let mut engine = Engine::new(settings, pattern());
        let cut = Cut { rate: 48_000.0, block: 256 };
        let song = if planned {
            Some(song)
        } else {
            drop(engine.swap_song(Some(Box::new(song))));
            None
        };
        let hands = two_hands(&mut engine, &file, &heard, song, cut);
        for note in &hands.notes {
            assert!((settings.lowest..settings.split).contains(&note.played.key), "{note:?}");
        }
        leaps(&hand_notes(&hands.notes, file.timeline(), cut.rate), file.timeline()).len()
    }

    #[test]
    fn with_a_chart_octaves_are_chosen_over_the_whole() {
        let chart = "key: F#\ntempo: 92\n| F# | B | C# | F# | D#m | B | G#m C# | F# |\n";
        let (mut live, mut planned) = (0, 0);
        for pattern in ["octaves-low-high", "octaves-high-low", "everything-mixed"] {
            live += leaps_of(chart, pattern, false);
            planned += leaps_of(chart, pattern, true);
        }
        assert!(live > 0 && planned == 0, "{live} leaps as live, {planned} planned");
    }

    /// A right hand with a chord a half bar: `=` where it is held on, nothing where it rests.
    fn right_hand(halves: &[&str]) -> Vec<(Ticks, Message)> {
        let mut messages = Vec::new();
        for (half, name) in halves.iter().enumerate() {
            let later = halves.iter().skip(half + 1);
            let held = 1 + later.take_while(|name| **name == "=").count();
            let chord = sinistra_core::chord::Symbol::read(name).ok().map(|symbol| symbol.chord());
            let tones = chord.map_or(0, |chord| chord.tones().bits());
            for class in (0..12).filter(|class| tones & 1 << class != 0) {
                let key = KeyNumber::clamped(60 + class);
                let at = |beats: f64| Ticks::nearest(half as f64 * 2.0 + beats);
                messages.push((at(0.0), Message::On { channel: 0, key, velocity: 80 }));
                messages.push((at(2.0 * held as f64 - 0.05), Message::off(0, key)));
            }
        }
        Message::sort(&mut messages);
        messages
    }

    /// The bars of the chart that is written of a right hand and of its chart.
    fn written(halves: &[&str], chart: Option<&str>) -> String {
        let right = right_hand(halves);
        let tracks = [NewTrack { name: "Right hand", program: None, messages: &right }];
        let line = Timeline::constant(100.0, sinistra_core::time::Metre::COMMON);
        let end = Ticks(halves.len() as i64 * 2 * Ticks::PER_BEAT);
        let bytes = write_tracks("c", None, &line, (Ticks::ZERO, end), &tracks);
        let file = MidiFile::read("c.mid", &bytes).unwrap();
        let settings = Settings::default();
        let heard = file.messages(&file.right_hand(None, None, settings.split).unwrap());
        let pattern = find_pattern("everything-mixed").unwrap().compile().unwrap();
        let mut engine = Engine::new(settings, pattern);
        let song =
            chart.map(|bars| Chart::read("c", &format!("key: C\n{bars}\n")).unwrap().unfold());
        let cut = Cut { rate: 48_000.0, block: 256 };
        let hands = two_hands(&mut engine, &file, &heard, song, cut);
        let place = |at| file.timeline().place(at);
        let chart = Chart::captured("c", None, None, &hands.chords, end, place).unwrap();
        chart.to_string().lines().filter(|line| line.starts_with('|')).collect()
    }

    #[test]
    fn no_chord_is_written_where_nobody_played_one() {
        let halves = ["C", "C", "", "", "", "", "F", "", "G", "G", "", "Dm", "C", "C"];
        assert_eq!(written(&halves, None), "| C | N.C. | . | F || G | . Dm | C |");
        let chart = "| C | N.C. | N.C. | F . N.C. . | G | N.C. . Dm . | C |";
        let again = "| C | N.C.    | . | F N.C. || G | N.C. Dm | C |";
        assert_eq!(written(&halves, Some(chart)), again);
        let late = ["C", "C", "", "", "", "Dm", "C", "C"];
        assert_eq!(written(&late, None), "| C | N.C. | . Dm | C |");
        let held = ["C", "=", "", "", "", "Dm", "Dm", "="];
        assert_eq!(written(&held, None), "| C | N.C. | . Dm | . |");
    }
}
