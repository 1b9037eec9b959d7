//! What comes next, end to end: foresight's odds, what the song recalls of that
//! place and the ear's own doubt, weighed by how often they came true.
//!
//! Learned from what the engine itself believed while it heard songs that the ear
//! did not know: `core/models/next.md`.

use crate::foresee::Forecast;
use crate::hear::Ear;
use crate::learned::net;
use crate::maths;
use crate::net::{Net, softmax};
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// Values of a candidate root: foresight's odds, the ear's odds that it holds
/// now, what is recalled for when the change comes and a beat later (nats);
/// whether it holds by the ear; whether foresight has it first; whether it lies a
/// third below what holds, or above: such chords share two tones, and the ear takes
/// one for the other.
pub const OWN: usize = 8;

/// Values of the moment: the ear's odds of the chord that it hears, foresight's
/// of its first root and its time, how much is recalled, how long the song is
/// known, beats until the change and since the last one, how sure chords have
/// lately been heard.
pub const SHARED: usize = 8;

/// Values of the forecast that is made of it: those of the moment, the odds of
/// the root that is said now, how much the next likely one has, how often it is
/// recalled, what foresight alone has for it, whether it is a third away.
pub const SAID: usize = SHARED + 6;

/// The two networks.
#[derive(Clone, Copy, Debug)]
pub struct NextModel {
    /// Scores the twelve roots.
    pub next: Net,
    /// Whether the root comes at the time foreseen.
    pub together: Net,
}

/// As shipped.
pub static MODEL: NextModel = NextModel {
    next: net!(FILE, "next", OWN, SHARED, HIDDEN),
    together: net!(FILE, "together", SAID, 0, HIDDEN),
};

const FILE: &[u8] = include_bytes!("../../models/next.model");

/// Hidden units of both.
const HIDDEN: usize = 16;

/// What is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NextSigns {
    /// A column a value, a row a candidate.
    pub own: [[f32; 12]; OWN],
    /// See [`SHARED`].
    pub shared: [f32; SHARED],
}

/// What is known of the present chord.
#[derive(Clone, Copy, Debug)]
pub struct Present {
    /// The moment.
    pub at: Ticks,
    /// When the chord began.
    pub since: Ticks,
    /// Chords remembered.
    pub remembered: usize,
    /// How sure chords have lately been, 0..=1.
    pub lately: f32,
}

fn nats<const N: usize>(odds: [f32; N]) -> [f32; N] {
    let mut nats = odds.map(|odds| odds + 0.01);
    maths::lns(&mut nats);
    nats.map(|ln| ln / 2.0 + 1.5)
}

/// The roots a third below the one that holds, and those above it.
fn thirds(holds: Option<PitchClass>) -> [[f32; 12]; 2] {
    let ways: [fn(PitchClass, PitchClass) -> bool; 2] =
        [|root, held| held.is_third_above(root), |root, held| root.is_third_above(held)];
    ways.map(|away| {
        let is = |root| holds.is_some_and(|held| away(PitchClass::at(root), held));
        core::array::from_fn(|root| f32::from(u8::from(is(root))))
    })
}

impl NextSigns {
    /// Gathers them for a forecast by memory or odds.
    pub fn gather(ear: &Ear, foreseen: &[f32; 12], said: &Forecast, present: Present) -> Self {
        let hearing = ear.hearing();
        let holds = hearing.chord.map(|chord| chord.root);
        let beat = Ticks(Ticks::PER_BEAT);
        let (then, known) = ear.recalled(said.at);
        let (later, _) = ear.recalled(said.at + beat);
        let one = |of: Option<PitchClass>| {
            core::array::from_fn(|root| f32::from(u8::from(of == Some(PitchClass::at(root)))))
        };
        let [below, above] = thirds(holds);
        let own = [
            nats(*foreseen),
            nats(hearing.roots),
            nats(then),
            nats(later),
            one(holds),
            one(Some(said.chord.root)),
            below,
            above,
        ];
        let sure = holds.map_or(0.0, |root| root.of(&hearing.roots));
        let shared = [
            sure,
            said.certainty,
            said.when_certainty,
            known,
            (present.remembered as f32 / 32.0).min(1.0),
            (maths::single((said.at - present.at).beats()) / 4.0).clamp(-1.0, 2.0),
            (maths::single((present.at - present.since).beats()) / 4.0).clamp(0.0, 2.0),
            present.lately,
        ];
        Self { own, shared }
    }

    /// Odds of the next root, end to end.
    pub fn odds(&self, model: &NextModel) -> [f32; 12] {
        let mut odds = [0.0; 12];
        model.next.score(&self.own, &self.shared, &mut odds);
        softmax(&mut odds);
        odds
    }

    /// What the second network looks at, for the root that is said.
    pub fn of_said(&self, odds: &[f32; 12], root: PitchClass) -> [f32; SAID] {
        let mut said = [0.0; SAID];
        let (shared, own) = said.split_at_mut(SHARED);
        shared.copy_from_slice(&self.shared);
        let second = PitchClass::all().filter(|other| *other != root).map(|other| other.of(odds));
        let [of_root] = nats([root.of(odds)]);
        own.copy_from_slice(&[
            of_root,
            second.fold(0.0, f32::max),
            root.of(&self.own[2]),
            root.of(&self.own[0]),
            root.of(&self.own[6]),
            root.of(&self.own[7]),
        ]);
        said
    }

    /// How sure it is that `root` comes at the time foreseen.
    pub fn together(&self, model: &NextModel, odds: &[f32; 12], root: PitchClass) -> f32 {
        let columns = self.of_said(odds, root).map(|value| [value, 0.0]);
        let mut scores = [0.0; 2];
        model.together.score(&columns, &[], &mut scores);
        softmax(&mut scores);
        scores[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::{Chord, Kind};
    use crate::foresee::Source;
    use crate::pitch::KeyNumber;

    const BEAT: Ticks = Ticks(Ticks::PER_BEAT);

    /// A new ear, and G foreseen so surely, so many beats from now.
    fn signs(beats: i64, sure: f32) -> NextSigns {
        let ear = Ear::new(KeyNumber::clamped(60));
        let mut odds = [(1.0 - sure) / 11.0; 12];
        odds[7] = sure;
        let chord = Chord::new(PitchClass::new(7), Kind::Major);
        let now = Ticks(3 * BEAT.0);
        let at = Ticks(now.0 + beats * BEAT.0);
        let said = Forecast::new(chord, at, sure, Source::Memory);
        let present = Present { at: now, since: Ticks(2 * BEAT.0), remembered: 16, lately: 0.75 };
        NextSigns::gather(&ear, &odds, &said, present)
    }

    #[test]
    fn odds_are_weighed_as_logarithms() {
        for (odds, is) in [(0.99, 1.5), (0.09, 0.348_707), (0.0, -0.802_585)] {
            let [nats] = nats([odds]);
            assert!((nats - is).abs() < 1e-5, "{odds}: {nats}");
        }
    }

    #[test]
    fn of_the_moment_it_knows_how_surely_and_when() {
        let signs = signs(2, 0.5);
        assert_eq!(signs.shared[1], 0.5);
        assert_eq!(signs.shared[4..], [16.0 / 32.0, 2.0 / 4.0, 1.0 / 4.0, 0.75]);
        assert_eq!(self::signs(-2, 0.5).shared[5], -0.5); // it is overdue
        let said = PitchClass::all().map(|root| root.of(&signs.own[5]));
        assert!(said.eq((0..12).map(|root| if root == 7 { 1.0 } else { 0.0 })));
    }

    #[test]
    fn what_is_foreseen_surely_is_likeliest_and_surer_to_come_in_time() {
        let g = PitchClass::new(7);
        let [little, much] = [0.2, 0.98].map(|sure| {
            let signs = signs(2, sure);
            let odds = signs.odds(&MODEL);
            assert!((odds.iter().sum::<f32>() - 1.0).abs() < 1e-5);
            assert_eq!(PitchClass::likeliest(&odds, |_| false).map(|(root, _)| root), Some(g));
            (g.of(&odds), signs.together(&MODEL, &odds, g))
        });
        assert!(much.0 > little.0 && much.1 > little.1, "{little:?} {much:?}");
        assert!([little, much].iter().all(|(_, sure)| (0.001..0.999).contains(sure)));
    }

    #[test]
    fn the_second_network_sees_the_moment_and_what_is_said() {
        let signs = signs(2, 0.5);
        let mut odds = [0.0; 12];
        (odds[7], odds[0]) = (0.625, 0.375);
        let g = PitchClass::new(7);
        let said = signs.of_said(&odds, g);
        assert_eq!(said[..SHARED], signs.shared);
        let of = |column: usize| g.of(&signs.own[column]);
        assert_eq!(said[SHARED..], [nats([0.625])[0], 0.375, of(2), of(0), of(6), of(7)]);
    }

    #[test]
    fn a_third_below_c_are_a_and_a_flat_above_it_e_and_e_flat() {
        let roots = |column: [f32; 12]| (0..12).filter(|n| column[*n] > 0.0).collect::<Vec<_>>();
        assert_eq!(thirds(Some(PitchClass::C)).map(roots), [vec![8, 9], vec![3, 4]]);
        assert_eq!(thirds(None).map(roots), [vec![], vec![]]);
    }
}
