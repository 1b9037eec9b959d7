//! The note ports: one in, two out (clap 1.2, `ext/note-ports.h`).

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_char;

use clap_sys::ext::note_ports::{
    CLAP_NOTE_DIALECT_CLAP, CLAP_NOTE_DIALECT_MIDI, clap_note_port_info, clap_plugin_note_ports,
};
use clap_sys::plugin::clap_plugin;
use clap_sys::string_sizes::CLAP_NAME_SIZE;

use crate::second_output::{INPUT, OUTPUTS};

/// Answers the host.
pub static PORTS: clap_plugin_note_ports =
    clap_plugin_note_ports { count: Some(count), get: Some(get) };

unsafe extern "C" fn count(_: *const clap_plugin, is_input: bool) -> u32 {
    if is_input { 1 } else { 2 }
}

unsafe extern "C" fn get(
    _: *const clap_plugin,
    index: u32,
    is_input: bool,
    info: *mut clap_note_port_info,
) -> bool {
    // There is but one input. Yet a validator of the format (up to its version
    // 0.3) counts the outputs and then asks for them as inputs.
    let name = match (index, is_input) {
        (0, true) => INPUT,
        (0, false) => OUTPUTS[0],
        (1, _) => OUTPUTS[1],
        _ => return false,
    };
    if info.is_null() {
        return false;
    }
    let info_now = clap_note_port_info {
        id: index,
        supported_dialects: CLAP_NOTE_DIALECT_CLAP | CLAP_NOTE_DIALECT_MIDI,
        preferred_dialect: CLAP_NOTE_DIALECT_CLAP,
        name: padded(name),
    };
    // SAFETY: the host passes room for it (`note-ports.h`).
    unsafe { info.write(info_now) };
    true
}

fn padded(name: &str) -> [c_char; CLAP_NAME_SIZE] {
    let mut room = [0; CLAP_NAME_SIZE];
    for (place, byte) in room.iter_mut().zip(name.bytes()) {
        *place = byte as c_char;
    }
    room
}
