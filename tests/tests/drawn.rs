//! What is drawn is what is played: over the five songs of `tests/data`, what was
//! played stands in the bar at once, as it was played; what is said to come is what
//! comes, if nothing changes meanwhile.

use std::path::PathBuf;

use sinistra_core::engine::{Block, Engine, Output, Played, Settings, SlotView, Snapshot};
use sinistra_core::engine::{Message, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_tests::pattern;
use sinistra_tests::songs::{LabelledSong, RATE, on_the_grid};

const BLOCK: i64 = 512;

/// What was played in a block, the lowest note of each stroke; and what ended.
#[derive(Default)]
struct DrawnStrokes(Vec<Played>, Vec<KeyNumber>);

impl Output for DrawnStrokes {
    fn send(&mut self, event: Timed) -> bool {
        if let Message::Off { key, .. } = event.message {
            self.1.push(key);
        }
        true
    }

    fn played(&mut self, note: &Played) {
        match self.0.last_mut() {
            Some(last) if last.frame == note.frame => {
                if note.key < last.key {
                    *last = *note;
                }
            }
            _ => self.0.push(*note),
        }
    }
}

/// Plays a song block by block and hands out what was shown before and after each.
fn watch(
    song: &LabelledSong,
    engine: &mut Engine,
    mut look: impl FnMut(&Snapshot, &DrawnStrokes, &Snapshot),
) {
    let (right, mut start) = (song.right_hand(), 0);
    while start < song.end {
        let change = song.timeline.next_change(start, RATE).unwrap_or(i64::MAX);
        let stop = (start + BLOCK).min(song.end).min(change);
        let events: Vec<Timed> = right
            .iter()
            .filter(|(at, _)| (start..stop).contains(at))
            .map(|(at, message)| Timed { frame: (at - start) as u32, message: *message })
            .collect();
        let transport: Transport = song.timeline.transport_at(start, RATE);
        let before = engine.snapshot().clone();
        let mut strokes = DrawnStrokes::default();
        let frames = (stop - start) as u32;
        let block = Block { frames, rate: RATE, transport, events: &events };
        engine.process(&block, &mut strokes);
        look(&before, &strokes, engine.snapshot());
        start = stop;
    }
}

fn songs(charted: bool, mut look: impl FnMut(&Snapshot, &DrawnStrokes, &Snapshot)) {
    let data = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data");
    let songs = on_the_grid(&data);
    assert_eq!(songs.len(), 5);
    for song in songs {
        let mut engine = Engine::new(Settings::default(), pattern(Some("everything-mixed")));
        if charted {
            drop(engine.swap_song(song.chart().map(Box::new)));
        }
        watch(&song, &mut engine, &mut look);
    }
}

fn is_it(view: &SlotView, note: &Played) -> bool {
    (view.role, view.key) == (Some(note.role), Some(note.key))
}

#[test]
fn what_was_played_stands_in_its_bar_at_once() {
    for charted in [false, true] {
        let (mut count, mut firsts) = (0, 0);
        songs(charted, |_, strokes, after| {
            let bar = after.place.of(after.at).bar;
            for note in strokes.0.iter().filter(|note| note.at >= bar) {
                let near = |view: &&SlotView| (view.at - note.at).0.abs() <= Ticks::PER_BEAT / 4;
                let drawn = after.slots.iter().chain(&after.coming);
                let there = drawn.filter(|view| view.played).filter(near);
                assert!(there.clone().any(|view| is_it(view, note)), "{note:?}: {after:?}");
                count += 1;
                firsts += u32::from(note.at == bar);
            }
        });
        assert!(count > 1_000 && firsts > 100, "{count} strokes, {firsts} on beat 1");
    }
}

#[test]
fn what_was_played_is_drawn_as_long_as_it_sounded() {
    let mut count = 0;
    songs(true, |before, strokes, after| {
        for key in &strokes.1 {
            let drawn = after.slots.iter().chain(&after.coming);
            // Its last stroke in the bars that are shown, unless it has just begun.
            let its = drawn.filter(|view| view.played && view.key == Some(*key));
            let Some(view) = its.max_by_key(|view| view.at) else { continue };
            let sounds = after.left.iter().any(|(sounding, _)| sounding == key);
            if sounds || after.at < view.at + Ticks(Ticks::PER_BEAT / 16) {
                continue;
            }
            let end = view.ends[0].unwrap_or_else(|| panic!("{key:?} sounds on: {after:?}"));
            assert!((before.at..=after.at).contains(&end), "{end:?} in {after:?}");
            count += 1;
        }
    });
    assert!(count > 1_000, "{count} ends");
}

#[test]
fn what_is_said_to_come_is_what_comes_if_nothing_changes() {
    // Without a chart the ear judges anew on the beat itself: 325 of 352.
    for (charted, least) in [(false, 0.9), (true, 0.99)] {
        let (mut same, mut count) = (0, 0);
        let (mut first_same, mut firsts) = (0, 0);
        songs(charted, |before, strokes, after| {
            for note in &strokes.0 {
                let said = before.slots.iter().chain(&before.coming);
                let view = said.filter(|view| !view.played).find(|view| view.at == note.at);
                let Some(view) = view else { continue };
                // The chord that was shown, or the one that was shown to come then.
                let foreseen = before.next.filter(|next| next.at <= note.at);
                let shown = foreseen.map(|next| next.chord).or(before.chord.map(|now| now.chord));
                // Whatever the right hand does is another thing to go by.
                if shown != Some(note.chord) || before.right != after.right {
                    continue;
                }
                count += 1;
                same += u32::from(is_it(view, note));
                if foreseen.is_some() && note.at == before.place.bar + before.place.metre.bar() {
                    firsts += 1;
                    first_same += u32::from(is_it(view, note));
                }
            }
        });
        assert!(count > 200, "{count} strokes");
        println!("charted {charted}: {same} of {count}, beat 1 {first_same} of {firsts}");
        assert!(f64::from(same) >= least * f64::from(count), "{same} of {count}");
        assert!(f64::from(first_same) >= least * f64::from(firsts), "{first_same} of {firsts}");
    }
}
