//! Ten thousand things that a VST3 host may do, in a random order from a fixed
//! seed: at the end every note has ended.

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

mod dice;
mod ledger;
#[path = "nights/vst3.rs"]
mod night_host;
mod nights;
mod player;
mod vst3_host;

#[test]
fn ten_thousand_actions_leave_no_note_behind() {
    let mut host = vst3_host::Vst3Host::started();
    let [answers, apart] = nights::night(&mut host, &mut dice::Dice::new(21), 10_000);
    assert!(answers > 100, "the left hand played no more than {answers} notes");
    assert!(apart > 20, "no more than {apart} events at its own output");
}
