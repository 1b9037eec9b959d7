//! What leaves the plugin: the notes that are marked go to the second output.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use std::ptr::null_mut;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::atomic::{AtomicBool, AtomicPtr, AtomicU16};

use super::api::Steinberg::Vst::Event_::EventTypes_::{
    kLegacyMIDICCOutEvent, kNoteExpressionValueEvent, kNoteOffEvent, kNoteOnEvent,
    kPolyPressureEvent,
};
use super::api::Steinberg::Vst::{Event, IEventList, IEventListTrait};
use super::api::Steinberg::{int32, kInvalidArgument, kResultFalse, tresult};
use super::api::{Class, ComRef};
use crate::audio::mark::{unmarked, unmarked_control};
use crate::audio::note_ids;

const NOTE_ON: u16 = kNoteOnEvent as u16;
const NOTE_OFF: u16 = kNoteOffEvent as u16;
const CONTROL: u16 = kLegacyMIDICCOutEvent as u16;
const PRESSURE: u16 = kPolyPressureEvent as u16;
const EXPRESSION: u16 = kNoteExpressionValueEvent as u16;

/// The event list that the plugin writes to, before the host's. It is made once,
/// for making one allocates.
pub struct Vst3Outlet {
    /// The host's list, during a block.
    host: AtomicPtr<IEventList>,
    /// Whether the host has the second output turned on.
    active: AtomicBool,
    /// Whether a key was last struck at the second output, by channel * 128 + key:
    /// there it ends, whatever the host has turned on or off meanwhile.
    apart: [AtomicBool; 2048],
    /// The same of pedals, a bit for each channel.
    pedals: AtomicU16,
}

impl Default for Vst3Outlet {
    fn default() -> Self {
        Self {
            host: AtomicPtr::default(),
            active: AtomicBool::default(),
            apart: [const { AtomicBool::new(false) }; 2048],
            pedals: AtomicU16::default(),
        }
    }
}

impl Class for Vst3Outlet {
    type Interfaces = (IEventList,);
}

impl Vst3Outlet {
    /// The host turns the second output on or off.
    pub fn activate(&self, active: bool) {
        self.active.store(active, Relaxed);
    }

    /// A block begins; its events go to `host`. Real-time safe.
    ///
    /// # Safety
    /// `host` must be null or an event list that lives until [`Self::close`].
    pub unsafe fn open(&self, host: *mut IEventList) {
        self.host.store(host, Relaxed);
    }

    /// The block is over. Real-time safe.
    pub fn close(&self) {
        self.host.store(null_mut(), Relaxed);
    }

    fn host(&self) -> Option<ComRef<'_, IEventList>> {
        // SAFETY: it is null or lives until `close`, as `open` asked.
        unsafe { ComRef::from_raw(self.host.load(Relaxed)) }
    }

    /// Which output a pedal moves at: where it went down it comes up. Real-time safe.
    fn turned_control(&self, channel: u8, value: i8) -> int32 {
        let (bit, pedals) = (1u16 << (channel & 15), self.pedals.load(Relaxed));
        let apart = if value > 0 { self.active.load(Relaxed) } else { pedals & bit != 0 };
        let now = if apart && value > 0 { pedals | bit } else { pedals & !bit };
        self.pedals.store(now, Relaxed);
        apart.into()
    }

    /// The note at its output, with its id. Real-time safe.
    ///
    /// # Safety
    /// `event` must be what its type says.
    unsafe fn turned(&self, mut event: Event) -> Event {
        // SAFETY: the type says which of the fields it has (`ivstevents.h`).
        let (channel, pitch) = unsafe {
            let fields = &mut event.__field0;
            match event.r#type {
                NOTE_ON => {
                    fields.noteOn.noteId = note_ids::id();
                    (&mut fields.noteOn.channel, fields.noteOn.pitch)
                }
                NOTE_OFF => {
                    fields.noteOff.noteId = note_ids::id();
                    (&mut fields.noteOff.channel, fields.noteOff.pitch)
                }
                CONTROL => {
                    let control = &mut fields.midiCCOut;
                    if let Some(plain) = unmarked_control(control.controlNumber) {
                        control.controlNumber = plain;
                        event.busIndex = self.turned_control(control.channel as u8, control.value);
                    }
                    return event;
                }
                PRESSURE => {
                    fields.polyPressure.noteId = note_ids::id();
                    return event;
                }
                EXPRESSION => {
                    fields.noteExpressionValue.noteId = note_ids::id();
                    return event;
                }
                _ => return event,
            }
        };
        let Some(plain) = unmarked(*channel) else { return event };
        *channel = plain;
        let place = usize::from(plain as u16) * 128 + usize::from(pitch as u16 & 127);
        let Some(apart) = self.apart.get(place) else { return event };
        if event.r#type == NOTE_ON {
            apart.store(self.active.load(Relaxed), Relaxed);
        }
        event.busIndex = apart.load(Relaxed).into();
        event
    }
}

impl IEventListTrait for Vst3Outlet {
    unsafe fn getEventCount(&self) -> int32 {
        // SAFETY: a list of the host's.
        self.host().map_or(0, |host| unsafe { host.getEventCount() })
    }

    unsafe fn getEvent(&self, index: int32, event: *mut Event) -> tresult {
        // SAFETY: a list of the host's, and what the caller has for it.
        self.host().map_or(kInvalidArgument, |host| unsafe { host.getEvent(index, event) })
    }

    /// Real-time safe.
    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        if event.is_null() {
            return kInvalidArgument;
        }
        let Some(host) = self.host() else { return kResultFalse };
        // SAFETY: the framework's event is whole; the list is the host's.
        unsafe { host.addEvent(&mut self.turned(*event)) }
    }
}
