//! Events in and out of the plugin, as plain values.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_void;

use clap_sys::events::*;

use super::play::VELOCITY;

/// What goes in or comes out, at its frame.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    On {
        frame: u32,
        channel: i16,
        key: i16,
        velocity: f64,
    },
    Off {
        frame: u32,
        channel: i16,
        key: i16,
        velocity: f64,
    },
    Choke {
        frame: u32,
        channel: i16,
        key: i16,
    },
    Midi {
        frame: u32,
        bytes: [u8; 3],
    },
    SysEx {
        frame: u32,
        bytes: Vec<u8>,
    },
    /// A key's pressure as a note expression.
    Pressure {
        frame: u32,
        channel: i16,
        key: i16,
        value: f64,
    },
    Param {
        frame: u32,
        id: u32,
        value: f64,
    },
    /// In only: a parameter's modulation.
    Mod {
        frame: u32,
        id: u32,
        amount: f64,
    },
    /// In only: what looks like a parameter's value, of somebody else's event space.
    Foreign {
        frame: u32,
        id: u32,
        value: f64,
    },
    /// In only.
    Transport {
        frame: u32,
        clock: super::Clock,
    },
    /// Out only: a note on or off at the second output.
    Apart {
        frame: u32,
        on: bool,
        channel: i16,
        key: i16,
    },
}

// Clocks are compared by what a test can see of them.
impl PartialEq for super::Clock {
    fn eq(&self, other: &Self) -> bool {
        self.beat == other.beat && self.playing == other.playing
    }
}

impl Event {
    pub fn frame(&mut self) -> &mut u32 {
        match self {
            Self::On { frame, .. }
            | Self::Off { frame, .. }
            | Self::Choke { frame, .. }
            | Self::Midi { frame, .. }
            | Self::SysEx { frame, .. }
            | Self::Pressure { frame, .. }
            | Self::Param { frame, .. }
            | Self::Mod { frame, .. }
            | Self::Foreign { frame, .. }
            | Self::Transport { frame, .. }
            | Self::Apart { frame, .. } => frame,
        }
    }

    /// Whether a note goes on or off, and where: output, channel, key.
    pub fn note(&self) -> Option<(bool, (u8, i16, i16))> {
        match *self {
            Self::On { channel, key, .. } => Some((true, (0, channel, key))),
            Self::Off { channel, key, .. } => Some((false, (0, channel, key))),
            Self::Apart { on, channel, key, .. } => Some((on, (1, channel, key))),
            _ => None,
        }
    }

    pub fn on(frame: u32, key: i16) -> Self {
        Self::On { frame, channel: 0, key, velocity: VELOCITY }
    }

    pub fn off(frame: u32, key: i16) -> Self {
        Self::Off { frame, channel: 0, key, velocity: 0.5 }
    }

    fn raw(&self) -> Raw {
        match self {
            Self::On { frame, channel, key, velocity } => {
                Raw::Note(note(CLAP_EVENT_NOTE_ON, *frame, *channel, *key, *velocity))
            }
            Self::Off { frame, channel, key, velocity } => {
                Raw::Note(note(CLAP_EVENT_NOTE_OFF, *frame, *channel, *key, *velocity))
            }
            Self::Choke { frame, channel, key } => {
                Raw::Note(note(CLAP_EVENT_NOTE_CHOKE, *frame, *channel, *key, 0.0))
            }
            Self::Midi { frame, bytes } => Raw::Midi(clap_event_midi {
                header: header::<clap_event_midi>(CLAP_EVENT_MIDI, *frame),
                port_index: 0,
                data: *bytes,
            }),
            Self::SysEx { frame, bytes } => Raw::SysEx(clap_event_midi_sysex {
                header: header::<clap_event_midi_sysex>(CLAP_EVENT_MIDI_SYSEX, *frame),
                port_index: 0,
                buffer: bytes.as_ptr(),
                size: bytes.len() as u32,
            }),
            Self::Param { frame, id, value } => {
                Raw::Param(param(CLAP_CORE_EVENT_SPACE_ID, *frame, *id, *value))
            }
            Self::Foreign { frame, id, value } => Raw::Param(param(0xB333, *frame, *id, *value)),
            Self::Mod { frame, id, amount } => Raw::Mod(clap_event_param_mod {
                header: header::<clap_event_param_mod>(CLAP_EVENT_PARAM_MOD, *frame),
                param_id: *id,
                cookie: std::ptr::null_mut(),
                note_id: -1,
                port_index: -1,
                channel: -1,
                key: -1,
                amount: *amount,
            }),
            Self::Transport { frame, clock } => Raw::Transport(clock.raw(*frame)),
            Self::Pressure { frame, channel, key, value } => {
                Raw::Expression(clap_event_note_expression {
                    header: header::<clap_event_note_expression>(
                        CLAP_EVENT_NOTE_EXPRESSION,
                        *frame,
                    ),
                    expression_id: CLAP_NOTE_EXPRESSION_PRESSURE,
                    note_id: -1,
                    port_index: 0,
                    channel: *channel,
                    key: *key,
                    value: *value,
                })
            }
            Self::Apart { .. } => unreachable!("the host has one output"),
        }
    }
}

enum Raw {
    Note(clap_event_note),
    Midi(clap_event_midi),
    SysEx(clap_event_midi_sysex),
    Param(clap_event_param_value),
    Mod(clap_event_param_mod),
    Transport(clap_event_transport),
    Expression(clap_event_note_expression),
}

impl Raw {
    fn header(&self) -> *const clap_event_header {
        match self {
            Self::Note(event) => &raw const event.header,
            Self::Midi(event) => &raw const event.header,
            Self::SysEx(event) => &raw const event.header,
            Self::Param(event) => &raw const event.header,
            Self::Mod(event) => &raw const event.header,
            Self::Transport(event) => &raw const event.header,
            Self::Expression(event) => &raw const event.header,
        }
    }
}

pub fn header<T>(kind: u16, time: u32) -> clap_event_header {
    clap_event_header {
        size: size_of::<T>() as u32,
        time,
        space_id: CLAP_CORE_EVENT_SPACE_ID,
        type_: kind,
        flags: 0,
    }
}

fn note(kind: u16, time: u32, channel: i16, key: i16, velocity: f64) -> clap_event_note {
    clap_event_note {
        header: header::<clap_event_note>(kind, time),
        note_id: -1,
        port_index: 0,
        channel,
        key,
        velocity,
    }
}

fn param(space: u16, time: u32, id: u32, value: f64) -> clap_event_param_value {
    let header = header::<clap_event_param_value>(CLAP_EVENT_PARAM_VALUE, time);
    clap_event_param_value {
        header: clap_event_header { space_id: space, ..header },
        param_id: id,
        cookie: std::ptr::null_mut(),
        note_id: -1,
        port_index: -1,
        channel: -1,
        key: -1,
        value,
    }
}

pub struct InputList(Vec<Raw>);

impl InputList {
    pub fn new(events: &[Event]) -> Self {
        Self(events.iter().map(Event::raw).collect())
    }

    pub fn raw(&self) -> clap_input_events {
        unsafe extern "C" fn size(list: *const clap_input_events) -> u32 {
            let list = unsafe { &*(*list).ctx.cast::<InputList>() };
            list.0.len() as u32
        }
        unsafe extern "C" fn get(
            list: *const clap_input_events,
            index: u32,
        ) -> *const clap_event_header {
            let list = unsafe { &*(*list).ctx.cast::<InputList>() };
            list.0[index as usize].header()
        }
        clap_input_events {
            ctx: (&raw const *self).cast_mut().cast::<c_void>(),
            size: Some(size),
            get: Some(get),
        }
    }
}

pub struct OutputList {
    events: Vec<Event>,
    frames: u32,
    last: u32,
    refuse: bool,
}

impl OutputList {
    pub fn new(frames: u32, refuse: bool) -> Self {
        Self { events: Vec::with_capacity(4096), frames, last: 0, refuse }
    }

    pub fn into_events(self) -> Vec<Event> {
        self.events
    }

    pub fn raw(&mut self) -> clap_output_events {
        clap_output_events { ctx: (&raw mut *self).cast::<c_void>(), try_push: Some(try_push) }
    }
}

unsafe extern "C" fn try_push(
    list: *const clap_output_events,
    event: *const clap_event_header,
) -> bool {
    let list = unsafe { &mut *(*list).ctx.cast::<OutputList>() };
    if list.refuse {
        return false;
    }
    let header = unsafe { &*event };
    assert!(header.time >= list.last, "output events are not sorted");
    assert!(header.time < list.frames.max(1), "an output event lies outside its block");
    assert_eq!(header.space_id, CLAP_CORE_EVENT_SPACE_ID);
    list.last = header.time;
    let frame = header.time;
    let event = match header.type_ {
        CLAP_EVENT_NOTE_ON | CLAP_EVENT_NOTE_OFF | CLAP_EVENT_NOTE_CHOKE => {
            let note = unsafe { &*event.cast::<clap_event_note>() };
            let (channel, key, velocity) = (note.channel, note.key, note.velocity);
            assert!(note.note_id >= -1, "a note id that CLAP does not know");
            assert!((0..2).contains(&note.port_index), "an output that there is not");
            match header.type_ {
                kind if note.port_index == 1 => {
                    Event::Apart { frame, on: kind == CLAP_EVENT_NOTE_ON, channel, key }
                }
                CLAP_EVENT_NOTE_ON => Event::On { frame, channel, key, velocity },
                CLAP_EVENT_NOTE_OFF => Event::Off { frame, channel, key, velocity },
                _ => Event::Choke { frame, channel, key },
            }
        }
        CLAP_EVENT_NOTE_EXPRESSION => {
            let note = unsafe { &*event.cast::<clap_event_note_expression>() };
            Event::Pressure { frame, channel: note.channel, key: note.key, value: note.value }
        }
        CLAP_EVENT_MIDI => {
            Event::Midi { frame, bytes: unsafe { (*event.cast::<clap_event_midi>()).data } }
        }
        CLAP_EVENT_MIDI_SYSEX => {
            let message = unsafe { &*event.cast::<clap_event_midi_sysex>() };
            let bytes =
                unsafe { std::slice::from_raw_parts(message.buffer, message.size as usize) };
            Event::SysEx { frame, bytes: bytes.to_vec() }
        }
        CLAP_EVENT_PARAM_VALUE => {
            let param = unsafe { &*event.cast::<clap_event_param_value>() };
            Event::Param { frame, id: param.param_id, value: param.value }
        }
        _ => return true,
    };
    list.events.push(event);
    true
}
