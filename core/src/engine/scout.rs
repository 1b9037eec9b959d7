//! Look-ahead: a second ear that hears the right hand before it sounds.
//!
//! A home that delays the right hand by a span hands each block to the scout
//! at once, and to the engine a span later. What the scout had heard by then
//! is what the engine knows; nothing later, however time was cut into blocks.

use arrayvec::ArrayVec;

use super::clock::{BlockClock, BlockStart};
use super::known::{Known, Struck};
use super::listener::{Given, Listener};
use super::{Block, Message, Settings, Timed};
use crate::hear::{AheadOdds, Hearing};
use crate::key::Key;
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// Chords that are remembered: far more than a span of some bars holds.
const MOST: usize = 1024;

/// Strokes of the right hand that are remembered: a bar of thirty-seconds in both
/// voices, and as much again.
const STROKES: usize = 128;

/// Chords that may still be judged again: four bars of half beats.
const RECENT: usize = 32;

/// Half a beat is judged again when two beats have passed since it began, and
/// once more after four.
const AGAIN: Ticks = Ticks(2 * Ticks::PER_BEAT);

/// So long after a half beat began, all that its judge asks for has been heard: four
/// beats, less what belongs to the coming frame.
const WHOLE: Ticks = Ticks(4 * Ticks::PER_BEAT - Ticks::PER_BEAT / 16);

/// What began so long ago stays as it is.
const SETTLED: Ticks = Ticks(8 * Ticks::PER_BEAT);

/// How much likelier than the root before another must be: on a beat, off it.
const DOUBT: [f32; 2] = [1.6, 4.0];

/// What is heard so long after a moment is about the next chord, unless it is judged
/// again.
const STILL: Ticks = Ticks(Ticks::PER_BEAT);

/// Odds that are remembered: four bars of half beats, each judged three times.
const ODDS: usize = 96;

/// How likely each root is from a moment until another, and when that was found.
#[derive(Clone, Copy, Debug)]
struct ToldRoots {
    told: Ticks,
    from: Ticks,
    until: Ticks,
    /// Whether enough had followed to judge it again.
    judged: bool,
    roots: [f32; 12],
}

/// A chord, written down when it was heard. It takes the place of all that
/// was written before for its own time and later.
#[derive(Clone, Copy, Debug)]
struct ToldChord {
    told: Ticks,
    struck: Struck,
}

/// Hears ahead. Allocates in [`Scout::new`] and never after.
pub struct Scout {
    clock: BlockClock,
    pub(super) listener: Listener,
    /// The last chords as the ear heard them, oldest first.
    heard: ArrayVec<Struck, RECENT>,
    /// The last chords as they are believed to be, oldest first.
    believed: ArrayVec<Struck, RECENT>,
    log: ArrayVec<ToldChord, MOST>,
    /// Odds of the roots, the newest last.
    odds: ArrayVec<ToldRoots, ODDS>,
    /// When the right hand struck, oldest first.
    strokes: ArrayVec<Ticks, STROKES>,
    /// When it listens next without the player doing anything.
    grid: Ticks,
    /// When it listened last, if nothing was played since.
    listened: Option<Ticks>,
    /// When it hears what was played too soon after that.
    put_off: Option<Ticks>,
    /// How far it is ahead of the engine; zero while nobody delays the hand.
    span: Ticks,
    /// Its time is the engine's and this: it goes on where a song is wound back.
    offset: Ticks,
}

impl Scout {
    /// Has heard nothing yet; will be `span` ahead. Not for the audio thread:
    /// allocates.
    pub fn new(settings: &Settings, span: Ticks) -> Self {
        let mut listener = Listener::new(settings);
        listener.second = true;
        Self {
            clock: BlockClock::new(),
            listener,
            heard: ArrayVec::new(),
            believed: ArrayVec::new(),
            log: ArrayVec::new(),
            odds: ArrayVec::new(),
            strokes: ArrayVec::new(),
            grid: Ticks::ZERO,
            listened: None,
            put_off: None,
            span,
            offset: Ticks::ZERO,
        }
    }

    /// How far it is ahead, if it is.
    pub fn span(&self) -> Option<Ticks> {
        (self.span > Ticks::ZERO).then_some(self.span)
    }

    /// See [`Engine::lead`](super::Engine::lead).
    pub fn lead(&mut self, span: Ticks, offset: Ticks) {
        if span <= Ticks::ZERO {
            self.begin_anew();
        }
        (self.span, self.offset) = (span, offset);
    }

    /// Takes over what the player set.
    pub fn set(&mut self, settings: &Settings) {
        self.listener.set_split(settings.split);
        self.listener.set_key(settings.key);
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.begin_anew();
        self.listener.forget();
    }

    /// What was written down is not true any more.
    fn begin_anew(&mut self) {
        self.log.clear();
        self.odds.clear();
        self.strokes.clear();
        self.heard.clear();
        self.believed.clear();
        self.put_off = None;
    }

    /// Hears one block; whether it had to make up its mind. Never allocates, locks,
    /// logs or panics.
    pub fn hear(&mut self, block: &Block<'_>, key: Option<Key>) -> bool {
        match self.clock.begin(block) {
            BlockStart::Rolling => {}
            BlockStart::Stopped => {
                self.begin_anew();
                self.listener.pause();
                let at = self.clock.at(0);
                block.events.iter().for_each(|event| self.take_in(at, event));
                return false;
            }
            BlockStart::Started | BlockStart::Jumped => {
                self.begin_anew();
                self.listener.pause();
                self.listener.settle();
                self.grid = next_half(self.clock.at(0) + Ticks(-1));
            }
        }
        let before = self.listened;
        for (frame, instant, _) in block.instants() {
            self.listen_until(frame, key);
            let at = self.clock.at(frame);
            instant.iter().for_each(|event| self.take_in(at, event));
            self.put_off = self.listener.puts_off(at, self.clock.tempo());
            if self.put_off.is_none() {
                self.listen(at, key);
            }
        }
        self.listen_until(block.frames, key);
        self.listened != before
    }

    fn take_in(&mut self, at: Ticks, event: &Timed) {
        self.listener.take_in(at, event.message);
        self.listened = None;
        let strikes = matches!(event.message, Message::On { key, velocity: 1.., .. }
            if key >= self.listener.ear().split());
        if strikes && self.strokes.last() != Some(&at) {
            append(&mut self.strokes, at);
        }
    }

    /// What had been heard when the right hand was the span further than `at`.
    pub fn known(&self, at: Ticks) -> Option<Known> {
        let until = at + self.offset + self.span()?;
        let mut known = Known::default();
        let told = self.log.iter().rev().skip_while(|entry| entry.told > until);
        let mut from = Ticks(i64::MAX);
        for mut entry in told.map(|entry| entry.struck) {
            entry.at = entry.at - self.offset;
            if entry.at >= from {
                continue; // written over since
            }
            from = entry.at;
            if entry.at <= at {
                known.now = Some(entry);
                break;
            }
            known.next = Some(entry);
        }
        known.roots = self.roots(at, until);
        Some(known)
    }

    /// Odds of the root at `at` by what had been heard `until` then: as judged again,
    /// else as it was last heard.
    fn roots(&self, at: Ticks, until: Ticks) -> Option<AheadOdds> {
        let at = at + self.offset + Ticks(Ticks::PER_BEAT / 16);
        let mut here = self.odds.iter().rev().filter(|odds| odds.from <= at && at < odds.until);
        let judged = here.clone().find(|odds| odds.judged && odds.told <= until);
        let heard = until.min(at + STILL);
        let roots = judged.or_else(|| here.find(|odds| !odds.judged && odds.told <= heard));
        let whole = |odds: &ToldRoots| odds.judged && odds.told >= odds.from + WHOLE;
        roots.map(|odds| AheadOdds { roots: odds.roots, whole: whole(odds) })
    }

    /// Writes down the odds of the roots of what was heard.
    fn write_down_odds(&mut self, told: Ticks, hearing: &Hearing) {
        let judged = self.listener.ear().judged(told - SETTLED, told - AGAIN);
        for (from, roots) in judged {
            let until = from + Ticks(HALF);
            let known = |odds: &ToldRoots| odds.judged && odds.from == from && odds.roots == roots;
            if !self.odds.iter().any(known) {
                append(&mut self.odds, ToldRoots { told, from, until, judged: true, roots });
            }
        }
        let (from, until, roots) = (hearing.since, told + Ticks(HALF / 2), hearing.roots);
        append(&mut self.odds, ToldRoots { told, from, until, judged: false, roots });
    }

    /// When the right hand strikes next, at `at` or later, as far as was heard.
    pub fn next_stroke(&self, at: Ticks) -> Option<Ticks> {
        let next = self.strokes.partition_point(|stroke| *stroke - self.offset < at);
        self.strokes.get(next).map(|stroke| *stroke - self.offset)
    }

    /// Listens at the ear's deadlines and on every half beat before `end`.
    fn listen_until(&mut self, end: u32, key: Option<Key>) {
        loop {
            let due =
                [self.listener.settles(self.clock.tempo()), self.put_off].into_iter().flatten();
            let at = due.fold(self.grid, Ticks::min);
            let thought = self.listener.thought().filter(|thought| *thought < at);
            if self.clock.frame_before(thought.unwrap_or(at), end).is_none() {
                return;
            }
            if let Some(at) = thought {
                self.listener.think(at, self.clock.place().of(at), key, None);
                continue;
            }
            let by_the_grid = at == self.grid;
            if by_the_grid {
                self.grid = next_half(at);
            }
            self.listen(at, key);
            if by_the_grid {
                self.listener.heard = None; // a chord on the half beat is heard at once
            }
        }
    }

    fn listen(&mut self, at: Ticks, key: Option<Key>) {
        self.put_off = None;
        if self.listened.replace(at) == Some(at) {
            return;
        }
        let given = Given {
            place: self.clock.place().of(at),
            tempo: self.clock.tempo(),
            key,
            chart: None,
            known: None,
            leisure: true,
        };
        let hearing = self.listener.listen(at, given);
        self.write_down(at, &hearing);
    }

    /// Writes down what is believed anew of the chords so far.
    fn write_down(&mut self, told: Ticks, hearing: &Hearing) {
        let Some(chord) = hearing.chord else { return };
        let struck = Struck { at: hearing.since, chord, sure: chord.root.of(&hearing.odds) };
        self.write_down_odds(told, hearing);
        self.heard.retain(|before| before.at < struck.at);
        append(&mut self.heard, struck);
        let before = self.believed.clone();
        self.believe(told);
        let news = before.iter().zip(&self.believed).take_while(|(a, b)| a == b).count();
        if news < before.len().max(self.believed.len()) {
            // Where chords were only taken away, the last that is left says so.
            for n in news.min(self.believed.len().saturating_sub(1))..self.believed.len() {
                let struck = self.believed.get(n).copied();
                struck.into_iter().for_each(|struck| self.push(ToldChord { told, struck }));
            }
        }
    }

    /// What the chords are believed to be at `now`: as judged again where enough
    /// has followed, as they were heard after that.
    fn believe(&mut self, now: Ticks) {
        let from = now - SETTLED;
        self.believed.retain(|struck| struck.at < from);
        let settled = self.believed.len();
        let mut until = from;
        let place = self.clock.place();
        for (at, odds) in self.listener.ear().judged(from, now - AGAIN) {
            until = at + Ticks(HALF);
            let Some((root, most)) = PitchClass::likeliest(&odds, |_| false) else { continue };
            let last = self.believed.last().map(|struck| struck.chord.root);
            let stays = last.map_or(0.0, |root| root.of(&odds));
            let place = place.of(at);
            let off = place.offset(at).0.rem_euclid(place.metre.pulse().0.max(1)) != 0;
            if last != Some(root) && most > stays * if off { DOUBT[1] } else { DOUBT[0] } {
                let chord = self.listener.ear().chord_on(root, at, until);
                append(&mut self.believed, Struck { at, chord, sure: most });
            }
        }
        for n in settled.min(self.believed.len())..self.believed.len() {
            let end = self.believed.get(n + 1).map_or(until, |next| next.at);
            if let Some(struck) = self.believed.get_mut(n) {
                struck.chord = self.listener.ear().chord_on(struck.chord.root, struck.at, end);
            }
        }
        let later = self.heard.iter().filter(|struck| struck.at >= until);
        for struck in later {
            if !self.believed.last().is_some_and(|last| last.chord.same_bass(struck.chord)) {
                append(&mut self.believed, *struck);
            }
        }
        if let (true, Some(last)) = (self.believed.is_empty(), self.heard.last()) {
            self.believed.push(*last);
        }
    }

    fn push(&mut self, entry: ToldChord) {
        if self.log.is_full() {
            self.log.drain(..MOST / 2);
        }
        self.log.push(entry);
    }
}

/// The oldest makes room.
fn append<T, const MOST: usize>(all: &mut ArrayVec<T, MOST>, newest: T) {
    if all.is_full() {
        all.remove(0);
    }
    all.push(newest);
}

const HALF: i64 = Ticks::PER_BEAT / 2;

/// The first half beat after `at`.
fn next_half(at: Ticks) -> Ticks {
    Ticks((at.0.div_euclid(HALF) + 1) * HALF)
}

#[cfg(test)]
mod tests {
    use super::super::Transport;
    use super::*;
    use crate::chord::{Chord, Kind};
    use crate::pitch::{KeyNumber, PitchClass};
    use crate::time::Metre;

    fn entry(told: i64, at: i64, root: i32) -> ToldChord {
        let chord = Chord::new(PitchClass::new(root), Kind::Major);
        ToldChord { told: Ticks(told), struck: Struck { at: Ticks(at), chord, sure: 0.9 } }
    }

    #[test]
    fn only_what_was_heard_by_then_is_known() {
        let mut scout = Scout::new(&Settings::default(), Ticks(480));
        for written in [entry(0, 0, 0), entry(960, 960, 5), entry(1200, 960, 2)] {
            scout.push(written);
        }
        let root = |struck: Option<Struck>| struck.map(|s| s.chord.root.index());
        let known = scout.known(Ticks(480)).expect("it is ahead");
        assert_eq!((root(known.now), root(known.next)), (Some(0), Some(5)));
        let known = scout.known(Ticks(720)).expect("it is ahead"); // judged again since
        assert_eq!((root(known.now), root(known.next)), (Some(0), Some(2)));
        let known = scout.known(Ticks(1000)).expect("it is ahead");
        assert_eq!((root(known.now), root(known.next)), (Some(2), None));
    }

    #[test]
    fn after_four_beats_it_has_heard_all_that_it_asks_for() {
        let mut scout = Scout::new(&Settings::default(), Ticks(3840));
        for told in [1920, 3800] {
            let (told, from, until) = (Ticks(told), Ticks(0), Ticks(HALF));
            let roots = [1.0 / 12.0; 12];
            append(&mut scout.odds, ToldRoots { told, from, until, judged: true, roots });
        }
        let whole = |until| scout.roots(Ticks(0), Ticks(until)).map(|ahead| ahead.whole);
        assert_eq!([1900, 1920, 3840].map(whole), [None, Some(false), Some(true)]);
    }

    /// Another chord each beat, eight beats from beat `from` on; a beat is 375 blocks of
    /// 64 frames long.
    fn play(scout: &mut Scout, from: f64) {
        for n in 0..8 * 375 {
            let transport = Transport::moving(from + n as f64 / 375.0, 120.0, Metre::COMMON);
            let note = |key, velocity| Timed {
                frame: 0,
                message: Message::On { channel: 0, key: KeyNumber::clamped(key), velocity },
            };
            let [last, root] = [n / 375 + 3, n / 375].map(|beat| 60 + [0, 5, 7, 2][beat % 4]);
            let ends = [0, 4, 7].map(|up| note(last + up, 0));
            let events = [ends, [0, 4, 7].map(|up| note(root + up, 80))].concat();
            let events = if n % 375 == 0 { &events[..] } else { &[] };
            scout.hear(&Block { frames: 64, rate: 48_000.0, transport, events }, None);
        }
    }

    #[test]
    fn what_was_heard_of_another_song_is_not_known_of_this_one() {
        let heard = |scout: &Scout, beat: i64| {
            let known = scout.known(Ticks(beat * Ticks::PER_BEAT)).expect("it is ahead");
            known.now.is_some() || known.next.is_some() || known.roots.is_some()
        };
        let mut scout = Scout::new(&Settings::default(), Ticks(1920));
        play(&mut scout, 0.0);
        assert!(heard(&scout, 4) && scout.next_stroke(Ticks::ZERO).is_some());
        scout.forget();
        assert!(!heard(&scout, 4) && scout.next_stroke(Ticks::ZERO).is_none());
        play(&mut scout, 0.0);
        play(&mut scout, 100.0); // a jump
        assert!(!heard(&scout, 4) && heard(&scout, 104));
        assert_eq!(scout.next_stroke(Ticks::ZERO), Some(Ticks(100 * Ticks::PER_BEAT)));
    }

    #[test]
    fn its_time_is_the_engine_s_and_what_it_is_ahead_after_a_loop() {
        let mut scout = Scout::new(&Settings::default(), Ticks(1920));
        play(&mut scout, 0.0);
        let before = scout.roots(Ticks(1920), Ticks(3840)).map(|ahead| ahead.roots);
        scout.lead(Ticks(1920), Ticks(1920));
        assert_eq!(scout.roots(Ticks(0), Ticks(3840)).map(|ahead| ahead.roots), before);
        assert!(before.is_some_and(|roots| roots[7] > 0.5), "{before:?}");
        assert_eq!(scout.next_stroke(Ticks(500)), Some(Ticks(960)));
    }

    #[test]
    fn two_beats_after_a_half_beat_began_it_is_judged_again() {
        let mut scout = Scout::new(&Settings::default(), Ticks(1920));
        play(&mut scout, 0.0);
        for beat in 1..5 {
            let at = Ticks(beat * Ticks::PER_BEAT);
            let judged = scout.odds.iter().filter(|odds| odds.judged && odds.from == at);
            let first = judged.map(|odds| odds.told - at).min();
            assert_eq!(first, Some(Ticks(2 * Ticks::PER_BEAT)), "beat {beat}");
        }
    }

    #[test]
    fn where_the_song_is_wound_back_it_goes_on() {
        let mut scout = Scout::new(&Settings::default(), Ticks(960));
        scout.push(entry(3840, 3840, 7)); // after a loop of one bar, its first beat
        let before = scout.known(Ticks(3000)).expect("it is ahead");
        assert_eq!(before.next.map(|next| next.at), Some(Ticks(3840)));
        scout.lead(Ticks(960), Ticks(3840));
        let after = scout.known(Ticks(10)).expect("it is ahead");
        assert_eq!(after.now.map(|now| now.at), Some(Ticks(0)));
        scout.lead(Ticks::ZERO, Ticks::ZERO);
        assert!(scout.known(Ticks(10)).is_none());
    }
}
