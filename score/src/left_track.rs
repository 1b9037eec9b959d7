//! Our left hand as a track beside those that a file has already.

use std::collections::HashMap;

use crate::midi_file::HandTrack;
use crate::{LeftNote, MidiFile};
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// A key on a channel: what a sound module knows one note of.
type SoundingKey = (u8, KeyNumber);

/// From when until when a note sounds, at ticks that the file has.
#[derive(Clone, Copy, Debug)]
struct Span {
    on: Ticks,
    off: Ticks,
}

/// The notes that fit into the file, and their messages in time order. Where the file
/// holds a key on a channel it is not struck again, and ours ends before the file's
/// own begins there: an end would cut both. Two of ours on one key do not overlap, and
/// each has a length, however coarse the file's ticks are.
pub(crate) fn left_track(
    notes: Vec<LeftNote>,
    file: &MidiFile<'_>,
    rate: f64,
) -> (Vec<LeftNote>, Vec<(Ticks, Message)>) {
    let theirs = held(file);
    let at = |frame| on_a_tick(file, file.timeline().tick_at_frame(frame, rate));
    let mut last: HashMap<SoundingKey, usize> = HashMap::new();
    let mut fitted: Vec<(LeftNote, Span)> = Vec::with_capacity(notes.len());
    for note in notes {
        let place = (note.channel, note.played.key);
        let on = at(note.on);
        let off = at(note.off).max(next_tick(file, on));
        let spans = theirs.get(&place).map_or(&[][..], Vec::as_slice);
        let Some(span) = between(file, Span { on, off }, spans) else { continue };
        if let Some((_, before)) = last.get(&place).and_then(|n| fitted.get_mut(*n)) {
            if before.on >= span.on {
                continue;
            }
            before.off = before.off.min(span.on);
        }
        last.insert(place, fitted.len());
        fitted.push((note, span));
    }
    let mut track: Vec<_> = fitted.iter().flat_map(|(note, span)| messages(note, *span)).collect();
    Message::sort(&mut track);
    (fitted.into_iter().map(|(note, _)| note).collect(), track)
}

fn messages(note: &LeftNote, span: Span) -> [(Ticks, Message); 2] {
    let (channel, key, velocity) = (note.channel, note.played.key, note.played.velocity);
    [(span.on, Message::On { channel, key, velocity }), (span.off, Message::off(channel, key))]
}

/// What is left of `ours` between the file's own notes on its key, if anything.
fn between(file: &MidiFile<'_>, ours: Span, theirs: &[Span]) -> Option<Span> {
    let next = theirs.partition_point(|span| span.on <= ours.on);
    if theirs[..next].last().is_some_and(|before| before.off > ours.on) {
        return None;
    }
    let off = theirs.get(next).map_or(ours.off, |next| ours.off.min(tick_before(file, next.on)));
    (off > ours.on).then_some(Span { off, ..ours })
}

/// The file's own notes, in time order.
fn held(file: &MidiFile<'_>) -> HashMap<SoundingKey, Vec<Span>> {
    let all = HandTrack { track: None, channel: None, drums: true };
    let mut held: HashMap<SoundingKey, Vec<Span>> = HashMap::new();
    for (at, message) in file.messages(&all) {
        match message {
            Message::On { channel, key, .. } => {
                held.entry((channel, key)).or_default().push(Span { on: at, off: Ticks(i64::MAX) });
            }
            Message::Off { channel, key, .. } => {
                let last = held.get_mut(&(channel, key)).and_then(|spans| spans.last_mut());
                last.into_iter().for_each(|span| span.off = at);
            }
            Message::Control { .. } => {}
        }
    }
    held
}

/// The nearest of our ticks that the file has, too.
fn on_a_tick(file: &MidiFile<'_>, at: Ticks) -> Ticks {
    file.ticks(file.file_tick(at))
}

fn next_tick(file: &MidiFile<'_>, at: Ticks) -> Ticks {
    file.ticks(file.file_tick(at) + 1).max(at + Ticks(1))
}

fn tick_before(file: &MidiFile<'_>, at: Ticks) -> Ticks {
    file.ticks(file.file_tick(at).saturating_sub(1)).min(at - Ticks(1))
}
