//! Precision, recall and timing error on a thousand spoiled takes.
//! `cargo test --release -p sinistra-tests --test practice thousand -- --ignored --nocapture`
//! prints them; `SINISTRA_VERBOSE=1` names every take that was not judged as spoiled.

use std::collections::BTreeSet;

use sinistra_score::practice::{Outcome, TakeReference, judge};

use crate::distort::spoil;
use crate::exercise::exercise;
use crate::random::Random;

#[test]
fn spoiled_takes_are_judged_rightly() {
    judge_many(100);
}

#[test]
#[ignore = "long: for the figures"]
fn a_thousand_spoiled_takes_are_judged_rightly() {
    judge_many(1000);
}

fn judge_many(takes: u64) {
    let verbose = std::env::var_os("SINISTRA_VERBOSE").is_some();
    let (mut hits, mut injected, mut reported) = (0usize, 0usize, 0usize);
    let mut by_kind: std::collections::BTreeMap<String, [usize; 3]> = Default::default();
    let mut errors: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
    let mut unblemished = 0;
    for seed in 0..takes {
        let mut random = Random::new(seed);
        let target = exercise(&mut random);
        let share = random.pick(&[0.0, 0.04, 0.08, 0.12]);
        let spoiled = spoil(&target, share, &mut random);
        let verdict = judge(&target, &spoiled.take, spoiled.beat).expect("found in the take");
        assert_eq!(verdict.notes.len(), target.notes().len(), "seed {seed}: no hand was left out");
        let mut truth: BTreeSet<(String, usize)> =
            spoiled.notes.iter().map(|(i, o)| (format!("{o:?}"), *i)).collect();
        truth.extend(spoiled.extras.iter().map(|i| ("Extra".to_string(), *i)));
        let mut found: BTreeSet<(String, usize)> = verdict
            .notes
            .iter()
            .enumerate()
            .filter(|(_, n)| n.outcome != Outcome::Right)
            .map(|(i, n)| (format!("{:?}", n.outcome), i))
            .collect();
        found.extend(verdict.extras.iter().map(|e| ("Extra".to_string(), e.stroke)));
        for fault in &truth {
            by_kind.entry(fault.0.clone()).or_default()[0] += 1;
        }
        for fault in &found {
            by_kind.entry(fault.0.clone()).or_default()[1] += 1;
        }
        for fault in truth.intersection(&found) {
            by_kind.entry(fault.0.clone()).or_default()[2] += 1;
        }
        hits += truth.intersection(&found).count();
        injected += truth.len();
        reported += found.len();
        unblemished += usize::from(truth == found);
        if verbose && truth != found {
            println!(
                "seed {seed} ({}): not found {:?}, invented {:?}",
                spoiled.story,
                truth.difference(&found).collect::<Vec<_>>(),
                found.difference(&truth).collect::<Vec<_>>()
            );
        }
        let own = usize::from(spoiled.beat == TakeReference::Own);
        for (index, late) in &spoiled.late_ms {
            if let Some(told) = verdict.notes[*index].late_ms
                && verdict.notes[*index].played == Some(target.notes()[*index].key)
            {
                errors[own].push((told - late).abs());
            }
        }
    }
    let precision = hits as f64 / reported as f64;
    let recall = hits as f64 / injected as f64;
    println!("{takes} takes, {injected} faults injected, {reported} reported");
    println!("precision {:.2} %, recall {:.2} %", precision * 100.0, recall * 100.0);
    println!("takes with exactly the injected faults: {unblemished}");
    for (kind, [injected, reported, hits]) in &by_kind {
        println!("  {kind:7} injected {injected:5} reported {reported:5} both {hits:5}");
    }
    for (errors, clock) in errors.iter_mut().zip(["metronome", "own beats"]) {
        errors.sort_by(f64::total_cmp);
        let at = |share: f64| errors[((errors.len() - 1) as f64 * share) as usize];
        println!(
            "timing error by {clock}: median {:.3} ms, 95 % {:.3} ms, most {:.3} ms ({} notes)",
            at(0.5),
            at(0.95),
            at(1.0),
            errors.len()
        );
    }
    assert!(precision >= 0.99, "precision {precision}");
    assert!(recall >= 0.99, "recall {recall}");
}
