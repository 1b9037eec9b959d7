//! The library of left hands, each held to what its name means in the trade:
//! played on paper over chords that stay, a bar at a time.

use sinistra_core::chord::{Chord, Kind};
use sinistra_core::engine::Settings;
use sinistra_core::foresee::{Forecast, Source};
use sinistra_core::key::Key;
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{LeftHand, Moment, Note, Voice};
use sinistra_core::time::{Metre, Place, Ticks};
use sinistra_score::find_pattern;

fn metre(beats: u8, unit: u8) -> Metre {
    Metre::new(beats, unit).expect("a metre")
}

/// Plays `slug` for some bars of C, then says what was struck. The chord is known
/// to hold unless `next` comes at the end.
fn bars(slug: &str, metre: Metre, bars: i64, chord: Chord, next: Option<Chord>) -> Vec<Note> {
    let pattern = find_pattern(slug).expect(slug).compile().expect(slug);
    let settings = Settings { length: 1.0, reach: 16, ..Settings::default() };
    let end = Ticks(metre.bar().0 * bars);
    let mut hand = LeftHand::new();
    let (mut now, mut notes) = (Ticks(-1), Vec::new());
    while let Some(slot) =
        pattern.next_slot(Place::first(metre), now, &settings).filter(|s| s.at < end)
    {
        now = slot.at;
        let comes = if next.is_some() { end } else { end * 4 };
        let forecast = Forecast::new(next.unwrap_or(chord), comes, 1.0, Source::Chart);
        let moment = Moment {
            at: slot.at,
            place: slot.place,
            chord,
            first: chord.bass,
            starts: notes.is_empty(),
            next: Some(forecast),
            key: Key::C_MAJOR,
            ceiling: KeyNumber::clamped(60),
            loudness: 80,
            tempo: 80.0,
        };
        notes.extend(hand.stroke(&pattern, slot, &moment, &settings));
    }
    notes
}

const C: Chord = Chord::new(PitchClass::C, Kind::Major);

/// Semitones above the first note, stroke by stroke, `_` between strokes.
fn shape(notes: &[Note]) -> String {
    let first = notes.first().map_or(0, |note| i32::from(note.key.number()));
    let mut text = String::new();
    let mut last = None;
    for note in notes {
        let at = note.from;
        text.push_str(match last {
            None => "",
            Some(last) if last == at => "+",
            Some(_) => " ",
        });
        text.push_str(&(i32::from(note.key.number()) - first).to_string());
        last = Some(at);
    }
    text
}

/// Sixteenths (or what `unit` ticks are) of the strokes.
fn rhythm(notes: &[Note], unit: i64) -> Vec<i64> {
    let mut at: Vec<i64> = notes.iter().map(|note| note.from.0 / unit).collect();
    at.dedup();
    at
}

#[test]
fn broken_chords_are_what_their_numbers_say() {
    // Common practice: the numbers are degrees above the bass, 8 the octave, 10
    // the third above it.
    for (slug, expected) in [
        ("broken-chord", "0 7 12 7 0 7 12 7"),
        ("open-tenth", "0 7 16 7 0 7 16 7"),
        ("rising-line", "0 7 12 14 16 7"),
    ] {
        assert_eq!(shape(&bars(slug, Metre::COMMON, 1, C, None)), expected, "{slug}");
    }
}

#[test]
fn alberti_goes_low_high_middle_high() {
    // "Alberti bass": the pitches of a triad in the order lowest, highest, middle,
    // highest (The Harvard Dictionary of Music; from memory).
    let notes = bars("alberti-bass", Metre::COMMON, 1, C, None);
    assert_eq!(shape(&notes), "0 7 4 7 0 7 4 7");
}

#[test]
fn the_habanera_is_a_dotted_eighth_a_sixteenth_and_two_eighths() {
    // "Habanera": 2/4, dotted eighth, sixteenth, two eighths (Harvard Dictionary;
    // from memory).
    let notes = bars("habanera", metre(2, 4), 1, C, None);
    assert_eq!(rhythm(&notes, 240), [0, 3, 4, 6]);
}

#[test]
fn stride_has_its_bass_low_on_one_and_three_and_its_chord_high_on_two_and_four() {
    // "Stride": a low note, octave or tenth on the strong beats, a chord in the
    // middle of the keyboard on the weak ones (The New Grove Dictionary of Jazz;
    // from memory).
    let notes = bars("stride", Metre::COMMON, 1, C, None);
    assert_eq!(rhythm(&notes, 960), [0, 1, 2, 3]);
    let on = |beat: i64| {
        let there = notes.iter().filter(move |note| note.from.0 / 960 == beat);
        there.map(|note| note.key.number()).collect::<Vec<_>>()
    };
    for (low, high) in [(0, 1), (2, 3)] {
        assert!(
            on(high).len() == 3 && on(low)[0] + 5 <= on(high)[0],
            "{:?} {:?}",
            on(low),
            on(high)
        );
    }
}

#[test]
fn waltzes_and_marches_put_the_bass_on_the_beat_and_the_chord_after_it() {
    // Common practice.
    for (slug, metre, bass, chords) in [
        ("waltz-chords", metre(3, 4), vec![0], vec![4, 8]),
        ("march", metre(2, 4), vec![0, 4], vec![2, 6]),
        ("polka", metre(2, 4), vec![0, 4], vec![2, 6]),
        ("march", Metre::COMMON, vec![0, 8], vec![4, 12]),
    ] {
        let notes = bars(slug, metre, 1, C, None);
        let voice = |voice| {
            let of = notes.iter().filter(|note| note.voice == voice).copied();
            rhythm(&of.collect::<Vec<_>>(), 240)
        };
        assert_eq!((voice(Voice::Bass), voice(Voice::Tenor)), (bass, chords), "{slug}");
    }
}

#[test]
fn the_walking_bass_walks_into_the_next_root() {
    // Common practice of jazz bass: root on the change, chord tones on the strong
    // beats, a half or whole step into the new root, no note twice in a row.
    for (root, next) in (0..12).flat_map(|root| (1..12).map(move |up| (root, root + up))) {
        let chord = Chord::new(PitchClass::new(root), Kind::Dominant);
        let next = Chord::new(PitchClass::new(next), Kind::Major);
        let notes = bars("walking-bass", Metre::COMMON, 1, chord, Some(next));
        assert_eq!(rhythm(&notes, 960), [0, 1, 2, 3]);
        assert_eq!(notes[0].key.class(), chord.root);
        assert!(chord.tones().has(notes[2].key.class()), "{chord:?}: {notes:?}");
        let last = notes[3].key.class();
        let step = last.above(next.root).min(next.root.above(last));
        assert!((1..=2).contains(&step), "{chord:?} to {next:?}: {last:?}");
        assert!(notes.windows(2).all(|pair| pair[0].key != pair[1].key), "{notes:?}");
    }
}

#[test]
fn a_walking_bass_is_a_rule_and_not_a_loop() {
    let notes = bars("walking-bass", Metre::COMMON, 4, C, None);
    let bar = |n: usize| shape(&notes[n * 4..n * 4 + 4]);
    assert!((1..4).any(|n| bar(n) != bar(0)), "{}", shape(&notes));
}

#[test]
fn the_boogie_and_the_shuffle_rock_to_the_sixth() {
    // Common practice: eight to the bar through 1 3 5 6 8; root with fifth and
    // root with sixth, long and short.
    let seventh = Chord::new(PitchClass::C, Kind::Dominant);
    let higher = Chord::new(PitchClass::new(7), Kind::Dominant); // where thirds do not growl
    let notes = bars("boogie-woogie", Metre::COMMON, 1, higher, None);
    assert_eq!(shape(&notes), "0 4 7 9 12 9 7 4");
    let notes = bars("shuffle", metre(12, 8), 1, seventh, None);
    assert_eq!(shape(&notes), "0+7 0+7 0+9 0+9 0+7 0+7 0+9 0+9");
    let notes = bars("shuffle", Metre::COMMON, 1, seventh, None);
    assert_eq!(rhythm(&notes, 320), [0, 2, 3, 5, 6, 8, 9, 11]);
}

#[test]
fn the_off_beat_leaves_the_beat_to_the_bass() {
    // Common practice of reggae: short chords on the off-beats.
    let notes = bars("off-beat", Metre::COMMON, 1, C, None);
    let chords: Vec<_> = notes.iter().filter(|note| note.voice == Voice::Tenor).copied().collect();
    assert_eq!(rhythm(&chords, 480), [1, 3, 5, 7]);
    assert!(chords.iter().all(|note| note.until - note.from <= Ticks(480)));
}

#[test]
fn bossa_nova_and_tumbao_place_their_bass_as_they_are_named_for() {
    // Bossa nova: dotted quarter and eighth, twice a bar. Son tumbao: the "and" of
    // two, and four, tied over the bar line (common practice).
    let notes = bars("bossa-nova", Metre::COMMON, 1, C, None);
    let bass: Vec<_> = notes.iter().filter(|note| note.voice == Voice::Bass).copied().collect();
    assert_eq!(rhythm(&bass, 480), [0, 3, 4, 7]);
    let notes = bars("tumbao", Metre::COMMON, 2, C, None);
    assert_eq!(rhythm(&notes, 480), [0, 3, 6, 8 + 3, 8 + 6]);
    assert_eq!(notes[2].until, Ticks(8 * 480 + 3 * 480), "held over the bar line");
}

#[test]
fn a_pedal_point_and_a_drone_lie_until_the_chord_changes() {
    for slug in ["pedal-point", "drone"] {
        let next = Chord::new(PitchClass::new(5), Kind::Major);
        let notes = bars(slug, Metre::COMMON, 1, C, Some(next));
        assert_eq!(notes[0].until, Ticks(3840), "{slug}");
    }
}

#[test]
fn a_ballad_holds_its_bass_under_a_tenor_that_moves() {
    let notes = bars("slow-ballad", Metre::COMMON, 1, C, None);
    let (bass, tenor): (Vec<Note>, Vec<Note>) =
        notes.iter().copied().partition(|note: &Note| note.voice == Voice::Bass);
    assert_eq!((bass.len(), bass[0].until), (1, Ticks(3840)));
    assert!(tenor.len() >= 3 && tenor.iter().all(|note| note.key > bass[0].key));
    // Joined: each ends where the next begins.
    assert!(tenor.windows(2).all(|pair| pair[0].until >= pair[1].from), "{tenor:?}");
}

#[test]
fn arpeggios_have_four_and_three_notes_to_a_beat() {
    let notes = bars("sixteenth-arpeggio", Metre::COMMON, 1, C, None);
    assert_eq!(rhythm(&notes, 240), (0..16).collect::<Vec<_>>());
    let notes = bars("triplet-arpeggio", Metre::COMMON, 1, C, None);
    assert_eq!(rhythm(&notes, 320), (0..12).collect::<Vec<_>>());
    assert_eq!(shape(&notes[..6]), "0 7 12 16 12 7");
}

#[test]
fn five_is_three_and_two_and_seven_is_two_two_and_three() {
    // Common practice: the accents say how the bar is grouped.
    let accents = |slug: &str, metre: Metre| {
        let notes = bars(slug, metre, 1, C, None);
        let bass: Vec<_> = notes.iter().filter(|note| note.voice == Voice::Bass).collect();
        let loud = bass.iter().map(|note| note.velocity).max().unwrap_or(0);
        let near = bass.iter().filter(|note| note.velocity + 8 >= loud);
        near.map(|note| note.from.0 / 480).collect::<Vec<_>>()
    };
    assert_eq!(accents("five-four", metre(5, 4)), [0, 6]);
    assert_eq!(accents("seven-eight", metre(7, 8)), [0, 4]);
}

#[test]
fn octaves_are_octaves_and_tenths_are_tenths() {
    for (slug, wide) in [("gospel-octaves", 12), ("power-octaves", 12), ("tenths", 16)] {
        let notes = bars(slug, Metre::COMMON, 1, C, None);
        assert_eq!(notes[1].key.distance(notes[0].key).0, wide, "{slug}");
    }
    let notes = bars("power-octaves", Metre::COMMON, 1, C, None);
    assert!(rhythm(&notes, 240).contains(&3), "a sixteenth before the second beat");
}

#[test]
fn a_small_hand_rolls_what_it_cannot_reach() {
    let pattern = find_pattern("tenths").expect("ships").compile().expect("reads");
    let settings = Settings { reach: 12, ..Settings::default() };
    let slot =
        pattern.next_slot(Place::first(Metre::COMMON), Ticks(-1), &settings).expect("a slot");
    let moment = Moment {
        at: slot.at,
        place: slot.place,
        chord: C,
        first: C.bass,
        starts: true,
        next: None,
        key: Key::C_MAJOR,
        ceiling: KeyNumber::clamped(60),
        loudness: 80,
        tempo: 120.0,
    };
    let stroke = LeftHand::new().stroke(&pattern, slot, &moment, &settings);
    assert_eq!(stroke.len(), 2);
    assert!(stroke[0].from == slot.at && stroke[1].from > slot.at, "{stroke:?}");
    let narrow = (*pattern).clone().rolling(false);
    let stroke = LeftHand::new().stroke(&narrow, slot, &moment, &settings);
    assert_eq!(stroke.len(), 1, "{stroke:?}");
}

#[test]
fn no_interval_that_is_struck_growls() {
    for preset in sinistra_score::pattern_presets() {
        for kind in [Kind::Major, Kind::Minor, Kind::Dominant, Kind::HalfDiminished] {
            for root in 0..12 {
                let chord = Chord::new(PitchClass::new(root), kind);
                let notes = bars(preset.slug, Metre::COMMON, 1, chord, None);
                for (n, low) in notes.iter().enumerate() {
                    for high in &notes[n + 1..] {
                        let together = high.from == low.from;
                        let clear = !sinistra_core::play::limits::muddy(low.key, high.key);
                        assert!(!together || clear, "{}: {low:?} {high:?}", preset.slug);
                    }
                }
            }
        }
    }
}
