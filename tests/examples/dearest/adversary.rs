//! Looks for what makes a block dear: a gig of a few bars, made up at random behind a
//! crowded minute, is changed a little again and again, and the dearer one is kept.

use std::time::{Duration, Instant};

use sinistra_core::engine::{Engine, Message, Settings, Timed, Transport};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::settings::KeyChoice;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Chart, pattern_presets};
use sinistra_tests::crowd::Crowd;
use sinistra_tests::hands::HandChance;
use sinistra_tests::modes::{EngineChange, EngineMode, FRAMES};
use sinistra_tests::songs::RATE;

use super::count::CallgrindCounts;

/// Blocks of the crowd before it, larger ones: a minute, so that there is a song to
/// remember.
const BEFORE: usize = 60 * 48_000 / LARGE as usize;
const LARGE: u32 = 2048;
/// Acts of a gig.
const ACTS: usize = 40;
/// Blocks between two acts, at most: about half a bar.
const APART: u64 = 700;
/// Blocks of a gig that are counted.
const COUNTED: usize = 4;
/// After so long, or so many gigs in a row that are no dearer, and another is made up.
const PATIENCE: usize = 40;
const TURN: Duration = Duration::from_secs(120);

/// What happens after so many blocks, at a frame.
#[derive(Clone, Debug)]
struct Act {
    wait: u64,
    frame: u32,
    what: What,
}

#[derive(Clone, Debug)]
enum What {
    /// Lets all go and strikes so many keys, a step apart.
    Chord {
        low: u8,
        keys: u8,
        step: u8,
    },
    /// Strikes a key more, above the split or below it.
    Key(u8),
    Release(u8),
    /// Controller and value: pedals, all notes off.
    Control(u8, u8),
    /// The clock goes on from elsewhere.
    Jump(i64),
    /// It stands still, or goes on.
    Stop,
    Tempo(u16),
    Metre(u8),
    Settings(u64),
    Pattern(usize),
    /// A chart of so many chords a bar, or none.
    Chart(u8),
    ByHand(bool),
    Forget,
}

fn made_up(dice: &mut HandChance, stops: bool) -> What {
    match dice.below(24) {
        0..8 => What::Chord {
            low: 60 + dice.below(12) as u8,
            keys: 1 + dice.below(10) as u8,
            step: 1 + dice.below(5) as u8,
        },
        8..13 => What::Key(40 + dice.below(48) as u8),
        13..15 => What::Release(60 + dice.below(24) as u8),
        15 => [What::Control(64, 127), What::Control(64, 0), What::Control(66, 127)]
            [dice.below(3) as usize]
            .clone(),
        16 => What::Control(123, 0),
        17 => What::Jump(dice.below(64) as i64 - 32),
        18 if stops => What::Stop,
        18 => What::Jump(dice.below(16) as i64),
        19 => What::Tempo(30 + dice.below(300) as u16),
        20 => What::Settings(dice.below(1 << 30)),
        21 => What::Pattern(dice.below(pattern_presets().len() as u64) as usize),
        22 => What::Chart(dice.below(5) as u8),
        _ => [
            What::ByHand(true),
            What::ByHand(false),
            What::Metre(dice.below(4) as u8),
            What::Forget,
        ][dice.below(4) as usize]
            .clone(),
    }
}

fn act(dice: &mut HandChance, stops: bool) -> Act {
    // Half of them come at once, or in the next block.
    let wait = if dice.percent(50) { dice.below(2) } else { dice.below(APART) };
    Act { wait, frame: dice.below(FRAMES.into()) as u32, what: made_up(dice, stops) }
}

/// All that is tried.
#[derive(Clone, Debug)]
struct Gig {
    ahead: bool,
    /// Whether the clock stands at times: nothing is put off then, for no time goes by.
    stops: bool,
    acts: Vec<Act>,
}

impl Gig {
    fn new(dice: &mut HandChance, stops: bool) -> Self {
        let acts = (0..ACTS).map(|_| act(dice, stops)).collect();
        Self { ahead: dice.percent(25), stops, acts }
    }

    /// A few acts are others, come at another time, or again.
    fn changed(&self, dice: &mut HandChance) -> Self {
        let mut gig = self.clone();
        for _ in 0..=dice.below(3) {
            let n = dice.below(gig.acts.len() as u64) as usize;
            match dice.below(6) {
                0 => gig.acts[n] = act(dice, gig.stops),
                1 => gig.acts.insert(n, act(dice, gig.stops)),
                2 if gig.acts.len() > 2 => drop(gig.acts.remove(n)),
                3 => {
                    gig.acts[n].wait =
                        gig.acts[n].wait.saturating_add_signed(dice.below(9) as i64 - 4)
                }
                4 => gig.acts[n].frame = dice.below(FRAMES.into()) as u32,
                _ => {
                    let again = gig.acts[n].clone();
                    gig.acts.insert(n, Act { wait: 0, ..again });
                }
            }
        }
        gig.acts.truncate(2 * ACTS);
        gig
    }

    /// The blocks of it, behind those of the crowd.
    fn mode(&self) -> EngineMode {
        let mut crowd = Crowd::new(5);
        let mut stage = Stage::default();
        for _ in 0..BEFORE {
            let parts = (0..LARGE / FRAMES).map(|n| (n * FRAMES, crowd.block(FRAMES)));
            let later = |from, event: Timed| Timed { frame: from + event.frame, ..event };
            let events =
                parts.flat_map(|(from, events)| events.into_iter().map(move |e| later(from, e)));
            stage.block(LARGE, events.collect());
        }
        // A clock that jumps is heard ahead otherwise than the bench's blocks are.
        let jumps = |act: &&Act| matches!(act.what, What::Jump(_) | What::Stop | What::Tempo(_));
        for act in self.acts.iter().filter(|act| !(self.ahead && jumps(act))) {
            (0..act.wait).for_each(|_| stage.block(FRAMES, Vec::new()));
            stage.act(act);
        }
        (0..APART).for_each(|_| stage.block(FRAMES, Vec::new()));
        let ahead = self.ahead;
        EngineMode::made_up(stage.frames, stage.song, stage.changes, move || {
            let pattern = pattern_presets()[0].compile().expect("a preset");
            let mut engine = Engine::new(Settings::default(), pattern);
            if ahead {
                engine.look_ahead(Ticks(Ticks::PER_BEAT));
            }
            engine
        })
    }
}

/// Where the clock is, and what has been played so far.
struct Stage {
    frames: Vec<u32>,
    song: Vec<(Transport, Vec<Timed>)>,
    changes: Vec<(usize, EngineChange)>,
    /// The block that is played.
    now: Vec<Timed>,
    clock: Transport,
    down: u128,
}

impl Default for Stage {
    fn default() -> Self {
        let clock = Transport::moving(0.0, 120.0, Metre::COMMON);
        Self {
            frames: Vec::new(),
            song: Vec::new(),
            changes: Vec::new(),
            now: Vec::new(),
            clock,
            down: 0,
        }
    }
}

impl Stage {
    /// The block is over, with these events and those of the acts in it.
    fn block(&mut self, frames: u32, mut events: Vec<Timed>) {
        events.append(&mut self.now);
        events.sort_by_key(|event| event.frame);
        let bar = self.clock.metre.bar().beats();
        self.clock.bar = (self.clock.beat / bar).floor() * bar;
        self.song.push((self.clock, events));
        self.frames.push(frames);
        if self.clock.playing {
            self.clock.beat += f64::from(frames) * self.clock.tempo / 60.0 / RATE;
        }
    }

    fn press(&mut self, frame: u32, key: u8) {
        let key = KeyNumber::clamped(key.into());
        self.down |= 1 << key.number();
        self.now.push(Timed { frame, message: Message::On { channel: 0, key, velocity: 90 } });
    }

    fn release(&mut self, frame: u32, keys: u128) {
        for key in (0..128).filter(|key| keys & self.down >> key & 1 == 1) {
            self.now.push(Timed { frame, message: Message::off(0, KeyNumber::clamped(key)) });
        }
        self.down &= !keys;
    }

    fn change(&mut self, change: EngineChange) {
        self.changes.push((self.song.len(), change));
    }

    fn act(&mut self, Act { frame, what, .. }: &Act) {
        let frame = *frame;
        match *what {
            What::Chord { low, keys, step } => {
                self.release(frame, u128::MAX);
                (0..keys).for_each(|n| self.press(frame, low + n * step));
            }
            What::Key(key) => self.press(frame, key),
            What::Release(key) => self.release(frame, 1 << key),
            What::Control(controller, value) => {
                let message = Message::Control { channel: 0, controller, value };
                self.now.push(Timed { frame, message });
            }
            What::Jump(beats) => self.clock.beat += beats as f64,
            What::Stop => self.clock.playing = !self.clock.playing,
            What::Tempo(tempo) => self.clock.tempo = tempo.into(),
            What::Metre(n) => {
                let (beats, unit) = [(4, 4), (3, 4), (6, 8), (5, 4)][usize::from(n) % 4];
                self.clock.metre = Metre::new(beats, unit).expect("a metre");
            }
            What::Settings(seed) => self.change(EngineChange::Set(settings(seed))),
            What::Pattern(n) => {
                let pattern = pattern_presets()[n].compile().expect("a preset");
                self.change(EngineChange::Pattern(pattern));
            }
            What::Chart(chords) => self.change(EngineChange::Song(chart(chords))),
            What::ByHand(by_hand) => self.change(EngineChange::ByHand(by_hand)),
            What::Forget => self.change(EngineChange::Forget),
        }
    }
}

fn settings(seed: u64) -> Settings {
    let mut dice = HandChance::new(seed);
    Settings {
        split: KeyNumber::clamped(48 + dice.below(24) as i32),
        busy: dice.below(101) as u8,
        variety: dice.below(101) as u8,
        loose: dice.below(2) as f32,
        pedal: dice.percent(50),
        reach: 7 + dice.below(10) as u8,
        window_ms: dice.below(150) as f32,
        certainty: dice.below(101) as f32 / 100.0,
        key: if dice.percent(50) { KeyChoice::Auto } else { KeyChoice::Fixed(Key::C_MAJOR) },
        seed,
        ..Settings::default()
    }
}

/// Eighty bars of so many chords each; of none, no chart.
fn chart(chords: u8) -> Option<Box<sinistra_core::foresee::Song>> {
    let bar = ["", "C", "Am D7", "F . G7 Em", "C Am F G7"].get(usize::from(chords))?;
    let text =
        format!("title: Long\nkey: C\nmetre: 4/4\n\n{}\n", format!("| {bar} ").repeat(80) + "|");
    let chart = (chords > 0).then(|| Chart::read("chart", &text).expect("a chart"))?;
    Some(Box::new(chart.unfold()))
}

/// Looks for so many minutes, half of them where the clock stands at times, and says
/// what was found each time it is dearer.
pub fn search(counts: &mut CallgrindCounts, minutes: u64, seed: Option<u64>) {
    let mut dice = HandChance::new(seed.unwrap_or(1));
    let end = Instant::now() + Duration::from_secs(60 * minutes);
    let (mut of_all, mut tried, mut stops) = ([0; 2], 0, false);
    while Instant::now() < end {
        let until = end.min(Instant::now() + TURN);
        let found = (&mut of_all[usize::from(stops)], &mut tried);
        climb(counts, &mut dice, stops, until, found);
        stops = !stops;
    }
    println!("{tried} gigs; the dearest block has {} instructions", of_all[0]);
    println!("where the clock stands at times, {}", of_all[1]);
}

/// Climbs from a gig to dearer ones, until so many in a row were no dearer.
fn climb(
    counts: &mut CallgrindCounts,
    dice: &mut HandChance,
    stops: bool,
    until: Instant,
    (of_all, tried): (&mut u64, &mut u32),
) {
    let mut best = (0, Gig::new(dice, stops));
    let mut dull = 0;
    while dull < PATIENCE && Instant::now() < until {
        let gig = if best.0 == 0 { best.1.clone() } else { best.1.changed(dice) };
        let mode = gig.mode();
        let counted = counts.dearest_after(&mode, BEFORE, COUNTED);
        *tried += 1;
        let dearest = counted.iter().max_by_key(|block| block.instructions);
        let Some(dearest) = dearest.copied() else { continue };
        dull = if dearest.instructions > best.0 { 0 } else { dull + 1 };
        if dearest.instructions >= best.0 {
            best = (dearest.instructions, gig);
        }
        if best.0 > *of_all {
            *of_all = best.0;
            let (n, ahead) = (dearest.number - BEFORE, best.1.ahead);
            println!(
                "{of_all} instructions, gig {tried}, block {n}, ahead: {ahead}, stops: {stops}"
            );
            counts.keep(&mode, dearest.number, if stops { "found-standing" } else { "found" });
        }
    }
}
