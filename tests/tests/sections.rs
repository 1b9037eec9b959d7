//! What the hand that improvises makes of the sections that a chart names: a new one is
//! thicker, one that comes back is as it was, and a pick-up leads into each, or a rest into
//! one that is new.

use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Chart, Cut, LeftNote, Timeline, rehearse};

const BAR: i64 = 4 * Ticks::PER_BEAT;
const RATE: f64 = 48_000.0;
/// Bars of a section.
const EIGHT: i64 = 8;
const SEEDS: u64 = 16;

const VERSE: &str = "| C | Am | F | G | C | Am | Dm | G |";
const CHORUS: &str = "| F | G | Em | Am | F | G | C | C7 |";
const BRIDGE: &str = "| Dm | A7 | Dm | G7 | Em | B7 | Em | G7 |";
const END: &str = "| C |";

/// Verse, chorus, verse with one chord of its own, bridge, chorus: as named sections, or
/// as nothing but bars.
fn chart(named: bool) -> Chart {
    let verse = VERSE.replace("Dm | G", "F | G");
    let sections = [
        ("Verse", VERSE),
        ("Chorus", CHORUS),
        ("Verse", &verse),
        ("Bridge", BRIDGE),
        ("Chorus", CHORUS),
    ];
    let name = |name: &str| if named { format!("[{name}]\n") } else { String::new() };
    let lines = sections.map(|(section, bars)| format!("{}{bars}\n", name(section)));
    let text = format!("tempo: 96\n\n{}{}{END}\n", lines.concat(), name("End"));
    Chart::read("song", &text).expect("a chart")
}

/// Plays a chord on each beat to the hand.
fn played(named: bool, seed: u64) -> Vec<LeftNote> {
    let line = Timeline::constant(96.0, Metre::COMMON);
    let song = chart(named).unfold();
    let bars = song.bars().len() as i64;
    let mut events = vec![];
    for beat in 0..4 * bars {
        let at = Ticks(beat * Ticks::PER_BEAT);
        let chord = song.chord_at(at).and_then(|n| song.chords()[n].chord).expect("a chord");
        for class in chord.tones().iter() {
            let key = KeyNumber::MIDDLE_C.transpose(Semitones(i32::from(class.number())));
            let key = key.expect("a key");
            let on = Message::On { channel: 0, key, velocity: 80 };
            events.push((line.frame(at, RATE), on));
            events.push((line.frame(at + Ticks(900), RATE), Message::off(0, key)));
        }
    }
    Message::sort(&mut events);
    let settings = Settings { seed, ..Settings::default() };
    let mut engine = Engine::new(settings, sinistra_tests::pattern(Some("free-hand")));
    drop(engine.swap_song(Some(Box::new(song.clone()))));
    let end = line.frame(Ticks(bars * BAR), RATE);
    rehearse(&mut engine, &line, &events, (0, end), Cut { rate: RATE, block: 64 })
}

/// The places that a bar strikes, in ticks from its line.
fn rhythm(notes: &[LeftNote], bar: i64) -> Vec<i64> {
    let at = |note: &LeftNote| note.played.grid.unwrap_or(note.played.at).0 - bar * BAR;
    let mut places: Vec<_> = notes.iter().map(at).filter(|at| (0..BAR).contains(at)).collect();
    places.dedup();
    places
}

/// Strokes a bar in each of the five sections, over all seeds.
fn thickness(named: bool) -> [f64; 5] {
    let mut strokes = [0; 5];
    for seed in 1..=SEEDS {
        let notes = played(named, seed);
        for (n, strokes) in (0..).zip(&mut strokes) {
            let bars = (n * EIGHT)..((n + 1) * EIGHT);
            *strokes += bars.map(|bar| rhythm(&notes, bar).len()).sum::<usize>();
        }
    }
    strokes.map(|strokes| strokes as f64 / (SEEDS as f64 * EIGHT as f64))
}

#[test]
fn a_new_section_is_thicker_and_thins_where_a_verse_comes_back() {
    let [verse, chorus, again, bridge, last] = thickness(true);
    println!("{:?} unnamed {:?}", [verse, chorus, again, bridge, last], thickness(false));
    assert!(chorus > verse + 1.0, "chorus {chorus:.1}, verse {verse:.1}");
    assert!(again < chorus - 1.0 && (again - verse).abs() < 0.5, "verse {again:.1}");
    assert!(bridge > verse + 1.0, "bridge {bridge:.1}");
    assert!((last - chorus).abs() < 0.5, "chorus {last:.1}");
}

#[test]
fn a_section_that_comes_back_under_its_name_gets_its_figures_back() {
    let back = |named| {
        let alike = |seed| {
            let notes = played(named, seed);
            let same = |from: i64, bar: &i64| rhythm(&notes, *bar) == rhythm(&notes, bar - from);
            let verse = (16..24).filter(|bar| same(16, bar)).count();
            (verse, (32..40).filter(|bar| same(24, bar)).count())
        };
        (1..=SEEDS).map(alike).fold((0, 0), |all, one| (all.0 + one.0, all.1 + one.1))
    };
    let (verse, chorus) = back(true);
    println!("named {verse} {chorus}, unnamed {:?}", back(false));
    let most = (SEEDS * EIGHT as u64 * 8 / 10) as usize;
    assert!(verse >= most, "{verse} of 128 bars of the verse");
    assert!(chorus >= most, "{chorus} of 128 bars of the chorus");
}

#[test]
fn a_pick_up_leads_into_a_section() {
    // After the last beat of the bar before the chorus, the bridge, each verse.
    let pick_ups = |named| {
        let leads = |seed| {
            let notes = played(named, seed);
            let after = |bar: i64| rhythm(&notes, bar).iter().any(|at| *at > 3 * Ticks::PER_BEAT);
            [7, 15, 23, 31].into_iter().filter(|bar| after(*bar)).count()
        };
        (1..=SEEDS).map(leads).sum::<usize>()
    };
    let (named, unnamed) = (pick_ups(true), pick_ups(false));
    println!("named {named}, unnamed {unnamed}");
    assert!(named >= 4 * SEEDS as usize * 8 / 10, "{named} of 64, {unnamed} where none is named");
    assert!(named > unnamed);
}

/// Whether our hand rests in that bar from the second beat on, with the next one's first
/// beat struck.
fn rests_before_it(notes: &[LeftNote], line: &Timeline, bar: i64) -> bool {
    let rest = (bar * BAR + Ticks::PER_BEAT, (bar + 1) * BAR);
    let sounds = |note: &LeftNote| {
        let [on, off] = [note.on, note.off].map(|frame| line.tick_at_frame(frame, RATE).0);
        // To the nearest sixteenth: samples are whole, and an early hand is early.
        off > rest.0 + Ticks::PER_BEAT / 8 && on < rest.1 - Ticks::PER_BEAT / 8
    };
    !notes.iter().any(sounds) && rhythm(notes, bar + 1).first() == Some(&0)
}

#[test]
fn now_and_then_a_rest_comes_before_a_section_that_is_new() {
    // Before the chorus and the bridge, which are new, and before what comes back.
    let line = Timeline::constant(96.0, Metre::COMMON);
    let rests = |named, bars: [i64; 2]| {
        let count = |seed| {
            let notes = played(named, seed);
            bars.into_iter().filter(|bar| rests_before_it(&notes, &line, *bar)).count()
        };
        (1..=SEEDS).map(count).sum::<usize>()
    };
    let (new, back, unnamed) = (rests(true, [7, 23]), rests(true, [15, 31]), rests(false, [7, 23]));
    println!("before new sections {new} of 32, before others {back}, without names {unnamed}");
    assert!((3..=12).contains(&new), "before {new} of 32 new sections");
    assert_eq!((back, unnamed), (0, 0));
}
