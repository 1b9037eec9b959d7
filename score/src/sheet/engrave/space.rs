//! How far apart things stand: springs between columns.
//!
//! Longer notes get more room, but less than in proportion (handbooks of music
//! engraving, E. Gould, "Behind Bars", 2011, from memory); a spring never goes
//! below what its neighbours need.

/// The room between two columns.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Spring {
    /// Spaces that it takes at the least.
    pub least: f32,
    /// Spaces that it would like.
    pub wish: f32,
}

impl Spring {
    /// Does not give.
    pub const fn rigid(length: f32) -> Self {
        Self { least: length, wish: 0.0 }
    }

    fn at(self, stretch: f32) -> f32 {
        self.least.max(self.wish * stretch)
    }
}

/// The room that a value of `ticks` would like.
pub(super) fn room(ticks: i64) -> f32 {
    const EIGHTH: f32 = 480.0;
    3.5 * (ticks as f32 / EIGHTH).powf(0.5)
}

/// The stretch at which the springs fill `width`, within a fifth and five
/// times of natural.
pub(super) fn stretch(springs: &[Spring], width: f32) -> f32 {
    let (mut low, mut high) = (0.2_f32, 5.0_f32);
    for _ in 0..40 {
        let middle = f32::midpoint(low, high);
        let filled: f32 = springs.iter().map(|spring| spring.at(middle)).sum();
        if filled < width { low = middle } else { high = middle }
    }
    low
}

/// Where each spring ends, from `start`.
pub(super) fn ends(springs: &[Spring], start: f32, stretch: f32) -> Vec<f32> {
    let mut x = start;
    springs
        .iter()
        .map(|spring| {
            x += spring.at(stretch);
            x
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_as_long_gets_more_room_but_not_twice_as_much() {
        for ticks in [240, 480, 960, 1920] {
            let (short, long) = (room(ticks), room(2 * ticks));
            assert!(long > short * 1.2 && long < short * 1.7, "{ticks}");
        }
    }

    #[test]
    fn springs_fill_the_width_and_never_go_below_their_least() {
        let springs = [
            Spring { least: 2.0, wish: 3.0 },
            Spring::rigid(4.0),
            Spring { least: 1.0, wish: 6.0 },
        ];
        for width in [8.0, 13.0, 30.0] {
            let ends = ends(&springs, 0.0, stretch(&springs, width));
            assert!((ends[2] - width).abs() < 0.01, "{ends:?}");
            assert!(ends[0] >= 2.0 && (ends[1] - ends[0] - 4.0).abs() < 1e-5);
        }
        let squeezed = ends(&springs, 0.0, stretch(&springs, 3.0));
        assert!((squeezed[2] - 7.2).abs() < 0.01, "the least: {squeezed:?}");
    }
}
