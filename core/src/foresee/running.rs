//! What is counted as the song goes on: keys, places, and how well each way
//! of foreseeing has served so far.

use super::event::RootSpan;
use super::line::RootLine;
use super::odds::{Chains, OddsTable};
use super::repeats::{CLOSE, Repeats, places_of};
use crate::chord::Kind;
use crate::maths;
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// Bars back that are watched for a round.
pub const ROUNDS: usize = 64;
/// Places in a bar that are told apart: halves of the felt beat, four bars.
pub const PLACES: usize = 128;
/// How fast the track record of a round fades.
const RECORD: f32 = 0.85;
/// How fast the use of roots, places and keys fades, a chord.
const USE: f32 = 0.97;

/// How often what held some bars ago held again.
#[derive(Clone, Copy, Debug, Default)]
pub struct Record {
    agreed: f32,
    asked: f32,
}

impl Record {
    fn hear(&mut self, agreed: f32) {
        self.agreed = RECORD * self.agreed + agreed;
        self.asked = RECORD * self.asked + 1.0;
    }

    /// 0 ..= 1, doubtful at first.
    pub fn trust(self) -> f32 {
        self.agreed / (self.asked + 1.0)
    }
}

/// Plain values of fixed size.
#[derive(Clone, Debug)]
pub struct Running {
    odds: &'static OddsTable,
    /// Log odds of the key signatures, by the chords.
    keys: [f32; 12],
    /// What was told about the key: added to `keys`.
    told: [f32; 12],
    /// Odds of the next root, by each table.
    pub chains: Chains,
    /// How far the odds did better than chance, in bits a change.
    pub odds_served: f32,
    /// How often each root came lately.
    pub used: [f32; 12],
    /// Index of the event that last had this root.
    pub last_seen: [Option<usize>; 12],
    /// For rounds of 1 ..= [`ROUNDS`] bars: was it the same root?
    pub rounds: [Record; ROUNDS],
    /// The same for changes at that place.
    pub change_rounds: [Record; ROUNDS],
    /// How often the forgiving comparison foresaw the next root.
    pub guessed_right: f32,
    guess: Option<u8>,
    /// How often chords came at each place of four bars.
    pub places: [f32; PLACES],
    /// Chords so far.
    pub count: u32,
}

impl Running {
    /// Has heard nothing; reads the shipped tables.
    pub fn new(odds: &'static OddsTable) -> Self {
        Self {
            odds,
            keys: [0.0; 12],
            told: [0.0; 12],
            chains: [[0.0; 12]; OddsTable::CHAINS],
            odds_served: 0.0,
            used: [0.0; 12],
            last_seen: [None; 12],
            rounds: [Record::default(); ROUNDS],
            change_rounds: [Record::default(); ROUNDS],
            guessed_right: 0.5,
            guess: None,
            places: [1.0; PLACES],
            count: 0,
        }
    }

    /// The last of `events` has come; `line` and `repeats` know of it.
    pub fn hear(&mut self, events: &[RootSpan], line: &RootLine, repeats: &Repeats) {
        let Some((now, past)) = events.split_last() else { return };
        let root = PitchClass::new(now.root.into());
        if !past.is_empty() {
            let foreseen = self.chains.iter().map(|chain| root.of(chain)).sum::<f32>()
                / OddsTable::CHAINS as f32;
            self.odds_served = 0.9 * self.odds_served + 0.1 * maths::log2(foreseen * 11.0 + 0.02);
        }
        if let Some(guess) = self.guess {
            let right = if guess == now.root { 1.0 } else { 0.0 };
            self.guessed_right = 0.9 * self.guessed_right + 0.1 * right;
        }
        self.hear_rounds(now, past);
        for (used, class) in self.used.iter_mut().zip(PitchClass::all()) {
            *used = *used * USE + if class == root { 1.0 } else { 0.0 };
        }
        *root.of_mut(&mut self.last_seen) = Some(past.len());
        for (key, fit) in self.keys.iter_mut().zip(self.odds.fit(now)) {
            *key = *key * USE + fit;
        }
        self.places.iter_mut().for_each(|place| *place *= USE);
        if let Some(place) = self.places.get_mut(place_index(now, now.at)) {
            *place += 1.0;
        }
        self.count = self.count.saturating_add(1);
        self.chains = self.odds.chains(events, &self.key_odds());
        self.guess = best_guess(line, repeats);
    }

    fn hear_rounds(&mut self, now: &RootSpan, past: &[RootSpan]) {
        let Some(first) = past.first() else { return };
        let rounds = self.rounds.iter_mut().zip(&mut self.change_rounds);
        // Each round looks further back than the one before it.
        let (mut holding, mut striking) = (past.len(), past.len());
        for (bars, (record, changes)) in (1..).zip(rounds) {
            let then = now.at - now.bar_length * bars;
            if then < first.at {
                break;
            }
            let from = if now.bar_length >= CLOSE { holding } else { striking };
            striking = back_to(past, from, then + CLOSE);
            holding = back_to(past, striking, then);
            let held = holding.checked_sub(1).and_then(|k| past.get(k));
            record.hear(if held.is_some_and(|e| e.root == now.root) { 1.0 } else { 0.0 });
            let struck = striking
                .checked_sub(1)
                .and_then(|k| past.get(k))
                .filter(|e| (e.at - then).abs() <= CLOSE);
            changes.hear(struck.map_or(0.0, |e| if e.root == now.root { 1.0 } else { 0.5 }));
        }
    }

    /// The kind of triad meant on the root `to` if it comes right after `now`.
    pub fn kind(&self, now: &RootSpan, to: PitchClass) -> Kind {
        self.odds.kind(now, to, &self.key_odds())
    }

    /// How likely each key signature is (named by its major tonic, C first).
    pub fn key_odds(&self) -> [f32; 12] {
        let most = self.keys.iter().zip(self.told).map(|(k, t)| k + t).fold(f32::MIN, f32::max);
        let mut odds = [0.0; 12];
        for (odds, (key, told)) in odds.iter_mut().zip(self.keys.iter().zip(self.told)) {
            *odds = crate::nats::odds(key + told - most);
        }
        let sum: f32 = odds.iter().sum();
        odds.map(|odds| odds / sum.max(1e-6))
    }

    /// The key signature is known (its major tonic), or no longer. Whether
    /// that is news.
    pub fn tell_key(&mut self, events: &[RootSpan], signature: Option<u8>) -> bool {
        let told = core::array::from_fn(|key| {
            if signature.is_some_and(|s| usize::from(s) == key) { 6.0 } else { 0.0 }
        });
        let news = self.told != told;
        if news {
            self.told = told;
            self.chains = self.odds.chains(events, &self.key_odds());
        }
        news
    }

    /// The likeliest key signature's major tonic.
    pub fn likeliest_signature(&self) -> PitchClass {
        let odds = self.key_odds();
        PitchClass::likeliest(&odds, |_| false).map_or(PitchClass::C, |(key, _)| key)
    }

    /// The `gone` oldest chords are no longer remembered.
    pub fn forget_oldest(&mut self, gone: usize) {
        for seen in &mut self.last_seen {
            *seen = seen.and_then(|index| index.checked_sub(gone));
        }
    }
}

/// What is due in so few ticks has come.
const NEARLY: Ticks = Ticks(10);

/// Index of the event that holds at `at`.
pub fn held_at(events: &[RootSpan], at: Ticks) -> Option<usize> {
    events.partition_point(|event| event.at <= at + NEARLY).checked_sub(1)
}

/// How many of the first `known` events had come at `at`, to one that is not
/// far back from them.
fn back_to(events: &[RootSpan], known: usize, at: Ticks) -> usize {
    let mut known = known;
    while known > 0 && events.get(known - 1).is_some_and(|event| event.at > at + NEARLY) {
        known -= 1;
    }
    known
}

/// Halves of a felt beat since the first of four bars, for a moment `at`
/// counted in the bars of `event`.
pub fn place_index(event: &RootSpan, at: Ticks) -> usize {
    let half = (event.pulse / 2).max(Ticks(1));
    let in_bar = event.bar_length.div_euclid(half);
    let from_bar = event.offset + (at - event.at);
    let halves = (from_bar + half / 2).div_euclid(half);
    let four = (4 * in_bar).max(1);
    let index = (event.bar.rem_euclid(4) * in_bar + halves).rem_euclid(four);
    maths::ring(index, PLACES)
}

/// The root that came next where the forgiving comparison agrees best with the
/// present: the latest of the best.
fn best_guess(line: &RootLine, repeats: &Repeats) -> Option<u8> {
    let (now, past) = line.roots.split_last()?;
    let mut best = (None, f32::NEG_INFINITY);
    for j in places_of(*now, past) {
        let soft = repeats.soft.get(j).copied().unwrap_or_default();
        if soft >= best.1 && past.get(j + 1) != Some(now) {
            best = (line.roots.get(j + 1).copied(), soft);
        }
    }
    best.0
}
