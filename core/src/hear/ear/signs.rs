//! The signs by which a chord is known: everything that the scorer looks at,
//! gathered at one moment.

use super::Ear;
use super::felt::{FeltPosition, PLACES};
use super::notes::HeardNote;
use super::recall::Recalled;
use super::scorer::Signs;
use super::twelve::shares;
use crate::hear::Expected;
use crate::hear::naming::tables::{self, seen_from};
use crate::key::Mode;
use crate::maths;
use crate::pitch::{PitchClass, PitchSet};
use crate::time::{Place, Ticks};

/// Signs of twelve values, one a pitch class; the scorer sees each from the
/// candidate root upward. In the order of [`ChordSigns::classes`]:
/// struck just now; sounding; lowest sounding; lowest struck just now;
/// highest sounding; heard for half a beat, a beat, two, four, sixteen;
/// since the felt beat, half bar, bar; lowest struck since the felt half bar;
/// recalled for the next beat, two, four.
pub const CLASSES: usize = 17;

/// Signs of twelve values from another point: the candidate above the tonic
/// (major keys, minor keys, by their odds); above the roots, as judged again,
/// of two, four, six and eight beats ago.
pub const STEPS: usize = 6;

/// Signs of one value a candidate; see [`ChordSigns::of_roots`], then
/// [`ChordSigns::of_foresight`].
pub const SCALARS: usize = 6 + FORESEEN;

/// Of these, what is foreseen.
pub const FORESEEN: usize = 4;

/// Signs that are the same for every candidate: place in the felt bar (16),
/// in the felt half bar (8), classes struck just now (4), classes sounding
/// (5), how much is recalled, its square; whether anything is foreseen, how
/// likely a change.
pub const GLOBALS: usize = PLACES + 8 + 4 + 5 + 2 + 2;

/// Notes struck within an eighth of a beat belong together, and to a beat
/// that comes or came within it.
pub const TOGETHER: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// What is at least this likely is as good as written: a chart's chord.
const CERTAIN: f32 = 0.95;

/// Everything that the scorer looks at.
pub type ChordSigns = Signs<CLASSES, STEPS, SCALARS, GLOBALS>;

fn one(class: Option<PitchClass>) -> [f32; 12] {
    let mut out = [0.0; 12];
    if let Some(class) = class {
        *class.of_mut(&mut out) = 1.0;
    }
    out
}

/// One class, by its index.
pub(super) fn one_of(class: Option<usize>) -> [f32; 12] {
    core::array::from_fn(|i| f32::from(u8::from(class == Some(i))))
}

fn set_of(sums: &[f32; 12]) -> PitchSet {
    PitchClass::all().filter(|class| class.of(sums) > 0.0).collect()
}

/// Whether `set` has three classes or more and is exactly a complete chord.
fn exact(set: PitchSet, root: usize) -> f32 {
    let exact = tables::exact(set.bits());
    let complete = set.len() >= 3 && matches!(exact >> 12, 1 | 2);
    f32::from(u8::from(complete && exact >> root & 1 == 1))
}

impl ChordSigns {
    /// Gathers the signs at `now`.
    pub(super) fn gather(ear: &Ear, now: Ticks, place: Place, expected: &Expected) -> Self {
        let position = ear.felt.at(ear.meant(now), place);
        let frame = ear.past.now();
        let likes = ear.likeness.likes();
        let recalled = Recalled::gather(&ear.past, &ear.judged, likes, frame, i64::MAX);
        let classes = Self::of_sound(ear, now, &position, &recalled);
        let fresh = set_of(&classes[0]);
        let sounding = set_of(&classes[1]);
        let gathered = set_of(&classes[11]);
        let mut steps = [[0.0; 12]; STEPS];
        steps[..2].copy_from_slice(&keys(ear));
        for (step, ago) in steps[2..].iter_mut().zip([8, 16, 24, 32]) {
            *step = ear.judged.at(&ear.past, frame - ago);
        }
        let mut scalars = [[0.0; 12]; SCALARS];
        let (roots, foreseen) = scalars.split_at_mut(SCALARS - FORESEEN);
        roots.copy_from_slice(&Self::of_roots(&recalled, fresh, sounding, gathered));
        foreseen.copy_from_slice(&Self::of_foresight(ear, now, expected));
        let mut globals = Self::of_all(&position, &recalled, fresh, sounding);
        if let Some(change) = guessed(expected) {
            globals[GLOBALS - 2..].copy_from_slice(&[1.0, change]);
        }
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
            let exact = tables::exact(set.bits());
            if matches!(exact >> 12, 1 | 2) { exact & 0xFFF } else { 0 }
        };
        match whole(set_of(&self.classes[1])) {
            0 => whole(fresh),
            roots => roots,
        }
    }

    /// The root of a chord that is due here for sure (a chart says so), if
    /// nothing that was just struck speaks against it.
    pub(super) fn agrees(&self, expected: &Expected) -> Option<PitchClass> {
        if expected.change.is_none_or(|change| change < CERTAIN) {
            return None;
        }
        let root = PitchClass::all().find(|root| root.of(&expected.odds) >= CERTAIN)?;
        let chord = root.of(&expected.chords)?;
        let foreign = set_of(&self.classes[0]).minus(chord.tones());
        foreign.is_empty().then_some(root)
    }

    fn of_sound(
        ear: &Ear,
        now: Ticks,
        position: &FeltPosition,
        recalled: &Recalled,
    ) -> [[f32; 12]; CLASSES] {
        let mut c = [[0.0f32; 12]; CLASSES];
        let (mut low, mut high, mut fresh_low) =
            (None::<&HeardNote>, None::<&HeardNote>, None::<&HeardNote>);
        let lower = |a: Option<&HeardNote>, b: &HeardNote| a.is_none_or(|a| b.key < a.key);
        let right = ear.notes.iter().filter(|note| note.on <= now && note.key >= ear.split);
        for note in right {
            let sounds = note.off.is_none_or(|off| off > now);
            let fresh = note.on >= now - TOGETHER;
            if !sounds && !fresh {
                continue; // as most of them
            }
            if sounds {
                *note.class().of_mut(&mut c[1]) = 1.0;
                if lower(low, note) {
                    low = Some(note);
                }
                if high.is_none_or(|h| note.key > h.key) {
                    high = Some(note);
                }
            }
            if fresh {
                *note.class().of_mut(&mut c[0]) = 1.0;
                if lower(fresh_low, note) {
                    fresh_low = Some(note);
                }
            }
        }
        let class = |note: Option<&HeardNote>| one(note.map(HeardNote::class));
        c[2] = class(low);
        c[3] = class(fresh_low);
        c[4] = class(high);
        let frame = ear.past.now();
        let FeltPosition { from_half, from_bar, .. } = *position;
        let spans = [2, 4, 8, 16, 64, from_half % 4, from_half, from_bar];
        for (block, span) in c[5..].iter_mut().zip(spans) {
            *block = shares(ear.past.heard(frame - span, frame + 1));
        }
        c[13] = one_of(ear.past.lowest(frame - from_half, frame + 1));
        c[14..].copy_from_slice(&recalled.sound);
        c
    }

    /// One candidate: what is recalled for it; exactly a chord on it: struck
    /// just now, sounding, since the half bar; what the last two speak for it.
    fn of_roots(
        recalled: &Recalled,
        fresh: PitchSet,
        sounding: PitchSet,
        gathered: PitchSet,
    ) -> [[f32; 12]; SCALARS - FORESEEN] {
        let each = |of: &dyn Fn(usize) -> f32| core::array::from_fn(of);
        let speaks = |set: PitchSet, root| tables::speaks_for(seen_from(set.bits(), root)) / 4.0;
        [
            recalled.speaks(),
            each(&|root| exact(fresh, root)),
            each(&|root| exact(sounding, root)),
            each(&|root| exact(gathered, root)),
            each(&|root| speaks(sounding, root)),
            each(&|root| speaks(gathered, root)),
        ]
    }

    /// One candidate: what is foreseen for it here; what if the chord changes
    /// here; whether it is the present root, and for how many bars it has been.
    fn of_foresight(ear: &Ear, now: Ticks, expected: &Expected) -> [[f32; 12]; FORESEEN] {
        let present = one(ear.present.map(|(chord, _)| chord.root));
        let held = ear.present.map_or(0.0, |(_, since)| maths::single((now - since).beats()) / 4.0);
        let nats = |odds: &mut [f32; 12]| {
            odds.iter_mut().for_each(|odds| *odds += 0.02);
            maths::lns(odds);
            odds.iter_mut().for_each(|nats| *nats = *nats / 2.0 + 1.5);
        };
        let (mut here, mut next) = ([0.0; 12], [0.0; 12]);
        if let Some(change) = guessed(expected) {
            next = expected.odds;
            let stays = expected.odds.iter().zip(&present);
            let odds = stays.map(|(next, stays)| change * next + (1.0 - change) * stays);
            here.iter_mut().zip(odds).for_each(|(here, odds)| *here = odds);
            nats(&mut here);
            nats(&mut next);
        }
        [here, next, present, present.map(|root| root * held.clamp(0.0, 2.0))]
    }

    fn of_all(
        position: &FeltPosition,
        recalled: &Recalled,
        fresh: PitchSet,
        sounding: PitchSet,
    ) -> [f32; GLOBALS] {
        let mut g = [0.0; GLOBALS];
        g[..PLACES].copy_from_slice(&position.odds);
        let (fresh, sounding) = (fresh.len().min(3) as usize, sounding.len().min(4) as usize);
        for one in [PLACES + maths::ring(position.from_half, 8), 24 + fresh, 28 + sounding] {
            g.iter_mut().skip(one).take(1).for_each(|sign| *sign = 1.0);
        }
        g[33] = recalled.known;
        g[34] = recalled.known * recalled.known;
        g
    }
}

/// How likely foresight thinks a change, where what it says is a guess: what a
/// chart tells is weighed elsewhere.
fn guessed(expected: &Expected) -> Option<f32> {
    expected.change.filter(|_| !expected.told)
}

/// The key that is set, else the odds of every key: major, minor.
pub(super) fn keys(ear: &Ear) -> [[f32; 12]; 2] {
    let mut keys = [[0.0; 12]; 2];
    match ear.fixed_key() {
        Some(key) => {
            let [major, minor] = &mut keys;
            let mode = if key.mode == Mode::Minor { minor } else { major };
            *key.tonic.of_mut(mode) = 1.0;
        }
        None => {
            let odds = ear.tonality.odds();
            keys[0].copy_from_slice(&odds[..12]);
            keys[1].copy_from_slice(&odds[12..]);
        }
    }
    keys
}
