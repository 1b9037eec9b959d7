//! A recorded right hand becomes two hands.

use crate::left_track::left_track;
use crate::{BarRests, Cut, LeftNote, MidiFile, Rehearsed, rehearse_and_listen};
use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, Message};
use sinistra_core::foresee::Song;
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
/// one.
pub fn two_hands(
    engine: &mut Engine,
    file: &MidiFile<'_>,
    messages: &[(Ticks, Message)],
    song: Option<Song>,
    cut: Cut,
) -> TwoHands {
    let timeline = file.timeline();
    let has_chart = song.is_some();
    if let Some(song) = song {
        let lead_in = lead_in(file, &song, messages);
        drop(engine.swap_song(Some(Box::new(song.moved(lead_in)))));
    }
    let frame = |at: Ticks| timeline.frame(at, cut.rate);
    let events: Vec<_> = messages.iter().map(|(at, message)| (frame(*at), *message)).collect();
    let Rehearsed { notes, chords, pedal } =
        rehearse_and_listen(engine, timeline, &events, (0, frame(file.end())), cut);
    // A chart says what holds in a rest; without one nobody does.
    let rests = if has_chart {
        BarRests::default()
    } else {
        BarRests::of(messages, timeline, engine.settings().split, file.end())
    };
    let notes = rests.hush(notes, timeline, cut.rate);
    let chords = rests.write(&chords);
    let (notes, mut track) = left_track(notes, file, cut.rate);
    let moved = |(at, message)| (timeline.tick_at_frame(at, cut.rate), message);
    track.extend(pedal.into_iter().map(moved));
    track.sort_by_key(|(at, message)| (*at, matches!(message, Message::On { .. })));
    TwoHands { notes, chords, track }
}

/// Where the chart's first full bar lies in the file: with a pick-up on the
/// file's second bar line, if the right hand plays before it.
fn lead_in(file: &MidiFile<'_>, song: &Song, messages: &[(Ticks, Message)]) -> Ticks {
    let bar = file.timeline().place(Ticks::ZERO).metre.bar();
    let plays = messages.iter().any(|(at, m)| *at < bar && matches!(m, Message::On { .. }));
    if song.start() < Ticks::ZERO && plays { bar } else { Ticks::ZERO }
}
