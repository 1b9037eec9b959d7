//! 1,170 sheets: the thirteen fixed lessons, over eighteen charts, from sparing to busy.
//! No hand leaps where it need not, and no finger is one that a teacher would correct.
//! `cargo test --release -p sinistra-tests --test thousand_sheets -- --ignored --nocapture`
//! looks at all of them.

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::pitch::KeyNumber;
use sinistra_score::chart::ChartPreset;
use sinistra_score::performance::{USUAL_TEMPO, leaps};
use sinistra_score::practice::Exercise;
use sinistra_score::sheet::fingering::{FingerGrip, Fingers, left_hand};
use sinistra_score::{Chart, Performance, pattern_presets};

/// Beside the charts that ship: far keys, quick chords, slashes, other metres, leaps.
const MORE: [&str; 8] = [
    "title: Sharps\nkey: F#\ntempo: 92\n| F# | B | C# | F# | D#m | B | G#m C# | F# |\n",
    "title: Flats\nkey: Gb\ntempo: 120\n| Gb | Cb | Db7 | Gb | Ebm | Abm | Db | Gb |\n",
    "title: Quick\nkey: C\ntempo: 180\n| C Am F G | Em A7 Dm G7 | C E7 Am D7 | G7 . C . |\n",
    "title: Slashes\nkey: D\ntempo: 84\n| D | D/F# | G | A/C# | Bm | Bm/A | G/B A7 | D |\n",
    "title: Round the Circle\nkey: Bb\ntempo: 140\n| Bb | Eb | Am7b5 | D7 | Gm | C7 | F7 | Bb |\n",
    "title: Thirds Apart\nkey: A\nmetre: 3/4\ntempo: 110\n| A | F#m | D | Bm | E | C#m | A . E | A |\n",
    "title: Eights\nkey: Em\nmetre: 6/8\ntempo: 70\n| Em | C | G | D | Am | B7 | Em . . B7 . . | Em |\n",
    "title: Fast\nkey: Ab\ntempo: 220\n| Ab | Fm | Db | Eb | Cm | Bbm | Eb7 | Ab |\n",
];
const PATTERNS: usize = 13;
const BUSY: [u8; 5] = [0, 25, 50, 75, 100];

fn each(every: usize, mut look: impl FnMut(&str, &Performance, &Exercise)) {
    let shipped = ChartPreset::all().iter().map(|preset| preset.chart().expect("ships"));
    let more = MORE.iter().map(|text| Chart::read("more", text).expect("a chart"));
    let charts: Vec<Chart> = shipped.chain(more).collect();
    for (c, chart) in charts.iter().enumerate() {
        for (p, preset) in pattern_presets()[..PATTERNS].iter().enumerate() {
            for busy in BUSY.into_iter().skip((c + p) % every).step_by(every) {
                let pattern = preset.compile().expect("ships");
                let key = KeyChoice::Fixed(chart.written_key().key());
                let settings = Settings { busy, key, ..Settings::default() };
                let mut song = chart.unfold();
                let tempo = song.tempo.unwrap_or_else(|| chart.quarters(USUAL_TEMPO));
                song.tempo = Some(tempo);
                let performance = Performance::of(song, tempo, pattern, settings);
                let exercise = Exercise::of(chart, &performance, preset.slug, "");
                let what = format!("{}, {}, busy {busy}", chart.title(), preset.slug);
                look(&what, &performance, &exercise);
            }
        }
    }
}

fn grips(exercise: &Exercise) -> Vec<FingerGrip> {
    let sheet = exercise.sheet();
    let mut notes = sheet.left.clone();
    notes.sort_by_key(|note| (note.at, note.key));
    notes.dedup_by_key(|note| (note.at, note.key));
    notes
        .chunk_by(|a, b| a.at == b.at)
        .map(|stroke| FingerGrip {
            keys: stroke.iter().map(|note| note.key).collect(),
            at_ms: stroke[0].at.beats() * 60_000.0 / sheet.tempo,
        })
        .collect()
}

fn black(key: KeyNumber) -> bool {
    matches!(key.class().index(), 1 | 3 | 6 | 8 | 10)
}

/// What a strict teacher would correct (common practice): octaves are the little finger's
/// (or the fourth's, on black) and the thumb's; a key that is struck again keeps its
/// finger; no finger slides to another key, and none but the thumb is crossed, unless an
/// arrow says that the hand moves, which it does not along a line.
fn slips(grips: &[FingerGrip], fingers: &[Fingers]) -> Vec<String> {
    let mut slips = Vec::new();
    let mut slip = |n: usize, what: &str| {
        let from = n.saturating_sub(2);
        let shown: Vec<String> = grips[from..(n + 2).min(grips.len())]
            .iter()
            .zip(&fingers[from..])
            .map(|(g, f)| {
                let keys: Vec<u8> = g.keys.iter().map(|k| k.number()).collect();
                format!("{}{keys:?}{:?}", if f.moves { ">" } else { "" }, f.fingers)
            })
            .collect();
        slips.push(format!(
            "{what}: {} ({:.0} ms)",
            shown.join(" "),
            grips[n].at_ms - grips[n.saturating_sub(1)].at_ms
        ));
    };
    for n in 0..grips.len() {
        let (grip, f) = (&grips[n], &fingers[n]);
        if f.fingers.windows(2).any(|pair| pair[0] <= pair[1]) {
            slip(n, "crossed within a grip");
        }
        if let [low, high] = grip.keys[..]
            && high.distance(low).0 == 12
            && !(f.fingers == [5, 1] || (f.fingers == [4, 1] && black(low)))
        {
            slip(n, "octave together");
        }
        let Some(before) = n.checked_sub(1) else { continue };
        let ([from], [to]) = (&grips[before].keys[..], &grip.keys[..]) else { continue };
        let (a, b) = (fingers[before].fingers[0], f.fingers[0]);
        let way = to.distance(*from).0;
        if way == 0 && a != b {
            slip(n, "a key again by another finger");
        }
        if way.abs() == 12 {
            let (low, outer, inner) = if way > 0 { (from, a, b) } else { (to, b, a) };
            if !(f.moves || inner == 1 && (outer == 5 || outer == 4 && black(*low))) {
                slip(n, "broken octave");
            }
        }
        if way != 0 && a == b && !f.moves {
            slip(n, "one finger slides");
        }
        // Crossed without the thumb.
        if way != 0 && !f.moves && a != 1 && b != 1 && (way > 0) != (a > b) {
            slip(n, "fingers cross");
        }
        let line = before.checked_sub(1).is_some_and(|first| match grips[first].keys[..] {
            [first] => (1..=4).contains(&(from.distance(first).0 * way.signum())),
            _ => false,
        });
        if line && (1..=4).contains(&way.abs()) && f.moves && a == b {
            slip(n, "one finger goes along a line");
        }
        if n >= 2
            && !f.moves
            && !fingers[before].moves
            && grips[n - 2].keys == grip.keys
            && fingers[n - 2].fingers != f.fingers
        {
            slip(n, "another finger on a key the hand did not leave");
        }
    }
    slips
}

/// Every `every`th busy of each pattern over each chart.
fn look_at(every: usize) {
    let (mut sheets, mut strokes, mut far, mut wrong) = (0, 0, Vec::new(), Vec::new());
    each(every, |what, performance, exercise| {
        let leaps = leaps(&performance.left, &performance.timeline);
        far.extend(leaps.iter().map(|leap| format!("{what}: {:?} to {:?}", leap.at, leap.key)));
        let grips = grips(exercise);
        let fingers = left_hand(&grips);
        wrong.extend(slips(&grips, &fingers).into_iter().map(|slip| format!("{what}: {slip}")));
        (sheets, strokes) = (sheets + 1, strokes + grips.len());
    });
    let (leaps, slips) = (far.len(), wrong.len());
    println!(
        "{sheets} sheets, {strokes} strokes: {leaps} leaps over a tenth in less than half a \
         second, {slips} slips of fingering"
    );
    assert_eq!(sheets, 1_170 / every);
    assert!(far.is_empty(), "{}", far.join("\n"));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_sheet_leaps_or_is_fingered_against_the_rules() {
    look_at(BUSY.len());
}

#[test]
#[ignore = "long: for the figures"]
fn of_1_170_sheets_none_leaps_or_is_fingered_against_the_rules() {
    look_at(1);
}
