//! Right hands of real players, beside the chords that people heard in them:
//! five songs of POP909-CL (`tests/data`).

use std::io::Read;
use std::path::PathBuf;

use sinistra_core::engine::{Engine, Settings};
use sinistra_core::hear::{Context, Tonality, classes, name_keys};
use sinistra_core::time::Ticks;
use sinistra_score::LeftNote;
use sinistra_tests::belief::BeliefTally;
use sinistra_tests::pattern;
use sinistra_tests::songs::{LabelledSong, on_the_grid};
use sinistra_tests::tally::{self, Tally};

fn data() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data")
}

/// The five songs played in the mixed pattern, and what is counted in them.
fn played(charted: bool) -> (Vec<(LabelledSong, Vec<LeftNote>)>, Tally) {
    played_ahead(charted, 0)
}

/// The same with the right hand heard so many beats ahead.
fn played_ahead(charted: bool, beats: i64) -> (Vec<(LabelledSong, Vec<LeftNote>)>, Tally) {
    let mut tally = Tally::default();
    let songs = on_the_grid(&data()).into_iter().map(|song| {
        let mut engine = Engine::new(Settings::default(), pattern(Some("everything-mixed")));
        if charted {
            let chart = song.chart().expect("labels that make a chart");
            drop(engine.swap_song(Some(Box::new(chart))));
        }
        engine.look_ahead(Ticks(beats * Ticks::PER_BEAT));
        let notes = song.played_by(&mut engine);
        tally::count(&mut tally, &notes, &song.labels);
        (song, notes)
    });
    let songs: Vec<_> = songs.collect();
    assert_eq!(songs.len(), 5);
    (songs, tally)
}

#[test]
fn with_a_chart_the_root_comes_with_the_chord_and_what_can_lead_there_does() {
    let (_, tally) = played(true);
    assert!(tally.struck() >= 98.0, "{tally}");
    assert!(tally.right() >= 98.0, "{tally}");
    assert!(tally.soon() >= 99.0, "{tally}");
    assert!(tally.led() >= 99.0, "{tally}");
    let [_, wrong, _] = tally.leads();
    assert!(wrong <= 1.0, "{tally}");
    assert_eq!(tally.broken(), 0, "{tally}");
}

/// The ear was trained on these songs too; songs that it does not know are met
/// less often (DEVELOPERS.md, figures).
#[test]
fn without_a_chart_it_meets_most_changes_and_seldom_leads_astray() {
    let (played, tally) = played(false);
    let mut belief = BeliefTally::default();
    played.iter().for_each(|(song, notes)| belief.count(notes, &song.labels));
    let [right, clash] = belief.right_and_clash();
    assert!(tally.struck() >= 90.0, "{tally}");
    assert!(right >= 74.0 && clash <= 9.0, "{belief}");
    assert!(tally.soon() >= 75.0, "{tally}");
    let [_, wrong, _] = tally.leads();
    assert!(wrong <= 3.0, "{tally}");
    assert_eq!(tally.broken(), 0, "{tally}");
}

#[test]
fn heard_a_bar_ahead_more_chords_are_known_and_led_to() {
    let (_, live) = played(false);
    let (_, tally) = played_ahead(false, 4);
    let [led, wrong, _] = tally.leads();
    assert!(tally.right() >= live.right() + 5.0, "{tally}");
    assert!(led >= 2.0 * live.leads()[0], "{tally}");
    assert!(wrong <= 3.0, "{tally}");
    assert_eq!(tally.broken(), 0, "{tally}");
}

#[test]
fn every_note_has_its_end_before_its_key_is_struck_again() {
    for (song, notes) in played(false).0.iter().chain(&played(true).0) {
        assert!(notes.len() > 200, "{}: {} notes", song.name, notes.len());
        for (n, note) in notes.iter().enumerate() {
            assert!(note.on <= note.off && note.off <= song.end, "{}: {note:?}", song.name);
            let again = notes[n + 1..].iter().find(|other| other.played.key == note.played.key);
            assert!(again.is_none_or(|again| note.off <= again.on), "{}: {note:?}", song.name);
        }
    }
}

#[test]
fn what_is_struck_together_is_an_octave_at_the_most() {
    for (song, notes) in played(true).0 {
        for pair in notes.windows(2).filter(|pair| pair[0].on == pair[1].on) {
            let apart = pair[1].played.key.distance(pair[0].played.key).0.abs();
            assert!(apart <= 12, "{}: {pair:?}", song.name);
        }
    }
}

#[test]
fn whole_chords_are_named_as_people_heard_them() {
    let packed = std::fs::File::open(data().join("chord-items.jsonl.gz")).expect("the items");
    let mut text = String::new();
    flate2::read::GzDecoder::new(packed).read_to_string(&mut text).expect("text");
    let (mut tonality, mut before, mut song) = (Tonality::default(), None, String::new());
    let (mut all, mut right, mut clean, mut clean_right) = (0, 0, 0, 0);
    for line in text.lines() {
        let item: serde_json::Value = serde_json::from_str(line).expect("JSON");
        let name = item["song"].as_str().expect("a song");
        if name != song {
            (tonality, before, song) = (Tonality::default(), None, name.to_owned());
        }
        let keys = item["pitches_rh"].as_array().expect("keys").iter();
        let keys = keys.fold(0u128, |keys, key| keys | 1 << key.as_u64().expect("a key"));
        tonality.fade(2.0);
        for class in classes(keys).iter() {
            tonality.hear(class, 1.0);
        }
        let context = Context { key: tonality.decide(), before };
        let named = name_keys(keys, &context).map(|naming| naming.chord);
        before = named;
        let fits = named.map(|chord| chord.root.index() as u64) == item["root_pc"].as_u64();
        all += 1;
        right += usize::from(fits);
        if item["subset"] == "clean" {
            clean += 1;
            clean_right += usize::from(fits);
        }
    }
    assert_eq!((all, clean), (199, 144));
    assert!(clean_right + 1 >= clean, "{clean_right} of {clean}");
    assert!(right * 100 >= all * 83, "{right} of {all}");
}
