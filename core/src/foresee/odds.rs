//! Chord-to-chord odds from open data, relative to the chord and to the key.

use super::event::RootSpan;
use super::triad::TriadShape;
use crate::chord::Kind;
use crate::maths;
use crate::nats;
use crate::pitch::PitchClass;

/// Every table in order of candidate: semitones 0..=11 above the present
/// root. A byte `v` stands for odds of exp(−v / 32); 255 for none.
#[derive(Clone, Copy, Debug)]
pub struct OddsTable {
    /// Natural logarithm of how often a chord stands on a degree of the major
    /// scale that the key signature names: [degree 12][triad 7].
    pub degrees: &'static [f32],
    /// Whatever the key, after: [triad 7].
    pub after_one: &'static [u8],
    /// After a root movement: [movement 12][coarse triad before 3][triad 7].
    pub after_two: &'static [u8],
    /// After two root movements: [first 12][second 12][coarse triad 3].
    pub after_three: &'static [u8],
    /// On a degree of the scale: [degree 12][triad 7].
    pub in_key: &'static [u8],
    /// On a degree, coming from another: [degree before 12][degree 12][coarse triad 3].
    pub in_key_two: &'static [u8],
}

/// Odds of the twelve roots, C first, by each of the tables.
pub type Chains = [[f32; 12]; OddsTable::CHAINS];

/// A key signature that is less likely has nothing to say of a chord's kind.
const FEW: f32 = 0.02;

/// What each byte stands for.
static MEANT: [f32; 256] = {
    const STEP: f64 = 0.969_233_234_476_344_1; // exp(−1 / 32)
    let (mut meant, mut odds, mut byte) = ([0.0; 256], 1.0, 0);
    while byte < 255 {
        #[allow(clippy::indexing_slicing, reason = "at compile time")]
        {
            meant[byte] = maths::single(odds);
        }
        odds *= STEP;
        byte += 1;
    }
    meant
};

fn meant(byte: u8) -> f32 {
    MEANT.get(usize::from(byte)).copied().unwrap_or(0.0)
}

/// The odds of one row, moved to the root `from`.
fn row(table: &[u8], row: usize, from: usize) -> [f32; 12] {
    let bytes = table.get(row * 12..row * 12 + 12).unwrap_or(&[]);
    let mut odds = [0.0; 12];
    for (above, &byte) in bytes.iter().enumerate() {
        *PitchClass::at(from + above).of_mut(&mut odds) = meant(byte);
    }
    odds
}

impl OddsTable {
    /// Tables that speak of the next chord.
    pub const CHAINS: usize = 5;

    /// How well a chord fits each of the twelve key signatures, as log odds.
    pub fn fit(&self, event: &RootSpan) -> [f32; 12] {
        core::array::from_fn(|key| {
            let degree = (usize::from(event.root) + 12 - key) % 12;
            self.degrees.get(degree * 7 + event.triad as usize).copied().unwrap_or(0.0)
        })
    }

    /// The likeliest kind of triad on the root `to` right after `now`, where each key
    /// signature is as likely as `keys` says: the key in which that root is likeliest to
    /// come has the most to say.
    pub fn kind(&self, now: &RootSpan, to: PitchClass, keys: &[f32; 12]) -> Kind {
        const KINDS: [Kind; 3] = [Kind::Major, Kind::Minor, Kind::Diminished];
        let root = usize::from(now.root);
        let mut odds = [0.0f32; KINDS.len()];
        for (key, weight) in keys.iter().enumerate().filter(|(_, weight)| **weight >= FEW) {
            let degree = |root: usize| (root + 12 - key) % 12;
            let above = (to.index() + 12 - root) % 12;
            let comes = (degree(root) * TriadShape::COUNT + now.triad as usize) * 12 + above;
            let comes = self.in_key.get(comes).map_or(0.0, |byte| meant(*byte));
            let on = degree(to.index()) * TriadShape::COUNT;
            let triads = self.degrees.get(on..).and_then(|on| on.first_chunk());
            let triads = triads.map_or([0.0; TriadShape::COUNT], |nats| nats.map(nats::odds));
            let all: f32 = triads.iter().sum();
            let share = weight * comes / all.max(f32::MIN_POSITIVE);
            for (odds, triad) in odds.iter_mut().zip(triads) {
                *odds += share * triad;
            }
        }
        let best = KINDS.iter().zip(odds).rev().max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(Kind::Major, |(kind, _)| *kind)
    }

    /// What may follow the last of `events`, where each key signature is as
    /// likely as `keys` says.
    pub fn chains(&self, events: &[RootSpan], keys: &[f32; 12]) -> Chains {
        let mut chains = [[0.0; 12]; Self::CHAINS];
        let Some((now, past)) = events.split_last() else { return chains };
        let root = usize::from(now.root);
        let [one, two, three, in_key, in_key_two] = &mut chains;
        *one = row(self.after_one, now.triad as usize, root);
        let before = past.last();
        let moved = |to: &RootSpan, from: &RootSpan| usize::from((to.root + 12 - from.root) % 12);
        *two = before.map_or(*one, |b| {
            row(
                self.after_two,
                (moved(now, b) * 3 + b.triad.coarse()) * 7 + now.triad as usize,
                root,
            )
        });
        *three = match past {
            [.., a, b] => {
                let index = (moved(b, a) * 12 + moved(now, b)) * 3 + now.triad.coarse();
                row(self.after_three, index, root)
            }
            _ => *two,
        };
        // The two likeliest keys say nearly all there is to say.
        let first = likeliest(keys, None);
        for key in [first, likeliest(keys, Some(first))] {
            let weight = PitchClass::at(key).of(keys);
            let degree = (root + 12 - key) % 12;
            let single = row(self.in_key, degree * 7 + now.triad as usize, root);
            let pair = before.map_or(single, |b| {
                let from = (usize::from(b.root) + 12 - key) % 12;
                row(self.in_key_two, (from * 12 + degree) * 3 + now.triad.coarse(), root)
            });
            for (sum, odds) in in_key.iter_mut().zip(single) {
                *sum += weight * odds;
            }
            for (sum, odds) in in_key_two.iter_mut().zip(pair) {
                *sum += weight * odds;
            }
        }
        for chain in &mut chains {
            let sum: f32 = chain.iter().sum();
            chain.iter_mut().for_each(|odds| *odds /= sum.max(1e-6));
        }
        chains
    }
}

fn likeliest(keys: &[f32; 12], except: Option<usize>) -> usize {
    let mut best = usize::from(except == Some(0));
    for (key, weight) in keys.iter().enumerate() {
        if Some(key) != except && *weight > PitchClass::at(best).of(keys) {
            best = key;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::MEANT;

    #[test]
    fn a_byte_stands_for_a_power_of_e() {
        for (byte, meant) in MEANT[..255].iter().enumerate() {
            assert_eq!(*meant, crate::maths::exp(-(byte as f32) / 32.0), "{byte}");
        }
        assert_eq!(MEANT[255], 0.0, "none");
    }
}
