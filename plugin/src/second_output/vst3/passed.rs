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

impl IInfoListenerTrait for Component {
    pass_on! { IInfoListenerTrait:
        fn setChannelContextInfos(list: *mut IAttributeList) -> tresult;
    }
}
