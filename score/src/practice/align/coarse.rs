//! The coarse path: onset by onset through the take, at an unknown tempo.

use super::onsets::{Cluster, Onset, likeness};

/// One onset of the target found at one cluster of the take.
pub(super) struct MatchedOnset {
    pub onset: usize,
    pub cluster: usize,
    /// The player stopped or jumped just before.
    pub jump: bool,
    /// Every key of the onset is there as asked.
    pub exact: bool,
}

// Costs, in units of about one wrong note. By experiment on distorted takes.
const PITCH: f64 = 1.2;
const SKIP: f64 = 0.9;
const SKIP_TARGET_AT_EDGE: f64 = 0.5;
const SKIP_PLAYED_AT_EDGE: f64 = 0.35;
const JUMP: f64 = 2.5;
/// Cost of a stroke a whole beat off, squared; dearer than a jump from about
/// half a beat on.
const LATE: f64 = 8.0;
const LATE_MOST: f64 = 4.0;

/// Pitch costs below this are right keys, or right enough where several are.
const EXACT: f64 = PITCH * 0.35;

// How far a step may reach without counting as a jump.
const REACH_TARGET: usize = 10;
const REACH_PLAYED: usize = 4;

// The clock that follows: share of an error that phase and period take up.
const PHASE: f64 = 0.4;
const PERIOD: f64 = 0.12;

/// The tempo is looked for between these multiples of the written one.
const SLOWEST: f64 = 0.3;
const FASTEST: f64 = 3.0;
const TEMPO_STEP: f64 = 1.12;
/// Clusters and onsets on which the tempos are tried before the whole is.
const TRIAL: (usize, usize) = (48, 160);

#[derive(Clone, Copy)]
struct PathCell {
    cost: f64,
    /// Where this onset lies by the clock that follows, ms.
    phase: f64,
    /// Milliseconds a tick.
    period: f64,
    from: Option<(u32, u32)>,
    jump: bool,
}

const NOWHERE: PathCell =
    PathCell { cost: f64::INFINITY, phase: 0.0, period: 0.0, from: None, jump: false };

/// The cheapest path, over all tempos. `None` if the take answers no onset.
pub(super) fn path(
    onsets: &[Onset],
    clusters: &[Cluster],
    tempo: f64,
) -> Option<Vec<MatchedOnset>> {
    let written = 60_000.0 / (tempo * 960.0);
    let trial = |pairs: &Pairs, period: f64, whole: bool| {
        let table = fill(pairs, period);
        let (cost, end) = best_end(&table, pairs.onsets.len(), pairs.clusters.len(), whole);
        (cost, end, table)
    };
    let short =
        Pairs::of(&onsets[..onsets.len().min(TRIAL.1)], &clusters[..clusters.len().min(TRIAL.0)]);
    let long = Pairs::of(onsets, clusters);
    let mut periods = Vec::new();
    let mut ratio = SLOWEST;
    while ratio <= FASTEST {
        let period = written / ratio;
        periods.push((trial(&short, period, false).0, period));
        ratio *= TEMPO_STEP;
    }
    periods.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Only the steps of each are kept: a table is as large as both sides together.
    let tried = periods.iter().take(3).map(|(_, period)| {
        let (cost, end, table) = trial(&long, *period, true);
        (cost, steps(&long, &table, end))
    });
    let (_, steps) = tried.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (!steps.is_empty()).then_some(steps)
}

/// The way to `end`, from its start.
fn steps(pairs: &Pairs, table: &[PathCell], end: Option<(usize, usize)>) -> Vec<MatchedOnset> {
    let mut steps = Vec::new();
    let mut at = end;
    while let Some((onset, cluster)) = at {
        let index = onset * pairs.clusters.len() + cluster;
        let cell = table[index];
        let exact = pairs.pitch[index] < EXACT;
        steps.push(MatchedOnset { onset, cluster, jump: cell.jump, exact });
        at = cell.from.map(|(i, j)| (i as usize, j as usize));
    }
    steps.reverse();
    steps
}

/// Both sides, and what it costs to take one of the played for one of the asked.
struct Pairs<'a> {
    onsets: &'a [Onset],
    clusters: &'a [Cluster],
    pitch: Vec<f64>,
}

impl<'a> Pairs<'a> {
    fn of(onsets: &'a [Onset], clusters: &'a [Cluster]) -> Self {
        let cost =
            |asked: &Onset, played: &Cluster| PITCH * (1.0 - likeness(&asked.asked, &played.keys));
        let row = |asked| clusters.iter().map(move |played| cost(asked, played));
        Self { onsets, clusters, pitch: onsets.iter().flat_map(row).collect() }
    }
}

/// The cheapest last cell. Where only the start of the piece is tried
/// (`!whole`), notes still to come cost nothing.
fn best_end(table: &[PathCell], n: usize, m: usize, whole: bool) -> (f64, Option<(usize, usize)>) {
    let mut best = (f64::INFINITY, None);
    for i in 0..n {
        for j in 0..m {
            let left_over = if whole {
                (n - 1 - i) as f64 * SKIP_TARGET_AT_EDGE + (m - 1 - j) as f64 * SKIP_PLAYED_AT_EDGE
            } else {
                (m - 1 - j) as f64 * SKIP
            };
            let cost = table[i * m + j].cost + left_over;
            if cost < best.0 {
                best = (cost, Some((i, j)));
            }
        }
    }
    best
}

fn fill(pairs: &Pairs, period: f64) -> Vec<PathCell> {
    let Pairs { onsets, clusters, .. } = pairs;
    let (n, m) = (onsets.len(), clusters.len());
    let mut table = vec![NOWHERE; n * m];
    // Cheapest cell up to (i, j) in both directions, its cost freed of the
    // skips up to there: what a jump starts from.
    let mut cheapest: Vec<Option<(f64, u32, u32)>> = vec![None; n * m];
    for i in 0..n {
        for j in 0..m {
            let pitch = pairs.pitch[i * m + j];
            let now = clusters[j].at_ms;
            let start = i as f64 * SKIP_TARGET_AT_EDGE + j as f64 * SKIP_PLAYED_AT_EDGE;
            let mut cell =
                PathCell { cost: start + pitch, phase: now, period, from: None, jump: false };
            if let Some(near) = nearest(&table, onsets, clusters, (i, j))
                && near.cost + pitch < cell.cost
            {
                cell = PathCell { cost: near.cost + pitch, ..near };
            }
            let before = (i > 0 && j > 0).then(|| cheapest[(i - 1) * m + j - 1]).flatten();
            if let Some((freed, a, b)) = before {
                let cost = freed + (i + j) as f64 * SKIP + JUMP + pitch;
                if cost < cell.cost {
                    let period = table[a as usize * m + b as usize].period;
                    let from = Some((a, b));
                    cell = PathCell { cost, phase: now, period, from, jump: true };
                }
            }
            let freed = cell.cost - (i + j + 2) as f64 * SKIP;
            let mut least = Some((freed, i as u32, j as u32));
            for other in [
                i.checked_sub(1).and_then(|i| cheapest[i * m + j]),
                j.checked_sub(1).and_then(|j| cheapest[i * m + j]),
            ] {
                if other.is_some_and(|o| least.is_none_or(|l| o.0 < l.0)) {
                    least = other;
                }
            }
            cheapest[i * m + j] = least;
            table[i * m + j] = cell;
        }
    }
    table
}

/// The cheapest step to (i, j) from a cell close by, its clock moved on;
/// without the cost of the pitch.
fn nearest(
    table: &[PathCell],
    onsets: &[Onset],
    clusters: &[Cluster],
    (i, j): (usize, usize),
) -> Option<PathCell> {
    let m = clusters.len();
    let mut best: Option<PathCell> = None;
    for a in i.saturating_sub(REACH_TARGET)..i {
        for b in j.saturating_sub(REACH_PLAYED)..j {
            let from = table[a * m + b];
            let skips = (i - a - 1 + j - b - 1) as f64 * SKIP;
            if best.is_some_and(|cell| cell.cost <= from.cost + skips) {
                continue;
            }
            let ticks = (onsets[i].at - onsets[a].at).0 as f64;
            let beat = from.period * 960.0;
            let due = from.phase + ticks * from.period;
            let late = clusters[j].at_ms - due;
            let time = (LATE * (late / beat).powi(2)).min(LATE_MOST);
            let cost = from.cost + skips + time;
            if best.is_none_or(|cell| cost < cell.cost) {
                let taken = late.clamp(-0.15 * beat, 0.15 * beat);
                let period = from.period * (1.0 + PERIOD * taken / (ticks * from.period));
                let from = Some((a as u32, b as u32));
                best =
                    Some(PathCell { cost, phase: due + PHASE * taken, period, from, jump: false });
            }
        }
    }
    best
}
