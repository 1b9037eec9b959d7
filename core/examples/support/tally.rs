//! Counts how forecasts came out.

use std::fmt;

use sinistra_core::foresee::Forecast;

/// Changes that count as a song's start.
const FIRST: usize = 16;

/// Right, said so often, and the sums behind the figures.
#[derive(Default)]
pub struct ForecastTally {
    all: Share,
    first: Share,
    rest: Share,
    sure: Share,
    when: Share,
    when_sure: Share,
    both: Share,
    late: Share,
    third: Share,
    bits: f64,
    bins: [Bin; 10],
    when_bins: [Bin; 10],
}

#[derive(Default, Clone, Copy)]
struct Share {
    right: u32,
    all: u32,
}

impl Share {
    fn add(&mut self, right: bool) {
        self.right += u32::from(right);
        self.all += 1;
    }

    fn percent(self) -> f64 {
        100.0 * f64::from(self.right) / f64::from(self.all.max(1))
    }
}

#[derive(Default, Clone, Copy)]
struct Bin {
    share: Share,
    said: f64,
}

fn bin(bins: &mut [Bin; 10], said: f32, right: bool) {
    let bin = &mut bins[((said * 10.0) as usize).min(9)];
    bin.share.add(right);
    bin.said += f64::from(said);
}

fn error(bins: &[Bin; 10]) -> f64 {
    let all: u32 = bins.iter().map(|bin| bin.share.all).sum();
    let off = bins.iter().map(|bin| (bin.said - f64::from(bin.share.right)).abs());
    off.sum::<f64>() / f64::from(all.max(1))
}

impl ForecastTally {
    /// The forecast after change `i`; `root` and `when` (beats, if known) came.
    pub fn add(
        &mut self,
        i: usize,
        said: &Forecast,
        odds: &[f32; 12],
        root: usize,
        when: Option<f64>,
        in_beats: f64,
    ) {
        let right = said.chord.root.index() == root;
        self.all.add(right);
        if i + 1 < FIRST {
            self.first.add(right)
        } else {
            self.rest.add(right)
        }
        if said.certainty >= 0.8 {
            self.sure.add(right);
        }
        self.bits -= f64::from(odds[root].max(1e-6)).log2();
        bin(&mut self.bins, said.certainty, right);
        if let Some(when) = when {
            let exact = (when - in_beats).abs() <= 0.26;
            self.when.add(exact);
            self.both.add(exact && right);
            if said.when_certainty >= 0.8 {
                self.when_sure.add(exact);
            }
            bin(&mut self.when_bins, said.when_certainty, exact);
        }
    }

    /// The root was right: was the third as well, or that there is none?
    pub fn add_third(&mut self, right: bool) {
        self.third.add(right);
    }

    /// Asked again as the chord still holds.
    pub fn add_late(&mut self, right: bool) {
        self.late.add(right);
    }
}

impl fmt::Display for ForecastTally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "next root {:.2} % of {} (a song's first {FIRST} {:.1} %, the rest {:.1} %); asked again just before it {:.2} %; of right roots, third right {:.2} %",
            self.all.percent(),
            self.all.all,
            self.first.percent(),
            self.rest.percent(),
            self.late.percent(),
            self.third.percent(),
        )?;
        writeln!(
            f,
            "said at least 80 % certain: {:.1} % of changes, right {:.1} %; {:.3} bits a change; calibration error {:.4}",
            100.0 * f64::from(self.sure.all) / f64::from(self.all.all.max(1)),
            self.sure.percent(),
            self.bits / f64::from(self.all.all.max(1)),
            error(&self.bins),
        )?;
        writeln!(
            f,
            "time to a quarter of a beat {:.2} % of {}, calibration error {:.4}; at least 80 % certain {:.1} %, right {:.1} %; root and time {:.2} %",
            self.when.percent(),
            self.when.all,
            error(&self.when_bins),
            100.0 * f64::from(self.when_sure.all) / f64::from(self.when.all.max(1)),
            self.when_sure.percent(),
            self.both.percent(),
        )?;
        for (what, bins) in [("root", &self.bins), ("time", &self.when_bins)] {
            write!(f, "{what} said → came:")?;
            for bin in bins.iter().filter(|bin| bin.share.all > 0) {
                let said = 100.0 * bin.said / f64::from(bin.share.all);
                write!(f, "  {said:.0}→{:.0} ({})", bin.share.percent(), bin.share.all)?;
            }
            writeln!(f)?;
        }
        Ok(())
    }
}
