//! D.C., D.S., coda and fine, as they are played.

use super::Chart;

/// The roots in the order in which they are played.
fn played(bars: &str) -> String {
    let chart = Chart::read("song", bars).expect("a chart");
    let again = Chart::read("again", &chart.to_string()).expect("reads what it writes");
    assert_eq!(again.draft().bars, chart.draft().bars, "{chart}");
    let song = chart.unfold();
    let names = song.chords().iter().filter_map(|chord| {
        Some(sinistra_core::key::Key::C_MAJOR.spell(chord.chord?.root).to_string())
    });
    names.collect::<Vec<_>>().join(" ")
}

#[test]
fn jumps_are_followed_as_the_trade_does() {
    for (bars, order) in [
        ("| C | D Fine | E | F D.C. al Fine |", "C D E F C D"),
        ("| C | Segno D | E | F D.S. al Coda | Coda G |", ""),
        ("| C | Segno D | E To Coda | F D.S. al Coda | Coda G | A |", "C D E F D E G A"),
        ("| C | D To Coda | E D.C. al Coda | Coda G |", "C D E C D G"),
        // Without a word on how far, to the end.
        ("| C | D D.C. |", "C D C D"),
        ("| C | 𝄋 D | E d.s. |", "C D E D E"),
        // Repeats are not taken again, and of endings the last.
        ("|: C | D :| E | F D.C. al Fine |", ""),
        ("|: C | D Fine :| E | F D.C. al Fine |", "C D C D E F C D"),
        ("|: C |1. D :|2. E | F Fine | G D.C. al Fine |", "C D C E F G C E F"),
        // The coda's own repeat is taken.
        ("| C To Coda | D D.C. al Coda |: Coda G :|", "C D C G G"),
    ] {
        if order.is_empty() {
            assert!(Chart::read("song", bars).is_err(), "{bars}");
        } else {
            assert_eq!(played(bars), order, "{bars}");
        }
    }
}

#[test]
fn what_a_jump_lacks_is_told_where_it_stands() {
    for (bars, what) in [
        ("| C | D Fine |", "a sign for a jump, and no jump"),
        ("| C | D D.S. |", "D.S. goes back to a Segno, and none stands before"),
        ("| C | D D.C. al Fine |", "al Fine, and no `Fine`"),
        ("| C | D D.C. al Coda |", "al Coda, and no `To Coda` before"),
        ("| C To Coda | D D.C. al Coda |", "al Coda, and no `Coda` behind"),
        ("| C Fine | D D.C. al Fine | E |", "nothing leads to the bars behind `al Fine`"),
        ("| C Fine | D Fine | E D.C. al Fine |", "a second Fine"),
        ("| C | D D.C. al Dente |", "`al Dente` is no sign"),
    ] {
        let told = Chart::read("song", bars).expect_err(bars).to_string();
        assert!(told.contains(what), "{bars}: {told}");
        assert!(told.starts_with("song:1:"), "{told}");
    }
}
