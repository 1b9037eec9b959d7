//! Natural logarithms of odds, in one place where it matters how small they get.

use crate::maths;

/// Less likely than this, in nats, is not likely at all.
const NEVER: f32 = -40.0;

/// How many times less likely than the likeliest something is that lies `nats`
/// from it (0 or less). Nothing so small comes out that a processor would
/// multiply it a hundred times slower (subnormal numbers, IEEE 754).
pub fn odds(nats: f32) -> f32 {
    if nats < NEVER { 0.0 } else { maths::exp(nats) }
}

/// The same of each of many.
pub fn all_odds(nats: &mut [f32]) {
    let far = |nats: f32| if nats < NEVER { f32::NEG_INFINITY } else { nats };
    nats.iter_mut().for_each(|nats| *nats = far(*nats));
    maths::exps(nats);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_hardly_likely_is_nothing_rather_than_subnormal() {
        assert_eq!((odds(0.0), odds(-200.0), odds(f32::MIN)), (1.0, 0.0, 0.0));
        assert!((0..2000).map(|n| odds(-0.1 * n as f32)).all(|odds| !odds.is_subnormal()));
        let mut many = [0.0, -39.0, -41.0, -200.0, f32::MIN];
        all_odds(&mut many);
        assert!(many[0] == 1.0 && many[1] > 0.0 && many[2..] == [0.0; 3], "{many:?}");
    }
}
