//! A song played to in one way, told bar by bar.

use std::fmt::Write;

use sinistra_core::chord::Chord;
use sinistra_core::engine::{Block, Engine, Output, Played, Snapshot, Timed, Transport};
use sinistra_core::foresee::Forecast;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};

use crate::checksum::Checksum;
use crate::song::PlayedSong;

/// Frames a second, and frames of a block.
const RATE: f64 = 44_100.0;
const FRAMES: u32 = 256;
/// Blocks of a scene: who jumps back again and again comes to no end.
const MOST: u32 = 60_000;

/// How a song is played.
pub struct Scene {
    pub song: PlayedSong,
    pub engine: Engine,
    /// In this metre, in whose bars the song is counted.
    pub metre: Metre,
    /// What the host or the player does before a beat that begins.
    pub does: fn(i64, &mut Host),
    /// What is done at chance is done by it.
    pub seed: u64,
    /// Moves what the hand plays, frames, until something is done.
    pub late: i64,
}

/// What a host and a player may do.
pub struct Host {
    pub engine: Engine,
    pub seed: u64,
    /// Where the song is, quarter notes.
    pub beat: f64,
    pub tempo: f64,
    pub metre: Metre,
    /// Time stands still for so many blocks.
    pub stands: u32,
    /// Moves what the hand plays, frames.
    pub late: i64,
    /// The host names its beats to so many in a quarter note; 0 is exactly.
    pub rounds: f64,
    pub page: Page,
}

/// Writes down what comes.
pub struct Page {
    /// There is no room for what is sent.
    pub full: bool,
    struck: String,
    sum: Checksum,
    notes: usize,
}

impl Output for Page {
    fn send(&mut self, event: Timed) -> bool {
        let _ = write!(self.sum, "{event:?}");
        !self.full
    }

    fn played(&mut self, note: &Played) {
        let Played { at, grid, velocity, role, chord, sure, why, .. } = note;
        let _ = write!(self.sum, "{at:?}{grid:?}{velocity}{role:?}{chord:?}{sure:.4}{why:?}");
        let _ = write!(self.sum, "{:?}", note.other.map(|c| (c.chord, told(c.certainty))));
        self.next(note.next.as_ref());
        self.notes += 1;
        let _ = write!(self.struck, " {}", name(note.key));
    }

    fn reads_other(&self) -> bool {
        true
    }

    fn foreseen(&mut self, since: Ticks, next: &Forecast) {
        let _ = write!(self.sum, "{since:?}");
        self.next(Some(next));
    }

    fn heard(&mut self, since: Ticks, chord: Chord) {
        let _ = write!(self.sum, "{since:?}{chord:?}");
    }
}

impl Page {
    fn next(&mut self, next: Option<&Forecast>) {
        let Some(Forecast { chord, at, certainty, when_certainty, together, source, other }) = next
        else {
            return;
        };
        let sure = [certainty, when_certainty, together].map(|sure| told(*sure));
        let other = other.map(|other| (other.chord, told(other.certainty)));
        let _ = write!(self.sum, "{chord:?}{at:?}{sure:?}{source:?}{other:?}");
    }

    /// All that a window may show.
    fn look(&mut self, snapshot: &Snapshot) {
        let named = [snapshot.chord, snapshot.other];
        let named = named.map(|named| named.map(|it| (it.chord, told(it.certainty))));
        let Snapshot { key, why, slots, coming, chart_chord, left, place, .. } = snapshot;
        let Snapshot { playing, right, own_left, .. } = snapshot;
        let _ = write!(self.sum, "{named:?}{key:?}{why:?}{slots:?}{coming:?}{chart_chord:?}");
        let _ = write!(self.sum, "{left:?}{place:?}{playing}{right}{own_left}");
        self.next(snapshot.next.as_ref());
    }
}

/// A certainty in ten thousandths.
fn told(sure: f32) -> i32 {
    (sure * 10_000.0).round() as i32
}

fn name(key: KeyNumber) -> String {
    format!("{}{}", Key::C_MAJOR.spell(key.class()).ascii(), key.octave())
}

fn root(chord: Chord) -> String {
    let spelled = |class| Key::C_MAJOR.spell(class).ascii().to_string();
    let slash = (chord.bass != chord.root).then(|| format!("/{}", spelled(chord.bass)));
    format!("{}{}", spelled(chord.root), slash.unwrap_or_default())
}

impl Scene {
    /// A line a bar, after it: the chord and how sure it is, the next one, what was struck,
    /// and the checksum of all that was heard, foreseen, shown and sent.
    pub fn told(self) -> String {
        let Self { song, engine, metre, does, seed, late } = self;
        let page = Page { full: false, struck: String::new(), sum: Checksum::new(), notes: 0 };
        let mut host = Host {
            engine,
            seed,
            beat: 0.0,
            tempo: song.tempo,
            metre,
            stands: 0,
            late,
            rounds: 0.0,
            page,
        };
        let end = song.events.last().map_or(0.0, |(at, _)| at.beats()) + 8.0;
        let mut ahead = 0.0;
        let (mut told, mut beat, mut bar) = (String::new(), i64::MIN, 0);
        let mut blocks = 0;
        while host.beat < end && blocks < MOST {
            blocks += 1;
            if host.beat.floor() as i64 != beat {
                beat = host.beat.floor() as i64;
                does(beat, &mut host);
                host.look();
            }
            let now = (host.beat / host.metre.bar().beats()).floor() as i64;
            if now != bar {
                told.push_str(&host.line(bar));
                bar = now;
            }
            if let Some(span) = host.engine.ahead() {
                while ahead < host.beat + span.beats() {
                    let (events, transport) = host.block(&song, ahead);
                    host.engine.hear_ahead(&block(transport, &events));
                    ahead += host.span();
                }
            }
            let (events, transport) = host.block(&song, host.beat);
            host.engine.process(&block(transport, &events), &mut host.page);
            host.beat += if host.stands == 0 { host.span() } else { 0.0 };
            host.stands = host.stands.saturating_sub(1);
        }
        host.engine.silence(0, &mut host.page);
        told.push_str(&host.line(bar));
        assert!(host.page.notes > 50, "{} notes", host.page.notes);
        told
    }
}

fn block(transport: Transport, events: &[Timed]) -> Block<'_> {
    Block { frames: FRAMES, rate: RATE, transport, events }
}

impl Host {
    /// Quarter notes of a block.
    fn span(&self) -> f64 {
        f64::from(FRAMES) * self.tempo / (60.0 * RATE)
    }

    /// What is played in the block at `beat`, and its clock.
    fn block(&self, song: &PlayedSong, beat: f64) -> (Vec<Timed>, Transport) {
        let told =
            if self.rounds > 0.0 { (beat * self.rounds).floor() / self.rounds } else { beat };
        let moving = Transport::moving(told, self.tempo, self.metre);
        let playing = self.stands == 0;
        let transport = Transport { playing, ..moving };
        let a_beat = 60.0 * RATE / self.tempo;
        let frame = |at: Ticks| ((at.beats() - beat) * a_beat).round() as i64 + self.late;
        let from = song.events.partition_point(|(at, _)| frame(*at) < 0);
        let events = song.events[from..].iter().map(|(at, message)| (frame(*at), *message));
        let events = events.take_while(|(frame, _)| *frame < i64::from(FRAMES));
        let events = events.map(|(frame, message)| Timed { frame: frame as u32, message });
        (if playing { events.collect() } else { Vec::new() }, transport)
    }

    /// At a beat.
    fn look(&mut self) {
        let _ = write!(self.page.sum, "{}{:?}", self.engine.is_busy(), self.engine.ahead());
        self.page.look(self.engine.snapshot());
    }

    fn line(&mut self, bar: i64) -> String {
        let snapshot = self.engine.snapshot();
        let chord = snapshot.chord.map_or("-".to_owned(), |named| {
            format!("{} {:.2}", root(named.chord), named.certainty)
        });
        let next = snapshot.next.map_or("-".to_owned(), |next| {
            format!("{} {:.2} at {:.2}", root(next.chord), next.together, next.at.beats())
        });
        let sum = self.page.sum.written();
        let struck = std::mem::take(&mut self.page.struck);
        format!("bar {bar}: {chord}, then {next} |{struck} | {sum}\n")
    }
}
