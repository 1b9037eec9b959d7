//! The plugin under any CLAP host and player, in the tests' own host, which checks the
//! rules of the format at every call.
#![no_main]
#![allow(dead_code)] // of what the tests share

#[path = "../../plugin/tests/clap_host/mod.rs"]
mod clap_host;
#[path = "../src/dice.rs"]
mod dice;
#[path = "../../plugin/tests/ledger/mod.rs"]
mod ledger;
#[path = "../../plugin/tests/nights/clap.rs"]
mod night_host;
#[path = "../../plugin/tests/nights/mod.rs"]
mod nights;
#[path = "../../plugin/tests/player/mod.rs"]
mod player;

use clap_sys::entry::clap_plugin_entry;
use libfuzzer_sys::fuzz_target;
use sinistra_plugin as _;

unsafe extern "C" {
    static clap_entry: clap_plugin_entry;
}

fuzz_target!(|bytes: &[u8]| {
    let mut host = clap_host::ClapHost::of(unsafe { clap_entry }, "/");
    host.begin();
    nights::night(&mut host, &mut dice::Dice(bytes), bytes.len() as u32 / 4);
});
