use super::*;
use crate::chart::ChartPreset;
use sinistra_core::time::Metre;

fn performances() -> impl Iterator<Item = (&'static str, Performance)> {
    ChartPreset::all().iter().map(|preset| {
        let song = preset.chart().expect("ships").unfold();
        let pattern = Pattern::default_boxed();
        (preset.slug, Performance::of(song, 100.0, pattern, Settings::default()))
    })
}

#[test]
fn the_right_hand_plays_every_chord_when_it_comes() {
    for (name, performance) in performances() {
        for written in performance.song.chords() {
            let Some(chord) = written.chord else { continue };
            let struck: Vec<_> =
                performance.right.iter().filter(|note| note.at == written.at).collect();
            assert!((2..=4).contains(&struck.len()), "{name} {:?}", written.at);
            for note in &struck {
                assert!(chord.tones().has(note.key.class()), "{name} {:?}", written.at);
                assert!(note.key >= KeyNumber::MIDDLE_C, "{name}");
            }
            let root = struck.iter().any(|note| note.key.class() == chord.root);
            assert!(root, "{name} {:?}: the root is in the hand", written.at);
        }
    }
}

#[test]
fn the_right_hand_moves_little() {
    for (name, performance) in performances() {
        let tops: Vec<_> = performance
            .song
            .chords()
            .iter()
            .filter_map(|chord| {
                performance.right.iter().filter(|n| n.at == chord.at).map(|n| n.key).max()
            })
            .collect();
        for pair in tops.windows(2) {
            assert!(pair[1].distance(pair[0]).0.abs() <= 7, "{name}: {pair:?}");
        }
        assert!(tops.iter().all(|top| top.number() <= 60 + 19), "{name}: {tops:?}");
    }
}

#[test]
fn the_left_hand_starts_every_chord_with_its_bass() {
    for (name, performance) in performances() {
        let (mut right, mut all) = (0, 0);
        for written in performance.song.chords() {
            let Some(chord) = written.chord else { continue };
            let near = |note: &&HandNote| (note.at - written.at).0.abs() < 60;
            if let Some(note) = performance.left.iter().find(near) {
                all += 1;
                right += usize::from(note.key.class() == chord.bass);
            }
        }
        assert!(all > 0 && right == all, "{name}: {right} of {all} starts");
    }
}

#[test]
fn accents_follow_the_metre() {
    let chart = crate::Chart::read("c", "| C | F |").expect("good");
    let notes = right_hand(&chart.unfold(), KeyNumber::MIDDLE_C, 0.5);
    let strokes: Vec<_> = notes.iter().step_by(3).map(|n| (n.at.0, n.velocity)).collect();
    assert_eq!(strokes, [(0, 80), (1920, 75), (3840, 80), (5760, 75)]);
    let chart = crate::Chart::read("c", "metre: 3/4\npick-up: 1\n| G | C |").expect("good");
    let notes = right_hand(&chart.unfold(), KeyNumber::MIDDLE_C, 0.5);
    assert_eq!((notes[0].at, notes[0].velocity), (Ticks(-960), 70)); // the third beat
}

#[test]
fn silence_is_silent() {
    let chart = crate::Chart::read("c", "| C | N.C. | F |").expect("good");
    let song = chart.unfold();
    let bar = Metre::COMMON.bar();
    let silent = |at: Ticks| at >= bar && at < bar + bar;
    assert!(right_hand(&song, KeyNumber::MIDDLE_C, 0.5).iter().all(|note| !silent(note.at)));
}

#[test]
fn the_left_hand_rests_where_the_chart_says_no_chord() {
    for (text, silent) in [
        ("| C | N.C. | N.C. | F . N.C. . | G |", &[(4, 12), (14, 16)][..]),
        ("| D7 | N.C. | Gm6 |", &[(4, 8)]),
        ("| N.C. | C | N.C. G |", &[(0, 4), (8, 10)]),
        ("| C | N.C. | C |", &[(4, 8)]),
    ] {
        for preset in crate::pattern_presets() {
            let song = crate::Chart::read("c", text).expect("good").unfold();
            let pattern = preset.compile().expect("ships");
            let played = Performance::of(song, 92.0, pattern, Settings::default());
            let name = preset.slug;
            for &(from, to) in silent {
                let (from, to) = (Ticks(from * 960), Ticks(to * 960));
                for note in &played.left {
                    assert!(note.until <= from || note.at >= to, "{text} {name}: {note:?}");
                }
            }
            for chord in played.song.chords() {
                let Some(is) = chord.chord else { continue };
                let first = played.left.iter().find(|note| note.at >= chord.at);
                let first = first.expect("it plays");
                assert_eq!(first.key.class(), is.bass, "{text} {name}: {first:?}");
                assert!((first.at - chord.at).0.abs() < 60, "{text} {name}: {first:?}");
            }
        }
    }
}

#[test]
fn messages_pair_up_in_time_order() {
    for (name, performance) in performances() {
        for hand in [&performance.right, &performance.left] {
            let messages = messages(hand);
            assert!(messages.is_sorted_by_key(|(at, _)| *at), "{name}");
            assert_eq!(messages.len(), 2 * hand.len());
        }
    }
}

/// What was found by hand: a hand that a leap had kept high struck the root again for as
/// long as its chord held, and some roots were called octaves.
#[test]
fn octaves_are_struck_wherever_the_hand_comes_from_and_named_as_they_lie() {
    for preset in ChartPreset::all() {
        for slug in ["octaves-low-high", "octaves-high-low"] {
            let what = format!("{}, {slug}", preset.slug);
            let chart = preset.chart().expect("ships");
            let pattern = crate::find_pattern(slug).expect("ships").compile().expect("ships");
            let swing = chart.draft().swing.map_or(0.5, |swing| f32::from(swing) / 100.0);
            let settings = Settings { swing, ..Settings::default() };
            let performance = Performance::of(chart.unfold(), 100.0, pattern, settings);
            let of_one_chord = |a: &HandNote, b: &HandNote| {
                performance.song.chord_at(a.at) == performance.song.chord_at(b.at)
            };
            for notes in performance.left.chunk_by(of_one_chord) {
                let apart = |pair: &[HandNote]| pair[1].key.distance(pair[0].key).0.abs() == 12;
                let octave = notes.windows(2).any(apart);
                assert!(octave || notes.len() < 6, "{what}: {notes:?}");
                let again = |pair: &&[HandNote]| {
                    pair[0].key == pair[1].key && pair[0].role == Some(Role::Root)
                };
                for pair in notes.windows(2).filter(again) {
                    assert_ne!(pair[1].role, Some(Role::Octave), "{what}: {pair:?}");
                }
            }
        }
    }
}
