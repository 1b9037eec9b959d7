//! Made-up right hands: players of whole chords of every kind, to the chords of
//! a song; and real ones played anew: loosely, late, with notes left out.

use sinistra_core::chord::Chord;
use sinistra_core::engine::Message;
use sinistra_core::pitch::{KeyNumber, PitchClass, Semitones};
use sinistra_core::time::Ticks;

use crate::songs::{Label, LabelledSong, RATE};

/// A linear congruential generator (Knuth's constants): the same in every run.
#[derive(Clone, Debug)]
pub struct HandChance(u64);

impl HandChance {
    /// Of a seed.
    pub fn new(seed: u64) -> Self {
        let mut chance = Self(seed.wrapping_mul(2_654_435_761) + 1);
        chance.below(2);
        chance
    }

    /// 0 ..= n − 1.
    pub fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n.max(1)
    }

    /// True in so many of a hundred.
    pub fn percent(&mut self, of_hundred: u64) -> bool {
        self.below(100) < of_hundred
    }
}

/// How a right hand that was played is played anew.
#[derive(Clone, Copy, Debug, Default)]
pub struct Looser {
    /// Every stroke is moved by up to so much, ms.
    pub jitter_ms: f64,
    /// And later by so much, ms.
    pub late_ms: f64,
    /// So many notes of a hundred are left out.
    pub dropped: u64,
}

impl Looser {
    /// The song so played; keys below `split` are left as they are.
    #[must_use]
    pub fn play(&self, song: &LabelledSong, split: KeyNumber, seed: u64) -> LabelledSong {
        let mut chance = HandChance::new(seed);
        let frames = |ms: f64| (ms * RATE / 1000.0) as i64;
        let most = frames(self.jitter_ms);
        let mut left_out = [false; 128];
        let mut moved = [0i64; 128];
        let mut stroke = (i64::MIN, 0);
        let mut events: Vec<(i64, Message)> = Vec::new();
        for &(at, message) in &song.events {
            match message {
                Message::On { key, velocity: 1.., .. } if key >= split => {
                    if stroke.0 != at {
                        let by = chance.below(2 * most.unsigned_abs() + 1) as i64 - most;
                        stroke = (at, by + frames(self.late_ms));
                    }
                    let n = usize::from(key.number());
                    left_out[n] = chance.percent(self.dropped);
                    moved[n] = stroke.1;
                    if !left_out[n] {
                        events.push(((at + stroke.1).max(0), message));
                    }
                }
                Message::On { key, .. } | Message::Off { key, .. } if key >= split => {
                    let n = usize::from(key.number());
                    if !left_out[n] {
                        events.push(((at + moved[n]).max(1), message));
                    }
                }
                _ => events.push((at, message)),
            }
        }
        sort(&mut events);
        LabelledSong { events, ..song.clone() }
    }
}

fn sort(events: &mut [(i64, Message)]) {
    events.sort_by_key(|(at, message)| (*at, matches!(message, Message::On { velocity: 1.., .. })));
}

/// Which tones a player of whole chords shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShownTones {
    /// All tones, as near together as they lie.
    Close,
    /// All tones, the second lowest an octave higher.
    Open,
    /// Without the root where four tones are there.
    Rootless,
    /// Two notes: root and third, or third and seventh.
    Shell,
    /// Root, fifth, root.
    Octaves,
}

/// When they are struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strokes {
    /// With the chord, and held.
    Held,
    /// On every beat.
    Beats,
    /// With the chord, one key after the other, 30 ms apart.
    Rolled,
    /// One after the other in eighths.
    Broken,
}

/// A player of whole chords.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MadePlayer {
    /// Which tones.
    pub voicing: ShownTones,
    /// When.
    pub strokes: Strokes,
    /// Whether a melody of chord tones and neighbours lies above.
    pub melody: bool,
}

impl MadePlayer {
    /// The player of a number: all kinds come in turn, whole chords oftenest.
    pub fn number(n: u64) -> Self {
        let mut chance = HandChance::new(n);
        let voicing = [
            ShownTones::Close,
            ShownTones::Close,
            ShownTones::Close,
            ShownTones::Open,
            ShownTones::Rootless,
            ShownTones::Shell,
            ShownTones::Octaves,
        ][chance.below(7) as usize];
        let strokes =
            [Strokes::Held, Strokes::Held, Strokes::Beats, Strokes::Rolled, Strokes::Broken]
                [chance.below(5) as usize];
        Self { voicing, strokes, melody: chance.percent(30) }
    }

    /// The song played so: its own labels, a right hand from `lowest` up.
    #[must_use]
    pub fn play(&self, song: &LabelledSong, lowest: KeyNumber, seed: u64) -> LabelledSong {
        let mut chance = HandChance::new(seed);
        let mut events = Vec::new();
        let mut near = KeyNumber::clamped(i32::from(lowest.number()) + 4);
        let frame = |at: Ticks| song.timeline.frame(at, RATE);
        let end = song.timeline.tick_at_frame(song.end, RATE);
        for (n, label) in song.labels.iter().enumerate() {
            let until = song.labels.get(n + 1).map_or(end, |next| next.at);
            let Some(chord) = label.chord.filter(|_| until > label.at) else { continue };
            let keys = self.keys(chord, lowest, near);
            near = keys.first().copied().unwrap_or(near);
            let step = match self.strokes {
                Strokes::Beats => Ticks(Ticks::PER_BEAT),
                Strokes::Broken => Ticks(Ticks::PER_BEAT / 2),
                Strokes::Held | Strokes::Rolled => until - label.at,
            };
            let mut at = label.at;
            for turn in 0.. {
                if at >= until {
                    break;
                }
                let off = (at + step).min(until);
                let broken = self.strokes == Strokes::Broken;
                for (n, &key) in keys.iter().enumerate() {
                    let roll = if self.strokes == Strokes::Rolled { n as i64 * 1440 } else { 0 };
                    let falls = !broken || turn % keys.len() == n;
                    if falls && frame(at) + roll < frame(off) - 480 {
                        let velocity = 70 + chance.below(20) as u8;
                        events.push((frame(at) + roll, on(key, velocity)));
                        events.push((frame(off) - 240, off_of(key)));
                    }
                }
                at = off;
            }
            if self.melody {
                self.sing(&mut events, label, until, &mut chance, song);
            }
        }
        sort(&mut events);
        LabelledSong { events, ..song.clone() }
    }

    fn sing(
        self,
        events: &mut Vec<(i64, Message)>,
        label: &Label,
        until: Ticks,
        chance: &mut HandChance,
        song: &LabelledSong,
    ) {
        let Some(chord) = label.chord else { return };
        let frame = |at: Ticks| song.timeline.frame(at, RATE);
        let mut at = label.at;
        while at < until {
            let off = (at + Ticks(Ticks::PER_BEAT)).min(until);
            let tones: Vec<PitchClass> = chord.tones().iter().collect();
            let tone = tones[chance.below(tones.len() as u64) as usize];
            let by = if chance.percent(30) && at > label.at { 2 } else { 0 };
            let key = above(KeyNumber::clamped(79), tone.transpose(Semitones(by)));
            if chance.percent(70) {
                events.push((frame(at), on(key, 85)));
                events.push((frame(off) - 480, off_of(key)));
            }
            at = off;
        }
    }

    fn keys(self, chord: Chord, lowest: KeyNumber, near: KeyNumber) -> Vec<KeyNumber> {
        let up = |semitones: i32| chord.root.transpose(Semitones(semitones));
        let third = chord.third();
        let tones: Vec<PitchClass> = (0..12).map(up).filter(|c| chord.tones().has(*c)).collect();
        let seventh = tones.iter().copied().find(|c| (9..=11).contains(&c.above(chord.root)));
        let shown: Vec<PitchClass> = match self.voicing {
            ShownTones::Close | ShownTones::Open => tones,
            ShownTones::Rootless if tones.len() > 3 => {
                tones.into_iter().filter(|c| *c != chord.root).collect()
            }
            ShownTones::Rootless => tones,
            ShownTones::Shell => match (third, seventh) {
                (Some(third), Some(seventh)) => vec![third, seventh],
                (Some(third), None) => vec![chord.root, third],
                _ => tones,
            },
            ShownTones::Octaves => vec![chord.root, chord.fifth().unwrap_or(up(7))],
        };
        if self.voicing == ShownTones::Octaves {
            let low = above(lowest, chord.root);
            let octave = KeyNumber::clamped(i32::from(low.number()) + 12);
            return vec![low, above(low, shown[1]), octave];
        }
        // The inversion whose lowest key is nearest to the last one's.
        let begins = |first: usize| above(lowest, shown[first]);
        let first = (0..shown.len()).min_by_key(|&n| begins(n).distance(near).0.abs()).unwrap_or(0);
        let mut keys = vec![begins(first)];
        for n in 1..shown.len() {
            let last = keys.last().copied().unwrap_or(lowest);
            keys.push(above(last, shown[(first + n) % shown.len()]));
        }
        if self.voicing == ShownTones::Open && keys.len() > 2 {
            keys[1] = KeyNumber::clamped(i32::from(keys[1].number()) + 12);
            keys.sort();
        }
        keys
    }
}

const fn on(key: KeyNumber, velocity: u8) -> Message {
    Message::On { channel: 0, key, velocity }
}

const fn off_of(key: KeyNumber) -> Message {
    Message::off(0, key)
}

/// The lowest key of a class at `low` or above it.
fn above(low: KeyNumber, class: PitchClass) -> KeyNumber {
    let up = i32::from(class.above(low.class()));
    KeyNumber::clamped(i32::from(low.number()) + up)
}
