//! The plugin's state, saved and restored in pieces.

use serde_json::{Value, json};

use super::*;

impl ClapHost {
    pub fn save(&self) -> Vec<u8> {
        self.save_in_pieces(13)
    }

    /// Takes at most so many bytes at once, as hosts may.
    pub fn save_in_pieces(&self, most: usize) -> Vec<u8> {
        let state: &clap_plugin_state = self.extension(CLAP_EXT_STATE);
        let mut taken: (Vec<u8>, usize) = (vec![], most);
        let stream = clap_ostream { ctx: (&raw mut taken).cast(), write: Some(write) };
        assert!(unsafe { state.save.unwrap()(self.plugin, &raw const stream) });
        taken.0
    }

    pub fn restore(&self, bytes: &[u8]) -> bool {
        self.restore_in_pieces(bytes, 13)
    }

    /// Gives at most so many bytes at once.
    pub fn restore_in_pieces(&self, bytes: &[u8], most: usize) -> bool {
        let state: &clap_plugin_state = self.extension(CLAP_EXT_STATE);
        let mut given: (&[u8], usize) = (bytes, most);
        let stream = clap_istream { ctx: (&raw mut given).cast(), read: Some(read) };
        unsafe { state.load.unwrap()(self.plugin, &raw const stream) }
    }
}

/// The state with another chart.
pub fn with_chart(saved: &[u8], chart: &str) -> Vec<u8> {
    let mut state = opened(saved);
    state["fields"]["chart"] = json!(json!(chart).to_string());
    closed(&state)
}

/// The state as JSON, without its length.
pub fn opened(saved: &[u8]) -> Value {
    serde_json::from_slice(&saved[8..]).unwrap()
}

pub fn closed(state: &Value) -> Vec<u8> {
    framed(&state.to_string())
}

/// A text behind its length, as a state is saved.
pub fn framed(text: &str) -> Vec<u8> {
    let mut bytes = (text.len() as u64).to_le_bytes().to_vec();
    bytes.extend(text.bytes());
    bytes
}

pub unsafe extern "C" fn write(stream: *const clap_ostream, from: *const c_void, size: u64) -> i64 {
    let (bytes, most) = unsafe { &mut *(*stream).ctx.cast::<(Vec<u8>, usize)>() };
    let piece = (size as usize).min(*most);
    bytes.extend_from_slice(unsafe { std::slice::from_raw_parts(from.cast(), piece) });
    piece as i64
}

pub unsafe extern "C" fn read(stream: *const clap_istream, to: *mut c_void, size: u64) -> i64 {
    let (rest, most) = unsafe { &mut *(*stream).ctx.cast::<(&[u8], usize)>() };
    let piece = rest.len().min(size as usize).min(*most);
    unsafe { std::ptr::copy_nonoverlapping(rest.as_ptr(), to.cast(), piece) };
    *rest = &rest[piece..];
    piece as i64
}
