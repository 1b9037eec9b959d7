//! Which bar of the book comes next: the one that follows in its song, or one
//! of another that was played in the same surroundings.

use arrayvec::ArrayVec;

use super::book::Book;
use crate::chance::Chance;
use crate::pitch::PitchClass;
use crate::play::why::Heard;

/// How many songs one hand draws from: a pianist has habits. By measuring
/// (see the model's card): with more the hand is no more like a pianist's.
const HABITS: usize = 8;

/// How many bars are looked at when another one is sought.
const LOOKED_AT: usize = 48;

/// How much better another bar must fit than the one that follows, at the start
/// of a phrase of four bars and within one.
const KEEPS: [f32; 2] = [3.0, 5.0];

/// The variety of the pianists whose bars these are.
pub const AS_PIANISTS: u8 = 50;

/// How much better another bar must fit than the same once more, where the player wants
/// one figure: more than any misfit.
const ONE_FIGURE: f32 = 40.0;

/// How far the tempo of a song may be from ours, as a part of it.
const TEMPO: f32 = 1.25;

/// What a bar is chosen by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Strokes of the right hand in the bar before.
    pub right: u8,
    /// Places of the bar before that our hand struck; bit n is sixteenth n.
    pub ours: u16,
    /// Strokes a bar that the player would like more (or fewer) than written.
    pub more: f32,
    /// On which beats the chord is likely to change; bit n is beat n.
    pub changes: u8,
    /// The bass that the bar is likely to begin with.
    pub bass: Option<PitchClass>,
    /// One figure 0 ..= 100 many.
    pub variety: u8,
    /// Whether a phrase begins.
    pub phrase: bool,
    /// Quarter notes a minute.
    pub tempo: f32,
}

impl Surroundings {
    /// How many more figures the player wants than pianists have: 0 none, 1 at every turn.
    fn many(&self) -> f32 {
        f32::from(self.variety.saturating_sub(AS_PIANISTS)) / f32::from(AS_PIANISTS)
    }

    /// What a bar costs that strikes where the bar before did, in that case.
    fn same(&self, struck: u16) -> f32 {
        if struck == self.ours { ONE_FIGURE * self.many() } else { 0.0 }
    }

    /// How firmly the same bar is kept to, where the player wants fewer.
    fn repeats(&self) -> f32 {
        let fewer = AS_PIANISTS.saturating_sub(self.variety);
        ONE_FIGURE * f32::from(fewer) / f32::from(AS_PIANISTS)
    }
}

/// The bar that is played now, and the songs that this hand draws from.
#[derive(Clone, Debug, PartialEq)]
pub struct BarChooser {
    habits: ArrayVec<u16, HABITS>,
    /// The song and its bar.
    now: Option<(u16, u16)>,
}

impl BarChooser {
    pub const fn new() -> Self {
        Self { habits: ArrayVec::new_const(), now: None }
    }

    /// The next bar of the book, and what it was chosen by. Real-time safe.
    pub fn next(
        &mut self,
        book: &Book,
        around: &Surroundings,
        chance: &mut Chance,
    ) -> (Option<u16>, Heard) {
        if self.habits.is_empty() {
            self.settle(book, around.tempo, chance);
        }
        let mut best: Option<(f32, (u16, u16))> = None;
        let mut offer = |cost: f32, bar: (u16, u16)| {
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, bar));
            }
        };
        let before = self.now;
        let mut heard = Heard::Beginning;
        if let Some((song, bar)) = before {
            let (_, end) = book.song(song);
            let next = bar + 1;
            let rests = |bar| struck(book, bar) == 0;
            if next < end && !(rests(bar) && rests(next)) {
                // It follows what was played, whatever the places before it.
                let followed = Surroundings { ours: struck(book, bar), ..*around };
                let misfit = misfit(book, next, &followed);
                let [at_start, within] = KEEPS;
                let keeps = if around.phrase { at_start } else { within };
                heard = why_not(book, next, &followed);
                let same = around.same(struck(book, next));
                offer(misfit + same - keeps * (1.0 - around.many()), (song, next));
            }
        }
        let again = before.filter(|_| around.variety < AS_PIANISTS);
        if let Some((song, bar)) = again {
            offer(misfit(book, bar, around) - around.repeats(), (song, bar));
        }
        for _ in 0..LOOKED_AT {
            let song = self
                .habits
                .get(usize::from(chance.below(u16::try_from(self.habits.len()).unwrap_or(0))));
            let Some(&song) = song else { break };
            let (first, end) = book.song(song);
            let bar = first + 1 + chance.below(end.saturating_sub(first + 2));
            if struck(book, bar) != 0 {
                // Anything may begin a song.
                let misfit = if self.now.is_some() { misfit(book, bar, around) } else { 0.0 };
                let same = around.same(struck(book, bar));
                offer(misfit + same + 1.5 * chance.part(), (song, bar));
            }
        }
        self.now = best.map(|(_, bar)| bar);
        let follows = |(song, bar): (u16, u16)| Some((song, bar + 1)) == self.now;
        if before.is_some_and(follows) || again.is_some() && self.now == again {
            heard = Heard::GoesOn;
        }
        (self.now.map(|(_, bar)| bar), heard)
    }

    /// Goes to a bar that was played before: a section that comes back.
    /// Real-time safe.
    pub fn recall(&mut self, book: &Book, bar: u16) -> Option<u16> {
        self.now = Some((book.song_of(bar)?, bar));
        Some(bar)
    }

    /// Goes on behind the bars that are played now. Real-time safe.
    pub fn pass(&mut self, book: &Book, bars: u16) {
        if let Some((song, bar)) = self.now {
            self.now = Some((song, (bar + bars - 1).min(book.song(song).1 - 1)));
        }
    }

    /// Chooses the songs to draw from: those at about this tempo.
    fn settle(&mut self, book: &Book, tempo: f32, chance: &mut Chance) {
        for tried in 0..8 * HABITS {
            let song = chance.below(book.songs());
            let ratio = book.tempo(song) / tempo.max(1.0);
            let near = (1.0 / TEMPO..TEMPO).contains(&ratio) || tried >= 6 * HABITS;
            if near && song < book.songs() && !self.habits.contains(&song) {
                let _ = self.habits.try_push(song);
            }
        }
    }
}

/// How much it costs that a chord changes on another beat than in the book. With
/// `AWAY` chosen on POP909-CL, in folds by song.
const CHANGE: f32 = 1.5;

/// How much it costs, for each semitone beyond one, that the figure has to be
/// moved: what reaches too high falls away.
const AWAY: f32 = 1.0;

/// Why the bar that would follow gives way to another: what it fits worst.
fn why_not(book: &Book, bar: u16, around: &Surroundings) -> Heard {
    let [right, _, _, changes, away] = misfits(book, bar, around);
    let most = right.max(changes).max(away);
    match most {
        _ if most < 1.0 => Heard::Phrase,
        _ if most == changes => Heard::Changes,
        _ if most == away => Heard::Root,
        _ if around.right > book.bar(bar - 1).right => Heard::RightBusy,
        _ => Heard::RightRests,
    }
}

/// How badly a bar fits its new surroundings; 0 is as well as it can.
fn misfit(book: &Book, bar: u16, around: &Surroundings) -> f32 {
    misfits(book, bar, around).iter().sum()
}

/// The same by what it fits badly: the right hand, the places that ours struck, how
/// busy the player wants it, where the chord changes, and the bass.
fn misfits(book: &Book, bar: u16, around: &Surroundings) -> [f32; 5] {
    let right = (f32::from(book.bar(bar - 1).right) - f32::from(around.right)).abs();
    let ours = (struck(book, bar - 1) ^ around.ours).count_ones();
    let wished = if around.more == 0.0 {
        0.0
    } else {
        let had = struck(book, bar).count_ones() as f32;
        (around.ours.count_ones() as f32 + around.more - had).abs() * around.more.abs() * 0.1
    };
    let changes = (changes(book, bar) ^ around.changes).count_ones() as f32;
    let home = PitchClass::new(i32::from(book.bar(bar).home));
    let away = around.bass.map_or(0, |bass| bass.above(home).min(home.above(bass)));
    let away = f32::from(away.saturating_sub(1));
    [0.3 * right, 0.4 * ours as f32, wished, CHANGE * changes, AWAY * away]
}

/// The beats of a bar on which the chord changes; bit n is beat n.
pub fn changes(book: &Book, bar: u16) -> u8 {
    let (from, end) = book.bar(bar).notes;
    let changed = (from..end).map(|note| book.note(note)).filter(|note| note.changed);
    changed.fold(0, |beats, note| beats | 1 << (note.sixteenth / 4))
}

/// The places of a bar that are struck; bit n is sixteenth n.
pub fn struck(book: &Book, bar: u16) -> u16 {
    let (from, end) = book.bar(bar).notes;
    (from..end).fold(0, |places, note| places | 1 << book.note(note).sixteenth)
}
