//! Truths about the left hand on paper, for all patterns, chords, metres and
//! moods: guarantee 3 and what a hand can do.

use proptest::prelude::*;
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::engine::Settings;
use sinistra_core::foresee::{Forecast, Source};
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{LeftHand, Moment, Note, Pattern, Role, Scale, limits};
use sinistra_core::time::{Metre, Place, Ticks};
use sinistra_score::pattern_presets;

/// The patterns that teach one rule each come first; the library of left hands
/// follows, which has passing notes of its own.
const LESSONS: usize = 14;

/// A chord of the song and how many eighths it lasts.
fn chords() -> impl Strategy<Value = Vec<(Chord, i64)>> {
    let kinds: Vec<Kind> =
        Kind::ALL.iter().copied().filter(|k| !k.intervals().is_empty()).collect();
    let chord = (0..12, proptest::sample::select(kinds), proptest::option::weighted(0.2, 0..12));
    let chord = chord.prop_map(|(root, kind, bass)| {
        let chord = Chord::new(PitchClass::new(root), kind);
        bass.map_or(chord, |bass| chord.over(PitchClass::new(bass)))
    });
    proptest::collection::vec((chord, 1..12i64), 1..12)
}

fn metres() -> impl Strategy<Value = Metre> {
    let any = (1..=32u8, 0..6u32).prop_filter_map("a metre", |(b, u)| Metre::new(b, 1 << u));
    let usual = [(2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8)];
    let usual = proptest::sample::select(usual.to_vec())
        .prop_filter_map("a metre", |(beats, unit)| Metre::new(beats, unit));
    prop_oneof![3 => usual, 1 => any]
}

fn settings() -> impl Strategy<Value = Settings> {
    let sound = (0..=100u8, 0.5..0.75f32, 0.1..1.0f32, any::<u64>());
    let hand = (21..45u8, 12..40u8, 5..17u8, 0.0..1.0f32);
    (sound, hand).prop_map(|((busy, swing, length, seed), (lowest, width, reach, certainty))| {
        Settings {
            busy,
            swing,
            length,
            seed,
            lowest: KeyNumber::clamped(lowest.into()),
            highest: KeyNumber::clamped(i32::from(lowest + width)),
            reach,
            certainty,
            ..Settings::default()
        }
    })
}

/// A stroke with what was known when it was struck.
struct StruckMoment {
    moment: Moment,
    notes: Vec<Note>,
}

/// Plays a song; what is foreseen is true, late, wrong or nothing in turn.
fn play(
    pattern: &Pattern,
    song: &[(Chord, i64)],
    metre: Metre,
    settings: &Settings,
    (ceilings, tempo): (&[u8], f64),
) -> Vec<StruckMoment> {
    let key = Key { tonic: PitchClass::new(song.len() as i32), mode: Mode::Minor };
    let mut hand = LeftHand::new();
    let mut strokes = Vec::new();
    let place = Place { bar: Ticks::ZERO, metre, number: -3 };
    let mut now = Ticks(-1);
    let mut start = Ticks::ZERO;
    for (n, &(chord, eighths)) in song.iter().enumerate() {
        let end = start + Ticks(eighths * Ticks::PER_BEAT / 2);
        let next = song.get((n + 1 + usize::from(n % 4 == 3)) % song.len());
        let comes = end + Ticks(i64::from(n % 5 == 4) * 480);
        let next = next.filter(|_| n % 3 != 2);
        let next = next.map(|(next, _)| Forecast::new(*next, comes, 0.9, Source::Memory));
        let ceiling = KeyNumber::clamped(ceilings[n % ceilings.len()].into());
        let mut starts = true;
        let moment = |at, starts| Moment {
            first: chord.bass,
            at,
            place: place.of(at),
            chord,
            starts,
            next: next.filter(|next: &Forecast| next.at > at),
            key,
            ceiling,
            loudness: 1 + (n * 37 % 127) as u8,
            tempo,
        };
        while let Some(slot) = pattern.next_slot(place, now, settings).filter(|s| s.at < end) {
            assert!(slot.at > now, "time goes on");
            now = slot.at;
            if slot.at < start {
                continue;
            }
            let moment = moment(slot.at, starts);
            let notes = hand.stroke(pattern, slot, &moment, settings);
            starts &= notes.is_empty();
            strokes.push(StruckMoment { moment, notes: notes.to_vec() });
        }
        if starts {
            let moment = moment(start.max(now), true);
            let notes = hand.root_now(pattern, &moment, settings).to_vec();
            strokes.push(StruckMoment { moment, notes });
        }
        start = end;
    }
    strokes.retain(|struck| !struck.notes.is_empty());
    strokes
}

/// Preset, song, metre, settings, the right hand's lowest keys, tempo.
type Case = (usize, Vec<(Chord, i64)>, Metre, Settings, Vec<u8>, f64);

fn case() -> impl Strategy<Value = Case> {
    let ceilings = proptest::collection::vec(40..80u8, 1..4);
    (0..pattern_presets().len(), chords(), metres(), settings(), ceilings, 40.0..260.0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn every_note_is_a_chord_tone_the_bass_or_a_passing_note(
        (preset, song, metre, settings, ceilings, tempo) in case()
    ) {
        let pattern = pattern_presets()[preset].compile().expect("a preset");
        for StruckMoment { moment, notes } in play(&pattern, &song, metre, &settings, (&ceilings, tempo)) {
            let chord = moment.chord;
            for note in notes {
                let class = note.key.class();
                prop_assert!(note.key >= settings.lowest && note.key <= settings.highest);
                prop_assert!(note.key < moment.ceiling, "{note:?} below {:?}", moment.ceiling);
                prop_assert!(note.from >= moment.at && note.until > note.from);
                prop_assert!((1..=127).contains(&note.velocity));
                match note.role {
                    Role::Passing => {
                        // Of the scale, or a half step from a root that surely comes.
                        let scale = Scale::of(moment.key, chord);
                        let sure = moment.next.filter(|n| n.together >= settings.certainty);
                        let near = |root: PitchClass| {
                            root.above(class).min(class.above(root)) == 1
                        };
                        let leads = sure.is_some_and(|next| near(next.chord.bass));
                        prop_assert!(scale.has(class) || leads, "{note:?} in {chord:?}");
                        // The patterns of one rule obey that rule.
                        if preset < LESSONS {
                            let next = sure.expect("a passing note leads to something");
                            let between = scale.between(chord.bass, next.chord.bass);
                            prop_assert_eq!(between, Some(class));
                        }
                    }
                    Role::Root => prop_assert_eq!(class, chord.root),
                    Role::Bass | Role::Octave => prop_assert_eq!(class, chord.bass),
                    Role::Third => prop_assert_eq!(Some(class), chord.third()),
                    Role::Fifth => prop_assert_eq!(Some(class), chord.fifth()),
                    _ => prop_assert!(chord.tones().has(class), "{note:?} in {chord:?}"),
                }
            }
        }
    }

    #[test]
    fn a_change_sounds_its_root_wherever_the_range_has_it(
        (preset, song, metre, settings, ceilings, tempo) in case()
    ) {
        let pattern = pattern_presets()[preset].compile().expect("a preset");
        for StruckMoment { moment, notes } in play(&pattern, &song, metre, &settings, (&ceilings, tempo)) {
            if moment.starts {
                prop_assert_eq!(notes[0].key.class(), moment.chord.bass);
            }
        }
    }

    #[test]
    fn what_is_struck_together_lies_in_one_hand_and_is_clear(
        (preset, song, metre, settings, ceilings, tempo) in case()
    ) {
        let pattern = pattern_presets()[preset].compile().expect("a preset");
        let mut before: Option<(Ticks, Vec<Note>)> = None;
        for StruckMoment { moment, notes } in play(&pattern, &song, metre, &settings, (&ceilings, tempo)) {
            for pair in notes.windows(2) {
                prop_assert!(pair[0].key < pair[1].key);
                let span = pair[1].key.distance(pair[0].key).0;
                let rolled = pair[1].from > pair[0].from;
                prop_assert!(rolled || span <= settings.reach.into());
                prop_assert!(!limits::muddy(pair[0].key, pair[1].key));
            }
            if let Some((at, old)) = &before {
                let seconds = (moment.at - *at).beats() * 60.0 / tempo;
                let leap = notes[0].key.distance(old[0].key).0.abs();
                let span = i32::from(settings.reach.max(12));
                prop_assert!(f64::from(leap - span) <= 40.0 * seconds + 1e-9, "{leap} in {seconds} s");
                prop_assert!(moment.starts || seconds >= 0.124, "{seconds} s");
                // A third in close position low down, after its root.
                if notes[0].role == Role::Third && (3..=4).contains(&notes[0].key.distance(old[0].key).0)
                    && old[0].role == Role::Root
                {
                    prop_assert!(notes[0].key.number() >= 47, "{:?}", notes[0]);
                }
            }
            before = Some((moment.at, notes));
        }
    }

    #[test]
    fn the_same_seed_plays_the_same(
        (preset, song, metre, settings, ceilings, tempo) in case()
    ) {
        let pattern = pattern_presets()[preset].compile().expect("a preset");
        let notes = |pattern: &Pattern| {
            let strokes = play(pattern, &song, metre, &settings, (&ceilings, tempo));
            strokes.into_iter().flat_map(|struck| struck.notes).collect::<Vec<_>>()
        };
        prop_assert_eq!(notes(&pattern), notes(&pattern.clone()));
    }

    #[test]
    fn a_busier_hand_strikes_no_less(
        (preset, song, metre, settings, _, _) in case(), more in 0..100u8
    ) {
        let pattern = pattern_presets()[preset].compile().expect("a preset");
        let count = |busy: u8| {
            let settings = Settings { busy, lowest: KeyNumber::clamped(28), highest: KeyNumber::clamped(59), ..settings };
            // So slow that there is time for every slot.
            play(&pattern, &song, metre, &settings, (&[72], 10.0)).len()
        };
        let (less, more) = (settings.busy.min(more), settings.busy.max(more));
        prop_assert!(count(less) <= count(more), "{less}: {}, {more}: {}", count(less), count(more));
    }
}
