//! The plugin: what the host calls, in the order in which it calls it.

use std::sync::Arc;

use nice_plug::prelude::*;
use sinistra_core::engine::{Engine, Settings};
use sinistra_core::time::Ticks;
use sinistra_panel::control::{Control, Values};
use sinistra_panel::home::PatternCard;
use sinistra_panel::take::{Owner, TakeLog, Tape};

use crate::audio::ahead::Ahead;
use crate::audio::clock::{ClockTouch, FreeRunning, HostClock, HostTime};
use crate::audio::merge::{LeftOutput, Merge, MergedOutput};
use crate::audio::note_ids;
use crate::audio::player::{BlockPlayer, SubBlock};
use crate::audio::rack::Rack;
use crate::audio::span::BlockReport;
use crate::audio::sysex::Passing;
use crate::audio::through::{HostEvent, Through};
use crate::free::parameters::{self, Parameters};
use crate::free::{self, AudioSide, DeskTask, DeskWorker, Instance, OurEditor, meeting};
use crate::presets;

/// Snapshots a second for the window.
const SNAPSHOTS: f64 = 120.0;

/// The left hand as a MIDI effect.
pub struct Sinistra {
    parameters: Arc<Parameters>,
    desk: Arc<Instance>,
    player: BlockPlayer,
    /// As adopted last, and what they mean.
    values: Values,
    settings: Settings,
    bypassed: bool,
    rack: Rack,
    ways: AudioSide,
    clock: HostClock,
    through: Through,
    ahead: Ahead,
    merge: Merge,
    rate: f64,
    live: bool,
    /// Whether there is a window to show something to.
    watched: bool,
    /// Frames since the last snapshot was given.
    unseen: u32,
    /// The number of the last edit.
    edits: i32,
}

impl Default for Sinistra {
    fn default() -> Self {
        let (desk, ways, own_patterns) = Instance::new(PatternCard::presets());
        let (rack, first) = Rack::new(presets::patterns(), own_patterns);
        let settings = Settings::default();
        let mut engine = Engine::new(settings, first);
        engine.look_ahead(Ticks(Ticks::PER_BEAT)); // its room, while there may be one
        engine.lead(Ticks::ZERO, Ticks::ZERO);
        engine.watch(false);
        Self {
            parameters: Arc::new(Parameters::new(desk.clone())),
            desk,
            player: BlockPlayer { engine, left: LeftOutput::default(), tape: Tape::default() },
            values: Values::default(),
            settings,
            bypassed: false,
            rack,
            ways,
            clock: HostClock::default(),
            through: Through::default(),
            ahead: Ahead::default(),
            merge: Merge::default(),
            rate: 48_000.0,
            live: true,
            watched: false,
            unseen: 0,
            edits: 0,
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
    type BackgroundTask = DeskTask;

    fn params(&self) -> Arc<dyn Params> {
        self.parameters.clone()
    }

    fn task_executor(&mut self) -> TaskExecutor<Self> {
        let desk = self.desk.clone();
        Box::new(move |task| match task {
            DeskTask::Recall(edit) => desk.recall(edit),
            DeskTask::AskMenu(control) => desk.host.ask(control),
            DeskTask::Choose(control, number) => desk.host.choose(control, number),
            DeskTask::Farewell(done) => drop(done.try_send(())),
        })
    }

    fn editor(&mut self, worker: AsyncExecutor<Self>) -> Option<Self::Editor> {
        let worker = DeskWorker::new(worker);
        meeting::meet(worker.clone(), self.desk.clone());
        free::editor(self.desk.clone(), self.parameters.clone(), worker)
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
        if let Some(tempo) = self.desk.delay.tempo() {
            self.ahead.span.remember(tempo);
        }
        let values = self.parameters.values();
        if self.ahead.span.prepare(said(&values, &HostTime::default(), self.rate)) {
            self.ahead.cut(&mut self.player.engine, HostClock::still(&HostTime::default()));
        }
        context.set_latency_samples(self.ahead.span.frames());
        self.tell_delay();
        true
    }

    fn reset(&mut self) {
        // Nothing can be sent from here: the releases go out with the next block.
        let BlockPlayer { engine, left, .. } = &mut self.player;
        left.start_at(0);
        engine.silence(0, left);
        if self.ahead.is_on() {
            self.ahead.cut(engine, HostClock::still(&HostTime::default()));
        }
        self.through.let_all_go();
        self.clock = HostClock::default();
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let frames = buffer.samples() as u32;
        self.adopt();
        let edits = self.parameters.edits();
        if edits != std::mem::replace(&mut self.edits, edits) {
            context.execute_gui(DeskTask::Recall(edits));
        }
        let host = HostTime::read(context.transport());
        self.follow(context, &host, frames);
        if self.ahead.is_on() {
            self.hear_ahead(context, &host, frames);
        }
        self.perform(context, &host, frames);
        self.show(frames);
        self.status()
    }
}

impl Sinistra {
    /// Takes over what was set, edited or loaded since the last block.
    fn adopt(&mut self) {
        let set = self.parameters.take_changed();
        if set {
            self.values = self.parameters.values();
        }
        let (BlockPlayer { engine, left, .. }, values) = (&mut self.player, &self.values);
        self.ways.songs.fetch(|song| engine.swap_song(song));
        self.rack.turn_to(values.get(Control::Pattern).unsigned_abs() as usize, engine);
        if !set {
            return;
        }
        let bypassed = self.parameters.bypassed();
        self.merge.set_apart(values.on(Control::Apart));
        let mut settings = values.settings();
        settings.plays &= !bypassed;
        if self.settings.plays && !settings.plays {
            left.start_at(0);
            engine.silence(0, left);
        }
        if settings != self.settings {
            engine.set(settings);
            self.settings = settings;
        }
        self.bypassed = bypassed;
    }

    /// The latency follows the player and the tempo; a stop cuts it short.
    fn follow(&mut self, context: &mut impl ProcessContext<Self>, host: &HostTime, frames: u32) {
        let said = said(&self.values, host, self.rate);
        self.ahead.look_at(host, said.tempo, self.rate);
        let follow = self.ahead.follow(said, frames, self.live);
        if !follow.changed && !follow.stops {
            return;
        }
        if follow.changed {
            context.set_latency_samples(self.ahead.span.frames());
            self.tell_delay();
        }
        if follow.stops {
            let (tape, log) = (&self.player.tape, &self.ways.log);
            self.merge.end_right(&mut HostOutput { context, tape, log, until: 0, rate: self.rate });
        }
        self.ahead.cut(&mut self.player.engine, HostClock::still(host));
    }

    /// Lets the window and the state know.
    fn tell_delay(&self) {
        let span = &self.ahead.span;
        self.desk.delay.tell(f64::from(span.frames()) / self.rate, span.tempo());
    }

    /// Hears what the player does now; it sounds and is answered later.
    fn hear_ahead(
        &mut self,
        context: &mut impl ProcessContext<Self>,
        host: &HostTime,
        frames: u32,
    ) {
        let mut from = 0;
        loop {
            let hand = &mut self.ahead.hand;
            let all = hand.gather(from, frames, &mut || context.next_event());
            let until = hand.end_of_part(all, from, frames);
            if from == 0 {
                let (touch, own) =
                    (touch(hand, host, &self.settings), own(&self.values, &self.settings));
                let now = self.clock.read(host, own, touch, frames, self.rate, self.live);
                match self.ahead.is_sounding() {
                    true => {
                        let span = self.ahead.span.frames();
                        self.ahead.lag.push_sounding(now, frames, span, self.rate);
                    }
                    false => self.ahead.lag.push(now, frames, self.rate),
                }
            }
            let part = SubBlock { from, until, frames, rate: self.rate };
            self.ahead.hear(part, &mut self.player.engine, &mut self.merge);
            if all {
                return;
            }
            from = until;
        }
    }

    /// Passes on what is to sound in this block and plays the left hand to it.
    fn perform(&mut self, context: &mut impl ProcessContext<Self>, host: &HostTime, frames: u32) {
        let rate = self.rate;
        let delayed = self.ahead.is_on();
        if delayed && !self.ahead.is_sounding() {
            self.ahead.lag.pull(frames, rate);
        }
        let mut from = 0;
        loop {
            let (ahead, merge) = (&mut self.ahead, &mut self.merge);
            let all = self.through.gather(from, frames, &mut || match ahead.next_cut(merge) {
                None if delayed => ahead.delay.next(frames),
                None => context.next_event(),
                cut => cut,
            });
            let until = self.through.end_of_part(all, from, frames);
            let part = SubBlock { from, until, frames, rate };
            if delayed {
                let (lag, heard) = (&self.ahead.lag, &mut self.through.heard);
                let lead = |n, engine: &mut Engine| Ahead::lead(lag, n, rate, engine);
                self.player.play(part, lag.played(), heard, &self.ways.log, lead);
            } else {
                if from == 0 {
                    let touch = touch(&self.through, host, &self.settings);
                    let own = own(&self.values, &self.settings);
                    self.clock.read(host, own, touch, frames, rate, self.live);
                }
                let now = self.clock.now();
                let heard = &mut self.through.heard;
                self.player.play(part, now, heard, &self.ways.log, |_, _| {});
            }
            let passes = self.values.on(Control::Through) || self.bypassed;
            let (tape, log) = (&self.player.tape, &self.ways.log);
            let mut outlet = HostOutput { context, tape, log, until, rate };
            let events = &mut self.through.events;
            self.merge.send(events, passes, &mut self.player.left, &mut outlet);
            if all {
                break;
            }
            from = until;
        }
        if delayed {
            self.ahead.delay.pass(frames);
        }
    }

    /// Gives the window something to look at, now and then, if there is one.
    fn show(&mut self, frames: u32) {
        let watched = self.desk.is_watched();
        if watched != self.watched {
            self.watched = watched;
            self.player.engine.watch(watched);
        }
        if !watched {
            return;
        }
        self.unseen = self.unseen.saturating_add(frames);
        if f64::from(self.unseen) * SNAPSHOTS >= self.rate {
            self.unseen = 0;
            let shown = self.ways.snapshot.input_buffer_mut();
            shown.clone_from(self.player.engine.snapshot());
            shown.dropped = shown.dropped.saturating_add(self.merge.dropped());
            self.ways.snapshot.publish();
        }
    }

    /// Awake while time moves or anything is held; the host may let us sleep
    /// otherwise, and wakes us with the next event.
    fn status(&self) -> ProcessStatus {
        let busy = self.player.engine.is_busy() || !self.ahead.delay.is_empty();
        if busy { ProcessStatus::Tail(self.rate as u32) } else { ProcessStatus::Normal }
    }
}

/// What a block says about look-ahead.
fn said(values: &Values, host: &HostTime, rate: f64) -> BlockReport {
    let own = values.get(Control::Tempo).into();
    let (beats, tempo) = (values.get(Control::Ahead), host.tempo.unwrap_or(own));
    BlockReport { beats, tempo, rate, playing: host.playing }
}

/// What the right hand does, for our own clock: a host that plays needs none.
fn touch(hand: &Through, host: &HostTime, settings: &Settings) -> ClockTouch {
    if host.playing { ClockTouch::default() } else { hand.touch(settings.split) }
}

/// What the player set for our own clock.
fn own(values: &Values, settings: &Settings) -> FreeRunning {
    FreeRunning {
        standing: values.on(Control::Standing),
        tempo: values.get(Control::Tempo).into(),
        rest_bars: f64::from(settings.hold_bars) + 1.0,
    }
}

/// The host's event list, and the log beside it.
struct HostOutput<'a, C> {
    context: &'a mut C,
    tape: &'a Tape,
    log: &'a TakeLog,
    until: u32,
    rate: f64,
}

impl<C: ProcessContext<Sinistra>> MergedOutput for HostOutput<'_, C> {
    fn take(&mut self, event: HostEvent) -> bool {
        note_ids::carrying(event, |event| self.context.try_send_event(event).is_ok())
    }

    fn tell(&mut self, frame: u32, hand: Owner, message: [u8; 3]) {
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
