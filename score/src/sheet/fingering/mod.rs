//! Fingering for the left hand: the cheapest way by the published rules.
//!
//! A shortest path over the strokes, as in Parncutt et al. 1997 (see
//! `table`); their rules are for legato melodies, so a hand that has time
//! may also move, which is marked.

mod cost;
mod scales;
mod table;

use sinistra_core::pitch::KeyNumber;

/// What the hand plays at one moment, from low to high, and when (ms).
#[derive(Clone, Debug, PartialEq)]
pub struct FingerGrip {
    /// Keys from low to high.
    pub keys: Vec<KeyNumber>,
    /// When it is struck, in milliseconds.
    pub at_ms: f64,
}

/// How a grip is fingered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fingers {
    /// 1 (thumb) ..= 5 for each key, from low to high.
    pub fingers: Vec<u8>,
    /// The hand moves to get here: the way from the grip before is not within
    /// the practical span of the fingers used.
    pub moves: bool,
    /// The keys lie wider than the table's practical span.
    pub wide: bool,
}

/// Fingers for every grip. More than five keys at once: the lowest five are
/// fingered, the rest get 1.
///
/// The way is judged over three grips: a hand that stays where it is plays a key
/// again with the same finger.
#[must_use]
pub fn left_hand(grips: &[FingerGrip]) -> Vec<Fingers> {
    let choices: Vec<Vec<Vec<u8>>> = grips.iter().map(cost::fingerings).collect();
    let Some(first) = choices.first() else { return Vec::new() };
    // For each grip and each fingering of it and of the one before, the cheapest
    // way there; the first has none before it.
    let scales = scales::fingers(grips);
    let own = |index: usize, fingers: &[u8]| {
        let printed = scales[index].is_none_or(|finger| fingers == [finger]);
        // A key that is struck again is no new burden.
        let before = index.checked_sub(1).map(|last| &grips[last].keys);
        let again = fingers.len() == 1 && before == Some(&grips[index].keys);
        let held = if again { 0.0 } else { cost::of_grip(&grips[index], fingers) };
        held + if printed { 0.0 } else { cost::SCALE }
    };
    let mut ways: Vec<Vec<Vec<GripPath>>> = vec![
        first
            .iter()
            .map(|fingers| vec![GripPath { cost: own(0, fingers), from: 0, moves: false }])
            .collect(),
    ];
    for index in 1..grips.len() {
        let (last, grip) = (&grips[index - 1], &grips[index]);
        let here = choices[index].iter().map(|b| {
            let own = own(index, b);
            let over = choices[index - 1].iter().enumerate().map(|(place, a)| {
                let step = cost::of_step((last, a), (grip, b));
                let before = &ways[index - 1][place];
                let through = |from: usize| {
                    let stays = index > 1 && !step.moves && !before[from].moves;
                    let over = match index.checked_sub(2).filter(|_| stays) {
                        Some(two) => {
                            let first = (&grips[two], &choices[two][from][..]);
                            cost::over_three([first, (last, a), (grip, b)])
                        }
                        None => 0.0,
                    };
                    before[from].cost + over
                };
                let best = (0..before.len()).min_by(|x, y| through(*x).total_cmp(&through(*y)));
                let from = best.unwrap_or(0);
                GripPath { cost: through(from) + step.cost + own, from, moves: step.moves }
            });
            over.collect()
        });
        let here = here.collect();
        ways.push(here);
    }
    // Back from the cheapest end.
    let ends = ways.last().into_iter().flatten().enumerate().flat_map(|(place, over)| {
        over.iter().enumerate().map(move |(before, way)| (way.cost, place, before))
    });
    let Some((_, mut at, mut before)) = ends.min_by(|a, b| a.0.total_cmp(&b.0)) else {
        return Vec::new();
    };
    let mut best = Vec::with_capacity(grips.len());
    for ((grip, choices), ways) in grips.iter().zip(&choices).zip(&ways).rev() {
        let (fingers, way) = (choices[at].clone(), &ways[at][before]);
        let wide = cost::is_wide(grip, &fingers);
        best.push(Fingers { fingers, moves: way.moves, wide });
        (at, before) = (before, way.from);
    }
    best.reverse();
    best
}

/// The cheapest way to a grip by one fingering of it and one of the grip before.
struct GripPath {
    cost: f64,
    /// The fingering two grips before.
    from: usize,
    /// The hand moves from the grip before.
    moves: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grips(keys: &[&[u8]]) -> Vec<FingerGrip> {
        let grip = |(n, keys): (usize, &&[u8])| FingerGrip {
            keys: keys.iter().map(|key| KeyNumber::clamped((*key).into())).collect(),
            at_ms: n as f64 * 500.0,
        };
        keys.iter().enumerate().map(grip).collect()
    }

    pub(super) fn told(keys: &[&[u8]]) -> String {
        let fingers = left_hand(&grips(keys));
        let one = |f: &Fingers| {
            let digits: String = f.fingers.iter().map(u8::to_string).collect();
            if f.moves { format!(">{digits}") } else { digits }
        };
        fingers.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn five_neighbours_are_five_fingers() {
        assert_eq!(told(&[&[48], &[50], &[52], &[53], &[55]]), "5 4 3 2 1");
    }

    #[test]
    fn octaves_are_thumb_and_little_finger() {
        assert_eq!(told(&[&[36, 48], &[36, 48]]), "51 51");
        assert_eq!(told(&[&[36], &[48], &[36], &[48]]), "5 1 5 1");
        // From C to F in octaves the hand moves.
        assert_eq!(told(&[&[36, 48], &[41, 53]]), "51 >51");
    }

    #[test]
    fn a_broken_octave_is_five_and_one_wherever_the_hand_comes_from() {
        // C flat 3 to C flat 4 after B flat 2, and back.
        assert_eq!(told(&[&[46], &[47], &[59], &[47], &[59]]), "5 >5 1 5 1");
        assert_eq!(told(&[&[59], &[47], &[59], &[47]]), "1 5 1 5");
        // On black keys the fourth finger may take the octave, the thumb the top.
        let black = told(&[&[42], &[54], &[42], &[54]]);
        assert!(black == "5 1 5 1" || black == "4 1 4 1", "{black}");
    }

    #[test]
    fn a_key_keeps_its_finger_while_the_hand_stays() {
        let keys: [&[u8]; 9] = [&[35], &[42], &[47], &[42], &[35], &[42], &[47], &[39], &[35]];
        let fingers = left_hand(&grips(&keys));
        for n in 2..keys.len() {
            let stays = !fingers[n].moves && !fingers[n - 1].moves;
            if stays && keys[n] == keys[n - 2] {
                assert_eq!(fingers[n].fingers, fingers[n - 2].fingers, "{}", told(&keys));
            }
        }
    }

    /// Source: arpeggios and octaves as C.-L. Hanon, "The Virtuoso Pianist" (1873),
    /// prints them for the left hand: nos. 41 and 51 (from memory).
    #[test]
    fn arpeggios_and_octaves_are_fingered_as_published() {
        for (what, keys, published) in [
            ("C major, root position", vec![36, 40, 43, 48], "5 4 2 1"),
            ("C major, down again", vec![48, 43, 40, 36], "1 2 4 5"),
            ("C minor", vec![36, 39, 43, 48], "5 4 2 1"),
            ("G major", vec![43, 47, 50, 55], "5 4 2 1"),
            ("F major", vec![41, 45, 48, 53], "5 4 2 1"),
            ("D major", vec![38, 42, 45, 50], "5 3 2 1"),
            ("A major", vec![45, 49, 52, 57], "5 3 2 1"),
            ("E major", vec![40, 44, 47, 52], "5 3 2 1"),
            ("A minor", vec![45, 48, 52, 57], "5 4 2 1"),
            ("D minor", vec![38, 41, 45, 50], "5 4 2 1"),
            ("a triad under five fingers", vec![36, 40, 43, 40], "5 3 1 3"),
            ("low, high, middle, high", vec![48, 55, 52, 55, 48, 55, 52, 55], "5 1 3 1 5 1 3 1"),
            ("a first inversion", vec![40, 43, 48, 52], "5 4 2 1"),
            ("a seventh chord", vec![36, 39, 43, 46, 48], "5 4 3 2 1"),
            ("a second inversion", vec![43, 48, 52, 55], "5 3 2 1"),
            ("five fingers", vec![36, 38, 40, 41, 43], "5 4 3 2 1"),
        ] {
            let keys: Vec<[u8; 1]> = keys.into_iter().map(|key| [key]).collect();
            let keys: Vec<&[u8]> = keys.iter().map(<[u8; 1]>::as_slice).collect();
            assert_eq!(told(&keys), published, "{what}");
        }
        let octaves: Vec<[u8; 2]> = [36, 38, 40, 41, 43].map(|low| [low, low + 12]).to_vec();
        let octaves: Vec<&[u8]> = octaves.iter().map(<[u8; 2]>::as_slice).collect();
        assert_eq!(told(&octaves), "51 >51 >51 >51 >51");
    }

    #[test]
    fn root_fifth_octave_lies_under_the_hand() {
        assert_eq!(told(&[&[36], &[43], &[48], &[43]]), "5 2 1 2");
    }

    #[test]
    fn every_span_is_in_the_table_or_marked() {
        // A tour of leaps up to two octaves.
        let keys: Vec<[u8; 1]> = (0..200).map(|n: u32| [(28 + n * n * 7 % 31) as u8]).collect();
        let keys: Vec<&[u8]> = keys.iter().map(<[u8; 1]>::as_slice).collect();
        let grips = grips(&keys);
        let fingers = left_hand(&grips);
        for (pair, f) in grips.windows(2).zip(fingers.windows(2)) {
            let up = pair[1].keys[0].distance(pair[0].keys[0]).0;
            let (a, b) = (f[0].fingers[0], f[1].fingers[0]);
            let within = match a.cmp(&b) {
                std::cmp::Ordering::Equal => up == 0,
                // Left hand: the smaller finger number lies higher.
                std::cmp::Ordering::Less => fits(a, b, -up),
                std::cmp::Ordering::Greater => fits(b, a, up),
            };
            assert_eq!(within, !f[1].moves, "{a} to {b}, {up} semitones");
        }
        assert!(fingers.iter().any(|f| f.moves) && fingers.iter().any(|f| !f.moves));
    }

    fn fits(inner: u8, outer: u8, span: i32) -> bool {
        table::between(inner, outer)
            .is_some_and(|r| (r.least_practical..=r.most_practical).contains(&span))
    }
}
