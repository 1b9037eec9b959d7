//! A chart played with both hands: a right hand of plain chords, and the
//! engine's left hand to it.

mod comping;
mod register;
mod voicing;

pub use comping::right_hand;
pub use register::leaps;
pub(crate) use register::{RightKey, plan};

use super::{Cut, Rehearsed, Timeline, rehearse_and_listen};
use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, Message, Played, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Pattern, Role, Why, swing};
use sinistra_core::time::{Metre, Ticks};

/// A note of either hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandNote {
    /// When it is struck as it is written and counted, without swing.
    pub at: Ticks,
    /// When it is let go, likewise; after `at`.
    pub until: Ticks,
    /// When it sounds, from and until.
    pub sounds: (Ticks, Ticks),
    /// The key.
    pub key: KeyNumber,
    /// 1..=127.
    pub velocity: u8,
    /// What it is to its chord, in the left hand; `None` in the right.
    pub role: Option<Role>,
    /// Why it was struck, in the left hand; `None` in the right.
    pub why: Option<Why>,
    /// The chord that it is played to.
    pub chord: Chord,
    /// The key of the song there, for spelling.
    pub song_key: Key,
}

/// Those of `notes`, which are in time order, that are struck from `from` until `to`.
pub(crate) fn within(notes: &[HandNote], from: Ticks, to: Ticks) -> &[HandNote] {
    let first = notes.partition_point(|note| note.at < from);
    let end = notes.partition_point(|note| note.at < to);
    notes.get(first..end).unwrap_or(&[])
}

impl HandNote {
    /// What the engine played, counted from `at` until `until`.
    pub(crate) fn of(played: &Played, at: Ticks, until: Ticks, sounds: (Ticks, Ticks)) -> Self {
        Self {
            at,
            until,
            sounds,
            key: played.key,
            velocity: played.velocity,
            role: Some(played.role),
            why: Some(played.why),
            chord: played.chord,
            song_key: played.song_key,
        }
    }
}

/// Both hands over a song: the one list of notes that is heard, printed and
/// practised.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    /// What was played.
    pub song: Song,
    /// Its tempo and metre.
    pub timeline: Timeline,
    /// Where the "and" falls in its beat, 0.5 straight.
    pub swing: f32,
    /// The chords, in time order.
    pub right: Vec<HandNote>,
    /// What the engine played to them, in time order.
    pub left: Vec<HandNote>,
    /// What its pedal did: when it sounds, and the message.
    pub pedal: Vec<(Ticks, Message)>,
}

/// Felt beats a minute where neither the chart nor the player names a tempo:
/// a walking pace.
pub const USUAL_TEMPO: f64 = 92.0;

impl Performance {
    /// Runs the real engine with the song as its chart. `tempo`, in quarter
    /// notes a minute, counts where the song names none.
    pub fn of(song: Song, tempo: f64, pattern: Box<Pattern>, settings: Settings) -> Self {
        // Large blocks: the music is the same in blocks of any size, and made sooner.
        const CUT: Cut = Cut { rate: 48_000.0, block: 8_192 };
        let timeline = Timeline::of_song(&song, tempo);
        let swing = settings.swing;
        let right = right_hand(&song, settings.split, swing);
        let frame = |at: Ticks| timeline.frame(at, CUT.rate);
        let events: Vec<_> =
            messages(&right).into_iter().map(|(at, message)| (frame(at), message)).collect();
        let from = timeline.place(song.start()).bar;
        let mut engine = Engine::new(settings, pattern);
        drop(engine.swap_song(Some(Box::new(song.clone()))));
        let span = (frame(from), frame(song.end()));
        let Rehearsed { notes: played, pedal, .. } =
            rehearse_and_listen(&mut engine, &timeline, &events, span, CUT);
        let moved = |(frame, message)| (timeline.tick_at_frame(frame, CUT.rate), message);
        let pedal = pedal.into_iter().map(moved).collect();
        let counted = Counted { song: &song, right: &right, swing };
        let left = played.iter().map(|note| {
            let from = timeline.tick_at_frame(note.on, CUT.rate);
            let until = timeline.tick_at_frame(note.off, CUT.rate).max(from + Ticks(1));
            let at = note.played.grid.unwrap_or_else(|| counted.stroke(from));
            let end = counted.moment(until).max(at + Ticks(1));
            HandNote::of(&note.played, at, end, (from, until))
        });
        let mut left = without_slips(&song, left.collect());
        left.sort_by_key(|note| note.at);
        let keys: Vec<_> = right.iter().map(|note| (note.key, note.sounds)).collect();
        register::plan(&mut left, &keys, &timeline, &settings);
        Self { song, timeline, swing, right, left, pedal }
    }

    /// The left hand as it sounds, with its pedal, as messages on channel 0, in time
    /// order, ends before starts.
    pub fn left_messages(&self) -> Vec<(Ticks, Message)> {
        let mut messages = messages(&self.left);
        messages.extend(&self.pedal);
        Message::sort(&mut messages);
        messages
    }
}

/// The bar line of the full bar that holds `at`, and its metre: a pick-up lies
/// at the end of its bar, where it is counted.
fn full_bar(song: &Song, at: Ticks) -> (Ticks, Metre) {
    let place = song.place(at);
    let pick_up = place.bar < Ticks::ZERO && place.number == -1;
    let line = if pick_up { Ticks(-place.metre.bar().0) } else { place.bar };
    (line, place.metre)
}

/// With the "and" where swing puts it.
fn swung(song: &Song, at: Ticks, swing: f32) -> Ticks {
    let (line, metre) = full_bar(song, at);
    line + swing::swung(at - line, metre, swing)
}

/// Tells where a sound is counted.
struct Counted<'a> {
    song: &'a Song,
    right: &'a [HandNote],
    swing: f32,
}

impl Counted<'_> {
    fn moment(&self, at: Ticks) -> Ticks {
        let (line, metre) = full_bar(self.song, at);
        line + swing::straight(at - line, metre, self.swing)
    }

    /// Of a stroke between the pattern's places: with the right hand's, else as
    /// any moment.
    fn stroke(&self, at: Ticks) -> Ticks {
        let near = |note: &&HandNote| (note.sounds.0 - at).0.abs() <= NEAR;
        let first = self.right.partition_point(|note| note.sounds.0 < at - Ticks(NEAR));
        let with = self.right.get(first).filter(near);
        with.map_or_else(|| self.moment(at), |note| note.at)
    }
}

/// Struck with the right hand: within a stroke's settling. By ear.
const NEAR: i64 = Ticks::PER_BEAT / 16;

/// Strokes nearer than half a sixteenth are one stroke and its correction.
const SLIP: i64 = Ticks::PER_BEAT / 8;

/// On stage a bass that turned out wrong is corrected at once; what is heard and
/// printed of a chart keeps the one that is right. The bass of the chart's chord
/// outlives its neighbour within [`SLIP`], else the later note does.
fn without_slips(song: &Song, notes: Vec<HandNote>) -> Vec<HandNote> {
    let right = |note: &HandNote| {
        let chord = song.chord_at(note.at).and_then(|index| song.chords().get(index)?.chord);
        chord.is_some_and(|chord| chord.bass == note.key.class())
    };
    let slips = |index: usize, note: &HandNote| {
        let close = |other: &&HandNote| (other.at - note.at).0.abs() < SLIP;
        let before = notes[..index].iter().rev().take_while(close);
        let after = notes[index + 1..].iter().take_while(close);
        let mut rivals = before.chain(after).filter(|other| other.at != note.at);
        rivals.any(|other| match (right(note), right(other)) {
            (false, true) => true,
            (true, false) => false,
            _ => other.at > note.at,
        })
    };
    let kept = notes.iter().enumerate().filter(|(index, note)| !slips(*index, note));
    kept.map(|(_, note)| *note).collect()
}

/// The notes as they sound, as messages on channel 0, in time order, ends
/// before starts.
pub fn messages(notes: &[HandNote]) -> Vec<(Ticks, Message)> {
    let mut messages: Vec<_> = notes
        .iter()
        .flat_map(|note| {
            let HandNote { sounds: (at, until), key, velocity, .. } = *note;
            [(at, Message::On { channel: 0, key, velocity }), (until, Message::off(0, key))]
        })
        .collect();
    Message::sort(&mut messages);
    messages
}

#[cfg(test)]
mod tests;
