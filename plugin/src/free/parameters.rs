//! The table of controls as parameters of the host.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use nice_plug::context::gui::GuiContext;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::*;
use sinistra_panel::control::{self, Control, ControlScale, Values};

use super::Instance;

/// The host's parameters, and what else belongs to the state.
pub struct Parameters {
    knobs: Vec<Knob>,
    bypass: BoolParam,
    /// Counts edits of the chart and the own pattern, so that the host sees
    /// that the project changed: it looks at nothing but parameters.
    edits: IntParam,
    desk: Arc<Instance>,
    changed: Changed,
}

/// Set by whoever sets a parameter, looked at by the audio thread.
type Changed = Arc<AtomicBool>;

enum Knob {
    Switch(BoolParam),
    Whole(IntParam),
}

/// The framework takes any text at all for "off".
fn on_or_off(text: &str) -> Option<bool> {
    Control::Plays.read(text, |_| String::new()).map(|value| value != 0)
}

/// The bypass parameter's id.
const BYPASS: &str = "bypass";
/// The edit counter's id.
const EDITS: &str = "edits";
/// The edit counter starts again after this.
const MOST_EDITS: i32 = 9999;

impl Parameters {
    /// All at their defaults.
    pub fn new(desk: Arc<Instance>) -> Self {
        let changed = Changed::new(true.into());
        let set = changed.clone();
        Self {
            knobs: control::ALL.map(|control| Knob::new(control, &desk, &changed)).into(),
            bypass: BoolParam::new("Bypass", false)
                .with_string_to_value(Arc::new(on_or_off))
                .with_callback(Arc::new(move |_| set.store(true, Ordering::Release)))
                .make_bypass(),
            edits: IntParam::new("Edits", 0, IntRange::Linear { min: 0, max: MOST_EDITS }).hide(),
            desk,
            changed,
        }
    }

    /// Whether any was set since this was last asked. Real-time safe.
    pub fn take_changed(&self) -> bool {
        self.changed.load(Ordering::Relaxed) && self.changed.swap(false, Ordering::Acquire)
    }

    /// What every control is set to. Real-time safe.
    pub fn values(&self) -> Values {
        Values::read(|control| match self.knobs.get(control as usize) {
            Some(Knob::Switch(param)) => param.value().into(),
            Some(Knob::Whole(param)) => param.value(),
            None => control.spec().default,
        })
    }

    /// Whether the plugin is bypassed. Real-time safe.
    pub fn bypassed(&self) -> bool {
        self.bypass.value()
    }
}

/// Brings a state of any age or condition into what this version can take:
/// values into their ranges, defaults for what is missing.
pub fn mend(state: &mut PluginState) {
    for control in control::ALL {
        let spec = control.spec();
        let switch = spec.scale == ControlScale::Switch;
        let value = state.params.entry(spec.id.into()).or_insert(ParamValue::I32(spec.default));
        let number = match value {
            ParamValue::I32(number) => spec.clamp(*number),
            ParamValue::Bool(on) => spec.clamp((*on).into()),
            ParamValue::F32(number) if number.is_finite() => spec.clamp(number.round() as i32),
            _ => spec.default,
        };
        *value = if switch { ParamValue::Bool(number != 0) } else { ParamValue::I32(number) };
    }
    if !matches!(state.params.get(BYPASS), Some(ParamValue::Bool(_))) {
        state.params.insert(BYPASS.into(), ParamValue::Bool(false));
    }
    if let Some(ParamValue::I32(edits)) = state.params.get_mut(EDITS) {
        *edits = (*edits).clamp(0, MOST_EDITS);
    }
}

impl Parameters {
    /// The number of the last edit, as the host has it. Real-time safe.
    pub fn edits(&self) -> i32 {
        self.edits.value()
    }
}

/// For the window, from its thread.
impl Parameters {
    /// A control is taken hold of.
    pub fn take_hold(&self, control: Control, host: &GuiContext) {
        match self.knobs.get(control as usize) {
            Some(Knob::Switch(param)) => host.param_setter().begin_set_parameter(param),
            Some(Knob::Whole(param)) => host.param_setter().begin_set_parameter(param),
            None => {}
        }
    }

    /// A control that was taken hold of is set.
    pub fn set(&self, control: Control, value: i32, host: &GuiContext) {
        let value = control.spec().clamp(value);
        match self.knobs.get(control as usize) {
            Some(Knob::Switch(param)) => host.param_setter().set_parameter(param, value != 0),
            Some(Knob::Whole(param)) => host.param_setter().set_parameter(param, value),
            None => {}
        }
    }

    /// A control is let go.
    pub fn let_go(&self, control: Control, host: &GuiContext) {
        match self.knobs.get(control as usize) {
            Some(Knob::Switch(param)) => host.param_setter().end_set_parameter(param),
            Some(Knob::Whole(param)) => host.param_setter().end_set_parameter(param),
            None => {}
        }
    }

    /// Makes the host see that the project changed.
    pub fn count_edit(&self, host: &GuiContext) {
        let setter = host.param_setter();
        let before = self.edits.value();
        let now = (before + 1) % (MOST_EDITS + 1);
        self.desk.edited(before, now);
        setter.begin_set_parameter(&self.edits);
        setter.set_parameter(&self.edits, now);
        setter.end_set_parameter(&self.edits);
    }
}

impl Knob {
    fn new(control: Control, desk: &Arc<Instance>, changed: &Changed) -> Self {
        let spec = control.spec();
        let set = changed.clone();
        if spec.scale == ControlScale::Switch {
            return Self::Switch(
                BoolParam::new(spec.name, spec.default != 0)
                    .with_string_to_value(Arc::new(on_or_off))
                    .with_callback(Arc::new(move |_| set.store(true, Ordering::Release))),
            );
        }
        let range = IntRange::Linear { min: spec.min, max: spec.max };
        let unit = match spec.scale {
            ControlScale::Number("%") => " %",
            ControlScale::Number("ms") => " ms",
            ControlScale::Number("bpm") => " bpm",
            ControlScale::Number("semitones") => " semitones",
            _ => "",
        };
        let names = desk.clone();
        let show = move |value| {
            let text = control.show(value, |number| names.pattern_name(number));
            // Hosts add the unit themselves.
            text.strip_suffix(unit).unwrap_or(&text).to_owned()
        };
        let names = desk.clone();
        let read = move |text: &str| control.read(text, |number| names.pattern_name(number));
        let param = IntParam::new(spec.name, spec.default, range)
            .with_unit(unit)
            .with_callback(Arc::new(move |_| set.store(true, Ordering::Release)))
            .with_value_to_string(Arc::new(show))
            .with_string_to_value(Arc::new(read));
        // Each change of the latency makes the host start the plugin anew.
        let fixed = control == Control::Ahead;
        Self::Whole(if fixed { param.non_automatable() } else { param })
    }

    fn as_ptr(&self) -> ParamPtr {
        match self {
            Self::Switch(param) => param.as_ptr(),
            Self::Whole(param) => param.as_ptr(),
        }
    }
}

// SAFETY: the pointers lead into `self.knobs`, `self.bypass` and `self.edits`,
// which are never moved or changed in size after `new`; the wrapper keeps the
// `Arc` of this object for as long as it uses them.
#[allow(unsafe_code, reason = "the framework asks for pointers to its parameters")]
unsafe impl Params for Parameters {
    fn param_map(&self) -> Vec<(String, ParamPtr, String)> {
        let row = |(control, knob): (&Control, &Knob)| {
            let spec = control.spec();
            (spec.id.to_owned(), knob.as_ptr(), spec.group.name().to_owned())
        };
        let top = |id: &str, param: ParamPtr| (id.to_owned(), param, String::new());
        let mut map = vec![top(BYPASS, self.bypass.as_ptr())];
        map.extend(control::ALL.iter().zip(&self.knobs).map(row));
        map.push(top(EDITS, self.edits.as_ptr()));
        map
    }

    fn serialize_fields(&self) -> BTreeMap<String, String> {
        self.desk.save()
    }

    fn deserialize_fields(&self, fields: &BTreeMap<String, String>) {
        self.desk.load(fields);
    }
}
