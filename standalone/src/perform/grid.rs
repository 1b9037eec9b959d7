//! The left hand as a grid of counts that a pianist can read at the keyboard.

use sinistra_core::chord::Symbol;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::{KeyNumber, PitchClass, Spelled};
use sinistra_core::play::Role;
use sinistra_core::time::{Place, Ticks};
use sinistra_score::performance::{HandNote, Performance};
use sinistra_score::{Chart, chart, sheet};

/// Columns of the screen that are filled.
const WIDTH: usize = 80;
/// Columns of a place at least: a note name such as `F♯2` and a space.
const CELL: usize = 4;
/// Columns of the words on the left.
const LABEL: usize = 6;

/// Whether and how to use colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paint(pub bool);

impl Paint {
    /// Colour only where a person looks at it and has not asked for none
    /// (<https://no-color.org>).
    pub fn of_terminal() -> Self {
        use std::io::IsTerminal;
        Self(std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none())
    }

    fn with(self, code: &str, text: &str) -> String {
        if self.0 && !text.trim().is_empty() {
            format!("\x1b[{code}m{text}\x1b[0m")
        } else {
            text.to_owned()
        }
    }
}

/// One bar, ready to be printed: a column a count.
struct Column {
    count: String,
    chord: String,
    /// From the lowest note up: key name and role.
    notes: Vec<(String, Role)>,
}

struct GridBar {
    number: String,
    section: Option<String>,
    columns: Vec<Column>,
    /// Columns of the screen that each place has.
    cell: usize,
}

/// The grid of the first time through the chart.
pub fn grid(chart: &Chart, performance: &Performance, swing: f32, paint: Paint) -> String {
    let key = chart.written_key();
    let bars = bars(chart, performance, key, swing);
    let mut text = String::new();
    let mut line: Vec<&GridBar> = Vec::new();
    let width = |bars: &[&GridBar]| {
        LABEL + bars.iter().map(|bar| bar.columns.len() * bar.cell + 2).sum::<usize>()
    };
    for bar in &bars {
        let mut longer = line.clone();
        longer.push(bar);
        if !line.is_empty() && (bar.section.is_some() || width(&longer) > WIDTH) {
            text.push_str(&row(&line, paint));
            line.clear();
        }
        line.push(bar);
    }
    if !line.is_empty() {
        text.push_str(&row(&line, paint));
    }
    text
}

/// What the short names of the roles mean.
pub fn legend(performance: &Performance) -> String {
    let mut roles: Vec<_> = performance.left.iter().filter_map(|note| note.role).collect();
    roles.sort_unstable();
    roles.dedup();
    let words = roles.iter().map(|role| format!("{} {}", short(*role), role.name()));
    words.collect::<Vec<_>>().join(", ")
}

/// As on a sheet, but for the passing note, which stands apart here.
const fn short(role: Role) -> &'static str {
    match role {
        Role::Passing => "p",
        role => sheet::short(role),
    }
}

/// ANSI colours that can be told apart on dark and light grounds.
const fn colour(role: Role) -> &'static str {
    match role {
        Role::Root | Role::Bass => "1;34",
        Role::Octave => "34",
        Role::Third | Role::Sixth => "32",
        Role::Fifth => "36",
        Role::Seventh | Role::Ninth => "35",
        Role::Passing => "33",
    }
}

fn bars(chart: &Chart, performance: &Performance, key: WrittenKey, swing: f32) -> Vec<GridBar> {
    let song = &performance.song;
    let symbols: Vec<_> = chart.symbols().collect();
    let once = chart.unfold().bars().len();
    let mut bars = Vec::new();
    for (index, bar) in song.bars().iter().enumerate().take(once) {
        let end = song.bars().get(index + 1).map_or(song.end(), |next| next.at);
        let mut place = song.place(bar.at);
        if bar.at < Ticks::ZERO {
            // A pick-up is counted at the end of a whole bar.
            place.bar = end - bar.metre.bar();
        }
        let struck = |at: Ticks| at >= bar.at - SLACK && at < end - SLACK;
        let notes: Vec<_> =
            performance.left.iter().filter(|note| struck(note.at)).copied().collect();
        let parts = parts(&notes, place, swing);
        let step = Ticks(place.metre.unit_ticks().0 / parts);
        let first = (bar.at - place.bar).0 / step.0;
        let last = (end - place.bar).0 / step.0;
        let mut columns: Vec<_> = (first..last)
            .map(|n| Column { count: count(n, parts), chord: String::new(), notes: Vec::new() })
            .collect();
        let column = |offset: Ticks| {
            let nearest = (2 * offset.0 + step.0).div_euclid(2 * step.0) - first;
            usize::try_from(nearest).unwrap_or(0)
        };
        for chord in song.chords().iter().filter(|c| c.at >= bar.at && c.at < end) {
            let symbol = symbols.get(chord.written as usize).copied().flatten();
            let at = (chord.at - place.bar).0 / step.0 - first;
            if let Some(column) = usize::try_from(at).ok().and_then(|at| columns.get_mut(at)) {
                column.chord = symbol.map_or("N.C.".to_owned(), |symbol| symbol.to_string());
            }
        }
        for note in &notes {
            let straight = straight(note.at - place.bar, place, swing);
            if let Some(column) = columns.get_mut(column(straight)) {
                let role = note.role.unwrap_or(Role::Root);
                column.notes.push((name(note, key), role));
            }
        }
        let section = chart
            .draft()
            .bars
            .get(bar.written as usize)
            .and_then(|written| written.section.clone());
        let number = if place.number < 0 { String::new() } else { (place.number + 1).to_string() };
        let cell = cell(&columns);
        bars.push(GridBar { number, section, columns, cell });
    }
    bars
}

/// How wide the places must be for every name to have a space behind it, a chord
/// symbol over the places before the next one.
fn cell(columns: &[Column]) -> usize {
    let wide = |text: &str| text.chars().count() + 1;
    let mut cell = CELL;
    let mut free = 0;
    for column in columns.iter().rev() {
        free += 1;
        let notes = column.notes.iter().map(|(name, _)| wide(name));
        cell = cell.max(notes.max().unwrap_or(0));
        if !column.chord.is_empty() {
            cell = cell.max(wide(&column.chord).div_ceil(free));
            free = 0;
        }
    }
    cell
}

/// A note may come a little before the bar that it belongs to.
const SLACK: Ticks = Ticks(Ticks::PER_BEAT / 16);

/// Into how many parts each note of the metre's lower figure must be cut to
/// show every note of the bar: 2 in 4/4 (`1 &`), 1 in 6/8.
fn parts(notes: &[HandNote], place: Place, swing: f32) -> i64 {
    let least = if place.metre.unit() >= 8 { 1 } else { 2 };
    let unit = place.metre.unit_ticks().0;
    let fits = |parts: i64| {
        notes.iter().all(|note| {
            let offset = straight(note.at - place.bar, place, swing).0;
            let step = unit / parts;
            let from_grid = offset.rem_euclid(step);
            from_grid.min(step - from_grid) <= SLACK.0
        })
    };
    [1, 2, 4, 3, 6].into_iter().filter(|parts| *parts >= least).find(|p| fits(*p)).unwrap_or(4)
}

/// The place in the bar as it is counted: swing taken out.
fn straight(offset: Ticks, place: Place, swing: f32) -> Ticks {
    let beat = Ticks::PER_BEAT;
    if swing <= 0.5 || place.metre.is_compound() {
        return offset;
    }
    let (whole, into) = (offset.0.div_euclid(beat), offset.0.rem_euclid(beat) as f64 / beat as f64);
    let swing = f64::from(swing);
    let into = if into < swing {
        into / (2.0 * swing)
    } else {
        0.5 + (into - swing) / (2.0 * (1.0 - swing))
    };
    Ticks(whole * beat + (into * beat as f64).round() as i64)
}

/// `1 & 2 &`, `1 e & a`, or the bare number of an eighth in compound metres.
fn count(n: i64, parts: i64) -> String {
    let (beat, part) = (n.div_euclid(parts) + 1, n.rem_euclid(parts));
    let word = match (parts, part) {
        (_, 0) => return beat.to_string(),
        (2, _) | (4, 2) | (6, 3) => "&",
        (4, 1) => "e",
        (4, _) => "a",
        (3, 1) => "tri",
        (3, _) => "let",
        _ => "·",
    };
    word.to_owned()
}

/// A key as a pianist says it, spelled by its chord or key: `E♭2`.
fn name(note: &HandNote, key: WrittenKey) -> String {
    let class = note.key.class();
    let spelled = tone_of(note, key, class).unwrap_or_else(|| key.spell(class));
    format!("{spelled}{}", octave(note.key, spelled))
}

/// A chord's tone is spelled as a bass under its chord would be.
fn tone_of(note: &HandNote, key: WrittenKey, class: PitchClass) -> Option<Spelled> {
    let symbol = Symbol::of(note.chord.over(class), key);
    Some(symbol.bass.unwrap_or(symbol.root)).filter(|spelled| spelled.class() == class)
}

/// B♯2 sounds as C3, C♭3 as B2: the octave goes with the letter.
fn octave(key: KeyNumber, spelled: Spelled) -> i32 {
    let letter = i32::from(key.number()) - i32::from(spelled.alter);
    letter.div_euclid(12) - 1
}

/// One line of bars: counts, chords, notes from the top down, roles.
fn row(bars: &[&GridBar], paint: Paint) -> String {
    let mut lines = Vec::new();
    if let Some(section) = bars.iter().find_map(|bar| bar.section.as_deref()) {
        lines.push(paint.with("1", section));
    }
    let label = |word: &str| format!("{word:<LABEL$}");
    let cells = |word: &str, cell: &dyn Fn(&Column) -> (String, Option<Role>)| {
        let mut line = label(word);
        for bar in bars {
            line.push_str("| ");
            for column in &bar.columns {
                let (text, role) = cell(column);
                let padded = format!("{text:<0$}", bar.cell);
                line.push_str(&role.map_or(padded.clone(), |r| paint.with(colour(r), &padded)));
            }
        }
        line.trim_end().to_owned() + " |"
    };
    let mut counts = cells("", &|column| (column.count.clone(), None));
    if let Some(number) = bars.first().map(|bar| bar.number.as_str()) {
        counts.replace_range(..LABEL, &label(number));
    }
    lines.push(paint.with("2", &counts));
    lines.push(chords(bars, paint));
    let height = bars.iter().flat_map(|bar| &bar.columns).map(|c| c.notes.len()).max().unwrap_or(0);
    for level in (0..height.max(1)).rev() {
        let word = if level == 0 { "left" } else { "" };
        lines.push(cells(word, &|column| match column.notes.get(level) {
            Some((name, role)) => (name.clone(), Some(*role)),
            None if level == 0 => ("·".to_owned(), None),
            None => (String::new(), None),
        }));
    }
    lines.push(cells("", &|column| {
        let roles: Vec<_> = column.notes.iter().map(|(_, role)| short(*role)).collect();
        (roles.join(""), column.notes.first().map(|(_, role)| *role))
    }));
    lines.join("\n") + "\n\n"
}

/// Chord symbols may reach over the places behind them, not over the next.
fn chords(bars: &[&GridBar], paint: Paint) -> String {
    let mut line = format!("{:<LABEL$}", "chord");
    for bar in bars {
        line.push_str("| ");
        let mut pending = String::new();
        for column in &bar.columns {
            if !column.chord.is_empty() {
                pending = column.chord.clone() + " ";
            }
            let cell: String = pending.chars().take(bar.cell).collect();
            pending = pending.chars().skip(bar.cell).collect();
            line.push_str(&paint.with("1", &format!("{cell:<0$}", bar.cell)));
        }
    }
    line.trim_end().to_owned() + " |"
}

/// The head of the page: title, key, metre, tempo, pattern.
pub fn head(chart: &Chart, performance: &Performance, pattern: &str) -> String {
    let draft = chart.draft();
    let key = chart.written_key();
    let metre = draft.metre;
    let beat = match (metre.is_compound(), metre.unit()) {
        (true, 8) => "dotted quarters",
        (true, _) => "dotted beats",
        (false, 4) => "quarters",
        (false, _) => "beats",
    };
    let tempo = performance.timeline.tempo(Ticks::ZERO) / metre.pulse().beats();
    format!(
        "{} — {} · {}/{} · {:.0} {beat} a minute · {pattern}",
        chart.title(),
        chart::key_name(key).replace('#', "♯").replacen('b', "♭", 1),
        metre.beats(),
        metre.unit(),
        tempo,
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sinistra_score::Timeline;

    /// A left hand made by hand: tick, key and role.
    fn performance(chart: &Chart, left: &[(i64, u8, Role)]) -> Performance {
        let song = chart.unfold();
        let left = left.iter().map(|&(at, key, role)| HandNote {
            at: Ticks(at),
            until: Ticks(at + 400),
            key: KeyNumber::new(key).unwrap(),
            velocity: 70,
            role: Some(role),
            chord: song.chords()[song.chord_at(Ticks(at + 60)).unwrap()].chord.unwrap(),
            song_key: sinistra_core::key::Key::C_MAJOR,
        });
        let left = left.collect();
        Performance { timeline: Timeline::of_song(&song, 90.0), song, right: vec![], left }
    }

    #[test]
    fn a_pianist_reads_counts_chords_notes_and_roles() {
        use Role::{Bass, Fifth, Octave, Passing, Root};
        let chart =
            Chart::read("c", "title: T\nkey: Am\n[Verse]\n| Am . E7/G# . | Am |\n").unwrap();
        let left = [
            (0, 45, Root),
            (480, 52, Fifth),
            (1440, 47, Passing),
            (1920, 44, Bass),
            (3840, 33, Root),
            (3842, 45, Octave),
        ];
        let performance = performance(&chart, &left);
        assert_eq!(
            grid(&chart, &performance, 0.5, Paint(false)),
            "\
Verse
1     | 1   &   2   &   3   &   4   &   | 1   &   2   &   3   &   4   & |
chord | Am              E7/G♯           | Am |
      |                                 | A2 |
left  | A2  E3  ·   B2  G♯2 ·   ·   ·   | A1  ·   ·   ·   ·   ·   ·   · |
      | R   5       p   B               | R8 |

"
        );
        assert_eq!(legend(&performance), "R root, 5 fifth, 8 octave, B bass, p passing");
        assert_eq!(
            head(&chart, &performance, "By hand"),
            "T — Am · 4/4 · 90 quarters a minute · By hand"
        );
        let coloured = grid(&chart, &performance, 0.5, Paint(true));
        assert!(coloured.contains("\x1b[33mB2"));
    }

    #[test]
    fn swung_and_sixteenth_places_are_counted() {
        use Role::Root;
        let chart = Chart::read("c", "| C |\n").unwrap();
        let swung = performance(&chart, &[(0, 36, Root), (640, 36, Root), (1600, 36, Root)]);
        let text = grid(&chart, &swung, 2.0 / 3.0, Paint(false));
        assert!(text.contains("1   &   2   &"), "{text}");
        assert!(text.contains("C2  C2  ·   C2  ·"), "{text}");
        let fine = performance(&chart, &[(0, 36, Root), (720, 36, Root)]);
        let text = grid(&chart, &fine, 0.5, Paint(false));
        assert!(text.contains("1   e   &   a   2"), "{text}");
        let triplets = performance(&chart, &[(0, 36, Root), (320, 36, Root), (640, 36, Root)]);
        let text = grid(&chart, &triplets, 0.5, Paint(false));
        assert!(text.contains("1   tri let 2"), "{text}");
    }

    #[test]
    fn no_name_runs_into_the_next() {
        let text = "key: D#m\n| N.C. . . G7sus4 G7#5b9 . . . | A#7 |\n";
        let chart = Chart::read("c", text).unwrap();
        let left = performance(&chart, &[(3840, 46, Role::Root), (4320, 50, Role::Third)]);
        let text = grid(&chart, &left, 0.5, Paint(false));
        assert!(text.contains("| N.C.                 G7sus4 G+7♭9 |"), "{text}");
        assert!(text.contains("| A♯2  C♯♯3 ·    "), "{text}");
    }

    #[test]
    fn a_pick_up_is_counted_at_the_end_of_its_bar() {
        let chart = Chart::read("c", "metre: 3/4\npick-up: 1\n| G | C |\n").unwrap();
        let text = grid(&chart, &performance(&chart, &[(-960, 43, Role::Root)]), 0.5, Paint(false));
        assert!(text.starts_with("      | 3   &   | 1   &   2"), "{text}");
        assert!(text.contains("left  | G2  ·   | ·"), "{text}");
    }

    #[test]
    fn the_octave_goes_with_the_letter() {
        use sinistra_core::pitch::Letter;
        let key = |n| KeyNumber::new(n).unwrap();
        assert_eq!(octave(key(36), Spelled::new(Letter::B, 1)), 1); // B♯1 is C2
        assert_eq!(octave(key(35), Spelled::new(Letter::C, -1)), 2); // C♭2 is B1
        assert_eq!(octave(key(60), Spelled::new(Letter::C, 0)), 4);
    }
}
