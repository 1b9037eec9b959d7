//! Precision, recall and timing error on a thousand spoiled takes.
//! `cargo test --release -p sinistra-tests --test practice thousand -- --ignored --nocapture`
//! prints them; `SINISTRA_VERBOSE=1` names every take that was not judged as spoiled.

use std::collections::BTreeSet;

use sinistra_score::practice::{Outcome, TakeReference, Verdict, judge};

use crate::distort::{Spoiled, spoil};
use crate::exercise::exercise;
use crate::found::FoundTally;
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

/// Faults by kind and place: notes of the target, strokes of the take that are extra.
type Faults = BTreeSet<(String, usize)>;

fn made(spoiled: &Spoiled) -> Faults {
    let notes = spoiled.notes.iter().map(|(index, outcome)| (format!("{outcome:?}"), *index));
    notes.chain(spoiled.extras.iter().map(|stroke| ("Extra".to_owned(), *stroke))).collect()
}

fn found(verdict: &Verdict) -> Faults {
    let notes = verdict.notes.iter().enumerate();
    let wrong = notes.filter(|(_, note)| note.outcome != Outcome::Right);
    let wrong = wrong.map(|(index, note)| (format!("{:?}", note.outcome), index));
    wrong.chain(verdict.extras.iter().map(|extra| ("Extra".to_owned(), extra.stroke))).collect()
}

fn judge_many(takes: u64) {
    let verbose = std::env::var_os("SINISTRA_VERBOSE").is_some();
    let (mut tally, mut unblemished) = (FoundTally::default(), 0);
    let mut errors: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
    for seed in 0..takes {
        let mut random = Random::new(seed);
        let target = exercise(&mut random);
        let share = random.pick(&[0.0, 0.04, 0.08, 0.12]);
        let spoiled = spoil(&target, share, &mut random);
        let verdict = judge(&target, &spoiled.take, spoiled.beat).expect("found in the take");
        assert_eq!(verdict.notes.len(), target.notes().len(), "seed {seed}: no hand was left out");
        let (made, found) = (made(&spoiled), found(&verdict));
        tally.count(&made, &found, |(kind, _)| kind.clone());
        unblemished += usize::from(made == found);
        if verbose && made != found {
            println!(
                "seed {seed} ({}): not found {:?}, invented {:?}",
                spoiled.story,
                made.difference(&found).collect::<Vec<_>>(),
                found.difference(&made).collect::<Vec<_>>()
            );
        }
        let own = usize::from(spoiled.beat == TakeReference::Own);
        for (index, late) in &spoiled.late_ms {
            let note = &verdict.notes[*index];
            if note.played == Some(target.notes()[*index].key) {
                errors[own].extend(note.late_ms.map(|told| (told - late).abs()));
            }
        }
    }
    println!("{takes} takes, {unblemished} with exactly the faults that were made");
    let report = tally.report();
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
    for (kind, made, precision, recall) in report {
        assert!(made >= 30, "{kind}: only {made} made");
        assert!(precision >= 0.98 && recall >= 0.98, "{kind}: below .98, the table above");
    }
}
