//! The ways in which a song is played to whose dearest blocks are looked for: by
//! `benches/engine.rs` in time, by `examples/dearest` in instructions.

use std::path::Path;

use sinistra_core::engine::{Block, Engine, Message, Settings, Timed, Transport};
use sinistra_core::foresee::Song;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Pattern;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{MidiFile, Timeline};

use crate::crowd::Crowd;
use crate::pattern;
use crate::songs::{LabelledSong, RATE, is_right, on_the_grid};

/// Frames of a block.
pub const FRAMES: u32 = 64;
/// Quarter notes a minute of the crowded song.
const TEMPO: f64 = 120.0;
/// Blocks of the crowded song: four minutes.
pub const SONG: usize = 4 * 60 * 48_000 / 64;

/// The right hand of a song, cut into blocks: the clock and the events of each.
pub type PlayedBlocks = Vec<(Transport, Vec<Timed>)>;

/// What a player or a home changes between two blocks.
#[derive(Clone, Debug)]
pub enum EngineChange {
    /// Other settings.
    Set(Settings),
    /// Another pattern.
    Pattern(Box<Pattern>),
    /// Another chart, or none.
    Song(Option<Box<Song>>),
    /// Who leads through the chart.
    ByHand(bool),
    /// A new song.
    Forget,
}

impl EngineChange {
    /// Makes it; what was there before comes back, to be dropped elsewhere.
    fn make(self, engine: &mut Engine) -> Option<Self> {
        match self {
            Self::Set(settings) => engine.set(settings),
            Self::Pattern(pattern) => return Some(Self::Pattern(engine.swap_pattern(pattern))),
            Self::Song(song) => return Some(Self::Song(engine.swap_song(song))),
            Self::ByHand(by_hand) => engine.follow_hand(by_hand),
            Self::Forget => engine.forget(),
        }
        None
    }
}

/// A song and the engine that plays to it.
pub struct EngineMode {
    /// What both are.
    pub name: String,
    /// Frames of each block.
    frames: Vec<u32>,
    song: PlayedBlocks,
    /// What is changed before which block, in order.
    changes: Vec<(usize, EngineChange)>,
    engine: Box<dyn Fn() -> Engine>,
}

/// The engine that plays a pattern whose slots wish for all there is.
pub fn engine() -> Engine {
    Engine::new(Settings::default(), pattern(Some("everything-mixed")))
}

/// A hand that improvises, with pedal and a loose touch.
fn improvising(slug: &str) -> Engine {
    let settings = Settings { pedal: true, loose: 0.5, ..Settings::default() };
    Engine::new(settings, pattern(Some(slug)))
}

/// The `n`-th block of the crowded song.
pub fn block(n: usize, playing: bool, events: &[Timed]) -> Block<'_> {
    let transport = Transport { playing, ..clock(n) };
    Block { frames: FRAMES, rate: RATE, transport, events }
}

fn clock(n: usize) -> Transport {
    Transport::moving(n as f64 * f64::from(FRAMES) * TEMPO / (60.0 * RATE), TEMPO, Metre::COMMON)
}

/// What is played in so many blocks of the crowded song.
pub fn crowded(blocks: usize) -> Vec<Vec<Timed>> {
    let mut crowd = Crowd::new(11);
    (0..blocks).map(|_| crowd.block(FRAMES)).collect()
}

fn played(line: &Timeline, events: &[(i64, Message)], end: i64) -> PlayedBlocks {
    let mut blocks: Vec<_> = (0..=end / i64::from(FRAMES))
        .map(|n| (line.transport_at(n * i64::from(FRAMES), RATE), vec![]))
        .collect();
    for &(frame, message) in events {
        let frame = frame.max(0) as u64;
        let (block, frame) = (frame / u64::from(FRAMES), frame % u64::from(FRAMES));
        if let Some((_, events)) = blocks.get_mut(block as usize) {
            events.push(Timed { frame: frame as u32, message });
        }
    }
    blocks
}

/// The same, as it comes through a MIDI cable: 31,250 bits a second, ten a byte (MIDI
/// 1.0), so that a chord is spread over some milliseconds.
fn through_a_cable(events: &[(i64, Message)]) -> Vec<(i64, Message)> {
    const FRAMES: i64 = (RATE * 30.0 / 31_250.0) as i64;
    let mut free = i64::MIN;
    let mut through = |frame: i64| {
        let comes = frame.max(free);
        free = comes + FRAMES;
        comes
    };
    events.iter().map(|(frame, message)| (through(*frame), *message)).collect()
}

/// The same music, where the host goes back to the start of each eight bars
/// once: the clock jumps, the hand plays on.
fn looped(played: &PlayedBlocks) -> PlayedBlocks {
    let eight = |transport: &Transport| (transport.beat / 32.0).floor();
    let mut again = PlayedBlocks::new();
    for part in played.chunk_by(|a, b| eight(&a.0) == eight(&b.0)) {
        again.extend_from_slice(part);
        again.extend_from_slice(part);
    }
    again
}

impl EngineMode {
    fn new(name: &str, song: &PlayedBlocks, engine: impl Fn() -> Engine + 'static) -> Self {
        let (name, song, engine) = (name.to_owned(), song.clone(), Box::new(engine));
        Self { name, frames: vec![FRAMES; song.len()], song, changes: Vec::new(), engine }
    }

    /// Something made up: blocks of so many frames each, and what is changed before which
    /// of them, in order.
    pub fn made_up(
        frames: Vec<u32>,
        song: PlayedBlocks,
        changes: Vec<(usize, EngineChange)>,
        engine: impl Fn() -> Engine + 'static,
    ) -> Self {
        Self { name: "made up".to_owned(), frames, song, changes, engine: Box::new(engine) }
    }

    /// A crowded song of so many blocks.
    pub fn crowded(blocks: usize) -> Self {
        let song = crowded(blocks).into_iter().enumerate();
        let song = song.map(|(n, events)| (clock(n), events)).collect();
        Self::new("crowded song", &song, engine)
    }

    /// The right hand of a MIDI file.
    ///
    /// # Panics
    /// If it is none.
    pub fn file(path: &Path) -> Self {
        let bytes = std::fs::read(path).expect("a file");
        let file = MidiFile::read(&path.to_string_lossy(), &bytes).expect("a MIDI file");
        let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
        let line = file.timeline();
        let events = file.messages(&part).into_iter().map(|(at, m)| (line.frame(at, RATE), m));
        let events: Vec<_> = events.filter(|(_, message)| is_right(*message)).collect();
        Self::new("song", &played(line, &events, line.frame(file.end(), RATE)), engine)
    }

    /// The ways in which the longest song of `tests/data` can be played to.
    ///
    /// # Panics
    /// If it is not there.
    pub fn all_of_a_song() -> Vec<Self> {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        let songs = on_the_grid(&data);
        let song = songs.iter().max_by_key(|song| song.end).expect("a song");
        let song: &'static LabelledSong = Box::leak(Box::new(song.clone()));
        let played = played(&song.timeline, &song.right_hand(), song.end);
        let cable = through_a_cable(&song.right_hand());
        let cable = self::played(&song.timeline, &cable, song.end);
        let charted = |mut engine: Engine| {
            drop(engine.swap_song(song.chart().map(Box::new)));
            engine
        };
        let mut modes = vec![
            Self::new("played song", &played, engine),
            Self::new("played song with its chart", &played, move || charted(engine())),
            Self::new("played song with its chart by the hand", &played, move || {
                let mut engine = charted(engine());
                engine.follow_hand(true);
                engine
            }),
            Self::new("played song, looking ahead", &played, || {
                let mut engine = engine();
                engine.look_ahead(Ticks(2 * Ticks::PER_BEAT));
                engine
            }),
            Self::new("played song, each eight bars twice", &looped(&played), engine),
            Self::new("played song, through a MIDI cable", &cable, engine),
        ];
        for slug in ["free-hand", "style-jazz"] {
            let name = format!("played song, {slug}");
            modes.push(Self::new(&name, &played, move || improvising(slug)));
            let name = format!("{name}, with its chart");
            modes.push(Self::new(&name, &played, move || charted(improvising(slug))));
        }
        modes
    }

    /// Blocks of the song.
    pub fn blocks(&self) -> usize {
        self.song.len()
    }

    /// Plays it: `each` is called for each block with its number and with what plays
    /// it, to be called once. Gives how many events the left hand sent.
    pub fn play(&self, mut each: impl FnMut(usize, &mut dyn FnMut())) -> usize {
        let blocks = self.song.iter().zip(&self.frames);
        let blocks = blocks.map(|((transport, events), frames)| Block {
            frames: *frames,
            rate: RATE,
            transport: *transport,
            events,
        });
        let blocks: Vec<Block<'_>> = blocks.collect();
        let (mut engine, mut out) = ((self.engine)(), crate::Counter::default());
        let span = engine.ahead().map(Ticks::beats);
        let mut later = blocks.iter().peekable();
        for (n, block) in blocks.iter().enumerate() {
            // What a home hears ahead belongs to the block; but for the first
            // it has heard the whole span before.
            let until = block.transport.beat + span.unwrap_or(0.0);
            let unheard = |later: &&Block<'_>| span.is_some() && later.transport.beat < until;
            if block.transport.beat <= 0.0 {
                std::iter::from_fn(|| later.next_if(unheard)).for_each(|b| engine.hear_ahead(b));
            }
            let now = self.changes.iter().filter(|(at, _)| *at == n);
            let mut changes: Vec<Option<EngineChange>> =
                now.map(|(_, change)| Some(change.clone())).collect();
            each(n, &mut || {
                for change in &mut changes {
                    *change = change.take().and_then(|change| change.make(&mut engine));
                }
                while let Some(later) = later.next_if(unheard) {
                    engine.hear_ahead(later);
                }
                engine.process(block, &mut out);
            });
        }
        out.0
    }
}
