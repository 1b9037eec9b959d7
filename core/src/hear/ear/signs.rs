//! The signs by which a chord is known: everything that the scorer looks at,
//! gathered at one moment.

use super::Ear;
use super::notes::Note;
use crate::chord::Chord;
use crate::hear::Expected;
use crate::hear::naming::tables::{EXACT, SPEAKS_FOR, seen_from};
use crate::pitch::{PitchClass, PitchSet};
use crate::time::{Place, Ticks};

/// Signs of twelve values, one a pitch class; the scorer sees each from the
/// candidate root upward. In the order of [`Signs::classes`]:
/// struck just now; sounding; lowest sounding; lowest struck just now;
/// highest sounding; since this beat; since this half bar; since this bar;
/// since the present chord began; struck on beats since then; of late
/// (half-life one beat); of late (half-life four beats); lowest since this
/// half bar; lowest since the present chord began; own left hand; its lowest.
pub const CLASSES: usize = 16;

/// Signs of twelve values from another point: the candidate above the tonic
/// (major keys, minor keys, by their odds), above the present root (if its
/// third is major, minor), above the root before.
pub const STEPS: usize = 5;

/// Signs of one value a candidate; see [`Signs::of_root`].
pub const SCALARS: usize = 14;

/// Signs that are the same for every candidate: place in the bar (5), how
/// long the present chord has held (7), classes struck just now (4), classes
/// sounding (5), change foreseen, whether it is, own left hand, no chord yet.
pub const GLOBALS: usize = 25;

/// Notes struck within an eighth of a beat belong together, and to a beat
/// that comes or came within it.
pub const TOGETHER: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// What is at least this likely is as good as written: a chart's chord.
const CERTAIN: f32 = 0.95;

/// Everything that the scorer looks at. Classes are absolute here (C = 0).
#[derive(Clone, Debug, PartialEq)]
pub struct Signs {
    /// See [`CLASSES`].
    pub classes: [[f32; 12]; CLASSES],
    /// See [`STEPS`]; indexed by the point that the candidate is seen from.
    pub steps: [[f32; 12]; STEPS],
    /// See [`SCALARS`]; indexed by candidate.
    pub scalars: [[f32; SCALARS]; 12],
    /// See [`GLOBALS`].
    pub globals: [f32; GLOBALS],
}

/// The boundaries in the bar at or before a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    /// The beat that is felt.
    pub beat: Ticks,
    /// The half bar where the bar has one, else the bar.
    pub half: Ticks,
    /// The bar line.
    pub bar: Ticks,
    /// 0 bar line, 1 half bar, 2 another beat, 3 half a beat, 4 elsewhere.
    pub rank: usize,
}

impl Bounds {
    pub(super) fn of(now: Ticks, place: Place) -> Self {
        // A hand that comes a little early owns the coming beat.
        let now = now + Ticks(TOGETHER.0 / 2);
        let place = place.of(now);
        let pulse = place.metre.pulse().0.max(1);
        let offset = place.offset(now).0.max(0);
        let beats = place.metre.bar().0 / pulse;
        let beat = offset / pulse;
        let half = if beats % 2 == 0 && beats >= 4 { beats / 2 } else { beats.max(1) };
        let into = offset % pulse;
        let near = |at: i64| (into - at).abs() <= TOGETHER.0;
        let rank = match () {
            () if near(0) && beat == 0 => 0,
            () if near(0) && beat % half == 0 => 1,
            () if near(0) => 2,
            () if near(pulse / 2) => 3,
            () => 4,
        };
        Self {
            beat: place.bar + Ticks(beat * pulse),
            half: place.bar + Ticks(beat / half * half * pulse),
            bar: place.bar,
            rank,
        }
    }
}

/// Adds up to three, whatever there was; little stays little.
fn shares(mut sums: [f32; 12]) -> [f32; 12] {
    let scale = 3.0 / (sums.iter().sum::<f32>() + 0.3);
    sums.iter_mut().for_each(|s| *s *= scale);
    sums
}

fn one(class: Option<PitchClass>) -> [f32; 12] {
    let mut out = [0.0; 12];
    if let Some(class) = class {
        out[class.index()] = 1.0;
    }
    out
}

fn set_of(sums: &[f32; 12]) -> PitchSet {
    PitchClass::all().filter(|c| sums[c.index()] > 0.0).collect()
}

/// The share of `part` that `whole` has; 0 if there is no part.
fn share_in(part: PitchSet, whole: PitchSet) -> f32 {
    if part.is_empty() { 0.0 } else { part.and(whole).len() as f32 / part.len() as f32 }
}

/// Whether `set` has three classes or more and is exactly a complete chord.
fn exact(set: PitchSet, root: usize) -> f32 {
    let exact = EXACT[usize::from(set.bits())];
    let complete = set.len() >= 3 && matches!(exact >> 12, 1 | 2);
    f32::from(u8::from(complete && exact >> root & 1 == 1))
}

fn is_minor(chord: Chord) -> bool {
    chord.third().is_some_and(|third| third.above(chord.root) == 3)
}

impl Signs {
    /// Gathers the signs at `now`.
    pub(super) fn gather(ear: &Ear, now: Ticks, place: Place, expected: &Expected) -> Self {
        let bounds = Bounds::of(now, place);
        let since = ear.present.map_or(bounds.bar, |(_, since)| since);
        let classes = Self::of_notes(ear, now, &bounds, since);
        let present = ear.present.map(|(chord, _)| chord);
        let fresh = set_of(&classes[0]);
        let sounding = set_of(&classes[1]);
        let gathered = set_of(&classes[6]);
        let odds = ear.tonality.odds();
        let mut steps = [[0.0; 12]; STEPS];
        match ear.fixed_key() {
            Some(key) => {
                let minor = usize::from(key.mode == crate::key::Mode::Minor);
                steps[minor][key.tonic.index()] = 1.0;
            }
            None => {
                steps[0].copy_from_slice(&odds[..12]);
                steps[1].copy_from_slice(&odds[12..]);
            }
        }
        if let Some(present) = present {
            steps[2 + usize::from(is_minor(present))][present.root.index()] = 1.0;
        }
        steps[4] = one(ear.before.map(|chord| chord.root));
        let scalars = std::array::from_fn(|root| {
            Self::of_root(root, present, expected, fresh, sounding, gathered)
        });
        let globals = Self::of_all(ear, now, &bounds, expected, fresh, sounding);
        Self { classes, steps, scalars, globals }
    }

    /// The roots on which what was just struck is exactly a complete chord of
    /// three classes or more (bit n for root n); with what sounds on, if that
    /// is one too. 0 if it is none.
    pub(super) fn exact(&self) -> u16 {
        let fresh = set_of(&self.classes[0]);
        if fresh.len() < 3 {
            return 0;
        }
        let whole = |set: PitchSet| {
            let exact = EXACT[usize::from(set.bits())];
            if matches!(exact >> 12, 1 | 2) { exact & 0xFFF } else { 0 }
        };
        match whole(set_of(&self.classes[1])) {
            0 => whole(fresh),
            roots => roots,
        }
    }

    /// The root of a chord that is due here for sure (a chart says so), if
    /// nothing that was just struck speaks against it.
    pub(super) fn agrees(&self, expected: &Expected) -> Option<usize> {
        if expected.change.is_none_or(|change| change < CERTAIN) {
            return None;
        }
        let root = expected.odds.iter().position(|&odds| odds >= CERTAIN)?;
        let chord = expected.chords[root]?;
        let foreign = set_of(&self.classes[0]).minus(chord.tones());
        foreign.is_empty().then_some(root)
    }

    fn of_notes(ear: &Ear, now: Ticks, bounds: &Bounds, since: Ticks) -> [[f32; 12]; CLASSES] {
        let mut c = [[0.0f32; 12]; CLASSES];
        let (mut low, mut high, mut fresh_low) = (None::<&Note>, None::<&Note>, None::<&Note>);
        let (mut half_low, mut chord_low, mut left_low) =
            (None::<&Note>, None::<&Note>, None::<&Note>);
        let lower = |a: Option<&Note>, b: &Note| a.is_none_or(|a| b.key < a.key);
        let pulse = bounds.beat.0;
        for note in ear.notes.iter().filter(|note| note.on <= now) {
            let i = note.class().index();
            let sounds = note.off.is_none_or(|off| off > now);
            if note.key < ear.split {
                if sounds {
                    c[14][i] = 1.0;
                    if lower(left_low, note) {
                        left_low = Some(note);
                    }
                }
                continue;
            }
            let from = |start: Ticks| note.on >= start - TOGETHER;
            let weight =
                |start: Ticks| note.beats(start, now) + if from(start) { 0.25 } else { 0.0 };
            if sounds {
                c[1][i] = 1.0;
                if lower(low, note) {
                    low = Some(note);
                }
                if high.is_none_or(|h| note.key > h.key) {
                    high = Some(note);
                }
            }
            if from(now) {
                c[0][i] = 1.0;
                if lower(fresh_low, note) {
                    fresh_low = Some(note);
                }
            }
            c[5][i] += weight(bounds.beat);
            c[6][i] += weight(bounds.half);
            c[7][i] += weight(bounds.bar);
            c[8][i] += weight(since);
            if from(bounds.half) && lower(half_low, note) {
                half_low = Some(note);
            }
            if from(since) {
                let from_beat = (note.on.0 - pulse + TOGETHER.0).rem_euclid(Ticks::PER_BEAT);
                if from_beat <= 2 * TOGETHER.0 {
                    c[9][i] += 1.0;
                }
                if lower(chord_low, note) {
                    chord_low = Some(note);
                }
            }
            let ago = note.off.map_or(0.0, |off| (now - off).beats().max(0.0)) as f32;
            let sound = note.beats(Ticks(i64::MIN / 2), now).min(4.0) + 0.1;
            c[10][i] += sound * (-ago).exp2();
            c[11][i] += sound * (-ago / 4.0).exp2();
        }
        for gathered in &mut c[5..12] {
            *gathered = shares(*gathered);
        }
        let class = |note: Option<&Note>| one(note.map(Note::class));
        c[2] = class(low);
        c[3] = class(fresh_low);
        c[4] = class(high);
        c[12] = class(half_low);
        c[13] = class(chord_low);
        c[15] = class(left_low);
        c
    }

    /// One candidate: odds foreseen; is it the present chord, the same with
    /// the change foreseen, and whether it is; another with odds and change;
    /// tones just struck in the chord expected on it, whether one is; exactly
    /// a chord on it: struck just now, sounding, since the half bar; what the
    /// last two speak for it; tones just struck, sounding in the present chord.
    fn of_root(
        root: usize,
        present: Option<Chord>,
        expected: &Expected,
        fresh: PitchSet,
        sounding: PitchSet,
        gathered: PitchSet,
    ) -> [f32; SCALARS] {
        let is_present = present.filter(|chord| chord.root.index() == root);
        let stays = f32::from(u8::from(is_present.is_some()));
        let change = expected.change.unwrap_or(0.0);
        let odds = expected.odds[root];
        let tones = expected.chords[root].map(Chord::tones);
        let speaks = |set: PitchSet| SPEAKS_FOR[usize::from(seen_from(set.bits(), root))] / 4.0;
        [
            (odds * 12.0).clamp(0.05, 12.0).ln(),
            stays,
            stays * change,
            stays * f32::from(u8::from(expected.change.is_some())),
            (1.0 - stays) * odds * change,
            tones.map_or(0.0, |tones| share_in(fresh, tones)),
            f32::from(u8::from(tones.is_some())),
            exact(fresh, root),
            exact(sounding, root),
            exact(gathered, root),
            speaks(sounding),
            speaks(gathered),
            is_present.map_or(0.0, |chord| share_in(fresh, chord.tones())),
            is_present.map_or(0.0, |chord| share_in(sounding, chord.tones())),
        ]
    }

    fn of_all(
        ear: &Ear,
        now: Ticks,
        bounds: &Bounds,
        expected: &Expected,
        fresh: PitchSet,
        sounding: PitchSet,
    ) -> [f32; GLOBALS] {
        let mut g = [0.0; GLOBALS];
        g[bounds.rank] = 1.0;
        let held = ear.present.map(|(_, since)| (now - since).beats() + 0.125);
        // Ends of the classes in quarter notes: chords change after one, two
        // or four beats more often than between.
        const ENDS: [f64; 6] = [0.25, 1.0, 1.25, 2.0, 2.25, 4.0];
        match held {
            Some(held) => g[5 + ENDS.iter().filter(|&&end| held >= end).count()] = 1.0,
            None => g[24] = 1.0,
        }
        g[12 + fresh.len().min(3) as usize] = 1.0;
        g[16 + sounding.len().min(4) as usize] = 1.0;
        g[21] = expected.change.unwrap_or(0.0);
        g[22] = f32::from(u8::from(expected.change.is_some()));
        g[23] = f32::from(u8::from(ear.own_left() != 0));
        g
    }
}
