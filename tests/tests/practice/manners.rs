//! What a listener notices of a whole take: precision and recall of each kind over
//! takes that were made with it, and without. `cargo test -p sinistra-tests --test
//! practice manners -- --nocapture` prints the table.

use std::collections::BTreeSet;

use sinistra_core::chord::Symbol;
use sinistra_score::practice::{
    Hand, Manner, Syllable, Take, TakeReference, TakeStroke, Target, TargetNote, judge,
};

use crate::exercise::exercise;
use crate::found::FoundTally;
use crate::random::Random;

const KINDS: [Manner; 11] = [
    Manner::Rushed,
    Manner::SlowedDown,
    Manner::UnsteadyBeat,
    Manner::UnsteadyAnds,
    Manner::LateAnds,
    Manner::EarlyAnds,
    Manner::HandsApart,
    Manner::Uneven,
    Manner::AccentsReversed,
    Manner::Short,
    Manner::PedalHeld,
];

/// Exercises with accents, and a chord a bar.
fn accented(random: &mut Random) -> Target {
    let target = exercise(random);
    let notes = target.notes().iter().map(|note| {
        let velocity = match (note.count.number, note.on_pulse) {
            (1, true) => 92,
            (_, true) => 78,
            _ => 62,
        };
        let symbol = Symbol::read(["C", "F", "G", "Am"][note.bar as usize % 4]).ok();
        TargetNote { velocity, symbol, ..*note }
    });
    let metre = sinistra_core::time::Metre::COMMON;
    let mut made = Target::new(notes.collect(), target.key, target.tempo, metre);
    made.pulse = target.pulse;
    made
}

/// Faults that can be heard in one take together, and that the target can have.
fn wished(target: &Target, random: &mut Random) -> BTreeSet<Manner> {
    let left = || target.notes().iter().filter(|note| note.hand == Hand::Left);
    let ands = left().filter(|n| n.count.part == Syllable::And && !n.on_pulse).count();
    let beats = left().filter(|n| n.on_pulse).count();
    let places = target.notes().iter().filter(|note| note.hand == Hand::Right).count() / 3;
    let may = |kind: &Manner| match kind {
        Manner::UnsteadyAnds | Manner::LateAnds | Manner::EarlyAnds => ands >= 12 && beats >= 12,
        Manner::UnsteadyBeat => beats >= 12,
        Manner::HandsApart => places >= 8,
        Manner::AccentsReversed => ands >= 12,
        _ => true,
    };
    let excludes = |a: Manner, b: Manner| {
        let group = |kind: Manner| match kind {
            Manner::Rushed | Manner::SlowedDown => 1,
            Manner::UnsteadyBeat | Manner::UnsteadyAnds | Manner::LateAnds | Manner::EarlyAnds => 2,
            Manner::HandsApart => 2,
            Manner::Uneven | Manner::AccentsReversed => 3,
            _ => 4 + kind as u8,
        };
        group(a) == group(b)
    };
    let mut wished = BTreeSet::new();
    for _ in 0..random.pick(&[0, 1, 1, 2]) {
        let kind = random.pick(&KINDS);
        if may(&kind) && !wished.iter().any(|other| excludes(*other, kind)) {
            wished.insert(kind);
        }
    }
    wished
}

fn played(target: &Target, faults: &BTreeSet<Manner>, random: &mut Random) -> Take {
    let has = |kind| faults.contains(&kind);
    let beat_ms = target.pulse_ms(target.tempo);
    let end = target.notes().last().map_or(1.0, |note| note.at.0 as f64);
    let drift = if has(Manner::Rushed) {
        random.between(0.12, 0.25)
    } else if has(Manner::SlowedDown) {
        -random.between(0.12, 0.2)
    } else {
        random.between(-0.015, 0.015)
    };
    // The time of a tick at a tempo that changes evenly.
    let ms = |tick: f64| {
        let x = tick / end;
        let period = 60_000.0 / target.tempo / 960.0;
        tick * period * (1.0 - drift * x / 2.0)
    };
    let calm = random.between(4.0, 12.0);
    let scatter = beat_ms * random.between(0.09, 0.11);
    let ands = if has(Manner::LateAnds) {
        random.between(0.09, 0.14) * beat_ms
    } else if has(Manner::EarlyAnds) {
        -random.between(0.09, 0.14) * beat_ms
    } else {
        0.0
    };
    let apart = if has(Manner::HandsApart) { random.between(55.0, 90.0) } else { 0.0 };
    let length =
        if has(Manner::Short) { random.between(0.1, 0.35) } else { random.between(0.75, 1.0) };
    let uneven = if has(Manner::Uneven) { 27.0 } else { random.between(2.0, 6.0) };
    let mut strokes = Vec::new();
    for note in target.notes() {
        let left = note.hand == Hand::Left;
        let and = left && note.count.part == Syllable::And && !note.on_pulse;
        let spread = match () {
            () if has(Manner::UnsteadyBeat) && left => scatter,
            () if has(Manner::UnsteadyAnds) && and => scatter,
            () => calm,
        };
        let mut late = random.normal(spread);
        late += if and { ands } else { 0.0 };
        late += if left { apart } else { 0.0 };
        let at_ms = 1_000.0 + ms(note.at.0 as f64) + late;
        let level = f64::from(note.velocity);
        let level = if has(Manner::AccentsReversed) { 154.0 - level } else { level };
        let asked = ms(note.until.0 as f64) - ms(note.at.0 as f64);
        strokes.push(TakeStroke {
            at_ms,
            until_ms: at_ms + asked * length,
            key: note.key,
            velocity: (level + random.normal(uneven)).clamp(1.0, 127.0) as u8,
        });
    }
    let pedals = match has(Manner::PedalHeld) {
        true => vec![(900.0, true)],
        false if random.chance(0.4) => pedalled(target, random, ms),
        false => vec![],
    };
    Take::new(strokes).with_pedals(pedals)
}

/// Up with each bar's first chord, down again a little later.
fn pedalled(target: &Target, random: &mut Random, ms: impl Fn(f64) -> f64) -> Vec<(f64, bool)> {
    let first = |note: &&TargetNote| note.count.number == 1 && note.on_pulse;
    let bars: BTreeSet<i64> = target.notes().iter().filter(first).map(|note| note.at.0).collect();
    let change = |bar: i64| {
        let at = 1_000.0 + ms(bar as f64) + random.between(0.0, 60.0);
        [(at, false), (at + 120.0, true)]
    };
    bars.into_iter().flat_map(change).collect()
}

#[test]
fn manners_are_noticed_where_they_are_and_only_there() {
    let mut tally = FoundTally::default();
    for seed in 0..600 {
        let mut random = Random::new(seed);
        let target = accented(&mut random);
        let faults = wished(&target, &mut random);
        let take = played(&target, &faults, &mut random);
        let verdict = judge(&target, &take, TakeReference::Own).expect("it is in it");
        let found: BTreeSet<Manner> = verdict.manners.iter().copied().collect();
        if found != faults {
            println!("seed {seed}: made {faults:?}, found {found:?}");
        }
        tally.count(&faults, &found, |kind| format!("{kind:?}"));
    }
    let report = tally.report();
    assert_eq!(report.len(), KINDS.len() + 1, "every kind is made, and no other found");
    for (kind, made, precision, recall) in report {
        assert!(made >= 8, "{kind}: only {made} made");
        assert!(precision >= 0.98 && recall >= 0.98, "{kind}: below .98, the table above");
    }
}
