//! Events to the plugin and from it, as lists of the host's (`ivstevents.h`).

use std::cell::RefCell;

use vst3::Class;
use vst3::Steinberg::Vst::Event_::EventTypes_::*;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;

/// What came out: frame, and the message as plain values.
#[derive(Clone, Debug, PartialEq)]
pub enum Out {
    /// Frame, channel, key.
    On(i32, i16, i16),
    Off(i32, i16, i16),
    /// A note on or off at the second output.
    Apart(i32, bool, i16, i16),
    Control(i32, u8, i8),
    SysEx(i32, Vec<u8>),
    /// Of a type that no test looks into.
    Other(i32),
}

impl Out {
    /// Whether a note goes on or off, and where: output, channel, key.
    pub fn note(&self) -> Option<(bool, (u8, i16, i16))> {
        match *self {
            Self::On(_, channel, key) => Some((true, (0, channel, key))),
            Self::Off(_, channel, key) => Some((false, (0, channel, key))),
            Self::Apart(_, on, channel, key) => Some((on, (1, channel, key))),
            _ => None,
        }
    }
}

/// An event list of the host's, for both ways.
#[derive(Default)]
pub(super) struct List {
    pub(super) events: Vec<Event>,
    /// Full from the start.
    pub(super) refuses: bool,
    pub(super) out: RefCell<Vec<Out>>,
    /// The ids of the notes that came out.
    pub(super) ids: RefCell<Vec<i32>>,
}

impl List {
    /// Takes what comes out of a block without allocating: in a fuzzer the plugin's
    /// allocator, which refuses meanwhile, is the host's too.
    pub(super) fn with_room() -> Self {
        let (out, ids) = (Vec::with_capacity(4096), Vec::with_capacity(4096));
        Self { out: RefCell::new(out), ids: RefCell::new(ids), ..Self::default() }
    }
}

impl Class for List {
    type Interfaces = (IEventList,);
}

impl IEventListTrait for List {
    unsafe fn getEventCount(&self) -> int32 {
        self.events.len() as int32
    }

    unsafe fn getEvent(&self, index: int32, event: *mut Event) -> tresult {
        unsafe { *event = self.events[index as usize] };
        kResultOk
    }

    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        if self.refuses {
            return kResultFalse;
        }
        let event = unsafe { *event };
        let frame = event.sampleOffset;
        let kind = u32::from(event.r#type);
        let out = unsafe {
            if kind == kNoteOnEvent as u32 {
                let note = event.__field0.noteOn;
                self.ids.borrow_mut().push(note.noteId);
                note_out(&event, true, note.channel, note.pitch)
            } else if kind == kNoteOffEvent as u32 {
                let note = event.__field0.noteOff;
                self.ids.borrow_mut().push(note.noteId);
                note_out(&event, false, note.channel, note.pitch)
            } else if kind == kLegacyMIDICCOutEvent as u32 {
                let cc = event.__field0.midiCCOut;
                Out::Control(frame, cc.controlNumber, cc.value)
            } else if kind == kDataEvent as u32 {
                let data = event.__field0.data;
                let bytes = std::slice::from_raw_parts(data.bytes, data.size as usize);
                Out::SysEx(frame, bytes.to_vec())
            } else {
                assert!(kind <= kScaleEvent as u32 || kind >= 65_535, "an event of type {kind}");
                Out::Other(frame)
            }
        };
        let apart = matches!(out, Out::Apart(..));
        // The left hand's pedal goes where the left hand goes.
        let pedal = matches!(out, Out::Control(_, 64, _)) && event.busIndex == 1;
        assert_eq!(event.busIndex, i32::from(apart || pedal), "no output for it: {out:?}");
        let mut list = self.out.borrow_mut();
        assert!(list.last().is_none_or(|last| frame_of(last) <= frame), "not sorted");
        list.push(out);
        kResultOk
    }
}

fn note_out(event: &Event, on: bool, channel: i16, key: i16) -> Out {
    assert!((0..16).contains(&channel) && (0..128).contains(&key), "{channel} {key}");
    match (event.busIndex, on) {
        (1, _) => Out::Apart(event.sampleOffset, on, channel, key),
        (_, true) => Out::On(event.sampleOffset, channel, key),
        (_, false) => Out::Off(event.sampleOffset, channel, key),
    }
}

pub(super) fn frame_of(out: &Out) -> i32 {
    match out {
        Out::On(f, ..)
        | Out::Off(f, ..)
        | Out::Apart(f, ..)
        | Out::Control(f, ..)
        | Out::SysEx(f, _)
        | Out::Other(f) => *f,
    }
}

pub fn event(frame: i32, kind: u32) -> Event {
    let mut event: Event = unsafe { std::mem::zeroed() };
    event.sampleOffset = frame;
    event.r#type = kind as u16;
    event
}

pub fn on(frame: i32, pitch: i16) -> Event {
    let mut event = event(frame, kNoteOnEvent as u32);
    event.__field0.noteOn =
        NoteOnEvent { channel: 0, pitch, tuning: 0.0, velocity: 0.8, length: 0, noteId: -1 };
    event
}

pub fn off(frame: i32, pitch: i16) -> Event {
    let mut event = event(frame, kNoteOffEvent as u32);
    event.__field0.noteOff =
        NoteOffEvent { channel: 0, pitch, velocity: 0.5, noteId: -1, tuning: 0.0 };
    event
}
