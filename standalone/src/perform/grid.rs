//! The left hand as a grid of counts that a pianist can read at the keyboard.

use sinistra_core::play::Role;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::chart;
use sinistra_score::sheet::{Sheet, SheetBar, SheetNote};
use sinistra_score::wording;

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
struct CountedColumn {
    count: String,
    chord: String,
    /// From the lowest note up: key name and role.
    notes: Vec<(String, Role)>,
}

struct GridBar {
    number: String,
    section: Option<String>,
    /// `|`, `|:` or `|1.` before it.
    line: String,
    /// What ends it: `:|`, and how often if more than twice.
    ends: String,
    columns: Vec<CountedColumn>,
    /// Columns of the screen that each place has.
    cell: usize,
}

/// The left hand of a practice sheet, bar by bar as printed: repeats between
/// `|:` and `:|`, endings behind `|1.`.
pub fn grid(sheet: &Sheet, paint: Paint) -> String {
    let bars: Vec<GridBar> = sheet.bars.iter().map(|bar| of_bar(sheet, bar)).collect();
    let mut text = String::new();
    let mut line: Vec<&GridBar> = Vec::new();
    let width = |bars: &[&GridBar]| {
        let each = |bar: &&GridBar| bar.columns.len() * bar.cell + 2 + bar.ends.len();
        LABEL + bars.iter().map(each).sum::<usize>()
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
pub fn legend(sheet: &Sheet) -> String {
    let mut roles: Vec<_> = sheet.left.iter().filter_map(|note| note.role).collect();
    roles.sort_unstable();
    roles.dedup();
    let words = roles.iter().map(|role| format!("{} {}", short(*role), role.name()));
    words.collect::<Vec<_>>().join(", ")
}

/// As on a sheet, but for the passing note, which stands apart here.
const fn short(role: Role) -> &'static str {
    match role {
        Role::Passing => "p",
        role => wording::letter(role),
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

fn of_bar(sheet: &Sheet, bar: &SheetBar) -> GridBar {
    let first_line = bar.at - bar.missing();
    let from = sheet.left.partition_point(|note| note.at < bar.at);
    let to = sheet.left.partition_point(|note| note.at < bar.end);
    let notes = sheet.left.get(from..to).unwrap_or(&[]);
    let parts = parts(notes, first_line, bar.metre);
    let step = Ticks(bar.metre.unit_ticks().0 / parts);
    let first = (bar.at - first_line).0 / step.0;
    let last = (bar.end - first_line).0 / step.0;
    let mut columns: Vec<_> = (first..last)
        .map(|n| CountedColumn { count: count(n, parts), chord: String::new(), notes: Vec::new() })
        .collect();
    let mut at = |at: Ticks, fill: &mut dyn FnMut(&mut CountedColumn)| {
        let offset = (at - first_line).0;
        let nearest = (2 * offset + step.0).div_euclid(2 * step.0) - first;
        let column = usize::try_from(nearest).ok().and_then(|n| columns.get_mut(n));
        column.into_iter().for_each(fill);
    };
    let chords = sheet.chords.partition_point(|chord| chord.at < bar.at);
    for chord in sheet.chords.iter().skip(chords).take_while(|chord| chord.at < bar.end) {
        let name = chord.symbol.map_or("N.C.".to_owned(), |symbol| symbol.to_string());
        at(chord.at, &mut |column| column.chord.clone_from(&name));
    }
    for note in notes {
        let name = sheet.name_of(note.key, note.at);
        let role = note.role.unwrap_or(Role::Root);
        at(note.at, &mut |column| column.notes.push((name.clone(), role)));
    }
    let number = if bar.number > 0 { bar.number.to_string() } else { String::new() };
    let line = match (&bar.ending, bar.repeat_from) {
        (Some(ending), _) if ending.starts => {
            let passes: Vec<_> = ending.passes.iter().map(ToString::to_string).collect();
            format!("|{}.", passes.join(","))
        }
        (_, true) => "|:".to_owned(),
        _ => "| ".to_owned(),
    };
    let ends = match bar.repeat_times {
        Some(times) if times > 2 => format!(" x{times} :"),
        Some(_) => ":".to_owned(),
        None => String::new(),
    };
    let cell = cell(&columns);
    GridBar { number, section: bar.section.clone(), line, ends, columns, cell }
}

/// How wide the places must be for every name to have a space behind it, a chord
/// symbol over the places before the next one.
fn cell(columns: &[CountedColumn]) -> usize {
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

/// Into how many parts each note of the metre's lower figure must be cut to
/// show every note of the bar: 2 in 4/4 (`1 &`), 1 in 6/8.
fn parts(notes: &[SheetNote], line: Ticks, metre: Metre) -> i64 {
    let least = if metre.unit() >= 8 { 1 } else { 2 };
    let unit = metre.unit_ticks().0;
    let fits = |parts: i64| notes.iter().all(|note| (note.at - line).0 % (unit / parts) == 0);
    [1, 2, 4, 3, 6].into_iter().filter(|parts| *parts >= least).find(|p| fits(*p)).unwrap_or(4)
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

/// One line of bars: counts, chords, notes from the top down, roles.
fn row(bars: &[&GridBar], paint: Paint) -> String {
    let mut lines = Vec::new();
    if let Some(section) = bars.iter().find_map(|bar| bar.section.as_deref()) {
        lines.push(paint.with("1", section));
    }
    let label = |word: &str| format!("{word:<LABEL$}");
    let cells = |word: &str, cell: &dyn Fn(&CountedColumn) -> (String, Option<Role>)| {
        let mut line = label(word);
        for bar in bars {
            line.push_str(&blank(&bar.line));
            for column in &bar.columns {
                let (text, role) = cell(column);
                let padded = format!("{text:<0$}", bar.cell);
                line.push_str(&role.map_or(padded.clone(), |r| paint.with(colour(r), &padded)));
            }
            line.push_str(&" ".repeat(bar.ends.chars().count()));
        }
        line.trim_end().to_owned() + " |"
    };
    let number = bars.first().map_or("", |bar| bar.number.as_str());
    let mut counts = label(number);
    for bar in bars {
        counts.push_str(&bar.line);
        for column in &bar.columns {
            counts.push_str(&format!("{:<1$}", column.count, bar.cell));
        }
        counts.push_str(&bar.ends);
    }
    let end = if counts.ends_with(':') { "|" } else { " |" };
    lines.push(paint.with("2", &(counts.trim_end().to_owned() + end)));
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

/// A bar line in the rows under the counts: as wide, without dots and numbers.
fn blank(line: &str) -> String {
    let width = line.chars().count();
    format!("{:<width$}", "|")
}

/// Chord symbols may reach over the places behind them, not over the next.
fn chords(bars: &[&GridBar], paint: Paint) -> String {
    let mut line = format!("{:<LABEL$}", "chord");
    for bar in bars {
        line.push_str(&blank(&bar.line));
        let mut pending = String::new();
        for column in &bar.columns {
            if !column.chord.is_empty() {
                pending = column.chord.clone() + " ";
            }
            let cell: String = pending.chars().take(bar.cell).collect();
            pending = pending.chars().skip(bar.cell).collect();
            line.push_str(&paint.with("1", &format!("{cell:<0$}", bar.cell)));
        }
        line.push_str(&" ".repeat(bar.ends.chars().count()));
    }
    line.trim_end().to_owned() + " |"
}

/// The head of the page: title, key, metre, tempo, pattern.
pub fn head(sheet: &Sheet) -> String {
    let metre = sheet.bars.first().map_or(Metre::COMMON, |bar| bar.metre);
    let beat = match (metre.is_compound(), metre.unit()) {
        (true, 8) => "dotted quarters",
        (true, _) => "dotted beats",
        (false, 4) => "quarters",
        (false, _) => "beats",
    };
    let swing = if sheet.swing > 50 { " · swung" } else { "" };
    format!(
        "{} — {} · {}/{} · {:.0} {beat} a minute{swing} · {}",
        sheet.title,
        chart::key_words(sheet.key),
        metre.beats(),
        metre.unit(),
        sheet.tempo / metre.pulse().beats(),
        sheet.pattern,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::pitch::KeyNumber;
    use sinistra_score::performance::HandNote;
    use sinistra_score::practice::Exercise;
    use sinistra_score::{Chart, Performance, Timeline};

    /// A left hand made by hand: tick, key and role.
    fn sheet(chart: &Chart, left: &[(i64, u8, Role)]) -> Sheet {
        let song = chart.unfold();
        let left = left.iter().map(|&(at, key, role)| HandNote {
            at: Ticks(at),
            until: Ticks(at + 400),
            sounds: (Ticks(at), Ticks(at + 400)),
            key: KeyNumber::new(key).unwrap(),
            velocity: 70,
            role: Some(role),
            why: None,
            chord: song.chords()[song.chord_at(Ticks(at + 60)).unwrap()].chord.unwrap(),
            song_key: sinistra_core::key::Key::C_MAJOR,
        });
        let left = left.collect();
        let timeline = Timeline::of_song(&song, 90.0);
        let performance =
            Performance { timeline, song, swing: 0.5, right: vec![], left, pedal: vec![] };
        Exercise::of(chart, &performance, "By hand", "").sheet()
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
            (3840, 45, Octave),
        ];
        let sheet = sheet(&chart, &left);
        assert_eq!(
            grid(&sheet, Paint(false)),
            "\
Verse
1     | 1   &   2   &   3   &   4   &   | 1   &   2   &   3   &   4   & |
chord | Am              E7/G♯           | Am |
      |                                 | A2 |
left  | A2  E3  ·   B2  G♯2 ·   ·   ·   | A1  ·   ·   ·   ·   ·   ·   · |
      | R   5       p   B               | R8 |

"
        );
        assert_eq!(legend(&sheet), "R root, 5 fifth, 8 octave, B bass, p passing");
        assert_eq!(head(&sheet), "T — Am · 4/4 · 90 quarters a minute · By hand");
        let coloured = grid(&sheet, Paint(true));
        assert!(coloured.contains("\x1b[33mB2"));
    }

    #[test]
    fn sixteenths_and_triplets_are_counted() {
        use Role::Root;
        let chart = Chart::read("c", "| C |\n").unwrap();
        let fine = sheet(&chart, &[(0, 36, Root), (720, 36, Root)]);
        let text = grid(&fine, Paint(false));
        assert!(text.contains("1   e   &   a   2"), "{text}");
        let triplets = sheet(&chart, &[(0, 36, Root), (320, 36, Root), (640, 36, Root)]);
        let text = grid(&triplets, Paint(false));
        assert!(text.contains("1   tri let 2"), "{text}");
    }

    #[test]
    fn no_name_runs_into_the_next() {
        let text = "key: D#m\n| N.C. . . G7sus4 G7#5b9 . . . | A#7 |\n";
        let chart = Chart::read("c", text).unwrap();
        let left = sheet(&chart, &[(3840, 46, Role::Root), (4320, 50, Role::Third)]);
        let text = grid(&left, Paint(false));
        assert!(text.contains("| N.C.                 G7sus4 G+7♭9 |"), "{text}");
        assert!(text.contains("| A♯2  C♯♯3 ·    "), "{text}");
    }

    #[test]
    fn a_pick_up_is_counted_at_the_end_of_its_bar() {
        let chart = Chart::read("c", "metre: 3/4\npick-up: 1\n| G | C |\n").unwrap();
        let text = grid(&sheet(&chart, &[(-960, 43, Role::Root)]), Paint(false));
        assert!(text.starts_with("      | 3   &   | 1   &   2"), "{text}");
        assert!(text.contains("left  | G2  ·   | ·"), "{text}");
    }

    #[test]
    fn bars_are_counted_as_printed_and_repeats_marked() {
        let chart = Chart::read("c", "|: C | F :| x3\n| G |\n|: Am |1. Dm :|2. C |\n").unwrap();
        let text = grid(&sheet(&chart, &[]), Paint(false));
        let counts: Vec<_> = text.lines().filter(|line| line.contains('&')).collect();
        assert_eq!(
            counts,
            [
                "1     |:1   &   2   &   3   &   4   &   | 1   &   2   &   3   &   4   &    x3 :|",
                "3     | 1   &   2   &   3   &   4   &   |:1   &   2   &   3   &   4   & |",
                "5     |1.1   &   2   &   3   &   4   &   :|2.1   &   2   &   3   &   4   & |",
            ],
            "{text}"
        );
    }
}
