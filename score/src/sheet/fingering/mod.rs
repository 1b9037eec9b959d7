//! Fingering for the left hand: the cheapest way by the published rules.
//!
//! A shortest path over the strokes, as in Parncutt et al. 1997 (see
//! `table`); their rules are for legato melodies, so a hand that has time
//! may also move, which is marked.

mod cost;
mod table;

use sinistra_core::pitch::KeyNumber;

/// What the hand plays at one moment, from low to high, and when (ms).
#[derive(Clone, Debug, PartialEq)]
pub struct Grip {
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
#[must_use]
pub fn left_hand(grips: &[Grip]) -> Vec<Fingers> {
    // For each grip every fingering with its cheapest way there.
    let mut ways: Vec<Vec<GripPath>> = Vec::with_capacity(grips.len());
    for (index, grip) in grips.iter().enumerate() {
        let ways_before = index.checked_sub(1).map(|before| (&grips[before], &ways[before]));
        let here = cost::fingerings(grip)
            .into_iter()
            .map(|fingers| {
                reach(grip, fingers, ways_before.as_ref().map(|(g, w)| (*g, w.as_slice())))
            })
            .collect();
        ways.push(here);
    }
    let mut best = Vec::with_capacity(grips.len());
    let mut at = ways
        .last()
        .and_then(|last| (0..last.len()).min_by(|a, b| last[*a].cost.total_cmp(&last[*b].cost)));
    for (grip, ways) in grips.iter().zip(&ways).rev() {
        let Some(way) = at.and_then(|at| ways.get(at)) else { break };
        let wide = cost::is_wide(grip, &way.fingers);
        best.push(Fingers { fingers: way.fingers.clone(), moves: way.moves, wide });
        at = way.from;
    }
    best.reverse();
    best
}

struct GripPath {
    fingers: Vec<u8>,
    cost: f64,
    from: Option<usize>,
    moves: bool,
}

fn reach(grip: &Grip, fingers: Vec<u8>, before: Option<(&Grip, &[GripPath])>) -> GripPath {
    let own = cost::of_grip(grip, &fingers);
    let Some((last, ways)) = before else {
        return GripPath { fingers, cost: own, from: None, moves: false };
    };
    let best = ways
        .iter()
        .enumerate()
        .map(|(index, way)| {
            let step = cost::of_step((last, &way.fingers), (grip, &fingers));
            (index, way.cost + step.cost, step.moves)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let (from, cost, moves) =
        best.map_or((None, 0.0, false), |(index, cost, moves)| (Some(index), cost, moves));
    GripPath { fingers, cost: cost + own, from, moves }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grips(keys: &[&[u8]]) -> Vec<Grip> {
        let grip = |(n, keys): (usize, &&[u8])| Grip {
            keys: keys.iter().map(|key| KeyNumber::clamped((*key).into())).collect(),
            at_ms: n as f64 * 500.0,
        };
        keys.iter().enumerate().map(grip).collect()
    }

    fn told(keys: &[&[u8]]) -> String {
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
