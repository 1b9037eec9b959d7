//! The last bars of the log as a Standard MIDI File, a track for each hand.

use std::collections::HashMap;

use midly::{MetaMessage, Track, TrackEventKind};
use sinistra_core::time::Ticks;

use super::log::{LoggedEvent, Owner, What};
use crate::midi_file::write::{midi, new_file, tempo, time_signature, track};

/// The file's bytes; `None` if no note was played in the last `bars` bars.
///
/// Format 1, ticks of [`Ticks::PER_BEAT`]: a track with tempo and metre, then
/// `Right hand`, then `Left hand` (Standard MIDI Files 1.0). A note that is on
/// at the start begins there; one that is on at the end ends there.
pub fn midi_file(entries: &[LoggedEvent], bars: usize) -> Option<Vec<u8>> {
    let (start, end) = span(entries, bars)?;
    let tracks = vec![
        conductor(entries, start, end),
        hand(entries, Owner::Right, start, end),
        hand(entries, Owner::Left, start, end),
    ];
    Some(new_file(tracks))
}

fn is_note(entry: &LoggedEvent) -> bool {
    matches!(entry.what, What::Message(_, [0x90..=0x9F, _, 1..=127]))
}

/// From the line of the first of the last `bars` bars in which anything was
/// played, to the end of the last.
pub(super) fn span(entries: &[LoggedEvent], bars: usize) -> Option<(Ticks, Ticks)> {
    let last = entries.iter().rev().find(|entry| is_note(entry))?.at;
    let is_bar = |entry: &&LoggedEvent| matches!(entry.what, What::Bar(_));
    let lines = || entries.iter().filter(is_bar);
    let begun: Vec<_> = lines().filter(|line| line.at <= last).map(|line| line.at).collect();
    let first = entries.first()?.at;
    let start = begun.len().checked_sub(bars.max(1)).and_then(|n| begun.get(n)).copied();
    let now = entries.last()?.at;
    let end = lines().find(|line| line.at > last).map_or(now, |line| line.at);
    // A note in the bar that is still being played ends where the log ends.
    Some((start.unwrap_or(first), end.max(last + Ticks(1))))
}

/// Ticks of the file, 0 for what lies before its start.
fn after(start: Ticks, at: Ticks) -> u64 {
    u64::try_from((at - start).0).unwrap_or(0)
}

fn conductor(entries: &[LoggedEvent], start: Ticks, end: Ticks) -> Track<'static> {
    let mut events = vec![];
    let (mut told, mut metre) = (None, None);
    for entry in entries.iter().take_while(|entry| entry.at < end) {
        let at = after(start, entry.at);
        match entry.what {
            What::Tempo(new) if told != Some(new) => {
                told = Some(new);
                replace(&mut events, at, tempo(new.into()), |m| matches!(m, MetaMessage::Tempo(_)));
            }
            What::Bar(new) if metre != Some(new) => {
                metre = Some(new);
                replace(&mut events, at, time_signature(new), |m| {
                    matches!(m, MetaMessage::TimeSignature(..))
                });
            }
            _ => {}
        }
    }
    let events = events.into_iter().map(|(at, m)| (at, TrackEventKind::Meta(m))).collect();
    track("Sinistra", events, after(start, end))
}

/// Of several at the same time (before the start), the last counts.
fn replace(
    events: &mut Vec<(u64, MetaMessage<'static>)>,
    at: u64,
    message: MetaMessage<'static>,
    same: impl Fn(&MetaMessage) -> bool,
) {
    events.retain(|(when, other)| *when != at || !same(other));
    events.push((at, message));
}

fn hand(entries: &[LoggedEvent], hand: Owner, start: Ticks, end: Ticks) -> Track<'static> {
    let mut events = vec![];
    let mut on: HashMap<(u8, u8), u32> = HashMap::new();
    let mut pedals: HashMap<(u8, u8), u8> = HashMap::new();
    for entry in entries.iter().take_while(|entry| entry.at < end) {
        let What::Message(whose, [status, one, two]) = entry.what else { continue };
        if whose != hand {
            continue;
        }
        let at = after(start, entry.at);
        let (channel, before) = (status & 0x0F, entry.at < start);
        match (status & 0xF0, two) {
            (0x90, 1..) => {
                *on.entry((channel, one)).or_default() += 1;
                events.push((at, before, midi(status, one, two)));
            }
            (0x80 | 0x90, _) => {
                let Some(count) = on.get_mut(&(channel, one)).filter(|n| **n > 0) else { continue };
                *count -= 1;
                if entry.at <= start {
                    // Both ends lie before the start, or the last one at it.
                    let same = |event: &(u64, bool, TrackEventKind)| {
                        event.1 && event.2 == midi(0x90 | channel, one, velocity(&event.2))
                    };
                    if let Some(place) = events.iter().rposition(same) {
                        events.remove(place);
                    }
                } else {
                    events.push((at, before, midi(0x80 | channel, one, two)));
                }
            }
            (0xB0, _) if before => {
                pedals.insert((channel, one), two);
            }
            _ if before => {}
            _ => events.push((at, before, midi(status, one, two))),
        }
    }
    let held = pedals
        .into_iter()
        .filter(|((_, controller), value)| matches!(controller, 64 | 66 | 67) && *value > 0);
    for ((channel, controller), value) in held {
        events.insert(0, (0, true, midi(0xB0 | channel, controller, value)));
    }
    let length = after(start, end);
    let mut left_on: Vec<_> = on.into_iter().filter(|(_, count)| *count > 0).collect();
    left_on.sort_unstable();
    for ((channel, key), count) in left_on {
        for _ in 0..count {
            events.push((length, false, midi(0x80 | channel, key, 64)));
        }
    }
    let name = if hand == Owner::Right { "Right hand" } else { "Left hand" };
    track(name, events.into_iter().map(|(at, _, kind)| (at, kind)).collect(), length)
}

fn velocity(kind: &TrackEventKind) -> u8 {
    match kind {
        TrackEventKind::Midi { message: midly::MidiMessage::NoteOn { vel, .. }, .. } => {
            vel.as_int()
        }
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use midly::Smf;
    use sinistra_core::time::Metre;

    use super::*;

    fn entry(at: i64, what: What) -> LoggedEvent {
        LoggedEvent { at: Ticks(at), what }
    }

    fn note(at: i64, hand: Owner, status: u8, key: u8) -> LoggedEvent {
        entry(at, What::Message(hand, [status, key, 80]))
    }

    /// `track tick: what`, a line an event.
    fn read(bytes: &[u8]) -> Vec<String> {
        let smf = Smf::parse(bytes).expect("a MIDI file");
        let mut lines = vec![];
        for (number, track) in smf.tracks.iter().enumerate() {
            let mut at = 0;
            for event in track {
                at += event.delta.as_int();
                match event.kind {
                    TrackEventKind::Midi { message, .. } => {
                        lines.push(format!("{number} {at}: {message:?}"));
                    }
                    TrackEventKind::Meta(meta) => lines.push(format!("{number} {at}: {meta:?}")),
                    _ => {}
                }
            }
        }
        lines
    }

    #[test]
    fn the_last_two_bars_of_both_hands() {
        let bar = What::Bar(Metre::COMMON);
        let entries = [
            entry(0, What::Tempo(100.0)),
            entry(0, bar),
            note(0, Owner::Right, 0x90, 60), // ends before the last two bars
            note(960, Owner::Right, 0x80, 60),
            note(1920, Owner::Right, 0x90, 62), // ends with it
            note(3800, Owner::Right, 0x90, 64), // early, held over the line
            note(3840, Owner::Right, 0x80, 62),
            entry(3840, bar),
            note(3840, Owner::Left, 0x90, 36),
            note(4800, Owner::Left, 0x80, 36),
            entry(7680, bar),
            note(7680, Owner::Left, 0x90, 41), // still on
            note(7700, Owner::Right, 0x80, 64),
            entry(11520, bar),
        ];
        let bytes = midi_file(&entries, 2).expect("notes");
        assert_eq!(
            read(&bytes),
            [
                "0 0: TrackName([83, 105, 110, 105, 115, 116, 114, 97])",
                "0 0: Tempo(u24(600000))",
                "0 0: TimeSignature(4, 2, 24, 8)",
                "0 7680: EndOfTrack",
                "1 0: TrackName([82, 105, 103, 104, 116, 32, 104, 97, 110, 100])",
                "1 0: NoteOn { key: u7(64), vel: u7(80) }",
                "1 3860: NoteOff { key: u7(64), vel: u7(80) }",
                "1 7680: EndOfTrack",
                "2 0: TrackName([76, 101, 102, 116, 32, 104, 97, 110, 100])",
                "2 0: NoteOn { key: u7(36), vel: u7(80) }",
                "2 960: NoteOff { key: u7(36), vel: u7(80) }",
                "2 3840: NoteOn { key: u7(41), vel: u7(80) }",
                "2 7680: NoteOff { key: u7(41), vel: u7(64) }",
                "2 7680: EndOfTrack",
            ]
        );
    }

    #[test]
    fn nothing_played_is_no_file() {
        assert_eq!(midi_file(&[], 8), None);
        assert_eq!(midi_file(&[entry(0, What::Bar(Metre::COMMON))], 8), None);
    }
}
