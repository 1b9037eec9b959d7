//! The hand that improvises: it varies, it gives a section its figures back,
//! it stops filling under a held chord, and lands.

use sinistra_core::chord::{Chord, Kind};
use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{FigureOf, Heard, Role, Rule, accent};
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Cut, LeftNote, Timeline, rehearse};

/// Sixteen bars of which the last eight repeat the first, and a last one.
const ROOTS: [i32; 17] = [0, 9, 5, 7, 0, 9, 2, 7, 0, 9, 5, 7, 0, 9, 2, 7, 0];
const BAR: i64 = 4 * Ticks::PER_BEAT;
const RATE: f64 = 48_000.0;

/// Triads, minor on A and D, each on a root, at a time, held so long.
fn right_hand(line: &Timeline, chords: &[(i32, Ticks, Ticks)]) -> Vec<(i64, Message)> {
    let mut events = vec![];
    for &(root, at, length) in chords {
        let third = if [9, 2].contains(&root) { 3 } else { 4 };
        for above in [0, third, 7] {
            let key = KeyNumber::clamped(60 + root + above);
            let on = Message::On { channel: 0, key, velocity: 80 };
            let off = Message::off(0, key);
            events.push((line.frame(at, RATE), on));
            events.push((line.frame(at + length, RATE), off));
        }
    }
    Message::sort(&mut events);
    events
}

/// Plays a chord on each beat of each bar to the hand; the last is held for
/// `held` bars.
fn played(seed: u64, chart: bool, held: i64) -> Vec<LeftNote> {
    played_with("free-hand", seed, chart, held)
}

/// The same with another pattern.
fn played_with(slug: &str, seed: u64, chart: bool, held: i64) -> Vec<LeftNote> {
    played_by(slug, Settings { seed, ..Settings::default() }, chart, held)
}

/// The same with other settings.
fn played_by(slug: &str, settings: Settings, chart: bool, held: i64) -> Vec<LeftNote> {
    let line = Timeline::constant(96.0, Metre::COMMON);
    let mut chords = vec![];
    for (bar, root) in (0..).zip(ROOTS) {
        let last = bar as usize == ROOTS.len() - 1;
        // Where a chart says so, the last chord is the last, though it is struck again.
        let again = if chart { 2 } else { 4 };
        for beat in (0..4).filter(|beat| !last || beat % again == 0) {
            let at = Ticks(bar * BAR + beat * Ticks::PER_BEAT);
            let length = if last { held * BAR - beat * 960 } else { Ticks::PER_BEAT - 60 };
            chords.push((root, at, Ticks(length)));
        }
    }
    let events = right_hand(&line, &chords);
    let end = line.frame(Ticks((16 + held) * BAR), RATE);
    let mut engine = Engine::new(settings, sinistra_tests::pattern(Some(slug)));
    if chart {
        let chord = |(bar, root): (i64, i32)| {
            let kind = if [9, 2].contains(&root) { Kind::Minor } else { Kind::Major };
            (Ticks(bar * BAR), Some(Chord::new(PitchClass::new(root), kind)))
        };
        let song = Song::in_common_time((0..).zip(ROOTS).map(chord), 16 + held);
        drop(engine.swap_song(song.map(Box::new)));
    }
    rehearse(&mut engine, &line, &events, (0, end), Cut { rate: RATE, block: 64 })
}

/// What a pattern plays to a bar on each of `roots`, a chord on each beat, no chart.
fn played_through(slug: &str, roots: &[i32], seed: u64) -> Vec<LeftNote> {
    let line = Timeline::constant(96.0, Metre::COMMON);
    let bars = (0..).zip(roots);
    let chords: Vec<_> = bars
        .flat_map(|(bar, root)| (0..4).map(move |beat| (*root, Ticks(bar * BAR + beat * 960))))
        .map(|(root, at)| (root, at, Ticks(900)))
        .collect();
    let events = right_hand(&line, &chords);
    let settings = Settings { seed, ..Settings::default() };
    let mut engine = Engine::new(settings, sinistra_tests::pattern(Some(slug)));
    let end = line.frame(Ticks(roots.len() as i64 * BAR), RATE);
    rehearse(&mut engine, &line, &events, (0, end), Cut { rate: RATE, block: 64 })
}

/// Where a note is counted, in ticks: all of a rolled stroke at one place.
fn counted(note: &LeftNote) -> i64 {
    note.played.grid.unwrap_or(note.played.at).0
}

/// The places that a bar strikes, in ticks from its line.
fn rhythm(notes: &[LeftNote], bar: i64) -> Vec<i64> {
    let here = notes.iter().map(|note| counted(note) - bar * BAR);
    let mut places: Vec<_> = here.filter(|at| (0..BAR).contains(at)).collect();
    places.dedup();
    places
}

#[test]
fn it_does_not_repeat_itself_as_a_machine_does_and_another_seed_plays_otherwise() {
    let (mut same, mut other) = (0, 0);
    for seed in 1..=8 {
        let (notes, others) = (played(seed, false, 2), played(seed + 100, false, 2));
        assert!(notes.len() > 30, "seed {seed}: {} notes", notes.len());
        same += (1..16).filter(|&n| rhythm(&notes, n) == rhythm(&notes, n - 1)).count();
        other += (0..16).filter(|&n| rhythm(&notes, n) == rhythm(&others, n)).count();
    }
    assert!(same < 8 * 15 / 2, "{same} bars have the rhythm of the bar before");
    assert!(other < 8 * 16 / 2, "{other} bars have the rhythm that another seed gives them");
}

/// In how many of the bars from the third on the hand strikes off the eighths under a
/// right hand that strikes so many times in a beat.
fn fine_bars(strokes: i64) -> usize {
    let line = Timeline::constant(96.0, Metre::COMMON);
    let length = Ticks::PER_BEAT / strokes;
    let chords: Vec<_> = (0..4 * strokes * 16)
        .map(|n| (ROOTS[(n / (4 * strokes)) as usize], Ticks(n * length), Ticks(length - 60)))
        .collect();
    let events = right_hand(&line, &chords);
    let end = line.frame(Ticks(16 * BAR), RATE);
    let bars = |seed: u64| {
        let settings = Settings { seed, ..Settings::default() };
        let mut engine = Engine::new(settings, sinistra_tests::pattern(Some("free-hand")));
        let cut = Cut { rate: RATE, block: 64 };
        let notes = rehearse(&mut engine, &line, &events, (0, end), cut);
        let fine = |bar: &i64| rhythm(&notes, *bar).iter().any(|at| at % 480 == 240);
        (2..16).filter(fine).count()
    };
    (1..=8).map(bars).sum()
}

#[test]
fn the_hands_share_their_finest_note() {
    let (eighths, sixteenths) = (fine_bars(2), fine_bars(4));
    println!("of 112 bars {eighths} have sixteenths under eighths, {sixteenths} under sixteenths");
    assert!(eighths * 5 <= 112, "{eighths} of 112 bars under eighths");
    assert!(sixteenths * 5 >= 3 * 112, "{sixteenths} of 112 bars under sixteenths");
}

#[test]
fn the_player_sets_whether_it_keeps_to_one_figure_or_changes_at_every_turn() {
    // Whole bars apart from the landing: how many have the rhythm of the bar before.
    let same = |variety: u8| {
        let again = |seed: u64| {
            let settings = Settings { seed, variety, ..Settings::default() };
            let notes = played_by("free-hand", settings, false, 2);
            let of = |bar| rhythm(&notes, bar);
            (2..15).filter(|bar| of(*bar) == of(*bar - 1)).count()
        };
        (1..9).map(again).sum::<usize>()
    };
    let (one, usual, many) = (same(0), same(50), same(100));
    println!("of 104 bars {one} repeat the bar before at 0, {usual} at 50, {many} at 100");
    assert!(one >= 80 && usual * 3 <= one && many * 2 <= usual, "{one} {usual} {many}");
}

#[test]
fn a_change_at_the_bar_line_is_struck_there_with_its_root_whatever_the_figure_leaves_out() {
    for seed in 1..=8 {
        let notes = played(seed, true, 2);
        for (bar, root) in (0..).zip(ROOTS).skip(1) {
            let line = Ticks(bar * BAR);
            let near = |note: &&LeftNote| (note.played.at - line).0.abs() <= Ticks::PER_BEAT / 8;
            let roots = notes.iter().filter(near).map(|note| note.played.key.class());
            assert!(roots.into_iter().any(|class| class == PitchClass::new(root)), "{seed} {bar}");
        }
    }
}

#[test]
fn a_section_of_the_chart_that_comes_back_gets_its_figures_back() {
    // Now and then a stroke more or less: one that would only repeat the key before it.
    let back = [1, 2, 3, 4, 5, 6, 7, 8].map(|seed| {
        let notes = played(seed, true, 2);
        (0..8).filter(|&n| rhythm(&notes, n) == rhythm(&notes, n + 8)).count()
    });
    println!("{back:?} of 8 bars");
    assert!(back.iter().all(|bars| *bars >= 6) && back.iter().sum::<usize>() >= 7 * 8, "{back:?}");
}

/// Which left hand of its style each phrase of four bars has, and why.
fn drawn(notes: &[LeftNote], phrases: i64) -> Vec<(FigureOf, Heard)> {
    let of = |phrase: i64| {
        let here = |note: &&LeftNote| note.played.at.0.div_euclid(BAR) == 4 * phrase;
        let why = notes.iter().find(here).map(|note| note.played.why);
        why.map_or_else(Default::default, |why| (why.figure, why.heard))
    };
    (0..phrases).map(of).collect()
}

#[test]
fn a_style_hears_without_a_chart_that_a_section_is_back() {
    let verse = [0, 9, 5, 7, 4, 9, 2, 7];
    let chorus = [5, 0, 0, 5, 2, 9, 7, 7];
    for seed in 1..=8 {
        let song = [verse, chorus, verse, chorus].concat();
        let phrases = drawn(&played_through("style-jazz", &song, seed), 8);
        // It is heard in its third bar; from the next phrase on the form goes on so.
        for back in 5..8 {
            assert_eq!(phrases[back], (phrases[back - 4].0, Heard::Section), "seed {seed}");
        }
        let said = |phrase: &(FigureOf, Heard)| phrase.1 == Heard::Section;
        assert!(!phrases[..5].iter().any(said), "seed {seed}: {phrases:?}");
        // Four chords round and round are no section.
        let song = [0, 9, 5, 7].repeat(8);
        let phrases = drawn(&played_through("style-jazz", &song, seed), 8);
        assert!(!phrases.iter().any(said), "seed {seed}: {phrases:?}");
    }
}

#[test]
fn it_lands_on_the_last_root_and_holds_it() {
    for (seed, chart) in [(1, true), (2, true), (1, false), (2, false)] {
        let notes = played(seed, chart, 4);
        // With a chart it knows; without one it hears it when a bar has passed.
        let lands = Ticks(if chart { 16 * BAR } else { 17 * BAR });
        let after: Vec<_> = notes.iter().filter(|note| note.played.at >= lands).collect();
        let root = PitchClass::C;
        assert!(after.iter().all(|note| note.played.key.class() == root), "{seed} {chart}");
        // A chart's last chord is struck twice here, and landed on once.
        let most = if chart { 1 } else { 2 };
        assert!((1..=most).contains(&after.len()), "{seed} {chart}: {} notes", after.len());
    }
}

/// Twelve bars in `metre`, a chord on the bar line and on each felt beat after it.
fn played_in(metre: Metre, seed: u64) -> Vec<LeftNote> {
    let line = Timeline::constant(96.0, metre);
    let bar = metre.bar().0;
    let mut chords = vec![];
    for (n, root) in (0..12).zip(ROOTS) {
        for beat in accent::beats(metre) {
            let at = Ticks(n * bar + beat.start.0);
            chords.push((root, at, beat.length + Ticks(-60)));
        }
    }
    let events = right_hand(&line, &chords);
    let settings = Settings { seed, ..Settings::default() };
    let mut engine = Engine::new(settings, sinistra_tests::pattern(Some("free-hand")));
    let end = line.frame(Ticks(12 * bar), RATE);
    rehearse(&mut engine, &line, &events, (0, end), Cut { rate: RATE, block: 64 })
}

#[test]
fn it_improvises_in_other_metres_with_the_accents_of_each() {
    for (beats, unit) in [(2, 4), (3, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8)] {
        let metre = Metre::new(beats, unit).expect("a metre");
        let bar = metre.bar().0;
        let felt: Vec<_> = accent::beats(metre).iter().map(|beat| beat.start.0).collect();
        let (mut same, mut bars, mut on, mut off) = (0, 0, 0, 0);
        for seed in 1..=6 {
            let notes = played_in(metre, seed);
            let places = |n: i64| {
                let here = notes.iter().map(|note| counted(note) - n * bar);
                let mut places: Vec<_> = here.filter(|at| (0..bar).contains(at)).collect();
                places.dedup();
                places
            };
            for n in 1..12 {
                bars += 1;
                same += usize::from(places(n) == places(n - 1));
                on += felt.iter().filter(|at| places(n).contains(at)).count();
                off += places(n).iter().filter(|at| !felt.contains(at)).count();
                assert!(
                    places(n).iter().all(|at| at % 240 == 0),
                    "{beats}/{unit}: {:?}",
                    places(n)
                );
            }
            let wide = notes.iter().filter(|note| note.off - note.on > 2 * line_frames(metre));
            assert_eq!(wide.count(), 0, "{beats}/{unit}");
        }
        assert!(same * 2 < bars, "{beats}/{unit}: {same} of {bars} as the bar before");
        // Of the felt beats more than half are struck; of the sixteenths between, fewer.
        let between = bars * (bar / 240) as usize - bars * felt.len();
        let (felt, between) = (on * 100 / (bars * felt.len()), off * 100 / between);
        assert!(felt >= 50 && felt > 2 * between, "{beats}/{unit}: {felt} % and {between} %");
    }
}

/// Frames of a bar.
fn line_frames(metre: Metre) -> i64 {
    Timeline::constant(96.0, metre).frame(metre.bar(), RATE)
}

#[test]
fn it_says_why() {
    let root = |bar: usize| PitchClass::new(ROOTS[bar]);
    let (mut kept, mut back, mut other) = (0, 0, 0);
    for seed in 1..=8 {
        for note in played(seed, true, 2) {
            let (why, bar) = (note.played.why, note.played.at.0.div_euclid(BAR));
            assert!(matches!(why.figure, FigureOf::Book(_)), "{why:?}");
            match why.rule {
                Rule::Lands => assert_eq!((bar, why.heard), (16, Heard::End)),
                Rule::Tells => assert_eq!(note.played.chord.root, root(bar as usize)),
                Rule::Passes => assert_eq!(note.played.role, Role::Passing),
                Rule::Leads | Rule::Written | Rule::Marks => {}
            }
            assert!(bar < 16 || why.rule == Rule::Lands, "{why:?}");
            match why.heard {
                Heard::Section => back += usize::from(bar >= 8),
                Heard::GoesOn => kept += 1,
                _ => other += 1,
            }
        }
    }
    assert!(back > 100 && kept > 100 && other > 20, "{back} {kept} {other}");
    let held = played(3, false, 4).last().map(|note| (note.played.why.rule, note.played.why.heard));
    assert_eq!(held, Some((Rule::Lands, Heard::Held)));
}

#[test]
fn a_style_draws_from_its_left_hands_keeps_moves_returns_and_lands() {
    let mut drawn = std::collections::BTreeSet::new();
    for seed in 1..=12 {
        let notes = played_with("style-jazz", seed, true, 2);
        let figure = |bar: i64| {
            let here = notes.iter().find(|note| note.played.at.0.div_euclid(BAR) == bar);
            here.map(|note| note.played.why.figure)
        };
        for phrase in 0..4 {
            let here: Vec<_> = (0..4).filter_map(|bar| figure(4 * phrase + bar)).collect();
            assert!(here.windows(2).all(|two| two[0] == two[1]), "seed {seed}: {here:?}");
            let Some(FigureOf::Library(number)) = here.first().copied() else {
                unreachable!("{here:?}")
            };
            drawn.insert(number);
        }
        assert_eq!(
            (figure(0), figure(4)),
            (figure(8), figure(12)),
            "seed {seed}: the section is back"
        );
        let last: Vec<_> = notes.iter().filter(|note| note.played.at.0 >= 16 * BAR).collect();
        assert!(last.iter().all(|note| note.played.why.rule == Rule::Lands) && !last.is_empty());
        assert!(last.iter().all(|note| note.played.key.class() == PitchClass::C));
    }
    // Stride, tenths, walking bass, shuffle; the jazz waltz is in three.
    assert_eq!(drawn, [22, 25, 26, 28].into());
}

/// Plays to the keys from `lowest` up of five songs: how many of their bars there are,
/// and how many third beats are struck.
fn third_beats(lowest: u8) -> (usize, usize) {
    let data = std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data");
    let (mut bars, mut struck) = (0, 0);
    for mut song in sinistra_tests::songs::on_the_grid(&data) {
        song.events.retain(|(_, message)| match message {
            Message::On { key, .. } | Message::Off { key, .. } => key.number() >= lowest,
            Message::Control { .. } => false,
        });
        let pattern = sinistra_tests::pattern(Some("free-hand"));
        let notes = song.played_by(&mut Engine::new(Settings::default(), pattern));
        let mut places: Vec<_> = notes.iter().map(counted).collect();
        places.sort_unstable();
        let bar = |at: &i64| song.timeline.place(Ticks(*at)).bar.0;
        let mut played: Vec<_> = places.iter().map(bar).collect();
        played.dedup();
        bars += played.len();
        let third = |bar: &&i64| places.binary_search(&(**bar + 2 * Ticks::PER_BEAT)).is_ok();
        struck += played.iter().filter(third).count();
    }
    (bars, struck)
}

#[test]
fn in_doubt_a_figure_goes_on_on_the_third_beat() {
    // The fewer keys are heard, the more is in doubt.
    let all = [74, 76].map(third_beats);
    let (bars, struck) = all.iter().fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    assert!(100 * struck >= 44 * bars, "{struck} third beats of {bars} bars are struck");
}
