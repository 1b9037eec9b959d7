//! Set-ups and left hands as VST3's program list, which the framework has not: a list of
//! the root unit, and the parameter that chooses from it (the format's "Program Lists").
//! Upstream would have to let a plugin name its programs.
//!
//! The first of the list leaves all as it is: no host chooses a set-up unasked.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

use nice_plug::wrapper::vst3::Wrapper;
use sinistra_panel::control::{self, Control};

use super::api::Steinberg::Vst::ParameterInfo_::ParameterFlags_::{kIsList, kIsProgramChange};
use super::api::Steinberg::Vst::RestartFlags_::kParamValuesChanged;
use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::buses::wide;
use super::component::Component;
use crate::Sinistra;
use crate::presets::{Preset, presets};

/// The list's id.
const LIST: ProgramListID = 1;
/// The parameter's id: those of the others are hashes of their names (a check sees that
/// none is the same).
pub const PARAMETER: ParamID = 0x5350_726F;

/// What is chosen.
#[derive(Default)]
pub struct Programs {
    chosen: AtomicUsize,
}

fn all() -> &'static [Preset] {
    static ALL: OnceLock<Vec<Preset>> = OnceLock::new();
    ALL.get_or_init(presets)
}

/// Programs of the list.
fn count() -> usize {
    all().len() + 1
}

fn name(index: usize) -> Option<&'static str> {
    match index.checked_sub(1) {
        None => Some("As it is set"),
        Some(n) => all().get(n).map(|preset| preset.name.as_str()),
    }
}

fn index_of(value: ParamValue) -> usize {
    (value.clamp(0.0, 1.0) * (count() - 1) as f64).round() as usize
}

fn value_of(index: usize) -> ParamValue {
    index as f64 / (count() - 1) as f64
}

impl Programs {
    /// A project was loaded: what was chosen before says nothing of it.
    pub fn forget(&self) {
        self.chosen.store(0, Relaxed);
    }
}

impl Component {
    /// The parameter, behind all of the framework's.
    pub(super) fn program_info(&self) -> ParameterInfo {
        ParameterInfo {
            id: PARAMETER,
            title: wide("Program"),
            shortTitle: wide("Program"),
            units: wide(""),
            stepCount: count() as int32 - 1,
            defaultNormalizedValue: 0.0,
            unitId: kRootUnitId as UnitID,
            flags: kIsProgramChange as int32 | kIsList as int32,
        }
    }

    /// The value of the parameter.
    pub(super) fn program(&self) -> ParamValue {
        value_of(self.programs.chosen.load(Relaxed))
    }

    /// The host chooses.
    pub(super) fn choose_program(&self, value: ParamValue) {
        let index = index_of(value);
        self.programs.chosen.store(index, Relaxed);
        let Some(preset) = index.checked_sub(1).and_then(|n| all().get(n)) else { return };
        let handler = self.given.handler.lock().clone();
        let ids = ids(&self.inner);
        for &(control, value) in &preset.values {
            let Some((_, id)) = ids.iter().find(|id| id.0 == control).copied() else { continue };
            // SAFETY: ids of the framework's own, and the handler is the host's.
            unsafe {
                let value = self.plainParamToNormalized(id, f64::from(value));
                if self.setParamNormalized(id, value) == kResultOk
                    && let Some(handler) = &handler
                {
                    handler.beginEdit(id);
                    handler.performEdit(id, value);
                    handler.endEdit(id);
                }
            }
        }
        if let Some(handler) = &handler {
            // SAFETY: the handler is the host's.
            unsafe { handler.restartComponent(kParamValuesChanged as int32) };
        }
    }
}

/// The framework's ids of the controls.
pub fn ids(inner: &Wrapper<Sinistra>) -> Vec<(Control, ParamID)> {
    // SAFETY: indices of the framework's own, and room for each answer.
    let info = |index| unsafe {
        let mut info: ParameterInfo = std::mem::zeroed();
        (inner.getParameterInfo(index, &mut info) == kResultOk).then_some(info)
    };
    let count = unsafe { inner.getParameterCount() };
    let names = control::ALL.map(|control| (control, wide(control.spec().name)));
    let control = |info: &ParameterInfo| names.iter().find(|(_, name)| info.title == *name);
    let found = (0..count).filter_map(info).filter_map(|info| Some((control(&info)?.0, info.id)));
    // Behind them the framework has some two thousand of its own.
    found.take(names.len()).collect()
}

/// Writes a program's name.
///
/// # Safety
/// `text` is null, or has room for it.
pub unsafe fn write_name(index: usize, text: *mut String128) -> tresult {
    // SAFETY: says the caller.
    match (name(index), unsafe { text.as_mut() }) {
        (Some(name), Some(text)) => {
            *text = wide(name);
            kResultOk
        }
        _ => kInvalidArgument,
    }
}

/// Writes the name of the program of a value.
///
/// # Safety
/// As [`write_name`].
pub unsafe fn write_value(value: ParamValue, text: *mut String128) -> tresult {
    // SAFETY: says the caller.
    unsafe { write_name(index_of(value), text) }
}

/// The value of the program that is named so.
///
/// # Safety
/// `text` is null, or a string that ends.
pub unsafe fn read_value(text: *const TChar) -> Option<ParamValue> {
    if text.is_null() {
        return None;
    }
    // SAFETY: it ends, says the caller; no name is as long as the limit.
    let letters = (0..128).map(|n| unsafe { *text.add(n) } as u16).take_while(|c| *c != 0);
    let named = String::from_utf16_lossy(&letters.collect::<Vec<_>>());
    let found = (0..count()).find(|n| name(*n).is_some_and(|name| name == named.trim()));
    found.map(value_of)
}

/// Values as the numbers of programs, from 0.
pub fn plain(value: ParamValue) -> ParamValue {
    index_of(value) as f64
}

/// The opposite.
pub fn normalized(plain: ParamValue) -> ParamValue {
    value_of(plain.clamp(0.0, (count() - 1) as f64).round() as usize)
}

impl IUnitInfoTrait for Component {
    /// The framework lists the groups, and not the root that they hang from: it is the
    /// last.
    unsafe fn getUnitCount(&self) -> int32 {
        // SAFETY: as it came.
        unsafe { self.inner.getUnitCount() + 1 }
    }

    unsafe fn getUnitInfo(&self, index: int32, info: *mut UnitInfo) -> tresult {
        // SAFETY: as it came, with room for an answer, or null.
        unsafe {
            if index != self.inner.getUnitCount() {
                return self.inner.getUnitInfo(index, info);
            }
            let Some(info) = info.as_mut() else { return kInvalidArgument };
            info.id = kRootUnitId as UnitID;
            info.parentUnitId = kNoParentUnitId as UnitID;
            info.name = wide("Sinistra");
            info.programListId = LIST;
            kResultOk
        }
    }

    unsafe fn getProgramListCount(&self) -> int32 {
        1
    }

    unsafe fn getProgramListInfo(&self, index: int32, info: *mut ProgramListInfo) -> tresult {
        // SAFETY: the host passes room for it, or null.
        match unsafe { info.as_mut() } {
            Some(info) if index == 0 => {
                info.id = LIST;
                info.name = wide("Set-ups and left hands");
                info.programCount = count() as int32;
                kResultOk
            }
            _ => kInvalidArgument,
        }
    }

    unsafe fn getProgramName(
        &self,
        list: ProgramListID,
        index: int32,
        name: *mut String128,
    ) -> tresult {
        match usize::try_from(index) {
            // SAFETY: as it came.
            Ok(index) if list == LIST => unsafe { write_name(index, name) },
            _ => kInvalidArgument,
        }
    }

    unsafe fn hasProgramPitchNames(&self, _: ProgramListID, _: int32) -> tresult {
        kResultFalse
    }

    pass_on! { IUnitInfoTrait:
        fn getProgramInfo(
            list: ProgramListID,
            index: int32,
            attribute: Vst::CString,
            value: *mut String128
        ) -> tresult;
        fn getProgramPitchName(
            list: ProgramListID,
            index: int32,
            pitch: int16,
            name: *mut String128
        ) -> tresult;
        fn getSelectedUnit() -> UnitID;
        fn selectUnit(id: UnitID) -> tresult;
        fn getUnitByBus(
            media: MediaType,
            way: BusDirection,
            bus: int32,
            channel: int32,
            id: *mut UnitID
        ) -> tresult;
        fn setUnitProgramData(list: int32, index: int32, data: *mut IBStream) -> tresult;
    }
}
