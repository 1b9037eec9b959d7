//! Ten thousand things that a host may do, in a random order from a fixed
//! seed: at the end every note of the left hand has ended.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;
mod dice;
mod ledger;
#[path = "nights/clap.rs"]
mod night_host;
mod nights;
mod player;

#[test]
fn ten_thousand_actions_leave_no_note_behind() {
    let mut host = clap_host::ClapHost::started();
    let [answers, apart] = nights::night(&mut host, &mut dice::Dice::new(7), 10_000);
    assert!(answers > 100, "the left hand played no more than {answers} notes");
    assert!(apart > 20, "no more than {apart} events at its own output");
}
