//! One block of the stage: controls, beat, engine, metronome, clock.

mod obey;

use arrayvec::ArrayVec;
use sinistra_core::engine::{Block, Engine, Message, Settings, Snapshot, Timed};
use sinistra_core::foresee::Song;
use sinistra_core::maths;
use sinistra_core::midi::SUSTAIN;
use sinistra_core::play::Pattern;

use super::command::{Command, SetEntry, SongSettings, StageOptions};
use super::listen::Listen;
use super::report::{Ask, Report};
use super::settings::{LeftHandWork, turn};
use super::sink::{Sink, To};
use super::take::TakeWriter;
use super::wood_block;
use crate::bridge::controls::{Action, Map, Mapping, Move, Trigger};
use crate::bridge::midi::{CLOCK, CONTROL, RESET, SONG_POSITION, STOP, Short};
use crate::bridge::time::{
    Clicks, ClockOut, ClockSource, Onsets, Pace, PaceChoice, PaceSpan, clicks,
};

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeyboardMessage {
    /// When it came, seconds on the bridge's clock; for clocks and taps.
    pub at: f64,
    /// Where in the block the engine hears it.
    pub frame: u32,
    /// The keyboard that it came from.
    pub keyboard: usize,
    /// What was sent.
    pub message: Short,
}

/// What was switched under the hands, and stays so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Switched {
    /// The left hand goes on without the right.
    pub holds: bool,
    /// The metronome is heard all the time.
    pub clicks: bool,
    /// The metronome's loudness, percent.
    pub click_loudness: u8,
}

/// The most messages a block takes; more must be given to the next.
pub const MOST_HEARD: usize = 128;

/// Everything between hearing and sending. Made in the free world; after
/// that real-time safe.
pub struct Stage {
    engine: Engine,
    settings: Settings,
    pace: Pace,
    /// Strokes of the right hand, the first of which sets the beat going.
    onsets: Onsets,
    /// Strokes of both hands, which the beat may follow.
    strokes: Onsets,
    /// The beat goes on by itself.
    coasts: bool,
    listen: Listen,
    map: Map,
    learning: Option<Action>,
    left: LeftHandWork,
    /// Every note was to end, now: silent until the right hand strikes again.
    hushed: bool,
    /// The pattern that is not in the engine: roots on the beat, or the
    /// player's while only roots are played.
    spare: Option<Box<Pattern>>,
    /// The chart's bars, for the beat.
    song: Option<Box<Song>>,
    clicks: Clicks,
    click_channel: u8,
    click_loudness: u8,
    /// Clicks that sound: when they end, and the message that ends them.
    click_ends: ArrayVec<(f64, Short), 8>,
    clock_out: Option<ClockOut>,
    hold_bars: u8,
    moved: bool,
    /// The sender of MIDI clock was gone in the last block.
    lost: bool,
    /// The song before is forgotten with the next stroke.
    new_song: bool,
    /// An entry that was read anew, and the bar in which it came.
    anew: Option<(SetEntry, i64)>,
    /// What this song has for itself, as it was before.
    before: SongSettings,
    left_before: Option<(LeftHandWork, Option<u8>)>,
    take: Option<TakeWriter>,
    /// What the engine hears next.
    events: ArrayVec<Timed, 512>,
}

impl Stage {
    /// A stage at rest at `now` seconds. `roots` is what it plays when only
    /// roots are wanted.
    pub fn new(
        options: StageOptions,
        pattern: Box<Pattern>,
        roots: Box<Pattern>,
        now: f64,
    ) -> Self {
        let mut stage = Self {
            engine: Engine::new(options.settings, pattern),
            settings: options.settings,
            pace: Pace::new(options.time, now),
            onsets: Onsets::default(),
            strokes: Onsets::default(),
            coasts: false,
            listen: Listen::new(options.listen),
            map: options.map,
            learning: None,
            left: LeftHandWork::Plays,
            hushed: false,
            spare: Some(roots),
            song: None,
            clicks: options.clicks,
            click_channel: options.click_channel,
            click_loudness: options.click_loudness,
            click_ends: ArrayVec::new(),
            clock_out: options.clock_out.then(ClockOut::default),
            hold_bars: options.settings.hold_bars,
            moved: false,
            lost: false,
            new_song: false,
            anew: None,
            before: SongSettings::default(),
            left_before: None,
            take: options.log.map(TakeWriter::new),
            events: ArrayVec::new(),
        };
        // A sender of MIDI clock counts the bars; nobody else on a stage does,
        // so there the place in the chart goes with the hand.
        stage.engine.follow_hand(options.time.source != ClockSource::Midi);
        stage.set_left(options.left);
        stage
    }

    /// Goes on where a stage that failed was: with its settings, its controls
    /// and its beat. What it had heard is not trusted. Chart and pattern must
    /// be given anew.
    pub fn resume(&mut self, failed: &mut Self) {
        self.settings = failed.settings;
        self.hold_bars = failed.hold_bars;
        self.hushed = failed.hushed;
        self.clicks = failed.clicks;
        self.click_loudness = failed.click_loudness;
        self.learning = failed.learning;
        std::mem::swap(&mut self.map, &mut failed.map);
        std::mem::swap(&mut self.pace, &mut failed.pace);
        std::mem::swap(&mut self.clock_out, &mut failed.clock_out);
        self.moved = failed.moved;
        self.set_left(failed.left);
        self.engine.set(self.settings);
    }

    /// Plays `frames` samples at `rate` a second from `now` on, having heard
    /// `heard` (sorted by frame, at most [`MOST_HEARD`]).
    pub fn block(
        &mut self,
        now: f64,
        frames: u32,
        rate: f64,
        heard: &[KeyboardMessage],
        sink: &mut Sink,
    ) {
        self.take_anew(now, sink);
        for heard in heard {
            self.hear(now, *heard, sink);
        }
        if let Some(chord) = self.onsets.wait(now).filter(|stroke| stroke.keys >= 2) {
            self.pace.chord(chord.at, now, self.first());
        }
        if let Some(stroke) = self.strokes.wait(now) {
            self.pace.stroke(stroke, self.song.as_deref());
        }
        let coasts = self.pace.coasts(now);
        if coasts && !std::mem::replace(&mut self.coasts, coasts) {
            sink.tell(Report::Coasts(self.pace.tempo(now)));
        }
        self.coasts = coasts;
        let lost = self.pace.lost(now);
        if lost && !std::mem::replace(&mut self.lost, lost) {
            sink.tell(Report::ClockLost);
        }
        self.lost = lost;
        self.pace.hands(now, self.listen.any() || self.engine.snapshot().right != 0);
        let mut done = 0;
        loop {
            done += self.span(now, done, frames, rate, sink);
            if done >= frames {
                break;
            }
        }
        self.events.clear();
        sink.offset = 0;
        self.end_clicks(now, frames, rate, sink);
        sink.finish();
    }

    /// The part of the block from frame `from` to the next border: the first
    /// beat, the end of the song or of the block. Gives its length.
    fn span(&mut self, now: f64, from: u32, frames: u32, rate: f64, sink: &mut Sink) -> u32 {
        let start = now + f64::from(from) / rate;
        let left = frames - from;
        let seconds = f64::from(left) / rate;
        let mut span = self.pace.span(start, seconds, self.song.as_deref());
        if let Some(length) = self.over_the_end(&span) {
            self.pace.shift(-length);
            span = self.pace.span(start, seconds, self.song.as_deref());
        }
        let length = left.min(self.border(&span, rate));
        let beats = f64::from(length) / rate * span.transport.tempo / 60.0;
        sink.offset = from;
        self.tell_beginnings(&span, sink);
        self.send_clicks(&span, beats, start, rate, sink);
        if let Some(clock) = &mut self.clock_out {
            let frames_a_beat = rate * 60.0 / span.transport.tempo;
            let transport = span.transport;
            clock.span((transport.beat, beats), span.moves, transport.playing, |after, m| {
                sink.add(maths::frames(after * frames_a_beat), To::Clock, m);
            });
        }
        let mut own: ArrayVec<Timed, 512> = ArrayVec::new();
        for event in &self.events {
            let last = from + length >= frames;
            if event.frame >= from && (event.frame < from + length || last) {
                let _ = own.try_push(Timed { frame: event.frame - from, ..*event });
            }
        }
        let block = Block { frames: length, rate, transport: span.transport, events: &own };
        let before = (sink.due.len(), sink.news.len());
        self.engine.process(&block, sink);
        if let Some(take) = &mut self.take {
            let ours = sink.due.get(before.0..).unwrap_or(&[]);
            let told = sink.news.get(before.1..).unwrap_or(&[]);
            take.write(&span.transport, (from, length, frames, rate), ours, told);
        }
        length.max(u32::from(left == 0))
    }

    /// Frames until something changes inside the span.
    fn border(&self, span: &PaceSpan, rate: f64) -> u32 {
        if !span.moves {
            return u32::MAX;
        }
        let to = if !span.transport.playing {
            self.first()
        } else if let Some(song) = self.looped() {
            song.end().beats()
        } else {
            return u32::MAX;
        };
        let beats = to - span.transport.beat;
        maths::frames((beats / span.transport.tempo * 60.0 * rate - 1e-6).ceil().max(1.0))
    }

    /// How much to go back if the song is over.
    fn over_the_end(&self, span: &PaceSpan) -> Option<f64> {
        let song = self.looped()?;
        let over = span.transport.playing && span.transport.beat >= song.end().beats() - 1e-6;
        // A pick-up is played once.
        over.then(|| song.end().beats() - song.start().beats().max(0.0)).filter(|l| *l > 0.0)
    }

    /// The song, if it starts over at its end: not under MIDI clock, whose
    /// sender counts on.
    fn looped(&self) -> Option<&Song> {
        self.song.as_deref().filter(|_| self.pace.choice().source != ClockSource::Midi)
    }

    /// The beat that the song starts with.
    fn first(&self) -> f64 {
        self.song.as_ref().map_or(0.0, |song| song.start().beats().min(0.0))
    }

    fn tell_beginnings(&mut self, span: &PaceSpan, sink: &mut Sink) {
        if span.moves != self.moved {
            self.moved = span.moves;
            sink.tell(if span.moves { Report::Started } else { Report::Stopped });
        }
    }

    fn send_clicks(&mut self, span: &PaceSpan, beats: f64, start: f64, rate: f64, sink: &mut Sink) {
        let heard = match self.clicks {
            Clicks::Off => false,
            Clicks::CountIn => !span.transport.playing,
            Clicks::On => true,
        };
        if !(heard && span.moves) || self.click_loudness == 0 {
            return;
        }
        let transport = span.transport;
        clicks((transport.beat, beats), transport.bar, transport.metre, |after, click| {
            let (on, off) = wood_block::notes(click, self.click_channel, self.click_loudness);
            let seconds = after * 60.0 / transport.tempo;
            let end = (start + seconds + wood_block::CLICK_S, off);
            if self.click_ends.try_push(end).is_ok() {
                sink.add(maths::frames(seconds * rate), To::Click, on);
            }
        });
    }

    fn end_clicks(&mut self, now: f64, frames: u32, rate: f64, sink: &mut Sink) {
        let end = now + f64::from(frames) / rate;
        while let Some(at) = self.click_ends.iter().position(|(when, _)| *when < end) {
            let (when, off) = self.click_ends.remove(at);
            let frame = maths::frames((when - now).max(0.0) * rate);
            sink.add(frame.min(frames.saturating_sub(1)), To::Click, off);
        }
    }

    fn hear(&mut self, now: f64, heard: KeyboardMessage, sink: &mut Sink) {
        let message = heard.message;
        match message.status() {
            SONG_POSITION | CLOCK..=STOP => {
                return self.pace.hear_clock(heard.at, now, message);
            }
            RESET => self.hush(sink),
            _ => {}
        }
        let learned = |action| Some((action, Trigger::learned(action, message)?));
        if let Some((action, trigger)) = self.learning.and_then(learned) {
            self.learning = None;
            self.map.learn(Mapping { action, trigger, through: true });
            sink.tell(Report::Learned(action, trigger));
            return;
        }
        let mut moves: ArrayVec<(Action, Move), 16> = ArrayVec::new();
        self.map.hear(message, |action, how| {
            let _ = moves.try_push((action, how));
        });
        for (action, how) in moves {
            self.act(action, how, heard.at, sink);
        }
        if self.map.keeps(message) {
            return;
        }
        if let Some(take) = &mut self.take {
            take.hear(heard.frame, message);
        }
        self.hear_keys(now, heard, sink);
    }

    /// What the message says of keys, for engine and clock.
    fn hear_keys(&mut self, now: f64, heard: KeyboardMessage, sink: &mut Sink) {
        let split = self.settings.split;
        let (events, onsets, both) = (&mut self.events, &mut self.onsets, &mut self.strokes);
        let (mut chord, mut stroke, mut strikes) = (None, None, false);
        let (mut below, mut pedal) = (None, None);
        self.listen.hear(heard.keyboard, heard.message, |message| {
            let _ = events.try_push(Timed { frame: heard.frame, message });
            if let Message::On { key, .. } = message {
                stroke = both.key(heard.at, key).or(stroke);
            }
            match message {
                Message::On { key, .. } if key >= split => {
                    strikes = true;
                    chord = onsets.key(heard.at, key).or(chord);
                }
                Message::On { key, .. } => below = Some(key),
                Message::Control { controller: SUSTAIN, value, .. } => pedal = Some(value >= 64),
                _ => {}
            }
        });
        if let Some(key) = below {
            sink.tell(Report::Below(key, split));
        }
        if strikes && std::mem::take(&mut self.new_song) {
            self.engine.forget();
        }
        if strikes && self.hushed {
            self.hushed = false;
            self.set_plays();
        }
        if let Some(chord) = chord {
            self.pace.chord(chord.at, now, self.first());
        }
        if let Some(stroke) = stroke {
            self.pace.stroke(stroke, self.song.as_deref());
        }
        if let Some(down) = pedal {
            self.pace.pedal(heard.at, down);
        }
    }

    /// What the left hand does.
    pub fn left(&self) -> LeftHandWork {
        self.left
    }

    /// The settings as they were turned.
    pub fn settings(&self) -> Settings {
        Settings { hold_bars: self.hold_bars, ..self.settings }
    }

    pub fn held(&self) -> Switched {
        Switched {
            holds: self.settings.hold_bars == u8::MAX,
            clicks: self.clicks == Clicks::On,
            click_loudness: self.click_loudness,
        }
    }

    /// How time is kept, as it was turned.
    pub fn time(&self) -> PaceChoice {
        *self.pace.choice()
    }

    /// Whether beats go by.
    pub fn moves(&self) -> bool {
        self.moved || !self.click_ends.is_empty()
    }

    /// What to show.
    pub fn snapshot(&self) -> &Snapshot {
        self.engine.snapshot()
    }
}

#[cfg(test)]
#[path = "block_test.rs"]
mod tests;
