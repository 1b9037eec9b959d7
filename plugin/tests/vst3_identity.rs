//! The VST3's object: one whatever interface leads to it, and gone when nobody
//! holds it (the rules of `funknown.h`).

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

mod vst3_host;

use vst3::Steinberg::Vst::BusDirections_::kOutput;
use vst3::Steinberg::Vst::MediaTypes_::kEvent;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{ComPtr, Interface};
use vst3_host::{Vst3Host, Vst3Time, holders, on};

/// An interface of an object, if it has it; whoever asked holds it then.
fn interface(object: *mut FUnknown, iid: &[u8; 16]) -> Option<ComPtr<FUnknown>> {
    let mut found = std::ptr::null_mut();
    let result =
        unsafe { ((*(*object).vtbl).queryInterface)(object, iid.as_ptr().cast(), &mut found) };
    assert_eq!(result == kResultOk, !found.is_null());
    unsafe { ComPtr::from_raw(found.cast()) }
}

#[test]
fn every_interface_leads_to_every_other_and_to_one_object() {
    let host = Vst3Host::made();
    let object = host.component.as_ptr().cast::<FUnknown>();
    let held = holders(&host.component);
    let all = [
        FUnknown::IID,
        IPluginBase::IID,
        IComponent::IID,
        IEditController::IID,
        IAudioProcessor::IID,
        IMidiMapping::IID,
        INoteExpressionController::IID,
        IProcessContextRequirements::IID,
        IUnitInfo::IID,
        ChannelContext::IInfoListener::IID,
    ];
    let first = all.map(|iid| interface(object, &iid).expect("the interface"));
    let addresses = first.each_ref().map(|found| found.as_ptr());
    for from in addresses {
        assert_eq!(all.map(|iid| interface(from, &iid).expect("the same").as_ptr()), addresses);
        for other in [IPlugView::IID, IPluginFactory::IID, IEventList::IID, [7; 16]] {
            assert!(interface(from, &other).is_none());
        }
        assert_eq!(holders(&host.component), held + all.len() as u32);
    }
    drop(first);
    assert_eq!(holders(&host.component), held);
}

#[test]
fn a_component_that_nobody_holds_lets_go_of_its_host() {
    for played in [false, true] {
        let host = Vst3Host::made();
        let handler = host.told.to_com_ptr::<IComponentHandler>().unwrap();
        assert_eq!(holders(&handler), 4, "the host, this test, the component and its programs");
        if played {
            host.start(48_000.0, 64);
            host.turn_second_output(true);
            host.block_at(
                64,
                Some(Vst3Time::at(0.0)),
                vec![on(0, 60), on(1, 64), on(2, 67)],
                vec![],
            );
        }
        let last = host.component.cast::<IUnitInfo>().unwrap();
        drop(host);
        // Whatever interface is held last, it is all there.
        assert_eq!((holders(&handler), holders(&last)), (3, 1));
        let component = last.cast::<IComponent>().unwrap();
        let outputs = unsafe { component.getBusCount(kEvent as i32, kOutput as i32) };
        assert_eq!((outputs, holders(&component)), (2, 2));
        drop((last, component));
        assert_eq!(holders(&handler), 1);
    }
}
