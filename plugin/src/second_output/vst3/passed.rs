//! What is passed on whole to the framework's object.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]

use super::api::Steinberg::Vst::ChannelContext::IInfoListenerTrait;
use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::component::Component;

impl IMidiMappingTrait for Component {
    pass_on! { IMidiMappingTrait:
        fn getMidiControllerAssignment(
            bus: int32,
            channel: int16,
            controller: CtrlNumber,
            id: *mut ParamID
        ) -> tresult;
    }
}

impl INoteExpressionControllerTrait for Component {
    pass_on! { INoteExpressionControllerTrait:
        fn getNoteExpressionCount(bus: int32, channel: int16) -> int32;
        fn getNoteExpressionInfo(
            bus: int32,
            channel: int16,
            index: int32,
            info: *mut NoteExpressionTypeInfo
        ) -> tresult;
        fn getNoteExpressionStringByValue(
            bus: int32,
            channel: int16,
            id: NoteExpressionTypeID,
            value: NoteExpressionValue,
            text: *mut String128
        ) -> tresult;
        fn getNoteExpressionValueByString(
            bus: int32,
            channel: int16,
            id: NoteExpressionTypeID,
            text: *const TChar,
            value: *mut NoteExpressionValue
        ) -> tresult;
    }
}

impl IProcessContextRequirementsTrait for Component {
    pass_on! { IProcessContextRequirementsTrait:
        fn getProcessContextRequirements() -> uint32;
    }
}

impl IUnitInfoTrait for Component {
    pass_on! { IUnitInfoTrait:
        fn getUnitCount() -> int32;
        fn getUnitInfo(index: int32, info: *mut UnitInfo) -> tresult;
        fn getProgramListCount() -> int32;
        fn getProgramListInfo(index: int32, info: *mut ProgramListInfo) -> tresult;
        fn getProgramName(list: ProgramListID, index: int32, name: *mut String128) -> tresult;
        fn getProgramInfo(
            list: ProgramListID,
            index: int32,
            attribute: Vst::CString,
            value: *mut String128
        ) -> tresult;
        fn hasProgramPitchNames(list: ProgramListID, index: int32) -> tresult;
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

impl IInfoListenerTrait for Component {
    pass_on! { IInfoListenerTrait:
        fn setChannelContextInfos(list: *mut IAttributeList) -> tresult;
    }
}
