//! The rules of VST3 that the format's own validator looks at (the public VST 3
//! SDK's `vst/testsuite`, from its sources; its program is not needed here):
//! classes, buses, parameters, units, controllers, states of life, blocks.

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

mod dice;
mod vst3_host;

use std::collections::{BTreeMap, BTreeSet};

use dice::Dice;
use vst3::Interface;
use vst3::Steinberg::Vst::BusDirections_::*;
use vst3::Steinberg::Vst::BusInfo_::BusFlags_::*;
use vst3::Steinberg::Vst::BusTypes_::*;
use vst3::Steinberg::Vst::MediaTypes_::*;
use vst3::Steinberg::Vst::ParameterInfo_::ParameterFlags_::*;
use vst3::Steinberg::Vst::SymbolicSampleSizes_::*;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3_host::{CONTROLLERS, ParameterChange, Vst3Host, Vst3Time, factory, off, on, text};

/// `kRootUnitId` and `kNoParentUnitId` of `ivstunits.h`.
const ROOT: i32 = 0;
const NO_PARENT: i32 = -1;

fn narrow(letters: &[char8]) -> String {
    let end = letters.iter().position(|letter| *letter == 0).expect("an end");
    letters[..end].iter().map(|letter| *letter as u8 as char).collect()
}

#[test]
fn the_factory_has_one_audio_module_class_of_an_effect() {
    let factory = factory();
    unsafe {
        let mut maker: PFactoryInfo = std::mem::zeroed();
        assert_eq!(factory.getFactoryInfo(&mut maker), kResultOk);
        assert!(!narrow(&maker.vendor).is_empty());
        assert_eq!(factory.countClasses(), 1);
        let mut class: PClassInfo = std::mem::zeroed();
        assert_eq!(factory.getClassInfo(0, &mut class), kResultOk);
        assert_eq!(narrow(&class.category), "Audio Module Class");
        assert_eq!(narrow(&class.name), "Sinistra");
        assert_ne!(factory.getClassInfo(1, &mut class), kResultOk);
        assert_ne!(factory.getClassInfo(-1, &mut class), kResultOk);
        let second = factory.cast::<IPluginFactory2>().unwrap();
        let mut class: PClassInfo2 = std::mem::zeroed();
        assert_eq!(second.getClassInfo2(0, &mut class), kResultOk);
        assert_eq!(narrow(&class.subCategories), "Fx|Tools");
        assert!(!narrow(&class.version).is_empty() && !narrow(&class.vendor).is_empty());
        assert!(narrow(&class.sdkVersion).starts_with("VST 3"));
        // The format counts wide names for itself.
        let third = factory.cast::<IPluginFactory3>().unwrap();
        let mut class: PClassInfoW = std::mem::zeroed();
        assert_eq!(third.getClassInfoUnicode(0, &mut class), kResultOk);
        assert_eq!(text(&class.name), "Sinistra");
        // A class that there is not.
        let (mut object, iid) = (std::ptr::null_mut(), IComponent::IID);
        let made = factory.createInstance(
            [7_i8; 16].as_ptr().cast(),
            (&raw const iid).cast(),
            &mut object,
        );
        assert!(made != kResultOk && object.is_null());
    }
}

#[test]
fn there_are_one_event_input_and_two_event_outputs_and_no_audio() {
    let host = Vst3Host::made();
    let (right, both, left) = ("Right hand", "Both hands", "Left hand");
    for (direction, names) in [(kInput as i32, &[right][..]), (kOutput as i32, &[both, left])] {
        let count = |media: u32| unsafe { host.component.getBusCount(media as i32, direction) };
        assert_eq!((count(kAudio as u32), count(kEvent as u32)), (0, names.len() as i32));
        for (index, name) in (0..).zip(names) {
            let (media, mut info) = (kEvent as i32, unsafe { std::mem::zeroed::<BusInfo>() });
            let found = unsafe { host.component.getBusInfo(media, direction, index, &mut info) };
            assert_eq!(found, kResultOk);
            assert_eq!((text(&info.name).as_str(), info.channelCount), (*name, 16));
            assert_eq!((info.mediaType, info.direction), (media, direction));
            let kind = if index == 0 { kMain as i32 } else { kAux as i32 };
            assert_eq!((info.busType, info.flags), (kind, kDefaultActive as u32));
            for on in [1, 0, 1] {
                let done = unsafe { host.component.activateBus(media, direction, index, on) };
                assert_eq!(done, kResultOk);
            }
        }
        // Beyond what there is nothing is written and nothing works.
        let beyond = names.len() as i32;
        for (media, index) in [(kEvent, beyond), (kEvent, -1), (kAudio, 0), (kAudio, 12_345)] {
            let mut other: BusInfo = unsafe { std::mem::zeroed() };
            let media = media as i32;
            let got = unsafe { host.component.getBusInfo(media, direction, index, &mut other) };
            assert_ne!(got, kResultOk);
            assert!(other.channelCount == 0 && other.name[0] == 0);
            assert_ne!(
                unsafe { host.component.activateBus(media, direction, index, 1) },
                kResultOk
            );
        }
    }
}

#[test]
fn parameters_have_a_name_a_range_a_unit_and_flags_that_agree() {
    let host = Vst3Host::made();
    let units = host.controller.cast::<IUnitInfo>().unwrap();
    let mut known = BTreeMap::from([(ROOT, 0)]);
    unsafe {
        for index in 0..units.getUnitCount() {
            let mut unit: UnitInfo = std::mem::zeroed();
            assert_eq!(units.getUnitInfo(index, &mut unit), kResultOk);
            assert!(unit.id >= 0 && !text(&unit.name).is_empty());
            let parent = if unit.id == ROOT { NO_PARENT } else { ROOT };
            assert_eq!(unit.parentUnitId, parent, "{}", text(&unit.name));
            assert!(unit.id == ROOT || known.insert(unit.id, index).is_none(), "an id twice");
        }
        let mut unit: UnitInfo = std::mem::zeroed();
        assert_ne!(units.getUnitInfo(units.getUnitCount(), &mut unit), kResultOk);
        assert_ne!(units.getUnitInfo(-1, &mut unit), kResultOk);
        assert_eq!(units.getProgramListCount(), 1);
    }
    assert!(known.len() >= 6, "a unit for each group: {known:?}");
    let (mut ids, mut bypasses) = (BTreeSet::new(), 0);
    for info in host.parameters() {
        let title = text(&info.title);
        assert!(info.id < 1 << 31 && ids.insert(info.id), "{title}");
        assert!(!title.is_empty() && info.stepCount >= 0, "{title}");
        assert!((0.0..=1.0).contains(&info.defaultNormalizedValue), "{title}");
        assert!(known.contains_key(&info.unitId), "{title}");
        let flag = |flag| info.flags & flag as i32 != 0;
        assert!(!(flag(kCanAutomate) && flag(kIsReadOnly)), "{title}");
        assert!(!(flag(kIsHidden) && flag(kCanAutomate)), "{title}");
        if flag(kIsBypass) {
            bypasses += 1;
            assert!(flag(kCanAutomate) && info.stepCount == 1, "{title}");
        }
    }
    assert_eq!(bypasses, 1);
    let mut info: ParameterInfo = unsafe { std::mem::zeroed() };
    for index in [-1, host.parameters().len() as i32] {
        assert_ne!(unsafe { host.controller.getParameterInfo(index, &mut info) }, kResultOk);
    }
}

#[test]
fn a_program_sets_what_its_name_says_and_the_host_is_told() {
    let host = Vst3Host::made();
    let units = host.controller.cast::<IUnitInfo>().unwrap();
    let mut list: ProgramListInfo = unsafe { std::mem::zeroed() };
    let mut root: UnitInfo = unsafe { std::mem::zeroed() };
    unsafe {
        assert_eq!(units.getProgramListInfo(0, &mut list), kResultOk);
        assert_ne!(units.getProgramListInfo(1, &mut list), kResultOk);
        let last = units.getUnitCount() - 1;
        assert_eq!(units.getUnitInfo(last, &mut root), kResultOk);
    }
    assert_eq!((root.id, root.programListId), (ROOT, list.id));
    let name = |index| {
        let mut name: String128 = [0; 128];
        let got = unsafe { units.getProgramName(list.id, index, &mut name) };
        (got == kResultOk).then(|| text(&name))
    };
    let names: Vec<String> = (0..list.programCount).filter_map(name).collect();
    assert_eq!(names.len(), list.programCount as usize);
    assert!(name(list.programCount).is_none() && name(-1).is_none());
    let program = host.param("Program");
    let info = host.parameters().into_iter().find(|info| info.id == program).unwrap();
    assert!(info.flags & kIsProgramChange as i32 != 0 && info.flags & kIsList as i32 != 0);
    assert_eq!((info.unitId, info.stepCount), (ROOT, list.programCount - 1));
    // A left hand by its name: the pattern is that one.
    let pattern = host.param("Pattern");
    let shown = |id| unsafe {
        let mut words: String128 = [0; 128];
        let value = host.controller.getParamNormalized(id);
        assert_eq!(host.controller.getParamStringByValue(id, value, &mut words), kResultOk);
        text(&words)
    };
    let chosen = names.iter().position(|name| name == "Fifths").unwrap();
    let value = chosen as f64 / f64::from(info.stepCount);
    assert_ne!(shown(pattern), "Fifths");
    unsafe {
        assert_eq!(host.controller.setParamNormalized(program, value), kResultOk);
    }
    assert_eq!((shown(program), shown(pattern)), ("Fifths".into(), "Fifths".into()));
    assert!(host.told.edits.lock().unwrap().contains(&pattern));
    // The first leaves all as it is.
    unsafe {
        assert_eq!(host.controller.setParamNormalized(program, 0.0), kResultOk);
    }
    assert_eq!(shown(pattern), "Fifths");
}

#[test]
fn normalised_and_plain_values_and_texts_agree() {
    let host = Vst3Host::made();
    let controller = &host.controller;
    for info in host.own_parameters() {
        let (id, title, steps) = (info.id, text(&info.title), info.stepCount.max(1));
        for n in 0..=steps {
            let value = f64::from(n) / f64::from(steps);
            unsafe {
                let plain = controller.normalizedParamToPlain(id, value);
                let back = controller.plainParamToNormalized(id, plain);
                assert!((back - value).abs() < 1e-6, "{title}: {value} {plain} {back}");
                assert_eq!(controller.setParamNormalized(id, value), kResultOk, "{title}");
                assert!((controller.getParamNormalized(id) - value).abs() < 1e-6, "{title}");
                let mut words: String128 = [0; 128];
                assert_eq!(controller.getParamStringByValue(id, value, &mut words), kResultOk);
                let mut read = f64::NAN;
                let found = controller.getParamValueByString(id, words.as_mut_ptr(), &mut read);
                assert_eq!(found, kResultOk, "{title}: {}", text(&words));
                assert!((read - value).abs() < 1e-6, "{title}: {}", text(&words));
            }
        }
        let reset = unsafe { controller.setParamNormalized(id, info.defaultNormalizedValue) };
        assert_eq!(reset, kResultOk);
    }
    let mut words: String128 = [0; 128];
    unsafe {
        assert_ne!(controller.setParamNormalized(1, 0.5), kResultOk, "there is no such id");
        assert_ne!(controller.getParamStringByValue(1, 0.5, &mut words), kResultOk);
    }
}

#[test]
fn every_mapped_controller_is_a_parameter() {
    let host = Vst3Host::made();
    let ids: BTreeSet<_> = host.parameters().iter().map(|info| info.id).collect();
    let mapping = host.controller.cast::<IMidiMapping>().unwrap();
    let mut tags = BTreeSet::new();
    for channel in 0..16 {
        for controller in 0..CONTROLLERS as i16 {
            let mut id = 0;
            let got =
                unsafe { mapping.getMidiControllerAssignment(0, channel, controller, &mut id) };
            assert_eq!(got, kResultOk, "{channel} {controller}");
            assert!(ids.contains(&id) && tags.insert(id), "{channel} {controller}");
        }
    }
    let mut id = 0;
    for (bus, channel, controller) in [(1, 0, 1), (-1, 0, 1), (0, 16, 1), (0, -1, 1), (0, 0, -1)] {
        let got = unsafe { mapping.getMidiControllerAssignment(bus, channel, controller, &mut id) };
        assert_ne!(got, kResultOk, "{bus} {channel} {controller}");
    }
}

#[test]
fn it_may_be_ended_and_begun_again_and_turned_on_and_off() {
    let host = Vst3Host::made();
    for _ in 0..3 {
        for rate in [8_000.0, 44_100.0, 192_000.0] {
            host.start(rate, 64);
            host.block_at(
                64,
                Some(Vst3Time::at(0.0)),
                vec![on(0, 60), on(1, 64), on(2, 67)],
                vec![],
            );
            host.stop();
        }
        unsafe {
            assert_eq!(host.component.terminate(), kResultOk);
            assert_eq!(host.component.initialize(std::ptr::null_mut()), kResultOk);
        }
    }
}

#[test]
fn single_precision_is_taken_and_the_tail_and_latency_are_told() {
    let host = Vst3Host::made();
    let takes = |size: u32| unsafe { host.processor().canProcessSampleSize(size as i32) };
    assert_eq!(takes(kSample32 as u32), kResultOk);
    assert_eq!(host.latency(), 0);
    // Audio that is not there cannot be arranged, and does no harm.
    let mut arrangement = 3;
    let none = std::ptr::null_mut();
    unsafe {
        let arranged =
            host.processor().setBusArrangements(&mut arrangement, 1, &mut arrangement, 1);
        assert_ne!(arranged, kResultOk);
        let _ = host.processor().setBusArrangements(none, 0, none, 0);
        let _ = host.processor().setBusArrangements(&mut arrangement, 0, &mut arrangement, 0);
        assert_ne!(host.processor().getBusArrangement(0, 0, &mut arrangement), kResultOk);
    }
}

#[test]
fn blocks_without_lists_clock_or_frames_are_taken() {
    let host = Vst3Host::started();
    for frames in [0, 1, 64, 8192] {
        host.bare_block(frames);
        host.block_at(frames, None, vec![], vec![]);
        host.block_at(
            frames,
            Some(Vst3Time { valid: 0, ..Vst3Time::at(3.0) }),
            vec![on(0, 60)],
            vec![],
        );
        host.block_at(frames, Some(Vst3Time::stopped(0.0)), vec![off(0, 60)], vec![]);
    }
    // A value is taken without any frames, as hosts flush.
    let bypass = host.param("Bypass");
    host.block_at(0, None, vec![], vec![ParameterChange(bypass, 0, 1.0)]);
    assert_eq!(unsafe { host.controller.getParamNormalized(bypass) }, 1.0);
    let saved = host.save();
    host.block_at(0, None, vec![], vec![ParameterChange(bypass, 0, 0.0)]);
    assert_eq!(unsafe { host.controller.getParamNormalized(bypass) }, 0.0);
    assert!(host.restore(&saved));
    assert_eq!(unsafe { host.controller.getParamNormalized(bypass) }, 1.0);
}

#[test]
fn any_values_of_all_parameters_are_played_with() {
    let mut dice = Dice::new(31);
    let host = Vst3Host::started();
    let infos = host.parameters();
    for block in 0..200 {
        let changes = (0..40).map(|n| {
            let info = &infos[dice.below(infos.len() as u32) as usize];
            ParameterChange(
                info.id,
                n * 12,
                if block % 2 == 0 { dice.part() } else { dice.below(2).into() },
            )
        });
        let changes = changes.collect();
        let keys = (0..10).map(|n| {
            let key = (dice.below(128)) as i16;
            if dice.below(2) == 0 { on(n * 50, key) } else { off(n * 50, key) }
        });
        let keys = keys.collect();
        host.block_at(512, Some(Vst3Time::at(f64::from(block) * 0.02)), keys, changes);
    }
    for info in infos {
        let value = unsafe { host.controller.getParamNormalized(info.id) };
        assert!((0.0..=1.0).contains(&value), "{}: {value}", text(&info.title));
    }
}

#[test]
fn the_same_state_is_saved_again_to_the_byte() {
    let mut dice = Dice::new(32);
    let host = Vst3Host::started();
    for _ in 0..5 {
        let infos = host.parameters();
        let changes = host
            .own_parameters()
            .iter()
            .map(|info| ParameterChange(info.id, 0, dice.part()))
            .collect();
        host.block_at(64, None, vec![], changes);
        let saved = host.save();
        let other = Vst3Host::made();
        assert!(other.restore(&saved));
        assert_eq!(other.save(), saved);
        for info in infos {
            let value = |host: &Vst3Host| unsafe { host.controller.getParamNormalized(info.id) };
            assert_eq!(value(&other), value(&host), "{}", text(&info.title));
        }
    }
}
