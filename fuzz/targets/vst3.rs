//! The plugin under any VST3 host and player, in the tests' own host.
#![no_main]
#![allow(dead_code, clippy::unnecessary_cast)] // of what the tests share

#[path = "../src/dice.rs"]
mod dice;
#[path = "../../plugin/tests/ledger/mod.rs"]
mod ledger;
#[path = "../../plugin/tests/nights/vst3.rs"]
mod night_host;
#[path = "../../plugin/tests/nights/mod.rs"]
mod nights;
#[path = "../../plugin/tests/player/mod.rs"]
mod player;
#[path = "../../plugin/tests/vst3_host/mod.rs"]
mod vst3_host;

use libfuzzer_sys::fuzz_target;
use sinistra_plugin as _;
use vst3::ComPtr;
use vst3::Steinberg::IPluginFactory;

unsafe extern "system" {
    fn GetPluginFactory() -> *mut IPluginFactory;
}

fuzz_target!(|bytes: &[u8]| {
    let factory = unsafe { ComPtr::from_raw(GetPluginFactory()) }.expect("a factory");
    let mut host = vst3_host::Vst3Host::made_by(&factory);
    host.begin();
    nights::night(&mut host, &mut dice::Dice(bytes), bytes.len() as u32 / 4);
});
