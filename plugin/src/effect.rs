//! The plugin: what the host calls, in the order in which it calls it.

use std::sync::Arc;

use nice_plug::prelude::*;
use sinistra_core::engine::{Block, Engine, Settings};
use sinistra_panel::control::{Control, Values};
use sinistra_panel::take::{Hand, Log};

use crate::audio::clock::{Clock, Host as HostClock, Own, Stretch, Stretches};
use crate::audio::merge::{Host, Left, Merge};
use crate::audio::rack::Rack;
use crate::audio::sysex::Passing;
use crate::audio::tape::Tape;
use crate::audio::through::{Event, Through};
use crate::free::{self, AudioSide, Desk, OurEditor};
use crate::parameters::{self, Parameters};
use crate::presets;

/// Snapshots a second for the window.
const SNAPSHOTS: f64 = 120.0;

/// The left hand as a MIDI effect.
pub struct Sinistra {
    parameters: Arc<Parameters>,
    desk: Arc<Desk>,
    engine: Engine,
    settings: Settings,
    bypassed: bool,
    rack: Rack,
    ways: AudioSide,
    clock: Clock,
    through: Through,
    left: Left,
    merge: Merge,
    tape: Tape,
    rate: f64,
    live: bool,
    /// Frames since the last snapshot was given.
    unseen: u32,
}

impl Default for Sinistra {
    fn default() -> Self {
        let (desk, ways, own_patterns) = Desk::new(presets::cards());
        let (rack, first) = Rack::new(presets::patterns(), own_patterns);
        let settings = Settings::default();
        Self {
            parameters: Arc::new(Parameters::new(desk.clone())),
            desk,
            engine: Engine::new(settings, first),
            settings,
            bypassed: false,
            rack,
            ways,
            clock: Clock::default(),
            through: Through::default(),
            left: Left::default(),
            merge: Merge::default(),
            tape: Tape::default(),
            rate: 48_000.0,
            live: true,
            unseen: 0,
        }
    }
}

impl Plugin for Sinistra {
    const NAME: &'static str = "Sinistra";
    const VENDOR: &'static str = "The Sinistra authors";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[];
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;

    type Editor = OurEditor;
    type SysExMessage = Passing;
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.parameters.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<Self::Editor> {
        free::editor(self.desk.clone(), self.parameters.clone())
    }

    fn filter_state(state: &mut PluginState) {
        parameters::mend(state);
    }

    fn activate(
        &mut self,
        _layout: &AudioIOLayout,
        config: &BufferConfig,
        context: &mut impl ActivateContext<Self>,
    ) -> bool {
        self.rate = f64::from(config.sample_rate);
        self.live = config.process_mode != ProcessMode::Offline;
        context.set_latency_samples(0);
        true
    }

    fn reset(&mut self) {
        // Nothing can be sent from here: the releases go out with the next block.
        self.left.start_at(0);
        self.engine.silence(0, &mut self.left);
        self.through.let_all_go();
        self.clock = Clock::default();
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let frames = buffer.samples() as u32;
        let values = self.parameters.values();
        self.adopt(&values);
        let mut stretches = None;
        let mut from = 0;
        loop {
            let all = self.through.gather(from, frames, &mut || context.next_event());
            let stretches = &*stretches.get_or_insert_with(|| {
                self.stretches(&HostClock::read(context.transport()), &values, frames)
            });
            let last = self.through.events.last().map_or(from, |event| event.timing());
            let until = if all { frames } else { frames.min(last.saturating_add(1)).max(from) };
            self.play(stretches, from, until, frames);
            self.send(context, &values, until);
            if all {
                break;
            }
            from = until;
        }
        self.show(frames);
        self.status()
    }
}

impl Sinistra {
    /// Takes over what was set, edited or loaded since the last block.
    fn adopt(&mut self, values: &Values) {
        let engine = &mut self.engine;
        self.ways.songs.fetch(|song| engine.swap_song(song));
        self.rack.turn_to(values.get(Control::Pattern).unsigned_abs() as usize, engine);
        let bypassed = self.parameters.bypassed();
        let mut settings = values.settings();
        settings.plays &= !bypassed;
        if self.settings.plays && !settings.plays {
            self.left.start_at(0);
            engine.silence(0, &mut self.left);
        }
        if settings != self.settings {
            engine.set(settings);
            self.settings = settings;
        }
        self.bypassed = bypassed;
    }

    /// Where each stretch of the block lies in the song.
    fn stretches(&mut self, host: &HostClock, values: &Values, frames: u32) -> Stretches {
        let own = Own {
            standing: values.on(Control::Standing),
            tempo: values.get(Control::Tempo).into(),
            rest_bars: f64::from(self.settings.hold_bars) + 1.0,
        };
        let touch = self.through.touch(self.settings.split);
        self.clock.read(host, own, touch, frames, self.rate, self.live)
    }

    /// Has the engine play what lies in `from..until`, stretch by stretch.
    fn play(&mut self, stretches: &[Stretch], from: u32, until: u32, frames: u32) {
        let mut heard = self.through.heard.as_mut_slice();
        for (n, stretch) in stretches.iter().enumerate() {
            let end = stretches.get(n + 1).map_or(frames, |next| next.from).min(until);
            let start = stretch.from.max(from);
            // An empty block is played all the same: it may bring events.
            if start >= end && frames > 0 {
                continue;
            }
            let mine = heard.partition_point(|event| event.frame < end.max(1));
            let (events, rest) = heard.split_at_mut(mine);
            heard = rest;
            for event in events.iter_mut() {
                event.frame = event.frame.saturating_sub(start);
            }
            let part = stretch.read_at(start, self.rate);
            self.left.start_at(start);
            self.engine.process(
                &Block { frames: end - start, rate: self.rate, transport: part.transport, events },
                &mut self.left,
            );
            self.tape.run(&part, end - start, self.rate, &self.ways.log);
        }
    }

    /// Sends what was gathered and played, up to frame `until`.
    fn send(&mut self, context: &mut impl ProcessContext<Self>, values: &Values, until: u32) {
        let passes = values.on(Control::Through) || self.bypassed;
        let mut host =
            Outlet { context, tape: &self.tape, log: &self.ways.log, until, rate: self.rate };
        self.merge.send(&mut self.through.events, passes, &mut self.left, &mut host);
    }

    /// Gives the window something to look at, now and then.
    fn show(&mut self, frames: u32) {
        self.unseen = self.unseen.saturating_add(frames);
        if f64::from(self.unseen) * SNAPSHOTS >= self.rate {
            self.unseen = 0;
            let shown = self.ways.snapshot.input_buffer_mut();
            shown.clone_from(self.engine.snapshot());
            shown.dropped = shown.dropped.saturating_add(self.merge.dropped());
            self.ways.snapshot.publish();
        }
    }

    /// Awake while time moves or anything is held; the host may let us sleep
    /// otherwise, and wakes us with the next event.
    fn status(&self) -> ProcessStatus {
        let snapshot = self.engine.snapshot();
        let busy = snapshot.playing || snapshot.right != 0 || !snapshot.left.is_empty();
        if busy { ProcessStatus::Tail(self.rate as u32) } else { ProcessStatus::Normal }
    }
}

/// The host's event list, and the log beside it.
struct Outlet<'a, C> {
    context: &'a mut C,
    tape: &'a Tape,
    log: &'a Log,
    until: u32,
    rate: f64,
}

impl<C: ProcessContext<Sinistra>> Host for Outlet<'_, C> {
    fn take(&mut self, event: Event) -> bool {
        self.context.try_send_event(event).is_ok()
    }

    fn tell(&mut self, frame: u32, hand: Hand, message: [u8; 3]) {
        let frames = f64::from(self.until.saturating_sub(frame));
        self.tape.note(frames / self.rate, hand, message, self.log);
    }
}

impl ClapPlugin for Sinistra {
    const CLAP_ID: &'static str = "sinistra.left-hand";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Plays the left hand to the chords that your right hand holds");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::NoteEffect, ClapFeature::Utility];
}

impl Vst3Plugin for Sinistra {
    const VST3_CLASS_ID: [u8; 16] = *b"SinistraLeftHand";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] =
        &[Vst3SubCategory::Fx, Vst3SubCategory::Tools];
}
