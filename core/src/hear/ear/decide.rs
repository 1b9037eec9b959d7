//! Deciding: is it still the same chord, and if not, which one since when?

use super::Ear;
use super::scorer::ScorerOdds;
use super::signs::{ChordSigns, TOGETHER};
use super::twelve::likeliest;
use crate::hear::Expected;
use crate::maths;
use crate::pitch::{KeyNumber, PitchClass, PitchSet, Semitones};
use crate::time::{Place, Ticks};

/// From this certainty on a new chord is believed before it has settled.
const UNSETTLED: f32 = 0.7;

/// How much likelier than the present root another must be before the chord
/// changes: at the bar line, the half bar, another beat, the half of a beat,
/// elsewhere. This and what follows: chosen on songs of POP909-CL that the
/// scorers did not know (`song_figures --learned`).
const DOUBT: [f32; 5] = [1.0, 1.0, 1.1, 2.0, 3.0];

/// Whatever is told, something else may come.
const UNFORESEEN: f32 = 0.05;

/// From this certainty on a chord that is past gets another root.
const REVISED: f32 = 0.5;

/// How much is believed of a chord that the hand shows whole.
const WHOLE: f32 = 0.9;

/// What the own left hand's lowest tone is to its chord, in semitones above
/// the root, and how much oftener than a tone of another kind: root 80 %,
/// fifth 11 %, third 5 % of the left hands of POP909-CL, else 4 % over eight.
const PLAYED_BELOW: [(i32, f32); 4] = [(0, 160.0), (7, 22.0), (4, 6.0), (3, 6.0)];

/// How much an ear that has heard what follows counts, in parts of its nats, and how
/// much the one that has not; the same where the first has heard all that it asks for
/// (`song_figures --ahead`).
const AHEAD: [f32; 2] = [0.6, 0.6];
const AHEAD_WHOLE: [f32; 2] = [0.8, 0.4];

/// How much is believed of one that a stroke has just shown: more than of all
/// others together.
const SHOWN: f32 = 0.55;

impl Ear {
    /// Decides what the chord is.
    pub(super) fn judge(&mut self, now: Ticks, place: Place, expected: &Expected) {
        let signs = ChordSigns::gather(self, now, place, expected);
        let exact = signs.exact();
        let ScorerOdds { roots, tones } = self.scorer.odds(signs.view());
        let roots = self.with_left(with_ahead(self.told(roots, expected), expected));
        let heard = &mut self.hearing;
        (heard.odds, heard.roots, heard.tones) = (roots, roots, tones);
        let odds = prefer(exact, roots);
        let (mut best, _) = likeliest(&odds);
        let told = signs.agrees(expected);
        let whole = self.held_whole(now);
        if let Some(root) = told {
            best = root;
        } else if let Some(root) = whole {
            best = root;
        } else if let Some((present, _)) = self.present {
            let stays = present.root.of(&odds);
            // What the hand shows whole is believed at once; else a change
            // needs the more evidence the less it is to be expected here.
            let needs =
                if exact != 0 { 1.0 } else { self.felt.at(self.meant(now), place).mean(DOUBT) };
            if best.of(&odds) < stays * needs {
                best = present.root;
            }
        }
        let root = best;
        let certainty = root.of(&odds);
        let certainty = if told.is_some() { certainty.max(WHOLE) } else { certainty };
        self.hearing.certainty = certainty;
        let sure = told.is_some() || whole.is_some();
        let same = self.present.is_some_and(|(chord, _)| chord.root == root);
        if !same && (self.hearing.settled || certainty >= UNSETTLED || self.present.is_none()) {
            self.change(root, now, place, expected);
        } else {
            // The same chord, or a stroke that may still become another one.
            let since = self.present.map_or(now, |(_, since)| since);
            let chord = self.coloured(root, since, now, expected);
            if same {
                self.hearing.changed =
                    self.present.is_some_and(|(present, _)| present.bass != chord.bass);
                self.present = Some((chord, since));
            }
            self.hearing.chord = Some(chord);
        }
        if let Some(chord) = self.hearing.chord {
            // The hand may well show a whole chord that is another one's upper
            // part; but what it shows is what is struck to it.
            let shown = exact >> chord.root.index() & 1 == 1;
            let more = if sure {
                WHOLE
            } else if shown {
                SHOWN
            } else {
                0.0
            };
            self.hearing.believe(chord, more);
        }
    }

    /// The root of the present chord, if the keys that were struck with it are
    /// still held and show it whole: neither a melody note above it nor what
    /// is foreseen makes it another one. Three classes with root and third; a
    /// bass of the player's own left hand may well.
    fn held_whole(&self, now: Ticks) -> Option<PitchClass> {
        let (chord, since) = self.present?;
        if now <= since + TOGETHER + TOGETHER || self.own_left() != 0 {
            return None; // it may still be being struck
        }
        let held: PitchSet = self
            .notes
            .iter()
            .filter(|note| note.off.is_none() && note.key >= self.split)
            .filter(|note| note.on <= since + TOGETHER)
            // What only a pedal holds is past.
            .filter(|note| self.held.down() >> note.key.number() & 1 == 1)
            .map(|note| note.class())
            .collect();
        let whole = held.and(chord.tones()).len() >= 3
            && held.has(chord.root)
            && chord.third().is_some_and(|third| held.has(third));
        whole.then_some(chord.root)
    }

    /// The odds with what is told counted in; a guess is among the signs.
    fn told(&self, mut odds: [f32; 12], expected: &Expected) -> [f32; 12] {
        let Some(change) = expected.change.filter(|_| expected.told) else { return odds };
        for (root, odd) in PitchClass::all().zip(&mut odds) {
            let stays = self.present.is_some_and(|(chord, _)| chord.root == root);
            let stays = if stays { 1.0 - change } else { 0.0 };
            let foreseen = change * root.of(&expected.odds) + stays;
            *odd *= foreseen + UNFORESEEN;
        }
        let sum: f32 = odds.iter().sum();
        odds.iter_mut().for_each(|odd| *odd /= sum.max(f32::MIN_POSITIVE));
        odds
    }

    /// The odds with the own left hand's lowest tone heard too.
    fn with_left(&self, mut odds: [f32; 12]) -> [f32; 12] {
        let left = self.own_left();
        if left != 0 {
            let lowest = KeyNumber::clamped(left.trailing_zeros() as i32).class();
            for (root, share) in PLAYED_BELOW {
                *lowest.transpose(Semitones(-root)).of_mut(&mut odds) *= share;
            }
            let sum: f32 = odds.iter().sum();
            odds.iter_mut().for_each(|odd| *odd /= sum.max(f32::MIN_POSITIVE));
        }
        odds
    }

    /// A new chord has begun.
    fn change(&mut self, root: PitchClass, now: Ticks, place: Place, expected: &Expected) {
        let since = self.began(now, place);
        // What sounds between a beat and a hand that is late is the chord before.
        let sounds = (since + self.lateness.max(Ticks::ZERO)).min(now);
        if let Some((old, old_since)) = self.present {
            let end = sounds - TOGETHER;
            let root = self.root_between(old_since, since).unwrap_or(old.root);
            let revised = self.coloured(root, old_since, end, &Expected::NOTHING);
            // What is told again may not sound worse: the bass stays.
            let bass = if root == old.root { old.bass } else { revised.bass };
            self.hearing.revised = Some(revised.over(bass));
        }
        let chord = self.coloured(root, sounds, now, expected);
        self.present = Some((chord, sounds));
        self.hearing.chord = Some(chord);
        self.hearing.since = since;
        self.hearing.changed = true;
    }

    /// The root of what sounded between, if it was judged again and is clear.
    fn root_between(&self, from: Ticks, until: Ticks) -> Option<PitchClass> {
        let frame = |at: Ticks| self.past.frame_of(at);
        let (root, sure) = self.judged.between(&self.past, frame(from), frame(until))?;
        (sure >= REVISED).then_some(root)
    }

    /// When the chord that is new at `now` began: with its stroke, if that
    /// showed three tones at once; else on the beat, where chords change.
    fn began(&self, now: Ticks, place: Place) -> Ticks {
        let stroke = self.stroke.filter(|&stroke| now - stroke <= TOGETHER + TOGETHER);
        let first = stroke.unwrap_or(now);
        let meant = self.meant(first);
        let together = self
            .notes
            .iter()
            .filter(|note| note.on >= first - TOGETHER && note.key >= self.split)
            .count();
        let pulse = place.metre.pulse().0.max(1);
        let into = place.of(meant).offset(meant).0.max(0) + TOGETHER.0 / 2;
        let on_beat = into % pulse <= TOGETHER.0 + TOGETHER.0 / 2;
        let beat = Ticks(place.of(meant).bar.0 + into / pulse * pulse);
        let old = self.present.map_or(Ticks(i64::MIN / 2), |(_, since)| since);
        if together >= 3 && !on_beat || beat <= old { first.max(old) } else { beat }
    }
}

/// The odds with those of an ear that has heard what follows: both have heard the
/// same so far, so neither counts whole.
fn with_ahead(odds: [f32; 12], expected: &Expected) -> [f32; 12] {
    let Some(ahead) = expected.ahead else { return odds };
    let nats = |mut odds: [f32; 12]| {
        odds.iter_mut().for_each(|odds| *odds += 0.002);
        maths::lns(&mut odds);
        odds
    };
    let [more, own] = if ahead.whole { AHEAD_WHOLE } else { AHEAD };
    let (mut both, later) = (nats(odds), nats(ahead.roots));
    both.iter_mut().zip(later).for_each(|(both, later)| *both = more * later + own * *both);
    super::scorer::to_odds(&mut both);
    both
}

/// Where one stroke is exactly a complete chord (bit n: on root n), that
/// decides, and the scorer decides among its roots.
fn prefer(exact: u16, odds: [f32; 12]) -> [f32; 12] {
    if exact == 0 {
        return odds;
    }
    let fits = |root: usize| exact >> root & 1 == 1;
    let sum: f32 =
        odds.iter().enumerate().filter(|(root, _)| fits(*root)).map(|(_, odd)| odd).sum();
    core::array::from_fn(|root| {
        let odd = PitchClass::at(root).of(&odds);
        let whole = match (fits(root), sum > 1e-6) {
            (true, true) => odd / sum,
            (true, false) => 1.0 / exact.count_ones() as f32,
            (false, _) => 0.0,
        };
        WHOLE * whole + (1.0 - WHOLE) * odd
    })
}
