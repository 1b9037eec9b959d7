//! The audio world of the page: the player's messages in, two hands of piano out.
//! What is told to it between two blocks (a chart, a pattern) may allocate; a
//! block never does.

mod click;
mod clock;
mod view;

use arrayvec::ArrayVec;
use sinistra_core::engine::{Block, Engine, Message, Output, Played, Timed};
use sinistra_core::midi::{Short, length};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Pattern;
use sinistra_core::time::Metre;
use sinistra_score::control::{ALL, Control, Values};
use sinistra_score::pattern::{USUAL_PATTERN, pattern_presets};
use sinistra_score::take::{LoggedEvent, LoggedStroke, Owner, TakeLog, Tape};
use sinistra_score::{Chart, PatternFile, find_pattern};
use sinistra_sound::{Instrument, Limiter, Piano, Recording};

use click::PageMetronome;
use clock::PageClock;
use view::LiveView;

/// Messages of the player, or of the left hand, that a block holds.
const MESSAGES: usize = 256;

/// How loud the page begins; see [`Live::volume`].
const FIRST_VOLUME: f32 = 0.25;

/// Seconds in which the volume goes where it was set.
const VOLUME_S: f32 = 0.05;

/// Strokes in a block of which more is remembered than the note.
const STROKES: usize = 64;

/// General MIDI's drum channel: in cues, the metronome.
const DRUMS: u8 = 9;

/// Messages of a block, in the order in which they sound.
type Messages = ArrayVec<Timed, MESSAGES>;

/// The musician and the piano.
pub struct Live {
    engine: Engine,
    piano: Piano,
    click: PageMetronome,
    limiter: Limiter,
    rate: u32,
    values: Values,
    clock: PageClock,
    by_hand: bool,
    metronome: bool,
    /// What the player does in the block to come.
    events: Messages,
    /// What the left hand sent in the last block.
    sent: Messages,
    /// What is known of its strokes in a block, with their frames.
    strokes: Strokes,
    /// What was just played, to be kept.
    log: TakeLog,
    tape: Tape,
    /// The log's bytes, as the page asked for them last.
    logged: Vec<u8>,
    /// What sounds in the block.
    sounding: Messages,
    /// Cues that are played instead of the live hand, and the next of them.
    cues: Vec<(u64, Message)>,
    next_cue: usize,
    /// Frames since the first cue, while cues are played.
    cued: Option<u64>,
    /// End every note at the next block.
    hush: bool,
    sides: [Vec<f32>; 2],
    frames: usize,
    volume: f32,
    level: f32,
    view: LiveView,
}

impl Live {
    /// The most frames of a block.
    pub const MOST_FRAMES: usize = 4096;

    /// At `rate` samples a second, standing still, at a low volume.
    pub fn new(rate: u32) -> Self {
        let values = Values::default();
        let pattern = find_pattern(USUAL_PATTERN).and_then(|preset| preset.compile().ok());
        let pattern = pattern.unwrap_or_else(Pattern::default_boxed);
        let mut engine = Engine::new(values.settings(), pattern);
        engine.follow_hand(true);
        Self {
            engine,
            piano: Piano::without_recordings(rate),
            click: PageMetronome::new(rate),
            limiter: Limiter::new(rate),
            rate,
            values,
            clock: PageClock::default(),
            by_hand: true,
            metronome: false,
            events: Messages::new(),
            sent: Messages::new(),
            strokes: Strokes::new(),
            log: TakeLog::default(),
            tape: Tape::default(),
            logged: Vec::new(),
            sounding: Messages::new(),
            cues: Vec::new(),
            next_cue: 0,
            cued: None,
            hush: false,
            sides: [vec![0.0; Self::MOST_FRAMES], vec![0.0; Self::MOST_FRAMES]],
            frames: 0,
            volume: FIRST_VOLUME,
            level: FIRST_VOLUME,
            view: LiveView::default(),
        }
    }

    /// A message of the player, `frame` frames into the next block. A block that
    /// is full drops it, but never an end.
    pub fn midi(&mut self, frame: u32, bytes: [u8; 3]) {
        let whole = length(bytes[0]).and_then(|length| Short::new(bytes.get(..length)?));
        if let Some(message) = whole.filter(|message| message.channel().is_none()) {
            return self.clock.hear(message, f64::from(frame) / f64::from(self.rate));
        }
        let Some(message) = message_of(bytes) else { return };
        let is_on = matches!(message, Message::On { .. });
        if self.events.len() + usize::from(is_on) * 16 < MESSAGES {
            self.events.push(Timed { frame, message });
        }
    }

    /// Renders `frames` frames. Never allocates, locks, logs or panics.
    pub fn process(&mut self, frames: u32) {
        let count = (frames as usize).min(Self::MOST_FRAMES);
        let frames = count as u32;
        self.frames = count;
        self.sent.clear();
        self.sounding.clear();
        for event in &mut self.events {
            event.frame = event.frame.min(frames.saturating_sub(1));
        }
        self.events.sort_unstable_by_key(|event| event.frame);
        if std::mem::take(&mut self.hush) {
            self.engine.silence(0, &mut Sent(&mut self.sent, &mut self.strokes));
            self.end_take();
            for channel in 0..16 {
                self.piano.control(channel, 64, 0);
                self.piano.control(channel, 120, 0);
            }
        }
        match self.cued {
            Some(from) => self.play_cues(from, frames),
            None => self.accompany(frames),
        }
        if self.values.on(Control::Through) || self.cued.is_some() {
            self.sounding
                .extend(self.events.iter().copied().take(self.sounding.remaining_capacity()));
        }
        self.sounding.extend(self.sent.iter().copied().take(self.sounding.remaining_capacity()));
        // Ends before starts at one frame, so that a key can be struck again.
        self.sounding.sort_unstable_by_key(|timed| {
            (timed.frame, matches!(timed.message, Message::On { .. }))
        });
        self.events.clear();
        self.render(count);
    }

    /// The left hand to what the player plays.
    fn accompany(&mut self, frames: u32) {
        let rate = f64::from(self.rate);
        let split = self.values.settings().split;
        let starts =
            |event: &Timed| matches!(event.message, Message::On { key, .. } if key >= split);
        if self.by_hand
            && !self.clock.leads_by_midi()
            && !self.clock.plays()
            && self.events.iter().any(starts)
        {
            self.clock.play(true);
        }
        let transport = self.clock.begin(f64::from(frames) / rate);
        if self.metronome && transport.playing {
            let felt = transport.metre.pulse().beats();
            self.click.beats(
                &transport,
                felt,
                f64::from(frames) * transport.tempo / 60.0 / rate,
                frames,
            );
        }
        let block = Block { frames, rate, transport, events: &self.events };
        self.engine.process(&block, &mut Sent(&mut self.sent, &mut self.strokes));
        self.tape.run(&transport, frames, rate, &self.log);
        let before_end = |frame: u32| f64::from(frames.saturating_sub(frame)) / rate;
        for (hand, events) in [(Owner::Right, &self.events), (Owner::Left, &self.sent)] {
            for Timed { frame, message } in events {
                self.tape.note(before_end(*frame), hand, Short::from(*message).padded(), &self.log);
            }
        }
        for (frame, stroke) in self.strokes.drain(..) {
            self.tape.stroke(before_end(frame), stroke, &self.log);
        }
        if self.engine.snapshot().right != 0 || !self.events.is_empty() {
            self.clock.awake();
        }
        if self.by_hand && self.clock.has_rested(f64::from(frames) / rate) {
            // Nobody has played for long: time stands until the next first chord.
            self.clock.play(false);
        }
    }

    /// Ends what is down on the log: time is about to stand still.
    fn end_take(&mut self) {
        let down = self.engine.snapshot().right;
        let keys = (0..=127).filter(|key| down >> key & 1 == 1).filter_map(KeyNumber::new);
        for key in keys {
            let off = Message::Off { channel: 0, key, velocity: 64 };
            self.tape.note(0.0, Owner::Right, Short::from(off).padded(), &self.log);
        }
        for timed in &self.sent {
            self.tape.note(0.0, Owner::Left, Short::from(timed.message).padded(), &self.log);
        }
    }

    /// Writes down the log, to be kept; gives its bytes. Allocates.
    pub fn write_log(&mut self) -> usize {
        self.logged = self.log.read().iter().flat_map(LoggedEvent::to_bytes).collect();
        self.logged.len()
    }

    /// What [`Live::write_log`] wrote.
    pub fn logged(&self) -> &[u8] {
        &self.logged
    }

    fn play_cues(&mut self, from: u64, frames: u32) {
        let end = from + u64::from(frames);
        while let Some((at, message)) =
            self.cues.get(self.next_cue).copied().filter(|cue| cue.0 < end)
        {
            let frame = at.saturating_sub(from) as u32;
            match message {
                Message::On { channel: DRUMS, velocity, .. } => self.click.strike(frame, velocity),
                Message::Off { channel: DRUMS, .. } => {}
                _ if self.sounding.is_full() => {}
                _ => self.sounding.push(Timed { frame, message }),
            }
            self.next_cue += 1;
        }
        self.cued = Some(end);
    }

    fn render(&mut self, count: usize) {
        let [left, right] = &mut self.sides;
        let (Some(left), Some(right)) = (left.get_mut(..count), right.get_mut(..count)) else {
            return;
        };
        let mut from = 0;
        for timed in &self.sounding {
            let until = (timed.frame as usize).clamp(from, count);
            if let (Some(left), Some(right)) =
                (left.get_mut(from..until), right.get_mut(from..until))
            {
                self.piano.render(left, right);
            }
            self.piano.play(timed.message);
            from = until;
        }
        if let (Some(left), Some(right)) = (left.get_mut(from..), right.get_mut(from..)) {
            self.piano.render(left, right);
        }
        self.click.add(left, right);
        let follow = 1.0 / (VOLUME_S * self.rate as f32);
        for (left, right) in left.iter_mut().zip(right.iter_mut()) {
            self.level += (self.volume - self.level) * follow;
            *left *= self.level;
            *right *= self.level;
        }
        self.limiter.process(left, right);
    }

    /// The samples of a side, 0 left, 1 right, of the last block.
    pub fn side(&self, side: u32) -> &[f32] {
        let samples = self.sides.get(side as usize).map_or(&[][..], Vec::as_slice);
        samples.get(..self.frames).unwrap_or(samples)
    }

    /// What the left hand sent in the last block.
    pub fn sent(&self) -> &[Timed] {
        &self.sent
    }

    /// The bytes of one of them: status in the third lowest byte.
    pub fn sent_bytes(&self, index: usize) -> u32 {
        let bytes =
            self.sent.get(index).map_or([0; 3], |timed| Short::from(timed.message).padded());
        bytes.iter().fold(0, |all, byte| all << 8 | u32::from(*byte))
    }

    /// Sets the control of this place in the table. Real-time safe.
    pub fn set(&mut self, index: usize, value: i32) {
        let Some(control) = ALL.get(index).copied() else { return };
        self.values.set(control, value);
        match control {
            Control::Tempo => self.clock.tempo(f64::from(self.values.get(control))),
            Control::Pattern => {}
            _ => self.engine.set(self.values.settings()),
        }
    }

    /// 0 silent to 1 full; begins at a quarter. Out of range is brought into it.
    pub fn volume(&mut self, volume: f32) {
        self.volume = if volume.is_finite() { volume.clamp(0.0, 1.0) } else { FIRST_VOLUME };
    }

    /// Starts the clock at the beginning of the song, or stops it.
    pub fn play(&mut self, plays: bool) {
        self.clock.play(plays);
        self.hush |= !plays;
    }

    /// Whether the player's first chord starts the clock, and a long rest stops it.
    pub fn start_by_hand(&mut self, by_hand: bool) {
        self.by_hand = by_hand;
    }

    /// Whether MIDI clock leads, not our own.
    pub fn clock_in(&mut self, leads: bool) {
        self.clock.lead_by_midi(leads);
    }

    /// Whether beats click.
    pub fn metronome(&mut self, clicks: bool) {
        self.metronome = clicks;
    }

    /// The metre where no chart says one.
    pub fn metre(&mut self, beats: u8, unit: u8) {
        if let Some(metre) = Metre::new(beats, unit) {
            self.clock.metre(metre);
        }
    }

    /// Ends every note, and stops.
    pub fn panic(&mut self) {
        self.end_cues();
        self.clock.play(false);
        self.hush = true;
    }

    /// Forgets the song so far.
    pub fn forget(&mut self) {
        self.engine.forget();
    }

    /// Compiles every preset, so that choosing one while sound runs costs no block its
    /// time. Allocates.
    pub fn ready_patterns(&self) {
        for preset in pattern_presets() {
            let _ = preset.compile(); // a test of theirs says that they all do
        }
    }

    /// A preset's slug, or a pattern file. `false` leaves the old one. Allocates.
    pub fn pattern(&mut self, text: &str) -> bool {
        let compiled = match find_pattern(text) {
            Some(preset) => preset.compile(),
            None => PatternFile::compile("pattern", text),
        };
        compiled.map(|pattern| drop(self.engine.swap_pattern(pattern))).is_ok()
    }

    /// A chart, whose bars and tempo the clock takes; none where `text` is blank.
    /// `false` leaves the old one. Allocates.
    pub fn chart(&mut self, text: &str) -> bool {
        if text.trim().is_empty() {
            drop(self.engine.swap_song(None));
            self.clock.song(None);
            return true;
        }
        let Ok(chart) = Chart::read("chart", text) else { return false };
        let song = chart.unfold();
        self.clock.song(Some(&song));
        drop(self.engine.swap_song(Some(Box::new(song))));
        true
    }

    /// Plays cues `(frame from now, message)`, in time order, instead of the live
    /// left hand; the player's keys sound beside them. Allocates.
    pub fn cues(&mut self, cues: impl Iterator<Item = (u64, Message)>) {
        self.cues.clear();
        self.cues.extend(cues);
        self.next_cue = 0;
        self.cued = Some(0);
        self.clock.play(false);
        self.hush = true;
    }

    /// Back to the live left hand.
    pub fn end_cues(&mut self) {
        self.hush |= self.cued.is_some();
        self.cued = None;
        self.next_cue = self.cues.len();
    }

    /// Cues that have not sounded yet.
    pub fn cues_left(&self) -> usize {
        self.cues.len().saturating_sub(self.next_cue)
    }

    /// Teaches the piano a recording.
    pub fn learn(&mut self, recording: &'static Recording) {
        self.piano.learn(recording);
    }

    /// Writes down what is to be shown; gives its bytes.
    pub fn write_view(&mut self) -> usize {
        let frames = self.cued.map(|frames| frames as f64 / f64::from(self.rate));
        self.view.write(self.engine.snapshot(), frames);
        self.view().len()
    }

    /// What [`Live::write_view`] wrote: JSON.
    pub fn view(&self) -> &[u8] {
        self.view.text()
    }
}

/// A channel message that the engine or the piano knows.
pub fn message_of([status, first, second]: [u8; 3]) -> Option<Message> {
    Message::read(Short::channel_message(status, status, first, second))
}

/// What is known of the left hand's strokes in a block, with their frames.
type Strokes = ArrayVec<(u32, LoggedStroke), STROKES>;

/// Takes the left hand's messages of a block, and what is told of them.
struct Sent<'a>(&'a mut Messages, &'a mut Strokes);

impl Output for Sent<'_> {
    fn send(&mut self, event: Timed) -> bool {
        self.0.try_push(event).is_ok()
    }

    fn played(&mut self, note: &Played) {
        let _ = self.1.try_push((note.frame, LoggedStroke::of(note))); // else the note alone
    }
}
