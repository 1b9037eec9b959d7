//! Pattern files are read and printed, and their faults told.

use sinistra_core::play::Wish;
use sinistra_core::time::Ticks;

use super::PatternFile;

const GOOD: &str = "\
name = \"Root and fifth\"
about = \"The fifth answers.\"
fill = \"lead/root\"

[[bar]]
metre = \"4/4\"
count = \"1    & 2          3    4\"
play  = \"root - fifth/root root lead\"
";

#[test]
fn a_printed_pattern_reads_back_as_itself() {
    let file = PatternFile::read("a.toml", GOOD).expect("good");
    assert_eq!(file.print(), GOOD);
    assert_eq!(PatternFile::read("b.toml", &file.print()), Ok(file));
}

#[test]
fn a_rest_is_no_slot() {
    let pattern = PatternFile::compile("a.toml", GOOD).expect("good");
    let place = sinistra_core::time::Place {
        bar: Ticks::ZERO,
        metre: sinistra_core::time::Metre::COMMON,
        number: 0,
    };
    let written = pattern.bar(place, 0).iter().filter(|slot| slot.written());
    assert_eq!(
        written
            .map(|slot| {
                let part = pattern.part(slot, sinistra_core::play::Voice::Bass).expect("a part");
                (slot.offset.0, part.strokes.iter().flatten().copied().collect())
            })
            .collect::<Vec<(i64, Vec<Wish>)>>(),
        [
            (0, vec![Wish::Root]),
            (960, vec![Wish::Fifth, Wish::Root]),
            (1920, vec![Wish::Root]),
            (2880, vec![Wish::Lead]),
        ]
    );
}

#[test]
fn every_unknown_count_and_tone_is_reported() {
    let text = "\
name = \"Wrong\"
[[bar]]
metre = \"3/4\"
count = \"1    x    3        4\"
play  = \"root toot lead/up  root root\"
";
    let faults = PatternFile::read("wrong.toml", text).expect_err("wrong").to_string();
    let firsts: Vec<_> = faults.lines().filter(|l| l.starts_with("wrong.toml")).collect();
    assert_eq!(
        firsts,
        [
            "wrong.toml:4:15: `x` is no count",
            "wrong.toml:4:29: there is no count `4` in 3/4",
            "wrong.toml:5:15: `toot` is no tone",
            "wrong.toml:5:25: `up` is no tone",
            "wrong.toml:5:34: 4 places are counted and 5 are played",
        ]
    );
    assert!(faults.starts_with(
        "wrong.toml:4:15: `x` is no count\n\
         4 | count = \"1    x    3        4\"\n  \
           |               ^\n\
         hint: counts are the numbers of the bar"
    ));
}

#[test]
fn a_pattern_has_only_so_many_bars() {
    let bar = "[[bar]]\nmetre = \"4/4\"\ncount = \"1\"\nplay = \"root\"\n";
    let of = |bars| PatternFile::compile("p.toml", &format!("name = \"a\"\n{}", bar.repeat(bars)));
    assert!(of(64).is_ok());
    let told = of(65).expect_err("too many").to_string();
    assert!(told.contains("65 bars in this pattern; it has 64 at the most"), "{told}");
    let told = of(2_000).expect_err("too long").to_string();
    assert!(told.contains("KiB are too long") || told.contains("at the most"), "{told}");
}

#[test]
fn what_toml_refuses_is_shown_in_its_line() {
    for (text, place) in [
        ("name = ", "p.toml:1:8: "),
        ("name = \"a\"\nnmae = 1\n", "p.toml:2:1: `nmae` is no word of it"),
        ("name = 3\n", "p.toml:1:8: "),
        ("", "p.toml:1:1: `name` is missing"),
        ("name = \"a\"\n", "p.toml:1:11: a pattern needs a bar"),
        (
            "name = \"a\"\n[[bar]]\nmetre = \"4/3\"\ncount = \"1\"\nplay = \"root\"\n",
            "p.toml:3:9: `4/3` is no metre",
        ),
        (
            "name = \"a\"\n[[bar]]\nmetre = \"4/4\"\ncount = \"2 1\"\nplay = \"root root\"\n",
            "p.toml:4:12: `1` is counted too late",
        ),
        (
            "name = \"a\"\n[[bar]]\nmetre = \"4/4\"\ncount = \"& 1\"\nplay = \"root root\"\n",
            "p.toml:4:10: `&` has no number before it",
        ),
        (
            "name = \"a\"\n[[bar]]\nmetre = \"4/4\"\ncount = \"\"\nplay = \"\"\n",
            "p.toml:4:9: no place is counted",
        ),
        (
            "name = \"a\"\n[[bar]]\nmetre = \"4/4\"\ncount = \"1 | 1\"\nplay = \"root root\"\n",
            "p.toml:5:8: 2 bars are counted and 1 are played",
        ),
    ] {
        let faults = PatternFile::read("p.toml", text).expect_err(text).to_string();
        assert!(faults.starts_with(place), "{text}\n{faults}");
    }
}

proptest::proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(text in "[a-z=\"\\[\\]\n |&0-9/♭-]{0,120}") {
        let _ = PatternFile::read("p.toml", &text);
    }

    #[test]
    fn no_row_makes_the_reader_panic(count in "[1-9e&a| ♭]{0,40}", play in "[a-z/|♭ -]{0,60}") {
        let bar = format!("metre = \"4/4\"\ncount = \"{count}\"\nplay = \"{play}\"\n");
        let _ = PatternFile::read("p.toml", &format!("name = \"a\"\n[[bar]]\n{bar}"));
    }
}
