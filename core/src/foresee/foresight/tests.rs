//! Songs that a musician would know how to go on with.

use super::*;
use crate::chord::Kind;
use crate::foresee::{Song, Source};
use crate::time::Metre;

const C: i32 = 0;
const D: i32 = 2;
const E: i32 = 4;
const F: i32 = 5;
const G: i32 = 7;
const A: i32 = 9;

/// A song that is heard chord by chord; times in half beats.
struct Told {
    foresight: Foresight,
    metre: Metre,
    at: Ticks,
}

impl Told {
    fn new(beats: u8, unit: u8) -> Self {
        let metre = Metre::new(beats, unit).expect("a metre");
        Self { foresight: Foresight::new(), metre, at: Ticks::ZERO }
    }

    fn place(&self) -> Place {
        Place::first(self.metre).of(self.at)
    }

    fn hear(&mut self, half_beats: i64, root: i32) -> &mut Self {
        self.at = Ticks(half_beats * 480);
        self.strike(root)
    }

    /// Each so many half beats after the last, from the start.
    fn hear_each(mut self, half_beats: i64, roots: impl IntoIterator<Item = i32>) -> Self {
        for (n, root) in (0..).zip(roots) {
            self.hear(n * half_beats, root);
        }
        self
    }

    fn strike(&mut self, root: i32) -> &mut Self {
        let kind = if [D, E, A].contains(&root) { Kind::Minor } else { Kind::Major };
        let chord = Chord::new(PitchClass::new(root), kind);
        let place = self.place();
        self.foresight.chord_started(self.at, chord, place);
        self
    }

    /// Root and half beats from now of what comes.
    fn next(&mut self) -> (i32, i64, Forecast) {
        let place = self.place();
        let next = self.foresight.forecast(self.at, place, None, None, false).expect("a forecast");
        (next.chord.root.index() as i32, (next.at - self.at).0 / 480, next)
    }
}

#[test]
fn the_kind_goes_with_the_root_that_comes() {
    // After C alone, F major is as likely a key as C, and has a G minor; but where G
    // comes, it is the dominant.
    let (root, _, next) = Told::new(4, 4).hear(0, C).next();
    assert_eq!((root, next.chord), (G, Chord::new(PitchClass::new(G), Kind::Major)));
}

#[test]
fn who_says_what_comes_has_a_name_of_its_own() {
    use Source::{Chart, LookAhead, Memory, Odds};
    let mut names = [Chart, LookAhead, Memory, Odds].map(Source::name).to_vec();
    assert!(names.iter().all(|name| name.len() > 2), "{names:?}");
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), 4, "{names:?}");
}

#[test]
fn what_else_may_come_is_another_chord() {
    let (root, _, next) = Told::new(4, 4).hear(0, C).next();
    let other = next.other.expect("after one chord anything may come");
    assert_ne!(other.chord.root.index() as i32, root);
    assert!(other.certainty <= next.certainty, "{next:?}");
}

#[test]
fn the_second_time_round_it_knows() {
    let mut song = Told::new(4, 4).hear_each(8, [C, A, F, G, C, A, F, G, C]);
    let (root, when, next) = song.next();
    assert_eq!((root, when, next.source), (A, 8, Source::Memory));
    assert!(next.certainty > 0.7 && next.when_certainty > 0.85, "{next:?}");
}

#[test]
fn a_chord_that_was_probably_misheard_counts_little() {
    let song = [C, F, C, F, C, F, C, E];
    let mut doubtful = Told::new(4, 4).hear_each(8, song);
    let mut sure = Told::new(4, 4).hear_each(8, song);
    for told in [&mut doubtful, &mut sure] {
        told.hear(64, C);
    }
    let now = doubtful.at;
    // By now the ear thinks that the E, which ends here, was hardly one.
    let was = |from: Ticks, until: Ticks, root: PitchClass| {
        assert!(until - from == Ticks(8 * 480) && from >= Ticks(6 * 8 * 480), "the last two");
        (root.index() as i32 == E).then_some(0.1)
    };
    doubtful.foresight.doubt(now, was);
    let ((root, _, by_doubt), (_, _, by_fact)) = (doubtful.next(), sure.next());
    assert_eq!((root, by_fact.chord.root.index() as i32), (F, F));
    assert!(by_doubt.certainty > by_fact.certainty + 0.02, "{by_doubt:?} {by_fact:?}");
}

#[test]
fn a_waltz_has_three_beats() {
    let mut song = Told::new(3, 4);
    for (bar, root) in (0..).zip([C, F, G, C, A, D, G, C, C, F, G, C, A, D]) {
        if bar != 8 {
            song.hear(bar * 6, root);
        }
    }
    let (root, when, _) = song.next();
    assert_eq!((root, when), (G, 6));
}

#[test]
fn six_eight_changes_on_the_dotted_beat() {
    let mut song = Told::new(6, 8).hear_each(3, [C, A, F, G, C, A, F, G, C, A]);
    let (root, when, _) = song.next();
    assert_eq!((root, when), (F, 3));
}

#[test]
fn seven_eight_is_four_and_three() {
    let mut song = Told::new(7, 8);
    for (bar, [one, two]) in (0..).zip([[C, F], [G, A], [C, F], [G, A]]) {
        song.hear(bar * 7, one).hear(bar * 7 + 4, two);
    }
    song.hear(28, C);
    let (root, when, _) = song.next();
    assert_eq!((root, when), (F, 4));
}

#[test]
fn a_push_is_foreseen_as_a_push() {
    let mut song = Told::new(4, 4);
    // Each second chord comes on the "and" of four.
    for (round, [one, two]) in (0..).zip([[C, A], [F, G], [C, A], [F, G], [C, A], [F, G]]) {
        song.hear(round * 16, one).hear(round * 16 + 7, two);
    }
    song.hear(96, C);
    let (root, when, _) = song.next();
    assert_eq!((root, when), (A, 7));
}

#[test]
fn a_round_in_another_key_is_the_same_round() {
    let mut song = Told::new(4, 4).hear_each(8, [C, E, F, D, G].repeat(3));
    // A tritone away: no root of the round has been heard there.
    // Three chords might be misheard ones; the fourth settles it.
    for (k, root) in (15..).zip([C + 6, E + 6, F + 6, D + 6]) {
        song.hear(k * 8, root);
    }
    let (root, when, next) = song.next();
    assert_eq!((root, when), ((G + 6) % 12, 8));
    assert!(next.certainty > 0.5, "{next:?}");
}

#[test]
fn one_fluffed_chord_does_not_spoil_the_round() {
    let mut roots = [C, A, D, F, C, E, F, G].repeat(3);
    roots[13] = 1;
    roots.extend([C, A]);
    let mut song = Told::new(4, 4).hear_each(8, roots);
    assert_eq!((song.next().0, song.next().1), (D, 8));
}

#[test]
fn two_endings_leave_the_rest_of_the_round_sure() {
    let mut song = Told::new(4, 4);
    let body = [C, E, F, G, A, D];
    let mut bar = 0;
    for ending in [[G, E], [F, G], [G, E]] {
        for (n, root) in body.into_iter().chain(ending).enumerate() {
            song.hear(bar * 8, root);
            bar += 1;
            // In the third round: what follows each chord of the body but the
            // last, after which the rounds part.
            if bar > 16 && n < 5 {
                let (next, when, forecast) = song.next();
                assert_eq!((next, when), (body[n + 1], 8), "after bar {bar}: {forecast:?}");
                let sure = if n == 0 { 0.6 } else { 0.7 };
                assert!(forecast.certainty > sure, "after bar {bar}: {forecast:?}");
            }
        }
    }
}

#[test]
fn rounds_of_two_to_sixteen_bars_are_known_the_second_time() {
    let long = [C, A, F, G, E, A, D, G, F, E, D, G, A, F, D, G];
    for bars in [2, 4, 8, 16] {
        let round = &long[..bars];
        let mut song = Told::new(4, 4);
        let (mut right, mut asked) = (0, 0);
        for bar in 0..2 * bars {
            song.hear(bar as i64 * 8, round[bar % bars]);
            // The first chords of the second round may be anything yet.
            if bar >= bars + 2.min(bars / 2) {
                asked += 1;
                let (root, when, _) = song.next();
                right += usize::from((root, when) == (round[(bar + 1) % bars], 8));
            }
        }
        assert!(right + 1 >= asked, "{bars} bars: {right} of {asked}");
    }
}

#[test]
fn a_hand_that_drifts_around_the_beat_is_meant_on_it() {
    let mut song = Told::new(4, 4);
    for (bar, root) in (0..).zip([C, A, F, G, C, A, F, G, C]) {
        song.at = Ticks(bar * 3840 + [0, 90, -80, 60, -40][bar as usize % 5]);
        song.strike(root);
    }
    let next = song.next().2;
    assert_eq!((next.chord.root.index() as i32, next.at), (A, Ticks(9 * 3840)));
}

#[test]
fn a_chord_corrected_at_once_was_never_another() {
    let (mut right, mut corrected) = (Told::new(4, 4), Told::new(4, 4));
    for (bar, root) in (0..).zip([C, A, F, G, C, A]) {
        right.hear(bar * 8, root);
        corrected.hear(bar * 8, (root + 3) % 12);
        corrected.at += Ticks(100);
        corrected.strike(root);
        corrected.at = right.at;
    }
    right.next();
    corrected.next();
    assert_eq!(right.foresight.odds(), corrected.foresight.odds());
}

#[test]
fn a_chord_judged_again_leaves_no_trace_of_the_first_judgement() {
    let roots = [C, A, F, G, C, A, F, G, C];
    for wrong in 1..7 {
        let (mut right, mut revised) = (Told::new(4, 4), Told::new(4, 4));
        for (bar, root) in roots.into_iter().enumerate() {
            right.hear(bar as i64 * 8, root);
            if bar == wrong + 1 {
                let kind = if roots[wrong] == A { Kind::Minor } else { Kind::Major };
                revised.foresight.revise(Chord::new(PitchClass::new(roots[wrong]), kind));
            }
            // Some of the wrong names melt into a neighbour, some do not.
            let said = if bar == wrong { roots[bar - 1] + (bar as i32 % 2) } else { root };
            revised.hear(bar as i64 * 8, said);
        }
        right.next();
        revised.next();
        assert_eq!(right.foresight.odds(), revised.foresight.odds(), "bar {wrong}");
    }
}

#[test]
fn a_thousand_chords_and_more_are_remembered_in_the_same_room() {
    let mut song = Told::new(4, 4).hear_each(8, [C, A, F, G].repeat(750));
    assert!(song.foresight.remembered() <= 1024);
    assert_eq!((song.next().0, song.next().1), (C, 8));
}

#[test]
fn a_chart_in_bars_is_law_though_something_else_is_played() {
    let chord = |root: i32| Some(Chord::new(PitchClass::new(root), Kind::Major));
    let chords = [(Ticks::ZERO, chord(1)), (Ticks(3840), chord(6))];
    let chart = Song::in_common_time(chords, 2).expect("a song");
    let chart = Followed { song: &chart, by_hand: false };
    let mut song = Told::new(4, 4);
    for (bar, root) in (0..).zip([C, A, F, G, C, A, F, G, C]) {
        song.hear(bar * 8, root);
        let place = song.place();
        let next = song.foresight.forecast(song.at, place, None, Some(chart), false).expect("one");
        assert_eq!(next.source, Source::Chart, "bar {bar}");
    }
    let place = song.place();
    let next = song.foresight.forecast(song.at, place, None, Some(chart), false).expect("one");
    assert_eq!((next.chord.root.index() as i32, next.source), (6, Source::Chart));
}

#[test]
fn thinking_at_leisure_comes_to_the_answer_of_thinking_at_once() {
    let (mut at_once, mut at_leisure) = (Told::new(4, 4), Told::new(4, 4));
    for (bar, root) in (0..).zip([C, A, F, G, C, A, F, D, G, C, A, F]) {
        at_once.hear(bar * 8, root);
        at_leisure.hear(bar * 8, root);
        // For the chord that was struck, and again while it is held.
        for half_beats in [0, 1, 3] {
            let now = Ticks((bar * 8 + half_beats) * 480) + LATE;
            let parts = (0..99).take_while(|_| at_leisure.foresight.think(now, None, None)).count();
            assert!((3..=5).contains(&parts), "in {parts} parts");
            let place = at_once.place();
            let asked = |song: &mut Told| song.foresight.forecast(now, place, None, None, false);
            assert_eq!(asked(&mut at_leisure), asked(&mut at_once), "bar {bar}");
            assert_eq!(at_leisure.foresight.odds(), at_once.foresight.odds(), "bar {bar}");
        }
    }
}
