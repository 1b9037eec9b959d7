//! The least that a plugin of this framework can do with notes: pass them on.
//! The bench measures ours beside it.

use std::sync::Arc;

use nice_plug::prelude::*;

#[derive(Default)]
struct PassThrough {
    params: Arc<NoParams>,
}

#[derive(Default, Params)]
struct NoParams {}

impl Plugin for PassThrough {
    const NAME: &'static str = "Pass through";
    const VENDOR: &'static str = "The Sinistra authors";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[];
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;

    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn process(
        &mut self,
        _buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        while let Some(event) = context.next_event() {
            let _ = context.try_send_event(event);
        }
        ProcessStatus::Normal
    }
}

impl ClapPlugin for PassThrough {
    const CLAP_ID: &'static str = "sinistra.pass-through";
    const CLAP_DESCRIPTION: Option<&'static str> = None;
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::NoteEffect];
}

nice_export_clap!(PassThrough);
