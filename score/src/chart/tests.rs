use proptest::prelude::*;

use super::*;
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::key::Mode;
use sinistra_core::pitch::PitchClass;

fn chart(text: &str) -> Chart {
    Chart::read("song.txt", text).map_err(|faults| faults.to_string()).expect("a good chart")
}

fn faults(text: &str) -> String {
    Chart::read("song.txt", text).expect_err("a bad chart").to_string()
}

/// The song as `beat:chord`, beats in quarter notes.
fn song(text: &str) -> String {
    let song = chart(text).unfold();
    let name = |chord: Option<Chord>| {
        chord.map_or("-".to_owned(), |chord| Symbol::of(chord, Key::C_MAJOR).ascii())
    };
    let chords = song.chords().iter().map(|c| format!("{}:{}", c.at.beats(), name(c.chord)));
    chords.collect::<Vec<_>>().join(" ")
}

/// The written bars in the order in which they are played, from 0.
fn order(text: &str) -> String {
    let song = chart(text).unfold();
    song.bars().iter().map(|bar| bar.written.to_string()).collect::<Vec<_>>().join(" ")
}

const FOG: &str = "\
title: Fog over the Lake
key: Am
metre: 4/4
tempo: 84

[Verse]
|: Am     | F . G .     | C . . G/B | % :|
|  3/4 Dm | E7sus4 . E7 |
";

#[test]
fn chords_share_their_bar() {
    assert_eq!(song("| C |"), "0:C");
    assert_eq!(song("| C F |"), "0:C 2:F");
    assert_eq!(song("| C . . G/B |"), "0:C 3:G/B");
    assert_eq!(song("| C F G Am |"), "0:C 1:F 2:G 3:Am");
    assert_eq!(song("| C . . F . . . . |"), "0:C 1.5:F"); // before the third beat
    assert_eq!(song("| C | . . . F | . G |"), "0:C 7:F 10:G"); // held over bar lines
    assert_eq!(song("metre: 6/8\n| C G | F |"), "0:C 1.5:G 3:F"); // two felt beats
    assert_eq!(song("metre: 5/4\n| C . . F . |"), "0:C 3:F");
    assert_eq!(song("| C | N.C. | F |"), "0:C 4:- 8:F");
    assert_eq!(song("| C / / G |"), "0:C 3:G"); // slash notation
    assert_eq!(song("| C... | C. G. |"), "0:C 4:C 6:G");
}

#[test]
fn repeats_and_endings_are_written_out() {
    assert_eq!(order("|: C | F :| G |"), "0 1 0 1 2");
    assert_eq!(order("|: C | F :| x3 | G |"), "0 1 0 1 0 1 2");
    assert_eq!(order("C | F :|"), "0 1 0 1"); // back to the start
    assert_eq!(order("|: C :|: F :| x3"), "0 0 1 1 1");
    assert_eq!(order("|: C :| |: F :|"), "0 0 1 1");
    assert_eq!(order("|: C |1. F :|2. G | Am |"), "0 1 0 2 3");
    assert_eq!(order("|: C |1. F :|2. G :| Am |"), "0 1 0 2 3");
    assert_eq!(order("|: C |1,2. F | E :|3. G |"), "0 1 2 0 1 2 0 3");
    assert_eq!(order("|: C |1-3. F :|4. G |"), "0 1 0 1 0 1 0 2");
    assert_eq!(order("|: C |1. F :|2. G | Am :|"), "0 1 0 2 3");
    assert_eq!(order("|: C |1. F :|2. G |\n|: Am :|"), "0 1 0 2 3 3");
    assert_eq!(order("| C |\n|: F | % :|"), "0 1 2 1 2");
}

#[test]
fn the_bar_before_comes_again() {
    assert_eq!(song("| C . F . | % | % |"), "0:C 2:F 4:C 6:F 8:C 10:F");
    let chords = chart("| C F | % | G |").unfold();
    let written: Vec<_> = chords.chords().iter().map(|chord| chord.written).collect();
    assert_eq!(written, [0, 1, 0, 1, 2]); // the place on the page
}

#[test]
fn a_pick_up_lies_before_the_first_bar() {
    let song = chart("metre: 3/4\npick-up: 1\n| D7 | G | Am |").unfold();
    assert_eq!(song.start(), Ticks(-960));
    assert_eq!(song.chords()[1].at, Ticks(0));
    assert_eq!(song.end(), Ticks(2 * 2880));
    let with_repeat = order("pick-up: 2\n| G7 | C | F :|");
    assert_eq!(with_repeat, "0 1 2 1 2"); // the pick-up is played once
}

#[test]
fn a_song_is_played_over_and_over() {
    let waltz = chart("metre: 3/4\npick-up: 1\n| D7 | G | Am |");
    let song = waltz.unfold_times(3);
    let written: Vec<_> = song.bars().iter().map(|bar| bar.written).collect();
    assert_eq!(written, [0, 1, 2, 1, 2, 1, 2]);
    assert_eq!(waltz.unfold_times(0), waltz.unfold());
    assert!(chart("| C |").unfold_times(u16::MAX).bars().len() <= Chart::MOST_BARS.1);
}

#[test]
fn the_metre_changes_at_a_bar() {
    let song = chart(FOG).unfold();
    let last = song.bars().last().copied().expect("bars");
    assert_eq!(last.metre, Metre::new(3, 4).expect("3/4"));
    assert_eq!(song.end(), Ticks(8 * 3840 + 2 * 2880));
}

#[test]
fn the_head_says_key_and_tempo() {
    let song = chart(FOG).unfold();
    assert_eq!(song.key, Some(Key { tonic: PitchClass::new(9), mode: Mode::Minor }));
    assert_eq!(song.tempo, Some(84.0));
    // Felt beats: a dotted quarter in 12/8.
    assert_eq!(chart("metre: 12/8\ntempo: 60\n| C |").unfold().tempo, Some(90.0));
    assert_eq!(chart("swing: 67%\n| C |").draft().swing, Some(67));
    assert_eq!(chart("| C |").title(), "Untitled");
    assert_eq!(chart("title: Tune #5 | B: x\n| C |").title(), "Tune #5 | B: x");
}

#[test]
fn a_chart_prints_as_it_was_written() {
    assert_eq!(chart(FOG).to_string(), FOG);
    let text = "\
title: Ink
key: Bb
metre: 3/4
pick-up: 1

| F7
|: Bb       | Eb/G . F7 |1. Bb       :|2. Bb |
";
    // Line ends without a bar line are allowed; printing closes them.
    let printed = chart(text).to_string();
    assert_eq!(chart(&printed), chart(text));
    assert!(printed.contains("|  F7 |\n|: Bb | Eb/G . F7 | 1. Bb :| 2. Bb |"), "{printed}");
}

#[test]
fn comments_and_blank_lines_do_not_count() {
    let text = "# a sketch\n\n| C# | F#m |  # the sharp in C# stays\n";
    assert_eq!(song(text), "0:C# 4:F#m");
}

#[test]
fn every_faulty_line_is_told_with_a_hint() {
    let text = "\
titel: Fog
key: H
metre: 4/4

[Verse]
| Am | Fx . G . |
| C . F |
| C | E7 :| x1
";
    assert_eq!(
        faults(text),
        "\
song.txt:1:1: no setting `titel`
1 | titel: Fog
  | ^^^^^
hint: settings are title, key, metre, tempo, swing and pick-up
song.txt:2:6: no key `H`
2 | key: H
  |      ^
hint: keys are such as C, Bb, F#m or A minor
song.txt:6:9: `x` makes no sense in `Fx`
6 | | Am | Fx . G . |
  |         ^
hint: kinds are such as m 7 m7 maj7 6 9 sus4 add9 dim m7b5 + 7alt; changes such as b5 #9 #11 \
add9 no3
song.txt:7:3: 3 places do not share a bar of 4/4 evenly
7 | | C . F |
  |   ^^^^^
hint: write 1, 2, 4, 8 or 16 places; a dot holds a chord, as in `C . F G`
song.txt:8:13: no count `x1`
8 | | C | E7 :| x1
  |             ^^
hint: write x2 to x99"
    );
}

#[test]
fn faults_say_what_is_wrong() {
    for (text, what) in [
        ("", "no bars in this chart"),
        ("key: C\n", "no bars in this chart"),
        ("C F G\n| C |", "no bar lines here"),
        ("| C |\ntempo: 90", "`tempo` behind the first bar"),
        ("key: C\nkey: D\n| C |", "`key` for the second time"),
        ("tempo: 900\n| C |", "no tempo `900`"),
        ("swing: 90\n| C |", "no swing `90`"),
        ("metre: 4/5\n| C |", "no metre `4/5`"),
        ("pick-up: 4\n| C |", "a pick-up as long as a bar"),
        ("| . C |", "a dot holds the chord before"),
        ("| % |", "`%` repeats the bar before, and this is the first"),
        ("| C | 3/4 % |", "which is of another length"),
        ("| C | | F |", "an empty bar"),
        ("| C 3/4 |", "a metre inside a bar"),
        ("| C % |", "chords beside a `%`"),
        ("|: C | F |", "a repeat starts here and does not end"),
        ("|: C |: F :|", "a repeat starts here and does not end"),
        ("|: C |1. F :| G |", "an ending without another"),
        ("|: C |1. F :|3. G |", "ending 3 comes where ending 2 should"),
        ("|: C |1. F :| x3 |2. G |", "a count and endings both"),
        ("[Verse\n| C |", "a section without its `]`"),
        ("| C |\n[End]", "no bars follow section `End`"),
        ("| 7 |", "`7` is no metre and no ending"),
        (":| C |", "a repeat ends before the first bar"),
        ("metre: 3/4\n| C F |", "2 places do not share a bar of 3/4 evenly"),
    ] {
        let told = faults(text);
        assert!(told.contains(what), "{text}\n{told}");
        assert_eq!(told.matches("hint:").count(), 1, "one fault, one hint: {text}\n{told}");
    }
}

#[test]
fn repeats_cannot_blow_up() {
    let mut text = String::from("|: C | C | C | C :| x99\n").repeat(60);
    assert!(faults(&text).contains("longer than 1200 bars"));
    text = "|C".repeat(5000);
    assert!(faults(&text).contains("5000 bars"));
    assert!(faults(&" ".repeat(2 << 20)).contains("too long"));
}

#[test]
fn what_would_be_right_fits_the_metre_that_is_wrong() {
    for (metre, example) in
        [("3/4", "`C . F`"), ("5/4", "`C . . F .`"), ("6/8", "`C . . F . .`"), ("2/4", "`C . F G`")]
    {
        let told = faults(&format!("metre: {metre}\n| C F G Am Dm Em G |\n"));
        assert!(told.contains(&format!("as in {example}")), "{told}");
        let chart = format!("metre: {metre}\n| {} |\n", example.trim_matches('`'));
        assert!(Chart::read("example", &chart).is_ok(), "{chart}");
    }
}

#[test]
fn a_chart_moves_to_another_key() {
    let to = |tonic, mode| Key { tonic: PitchClass::new(tonic), mode };
    let moved = chart(FOG).transpose(to(0, Mode::Minor)).expect("minor to minor");
    let text = moved.to_string();
    assert!(text.contains("key: Cm"), "{text}");
    assert!(text.contains("Ab . Bb ."), "{text}"); // not G# . A#
    assert!(text.contains("Eb . . Bb/D"), "{text}");
    assert_eq!(chart(FOG).transpose(to(0, Mode::Major)), None);
    // Without a key, the chords tell.
    let moved = chart("| C | F . G7 . | C |").transpose(to(2, Mode::Major)).expect("major");
    assert!(moved.to_string().contains("| D | G . A7 . | D |"), "{moved}");
}

#[test]
fn a_chart_is_in_the_key_that_its_chords_are_written_in() {
    // Of six sharps and six flats, five and seven, the chart's own.
    for (text, key, fifths) in [
        ("key: F#\n| F# | B | C#7 | F# |", "F#", 6),
        ("| F# | B | C#7 | F# |", "F#", 6),
        ("key: Gb\n| Gb | Cb | Db7 | Gb |", "Gb", -6),
        ("key: Ebm\n| Ebm | Abm | Bb7 | Ebm |", "Ebm", -6),
        ("key: D#m\n| D#m | G#m | A#7 | D#m |", "D#m", 6),
        ("key: C#\n| C# | F# | G#7 | C# |", "C#", 7),
    ] {
        let written = chart(text).written_key();
        assert_eq!((key_name(written).as_str(), written.fifths()), (key, fifths), "{text}");
        assert!(!text.starts_with("key") || chart(text).to_string().contains(&text[..7]));
    }
}

#[test]
fn a_chart_moves_from_and_to_the_key_that_is_written() {
    for (text, to, expected) in [
        ("key: F#\n| F# | B | C#7 | F# |", "G", "| G | C | D7 | G |"), // no B#
        ("key: Ebm\n| Ebm | Abm | Bb7 | Ebm |", "Em", "| Em | Am | B7 | Em |"), // no Fbm
        ("key: C#\n| C# | F# | G#7 | C# |", "C", "| C | F | G7 | C |"),
        ("key: G\n| G | C | D7 | G |", "F#", "| F# | B | C#7 | F# |"),
        ("key: G\n| G | C | D7 | G |", "Gb", "| Gb | Cb | Db7 | Gb |"),
        ("key: Em\n| Em | Am | B7 | Em |", "Ebm", "| Ebm | Abm | Bb7 | Ebm |"),
    ] {
        let to = read_written_key(to).expect(to);
        let moved = chart(text).transpose(to).expect("the same mode");
        assert!(moved.to_string().contains(expected), "{text}: {moved}");
        assert_eq!(moved.written_key(), to, "{text}");
    }
}

#[test]
fn the_chords_tell_the_key() {
    for (text, key) in [
        ("| C | Am | F | G |", "C"),
        ("| Am | F | C | G | Am |", "Am"),
        ("| Am | Dm | E7 | Am |", "Am"),
        ("| Bb | Gm7 | Cm7 . F7 . | Bb |", "Bb"),
        ("| Em | C | D | B7 | Em |", "Em"),
    ] {
        assert_eq!(key_name(chart(text).likeliest_key()), key, "{text}");
    }
}

#[test]
fn played_chords_become_a_chart() {
    let chord = |root, kind| Some(Chord::new(PitchClass::new(root), kind));
    let bar = |chords: &[(i64, Option<Chord>)]| HeardBar {
        metre: Metre::COMMON,
        chords: chords.iter().map(|&(at, chord)| (Ticks(at), chord)).collect(),
    };
    let bars = [
        bar(&[(5, chord(0, Kind::Major)), (1930, chord(5, Kind::Major))]), // human timing
        bar(&[(-3, chord(0, Kind::Major)), (1910, chord(5, Kind::Major))]),
        bar(&[]),
        bar(&[(0, chord(7, Kind::Dominant)), (3835, chord(10, Kind::Major))]), // just early
        bar(&[(2890, None)]),
    ];
    let chart = Chart::of_bars("Caught", Key::C_MAJOR, Some(100.0), &bars).expect("bars");
    assert_eq!(
        chart.to_string(),
        "\
title: Caught
key: C
metre: 4/4
tempo: 100

| C F         | % | . | G7 |
| Bb . . N.C. |
"
    );
    assert_eq!(Chart::of_bars("", Key::C_MAJOR, None, &[]), None);
}

fn any_metre() -> impl Strategy<Value = Metre> {
    prop::sample::select(&[(2u8, 4u8), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8)][..])
        .prop_map(|(beats, unit)| Metre::new(beats, unit).expect("a metre"))
}

fn any_symbol() -> impl Strategy<Value = Symbol> {
    let name = (0usize..7, -1i8..=1).prop_map(|(letter, alter)| {
        sinistra_core::pitch::Spelled::new(sinistra_core::pitch::Letter::ALL[letter], alter)
    });
    let kind = prop::sample::select(
        &["", "m", "7", "m7b5", "maj7", "dim", "sus4", "7alt", "6/9", "13b9", "+7"][..],
    );
    (name.clone(), kind, prop::option::weighted(0.2, name)).prop_map(|(root, kind, bass)| {
        let quality = Symbol::read(&format!("C{kind}")).expect(kind).quality;
        Symbol { root, quality, bass }
    })
}

prop_compose! {
    fn any_bar()(
        metre in any_metre(),
        change in prop::bool::weighted(0.1),
        count in 0usize..8,
        cells in prop::collection::vec(
            prop_oneof![3 => any_symbol().prop_map(Cell::Chord), 2 => Just(Cell::Hold), 1 => Just(Cell::NoChord)],
            1..8),
        flags in (prop::bool::weighted(0.2), prop::bool::weighted(0.2), prop::bool::weighted(0.3), prop::bool::weighted(0.2)),
        times in 2u8..5,
        section in prop::option::weighted(0.1, prop::sample::select(&["Verse", "B♭ part", "x"][..])),
    ) -> (Bar, bool, usize) {
        let bar = Bar {
            section: section.map(str::to_owned),
            starts_line: flags.2,
            metre,
            repeat_start: flags.0,
            repeat_end: flags.1.then_some(times),
            ending: Vec::new(),
            signs: RoadSigns::default(),
            content: if flags.3 { Content::Same } else { Content::Places(cells) },
        };
        (bar, change, count)
    }
}

/// Charts that make sense, with everything that may stand in one.
fn any_chart() -> impl Strategy<Value = Chart> {
    let head = (
        "[A-Za-z #|:♯]{0,12}",
        prop::option::of((0i32..12, any::<bool>())),
        any_metre(),
        prop::option::of(20u32..400),
        prop::option::of(50u8..=75),
        prop::option::weighted(0.3, 1u8..4),
        prop::bool::weighted(0.3),
    );
    (head, prop::collection::vec(any_bar(), 1..16)).prop_filter_map(
        "makes sense",
        |(head, bars)| {
            let (title, key, metre, tempo, swing, pick_up, endings) = head;
            let pick_up = pick_up.filter(|units| *units < metre.beats());
            let mut now = metre;
            let mut open = false;
            let mut written = Vec::new();
            for (n, (mut bar, change, count)) in bars.into_iter().enumerate() {
                if change && n > 0 {
                    now = bar.metre;
                }
                bar.metre = now;
                let units = pick_up.filter(|_| n == 0).unwrap_or(now.beats());
                let places = Draft::places(units);
                if let Content::Places(cells) = &mut bar.content {
                    *cells =
                        cells.iter().copied().cycle().take(places[count % places.len()]).collect();
                }
                // Repeats that open and close.
                bar.repeat_start &= !(open || n == 0 && pick_up.is_some());
                open |= bar.repeat_start;
                bar.repeat_end = bar.repeat_end.filter(|_| open);
                open &= bar.repeat_end.is_none();
                written.push(bar);
            }
            if endings && let Some(end) = written.iter().position(|bar| bar.repeat_end.is_some()) {
                let starts = written.get(end + 1).is_some_and(|next| !next.repeat_start);
                if starts && !written[end].repeat_start {
                    written[end].repeat_end = Some(2);
                    written[end].ending = vec![1, 2];
                    written[end + 1].ending = vec![3];
                }
            }
            written.first_mut()?.starts_line = true;
            for bar in &mut written {
                bar.starts_line |= bar.section.is_some();
            }
            let key = key.map(|(tonic, minor)| Key {
                tonic: PitchClass::new(tonic),
                mode: if minor { Mode::Minor } else { Mode::Major },
            });
            let title = title.trim().to_owned();
            let tempo = tempo.map(|tempo| f64::from(tempo) / 2.0 + 10.0);
            Chart::new(Draft { title, key, metre, tempo, swing, pick_up, bars: written }).ok()
        },
    )
}

proptest! {
    #[test]
    fn printing_and_reading_give_the_same_chart(chart in any_chart()) {
        let text = chart.to_string();
        let read = Chart::read("song.txt", &text).map_err(|faults| faults.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&chart), "{}", text);
        prop_assert_eq!(read.map(|chart| chart.to_string()), Ok(text));
    }

    #[test]
    fn bars_follow_one_another_without_a_gap(chart in any_chart()) {
        let song = chart.unfold();
        for pair in song.bars().windows(2) {
            let pick_up = pair[0].at < Ticks::ZERO;
            prop_assert!(pick_up || pair[1].at - pair[0].at == pair[0].metre.bar());
        }
        let symbols = chart.symbols().count();
        prop_assert!(song.chords().iter().all(|chord| (chord.written as usize) < symbols));
    }

    #[test]
    fn transposing_there_and_back_sounds_the_same(chart in any_chart(), by in 0i32..12) {
        let from = chart.draft().key.unwrap_or_else(|| chart.likeliest_key());
        let to = Key { tonic: PitchClass::new(from.tonic.index() as i32 + by), mode: from.mode };
        let there = chart.transpose(to).expect("the same mode");
        let moved = there.unfold();
        for (a, b) in chart.unfold().chords().iter().zip(moved.chords()) {
            let expected = a.chord.map(|chord| chord.transpose(sinistra_core::pitch::Semitones(by)));
            prop_assert_eq!(expected, b.chord);
        }
        prop_assert_eq!(there.transpose(from).map(|back| back.unfold().chords().to_vec()),
            Some(chart.unfold().chords().to_vec()));
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,60}") {
        let _ = Chart::read("song.txt", &text).map_err(|faults| faults.to_string());
    }

    #[test]
    fn no_nearly_good_text_panics(
        text in "(title|key|metre|pick-up|tempo|swing|)(: )?[0-9A-Gb#/m ]{0,4}\n(\\[A\\]\n)?[|:.%/ xA-G1-9\n,\\]♭-]{0,60}"
    ) {
        match Chart::read("song.txt", &text) {
            Ok(chart) => {
                let printed = chart.to_string();
                let again = Chart::read("song.txt", &printed).map_err(|faults| faults.to_string());
                prop_assert_eq!(again.map(|chart| chart.to_string()), Ok(printed));
            }
            Err(faults) => {
                prop_assert!(!faults.to_string().is_empty());
            }
        }
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let text = String::from_utf8_lossy(&bytes);
        let _ = Chart::read("song.txt", &text).map_err(|faults| faults.to_string());
    }
}
