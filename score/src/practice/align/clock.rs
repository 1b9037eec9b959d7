//! The clock of a take: which millisecond each tick of the target lies on.

use sinistra_core::time::Ticks;

/// A tick of the target whose stroke is known.
#[derive(Clone, Copy, Debug)]
pub(super) struct Anchor {
    pub at: Ticks,
    pub ms: f64,
    pub on_pulse: bool,
}

/// Ticks to milliseconds, a stretch at a time (a new one after each stop).
#[derive(Clone, Debug, PartialEq)]
pub struct TakeClock {
    stretches: Vec<ClockStretch>,
}

#[derive(Clone, Debug, PartialEq)]
struct ClockStretch {
    from: Ticks,
    course: Course,
}

#[derive(Clone, Debug, PartialEq)]
enum Course {
    /// Σ c[k]·x^k milliseconds, x = (tick − centre) / scale.
    Smooth { centre: f64, scale: f64, c: [f64; 4] },
    /// Straight between knots (tick, ms), and beyond the ends.
    Wavering(Vec<(f64, f64)>),
}

/// Before everything.
const EVER: Ticks = Ticks(i64::MIN);
/// Fewer anchors than this say nothing about a tempo.
const FEW: usize = 4;
/// Local fits look this far to both sides, in ticks: two bars of 4/4.
const NEIGHBOURHOOD: f64 = 8.0 * 960.0;

impl TakeClock {
    /// Tick 0 at `start_ms`, `tempo` quarter notes a minute throughout.
    #[must_use]
    pub fn steady(start_ms: f64, tempo: f64) -> Self {
        let period = 60_000.0 / (tempo * Ticks::PER_BEAT as f64);
        Self { stretches: vec![ClockStretch::straight(EVER, 0.0, start_ms, period)] }
    }

    /// Where `at` lies in the take, in milliseconds.
    #[must_use]
    pub fn ms(&self, at: Ticks) -> f64 {
        let index = self.stretches.partition_point(|stretch| stretch.from <= at);
        let stretch = self.stretches.get(index.saturating_sub(1));
        stretch.map_or(0.0, |stretch| stretch.course.ms(at.0 as f64))
    }

    /// Quarter notes a minute around `at`.
    #[must_use]
    pub fn tempo(&self, at: Ticks) -> f64 {
        60_000.0 / (self.ms(at) - self.ms(at - Ticks(Ticks::PER_BEAT))).max(1.0)
    }

    /// How often the player stopped or jumped.
    #[must_use]
    pub fn stops(&self) -> usize {
        self.stretches.len() - 1
    }

    /// The player's own beats, robust against notes that are off: only the
    /// felt beats count where there are enough, so that late "ands" show as late.
    pub(super) fn fit(anchors: &[Anchor], breaks: &[Ticks], written: f64) -> Option<Self> {
        if anchors.is_empty() {
            return None;
        }
        let mut starts = vec![EVER];
        starts.extend(breaks);
        let mut groups: Vec<(Ticks, Vec<Anchor>)> = Vec::new();
        for (index, from) in starts.iter().enumerate() {
            let until = starts.get(index + 1).copied().unwrap_or(Ticks(i64::MAX));
            let inside: Vec<_> =
                anchors.iter().filter(|a| (*from..until).contains(&a.at)).copied().collect();
            let pulse: Vec<_> = inside.iter().filter(|a| a.on_pulse).copied().collect();
            let enough = pulse.len() >= FEW.max(inside.len() / 4);
            groups.push((*from, if enough { pulse } else { inside }));
        }
        let longest = groups.iter().max_by_key(|(_, group)| group.len())?;
        let written = 60_000.0 / (written * Ticks::PER_BEAT as f64);
        let period = if longest.1.len() >= FEW { slope(&longest.1) } else { written };
        let stretches = groups
            .iter()
            .filter(|(from, group)| *from == EVER || !group.is_empty())
            .map(|(from, group)| ClockStretch::fit(*from, group, period))
            .collect();
        Some(Self { stretches })
    }
}

impl ClockStretch {
    fn straight(from: Ticks, tick: f64, ms: f64, period: f64) -> Self {
        let course = Course::Smooth { centre: tick, scale: 1.0, c: [ms, period, 0.0, 0.0] };
        Self { from, course }
    }

    fn fit(from: Ticks, anchors: &[Anchor], period: f64) -> Self {
        if anchors.len() < FEW {
            let mut offsets: Vec<f64> =
                anchors.iter().map(|a| a.ms - a.at.0 as f64 * period).collect();
            return Self::straight(from, 0.0, median(&mut offsets), period);
        }
        let (low, high) = (anchors[0].at.0 as f64, anchors[anchors.len() - 1].at.0 as f64);
        let (centre, scale) = (f64::midpoint(low, high), ((high - low) / 2.0).max(1.0));
        let fits = [1, 2, 3].map(|degree| robust(anchors, centre, scale, degree));
        // Bayesian information criterion with outliers capped, on one noise
        // level for all three.
        let noise = spread(&residuals(anchors, &fits[2])).max(1.0);
        let misfit = |fit: &Course| -> f64 {
            residuals(anchors, fit).iter().map(|r| (r / noise).powi(2).min(36.0)).sum()
        };
        let dear = 1.5 * (anchors.len() as f64).ln();
        let costs: Vec<f64> =
            fits.iter().enumerate().map(|(k, fit)| misfit(fit) + k as f64 * dear).collect();
        let most = if anchors.len() < 8 { 1 } else { fits.len() };
        let best = (0..most).min_by(|a, b| costs[*a].total_cmp(&costs[*b])).unwrap_or(0);
        let smooth = fits[best].clone();
        let course = wavering(anchors, &smooth).unwrap_or(smooth);
        Self { from, course }
    }
}

impl Course {
    fn ms(&self, tick: f64) -> f64 {
        match self {
            Self::Smooth { centre, scale, c } => {
                // Beyond the ends the tempo stays as it was there.
                let x = (tick - centre) / scale;
                let inside = if *scale > 1.0 { x.clamp(-1.0, 1.0) } else { x };
                let value = c[0] + inside * (c[1] + inside * (c[2] + inside * c[3]));
                let slope = c[1] + inside * (2.0 * c[2] + inside * 3.0 * c[3]);
                value + (x - inside) * slope
            }
            Self::Wavering(knots) => {
                let right = knots.partition_point(|knot| knot.0 <= tick).clamp(1, knots.len() - 1);
                let ((a, from), (b, to)) = (knots[right - 1], knots[right]);
                from + (to - from) * (tick - a) / (b - a)
            }
        }
    }
}

/// The median slope between anchors half the stretch apart, ms a tick.
fn slope(anchors: &[Anchor]) -> f64 {
    let half = anchors.len() / 2;
    let mut slopes: Vec<f64> = anchors
        .iter()
        .zip(&anchors[half..])
        .filter(|(a, b)| b.at > a.at)
        .map(|(a, b)| (b.ms - a.ms) / (b.at - a.at).0 as f64)
        .collect();
    median(&mut slopes)
}

/// A polynomial by least squares, reweighted by Tukey's biweight.
fn robust(anchors: &[Anchor], centre: f64, scale: f64, degree: usize) -> Course {
    let period = slope(anchors);
    let mut offsets: Vec<f64> =
        anchors.iter().map(|a| a.ms - (a.at.0 as f64 - centre) * period).collect();
    let straight =
        Course::Smooth { centre, scale, c: [median(&mut offsets), period * scale, 0.0, 0.0] };
    let mut fit = straight;
    for round in 0..12 {
        let residuals = residuals(anchors, &fit);
        // The first rounds must let curvature through that the line leaves over.
        let wide = if round < 3 { 3.0 } else { 1.0 };
        let cut = 4.685 * wide * spread(&residuals).max(2.0);
        let weights = residuals.iter().map(|r| {
            let u = (r / cut).clamp(-1.0, 1.0);
            (1.0 - u * u).powi(2)
        });
        let points = anchors.iter().map(|a| (a.at.0 as f64 - centre) / scale);
        let values = anchors.iter().map(|a| a.ms);
        let rows: Vec<_> = points.zip(values).zip(weights).map(|((x, y), w)| (x, y, w)).collect();
        let Some(c) = least_squares(&rows, degree) else { break };
        fit = Course::Smooth { centre, scale, c };
    }
    fit
}

/// A course that follows a wavering tempo, where the smooth one leaves
/// residuals that hang together: neighbours lean the same way.
fn wavering(anchors: &[Anchor], smooth: &Course) -> Option<Course> {
    if anchors.len() < 24 {
        return None;
    }
    let left = residuals(anchors, smooth);
    let cap = 3.0 * spread(&left).max(1.0);
    let left: Vec<f64> = left.iter().map(|r| r.clamp(-cap, cap)).collect();
    let power: f64 = left.iter().map(|r| r * r).sum();
    let together: f64 = left.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if together < 0.5 * power {
        return None;
    }
    let (low, high) = (anchors[0].at.0, anchors[anchors.len() - 1].at.0);
    let mut knots = Vec::new();
    let mut tick = low;
    while tick < high + 2 * Ticks::PER_BEAT {
        let rows: Vec<_> = anchors
            .iter()
            .zip(&left)
            .filter_map(|(a, r)| {
                let x = (a.at.0 - tick) as f64 / NEIGHBOURHOOD;
                (x.abs() < 1.0).then(|| (x, *r, (1.0 - x.abs().powi(3)).powi(3)))
            })
            .collect();
        let lean = least_squares(&rows, 1).map_or(0.0, |c| c[0]);
        knots.push((tick as f64, smooth.ms(tick as f64) + lean));
        tick += 2 * Ticks::PER_BEAT;
    }
    (knots.len() >= 2).then_some(Course::Wavering(knots))
}

fn residuals(anchors: &[Anchor], course: &Course) -> Vec<f64> {
    anchors.iter().map(|a| a.ms - course.ms(a.at.0 as f64)).collect()
}

/// 1.4826 × the median absolute deviation from zero: a robust spread.
fn spread(residuals: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    1.4826 * median(&mut sizes)
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    match values.len() {
        0 => 0.0,
        n if n % 2 == 1 => values[n / 2],
        n => f64::midpoint(values[n / 2 - 1], values[n / 2]),
    }
}

/// Weighted least squares for a polynomial, by the normal equations (x is
/// within ±1, degree at most 3: well conditioned). `None` if underdetermined.
fn least_squares(rows: &[(f64, f64, f64)], degree: usize) -> Option<[f64; 4]> {
    let size = degree + 1;
    let mut a = [[0.0; 5]; 4];
    for (x, y, w) in rows {
        let powers = [1.0, *x, x * x, x * x * x];
        for row in 0..size {
            for column in 0..size {
                a[row][column] += w * powers[row] * powers[column];
            }
            a[row][4] += w * powers[row] * y;
        }
    }
    for pivot in 0..size {
        let best =
            (pivot..size).max_by(|r, s| a[*r][pivot].abs().total_cmp(&a[*s][pivot].abs()))?;
        a.swap(pivot, best);
        if a[pivot][pivot].abs() < 1e-9 {
            return None;
        }
        for row in 0..size {
            if row != pivot {
                let factor = a[row][pivot] / a[pivot][pivot];
                let above = a[pivot];
                for (value, above) in a[row].iter_mut().zip(above) {
                    *value -= factor * above;
                }
            }
        }
    }
    let mut c = [0.0; 4];
    for k in 0..size {
        c[k] = a[k][4] / a[k][k];
    }
    Some(c)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn anchors(ms: impl Fn(i64) -> f64) -> Vec<Anchor> {
        let anchor = |k: i64| Anchor { at: Ticks(k * 480), ms: ms(k * 480), on_pulse: k % 2 == 0 };
        (0..64).map(anchor).collect()
    }

    #[test]
    fn late_ands_do_not_move_the_beat() {
        let played =
            anchors(|tick| 1000.0 + tick as f64 + if tick % 960 == 0 { 0.0 } else { 38.0 });
        let clock = TakeClock::fit(&played, &[], 62.5).expect("a clock");
        assert!((clock.ms(Ticks(0)) - 1000.0).abs() < 0.01, "{}", clock.ms(Ticks(0)));
        assert!((clock.ms(Ticks(9600)) - 10_600.0).abs() < 0.01);
    }

    #[test]
    fn a_tempo_that_rises_is_followed() {
        let played = anchors(|tick| tick as f64 - 4e-6 * (tick as f64).powi(2));
        let clock = TakeClock::fit(&played, &[], 62.5).expect("a clock");
        assert!(
            (clock.ms(Ticks(15_360)) - (15_360.0 - 943.7)).abs() < 1.0,
            "{}",
            clock.ms(Ticks(15_360))
        );
        assert!(clock.tempo(Ticks(28_800)) > clock.tempo(Ticks(960)) * 1.2);
    }

    #[test]
    fn after_a_stop_the_clock_starts_anew() {
        let played = anchors(|tick| tick as f64 + if tick < 9600 { 0.0 } else { 3000.0 });
        let clock = TakeClock::fit(&played, &[Ticks(9600)], 62.5).expect("a clock");
        assert!((clock.ms(Ticks(960)) - 960.0).abs() < 0.01);
        assert!((clock.ms(Ticks(9600)) - 12_600.0).abs() < 0.01);
        assert_eq!(clock.stops(), 1);
    }
}
