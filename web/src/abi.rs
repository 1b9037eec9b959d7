//! What the page's scripts call. Pointers are into linear memory, and come from
//! [`room`], [`live_new`] or an answer of ours.

#![allow(unsafe_code, reason = "the page reaches us through a plain C interface")]

use std::slice;

use sinistra_core::midi::Message;
use sinistra_sound::Recording;

use crate::desk::{Desk, Reply};
use crate::live::{Live, message_of};

/// Room for `bytes` bytes that the page writes; [`room_back`] gives it back.
#[unsafe(no_mangle)]
pub extern "C" fn room(bytes: usize) -> *mut u8 {
    Box::leak(vec![0u8; bytes].into_boxed_slice()).as_mut_ptr()
}

/// Gives [`room`]'s bytes back.
///
/// # Safety
/// `at` and `bytes` are those of one call of [`room`], given back once.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn room_back(at: *mut u8, bytes: usize) {
    // SAFETY: by the caller's word a boxed slice of this length, leaked by `room`.
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(at, bytes)) });
}

/// Room for `count` frames of two samples, for [`live_learn`].
#[unsafe(no_mangle)]
pub extern "C" fn frames_room(count: usize) -> *mut [i16; 2] {
    Box::leak(vec![[0i16; 2]; count].into_boxed_slice()).as_mut_ptr()
}

/// A desk.
#[unsafe(no_mangle)]
pub extern "C" fn desk_new() -> *mut Desk {
    Box::into_raw(Box::default())
}

/// Asks the desk: a question in JSON, and the bytes of a file where it is about one.
///
/// # Safety
/// `desk` is [`desk_new`]'s; both spans lie in [`room`]s.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn desk_ask(
    desk: *mut Desk,
    question: *const u8,
    question_bytes: usize,
    file: *const u8,
    file_bytes: usize,
) {
    // SAFETY: the caller's word, above.
    let (desk, question, file) = unsafe {
        (
            &mut *desk,
            slice::from_raw_parts(question, question_bytes),
            slice::from_raw_parts(file, file_bytes),
        )
    };
    desk.ask(question, file);
}

/// Where the last answer is: its JSON (part 0) or its file (part 1).
///
/// # Safety
/// `desk` is [`desk_new`]'s.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn desk_answer(desk: *const Desk, part: u32) -> *const u8 {
    // SAFETY: the caller's word, above.
    part_of(unsafe { &(*desk).answer }, part).as_ptr()
}

/// How many bytes [`desk_answer`] has.
///
/// # Safety
/// `desk` is [`desk_new`]'s.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn desk_answer_bytes(desk: *const Desk, part: u32) -> usize {
    // SAFETY: the caller's word, above.
    part_of(unsafe { &(*desk).answer }, part).len()
}

fn part_of(answer: &Reply, part: u32) -> &[u8] {
    if part == 0 { &answer.json } else { &answer.file }
}

/// The musician and the piano at `rate` samples a second.
#[unsafe(no_mangle)]
pub extern "C" fn live_new(rate: f32) -> *mut Live {
    Box::into_raw(Box::new(Live::new(rate as u32)))
}

macro_rules! on_live {
    ($($(#[$doc:meta])* $name:ident($live:ident $(, $argument:ident: $kind:ty)*) $(-> $result:ty)? $body:block)*) => {$(
        $(#[$doc])*
        ///
        /// # Safety
        /// `live` is [`live_new`]'s, and spans lie in [`room`]s.
        #[unsafe(no_mangle)]
        pub unsafe extern "C" fn $name(live: *mut Live $(, $argument: $kind)*) $(-> $result)? {
            // SAFETY: the caller's word, above.
            let $live = unsafe { &mut *live };
            $body
        }
    )*};
}

on_live! {
    /// Renders the next `frames` (at most [`Live::MOST_FRAMES`]). Real-time safe.
    live_process(live, frames: u32) { live.process(frames); }
    /// Where the samples of a side (0 left, 1 right) are.
    live_side(live, side: u32) -> *const f32 { live.side(side).as_ptr() }
    /// A MIDI message that the player plays `frame` frames into the next block.
    live_midi(live, frame: u32, status: u32, first: u32, second: u32) {
        live.midi(frame, [status as u8, first as u8, second as u8]);
    }
    /// Messages of the left hand in the last block.
    live_sent(live) -> u32 { live.sent().len() as u32 }
    /// One of them: status, first, second byte in the lowest 24 bits.
    live_sent_message(live, index: u32) -> u32 { live.sent_bytes(index as usize) }
    /// Sets a control of the table to a value. Real-time safe.
    live_set(live, control: u32, value: i32) { live.set(control as usize, value); }
    /// The volume, 0..=1.
    live_volume(live, volume: f32) { live.volume(volume); }
    /// Starts (1) or stops (0) the clock.
    live_play(live, plays: u32) { live.play(plays != 0); }
    /// Whether the player's first chord starts the clock.
    live_start_by_hand(live, by_hand: u32) { live.start_by_hand(by_hand != 0); }
    /// Whether MIDI clock leads.
    live_clock_in(live, leads: u32) { live.clock_in(leads != 0); }
    /// Whether beats click.
    live_metronome(live, clicks: u32) { live.metronome(clicks != 0); }
    /// The metre without a chart.
    live_metre(live, beats: u32, unit: u32) { live.metre(beats as u8, unit as u8); }
    /// Ends every note.
    live_panic(live) { live.panic(); }
    /// Forgets the song so far.
    live_forget(live) { live.forget(); }
    /// Writes what is to be shown; gives its bytes.
    live_view(live) -> usize { live.write_view() }
    /// Where [`live_view`] wrote it.
    live_view_at(live) -> *const u8 { live.view().as_ptr() }
    /// Writes down what was just played; gives its bytes.
    live_log(live) -> usize { live.write_log() }
    /// Where [`live_log`] wrote it.
    live_log_at(live) -> *const u8 { live.logged().as_ptr() }
    /// Compiles every preset: before sound runs.
    live_ready_patterns(live) { live.ready_patterns(); }
    /// Reads a pattern: a preset's slug or a pattern file. 1 if it makes sense.
    live_pattern(live, text: *const u8, bytes: usize) -> u32 {
        // SAFETY: the caller's word.
        let text = unsafe { slice::from_raw_parts(text, bytes) };
        std::str::from_utf8(text).is_ok_and(|text| live.pattern(text)).into()
    }
    /// Reads a chart; none where it is empty. 1 if it makes sense.
    live_chart(live, text: *const u8, bytes: usize) -> u32 {
        // SAFETY: the caller's word.
        let text = unsafe { slice::from_raw_parts(text, bytes) };
        std::str::from_utf8(text).is_ok_and(|text| live.chart(text)).into()
    }
    /// Plays cues from now on instead of the live left hand: 16 bytes each, little
    /// endian: frame (f64), status, first, second, five of nothing. In time order.
    live_cues(live, cues: *const u8, bytes: usize) {
        // SAFETY: the caller's word.
        let cues = unsafe { slice::from_raw_parts(cues, bytes) };
        live.cues(cues.as_chunks::<16>().0.iter().filter_map(cue));
    }
    /// Ends the cues.
    live_cues_end(live) { live.end_cues(); }
    /// How many cues are to come.
    live_cues_left(live) -> usize { live.cues_left() }
    /// Teaches the piano a recording that the page has written into the room of
    /// [`frames_room`], which is the piano's from now on.
    live_learn(live, key: u32, rate: u32, frames: *mut [i16; 2], count: usize) {
        // SAFETY: by the caller's word a vector of this length, leaked by `frames_room`.
        let frames = unsafe { Vec::from_raw_parts(frames, count, count) };
        live.learn(Box::leak(Box::new(Recording { key: key as u8, rate, frames })));
    }
}

fn cue(bytes: &[u8; 16]) -> Option<(u64, Message)> {
    let (frame, message) = bytes.split_first_chunk::<8>()?;
    let frame = f64::from_le_bytes(*frame).max(0.0) as u64;
    let [status, first, second, ..] = message else { return None };
    Some((frame, message_of([*status, *first, *second])?))
}
