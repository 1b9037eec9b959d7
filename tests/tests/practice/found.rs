//! What was made beside what was found of it, kind by kind.

use std::collections::{BTreeMap, BTreeSet};

/// Of each kind: how many were made, found, and both.
#[derive(Default)]
pub struct FoundTally(BTreeMap<String, [usize; 3]>);

impl FoundTally {
    /// Counts a take; `kind` names what kind one is of.
    pub fn count<T: Ord>(
        &mut self,
        made: &BTreeSet<T>,
        found: &BTreeSet<T>,
        kind: impl Fn(&T) -> String,
    ) {
        let all = made.union(found).map(|one| (one, made.contains(one), found.contains(one)));
        for (one, made, found) in all {
            let counts = self.0.entry(kind(one)).or_default();
            let is = [made, found, made && found].map(usize::from);
            counts.iter_mut().zip(is).for_each(|(count, one)| *count += one);
        }
    }

    /// Prints a line a kind and one of all; gives what is asked of each: its name, how
    /// many were made, precision and recall.
    pub fn report(&self) -> Vec<(String, usize, f64, f64)> {
        let sum = |sums: [usize; 3], counts: &[usize; 3]| [0, 1, 2].map(|n| sums[n] + counts[n]);
        let all = ("all".to_owned(), self.0.values().fold([0; 3], sum));
        let kinds = self.0.iter().map(|(kind, counts)| (kind.clone(), *counts));
        println!("kind             made found both precision recall");
        let line = |(kind, [made, found, both]): (String, [usize; 3])| {
            let (precision, recall) = (both as f64 / found as f64, both as f64 / made as f64);
            println!("{kind:<16} {made:4} {found:5} {both:4} {precision:9.4} {recall:6.4}");
            (kind, made, precision, recall)
        };
        kinds.chain([all]).map(line).collect()
    }
}
