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
    /// How fine the right hand's rhythm is.
    pub finest: Finest,
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
    /// What its place in a section asks for.
    pub form: FormAsks,
    /// Whether a phrase begins.
    pub phrase: bool,
    /// Quarter notes a minute.
    pub tempo: f32,
}

/// What the place of a bar in its section asks for.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct FormAsks {
    /// So many strokes.
    pub strokes: Option<f32>,
    /// A stroke after the last beat, that leads on.
    pub pick_up: bool,
}

impl FormAsks {
    /// What a bar costs that strikes there.
    fn misses(self, struck: u16) -> f32 {
        let away = self.strokes.map_or(0.0, |asked| (asked - struck.count_ones() as f32).abs());
        let lacks = self.pick_up && struck & AFTER_BEAT_FOUR == 0;
        STROKE * away + if lacks { PICK_UP } else { 0.0 }
    }
}

/// The finest note that the right hand struck in the two bars before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finest {
    /// Nothing off the eighths.
    Eighths,
    /// Now and then a sixteenth.
    Some,
    /// Sixteenths throughout.
    Sixteenths,
}

impl Finest {
    /// From so many strokes off the eighths in two bars.
    pub const fn heard(fine: u8) -> Self {
        match fine {
            0 => Self::Eighths,
            1..MANY_FINE => Self::Some,
            _ => Self::Sixteenths,
        }
    }

    /// Whether a bar that strikes there has another finest note.
    fn differs(self, struck: u16) -> bool {
        let fine = struck & OFF_THE_EIGHTHS != 0;
        match self {
            Self::Eighths => fine,
            Self::Some => false,
            Self::Sixteenths => !fine && struck != 0,
        }
    }
}

impl Surroundings {
    /// How many more figures the player wants than pianists have: 0 none, 1 at every turn.
    fn many(&self) -> f32 {
        f32::from(self.variety.saturating_sub(AS_PIANISTS)) / f32::from(AS_PIANISTS)
    }

    /// What a bar costs that strikes where the bar before did, in that case.
    fn same(&self, book: &Book, bar: u16) -> f32 {
        let same = self.many() > 0.0 && struck(book, bar) == self.ours;
        if same { ONE_FIGURE * self.many() } else { 0.0 }
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
    ready: Option<ReadyBars>,
}

/// Songs and their bars, with what chance has against each.
type DrawnBars = ArrayVec<(u16, u16, f32), LOOKED_AT>;

/// What was drawn beforehand.
#[derive(Clone, Debug, PartialEq)]
struct ReadyBars {
    before: Chance,
    after: Chance,
    bars: DrawnBars,
}

impl BarChooser {
    pub const fn new() -> Self {
        Self { habits: ArrayVec::new_const(), now: None, ready: None }
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
        let offer = |best: &mut Option<(f32, (u16, u16))>, cost: f32, bar: (u16, u16)| {
            if best.is_none_or(|(least, _)| cost < least) {
                *best = Some((cost, bar));
            }
        };
        let before = self.now;
        let mut heard = Heard::Beginning;
        if let Some((song, bar)) = before {
            let (_, end) = book.song(song);
            let next = bar + 1;
            let rests = |bar| is_empty(book, bar);
            if next < end && !(rests(bar) && rests(next)) {
                // It follows what was played, whatever the places before it.
                let followed = Surroundings { ours: struck(book, bar), ..*around };
                let misfit = misfit(book, next, &followed);
                let [at_start, within] = KEEPS;
                let keeps = if around.phrase { at_start } else { within };
                heard = why_not(book, next, &followed);
                let same = around.same(book, next);
                offer(&mut best, misfit + same - keeps * (1.0 - around.many()), (song, next));
            }
        }
        let again = before.filter(|_| around.variety < AS_PIANISTS);
        if let Some((song, bar)) = again {
            offer(&mut best, misfit(book, bar, around) - around.repeats(), (song, bar));
        }
        for (song, bar, against) in self.drawn(book, chance) {
            if best.is_some_and(|(least, _)| against >= least) {
                continue; // however well it fits
            }
            // Anything may begin a song.
            let misfit = if self.now.is_some() { misfit(book, bar, around) } else { 0.0 };
            offer(&mut best, misfit + around.same(book, bar) + against, (song, bar));
        }
        self.now = best.map(|(_, bar)| bar);
        let follows = |(song, bar): (u16, u16)| Some((song, bar + 1)) == self.now;
        if before.is_some_and(follows) || again.is_some() && self.now == again {
            heard = Heard::GoesOn;
        }
        (self.now.map(|(_, bar)| bar), heard)
    }

    /// Draws the bars that the next one is chosen among, so that it need not be done where
    /// that begins. What is chosen is no other for it. Real-time safe.
    pub fn get_ready(&mut self, book: &Book, chance: &Chance) {
        if !self.habits.is_empty() {
            let mut after = *chance;
            let bars = self.draw(book, &mut after);
            self.ready = Some(ReadyBars { before: *chance, after, bars });
        }
    }

    /// The bars that were drawn beforehand, if nothing was drawn since; else they are now.
    fn drawn(&mut self, book: &Book, chance: &mut Chance) -> DrawnBars {
        match self.ready.take().filter(|ready| ready.before == *chance) {
            Some(ready) => {
                *chance = ready.after;
                ready.bars
            }
            None => self.draw(book, chance),
        }
    }

    /// Bars that are looked at: of which song, and how much chance has against them.
    fn draw(&self, book: &Book, chance: &mut Chance) -> DrawnBars {
        let mut bars = DrawnBars::new();
        let songs = u16::try_from(self.habits.len()).unwrap_or(0);
        for _ in 0..LOOKED_AT {
            let Some(&song) = self.habits.get(usize::from(chance.below(songs))) else { break };
            let (first, end) = book.song(song);
            let bar = first + 1 + chance.below(end.saturating_sub(first + 2));
            if !is_empty(book, bar) {
                bars.push((song, bar, 1.5 * chance.part()));
            }
        }
        bars
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

/// How much it costs that a bar's finest note is not the right hand's.
const FINEST: f32 = 3.0;

/// From so many strokes off the eighths in two bars on it plays in sixteenths.
const MANY_FINE: u8 = 7;

/// How much it costs for each stroke that a bar has too many or too few for its place in
/// a section, and that it has no pick-up where one is asked for. By ear.
const STROKE: f32 = 2.0;
const PICK_UP: f32 = 6.0;

/// The places after the last beat of a bar; bit n is sixteenth n.
const AFTER_BEAT_FOUR: u16 = 0xE000;

/// The sixteenths between the eighths of a bar; bit n is sixteenth n.
const OFF_THE_EIGHTHS: u16 = 0xAAAA;

/// Why the bar that would follow gives way to another: what it fits worst.
fn why_not(book: &Book, bar: u16, around: &Surroundings) -> Heard {
    let [right, _, _, changes, away, finest, form] = misfits(book, bar, around);
    let most = right.max(changes).max(away).max(finest).max(form);
    match most {
        _ if most < 1.0 => Heard::Phrase,
        _ if most == form => Heard::Form,
        _ if most == finest => Heard::Finest,
        _ if most == changes => Heard::Changes,
        _ if most == away => Heard::Root,
        _ if around.right > book.signs(bar).right => Heard::RightBusy,
        _ => Heard::RightRests,
    }
}

/// How badly a bar fits its new surroundings; 0 is as well as it can.
fn misfit(book: &Book, bar: u16, around: &Surroundings) -> f32 {
    misfits(book, bar, around).into_iter().sum()
}

/// The same by what it fits badly: the right hand, the places that ours struck, how
/// busy the player wants it, where the chord changes, the bass, its finest note, and its
/// place in a section.
#[inline(always)]
fn misfits(book: &Book, bar: u16, around: &Surroundings) -> [f32; 7] {
    let signs = book.signs(bar);
    let right = f32::from(signs.right.abs_diff(around.right));
    let ours = (signs.before ^ around.ours).count_ones();
    let wished = if around.more == 0.0 {
        0.0
    } else {
        let had = signs.struck.count_ones() as f32;
        (around.ours.count_ones() as f32 + around.more - had).abs() * around.more.abs() * 0.1
    };
    let changes = (signs.changes ^ around.changes).count_ones() as f32;
    let home = signs.home;
    let away = around.bass.map_or(0, |bass| bass.above(home).min(home.above(bass)));
    let away = f32::from(away.saturating_sub(1));
    let finest = if around.finest.differs(signs.struck) { FINEST } else { 0.0 };
    let form = around.form.misses(signs.struck);
    [0.3 * right, 0.4 * ours as f32, wished, CHANGE * changes, AWAY * away, finest, form]
}

/// The places of a bar that are struck; bit n is sixteenth n.
pub fn struck(book: &Book, bar: u16) -> u16 {
    book.signs(bar).struck
}

/// Whether the pianist held a note of the bar before into `bar`, for more than a sixteenth.
pub fn is_held_into(book: &Book, bar: u16) -> bool {
    let Some(before) = bar.checked_sub(1) else { return false };
    let (from, end) = book.bar(before).notes;
    let ends = |note| {
        let note = book.note(note);
        6 * u16::from(note.sixteenth) + u16::from(note.length)
    };
    (from..end).any(|note| ends(note) > 6 * 17)
}

/// Whether a bar is a rest.
fn is_empty(book: &Book, bar: u16) -> bool {
    struck(book, bar) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bar `n` of a song, after one that strikes at `ours`.
    fn around(n: usize, ours: u16) -> Surroundings {
        Surroundings {
            right: 8,
            finest: Finest::Some,
            ours,
            more: 0.0,
            changes: 1,
            bass: Some(PitchClass::new([0, 9, 5, 7][n % 4])),
            variety: AS_PIANISTS,
            form: FormAsks::default(),
            phrase: n.is_multiple_of(4),
            tempo: 90.0,
        }
    }

    /// 800 bars of eight hands, with what each was chosen by.
    fn bars(otherwise: impl Fn(Surroundings) -> Surroundings) -> Vec<(u16, Heard)> {
        let (book, mut all) = (Book::shipped(), Vec::new());
        for seed in 1..=8 {
            let (mut chooser, mut chance) = (BarChooser::new(), Chance::new(seed));
            let mut ours = 0;
            for n in 0..100 {
                let around = otherwise(around(n, ours));
                let (bar, heard) = chooser.next(&book, &around, &mut chance);
                let bar = bar.expect("a bar");
                ours = struck(&book, bar);
                all.push((bar, heard));
            }
        }
        all
    }

    /// In how many of 800 bars a hand strikes off the eighths.
    fn fine(finest: Finest) -> usize {
        let (book, bars) = (Book::shipped(), bars(|around| Surroundings { finest, ..around }));
        bars.iter().filter(|(bar, _)| struck(&book, *bar) & OFF_THE_EIGHTHS != 0).count()
    }

    #[test]
    fn a_little_more_variety_changes_a_little() {
        let book = Book::shipped();
        let [none, few, as_pianists, more, all] = [0, 45, AS_PIANISTS, 55, 100].map(|variety| {
            let bars = bars(|around| Surroundings { variety, ..around });
            let figures: Vec<_> = bars.iter().map(|(bar, _)| struck(&book, *bar)).collect();
            figures.windows(2).filter(|pair| pair[0] == pair[1]).count()
        });
        println!("of 800 bars strike as the one before {none} {few} {as_pianists} {more} {all}");
        assert!(none > few && few > as_pianists && as_pianists > more && more > all);
        assert!(more * 6 > as_pianists, "{more} of {as_pianists}");
    }

    #[test]
    fn it_is_said_why_a_bar_was_chosen() {
        let mut told = Vec::new();
        for variety in [49, AS_PIANISTS, 70, 100] {
            let bars = bars(|around| Surroundings { variety, ..around });
            for (&(before, _), &(bar, heard)) in bars.iter().zip(&bars[1..]) {
                let goes_on = bar == before || bar == before + 1;
                assert!(goes_on || heard != Heard::GoesOn, "{bar} after {before}");
                told.push(heard);
            }
        }
        assert!(told.contains(&Heard::GoesOn) && told.contains(&Heard::Phrase));
    }

    #[test]
    fn what_was_drawn_beforehand_is_played_only_if_nothing_was_drawn_since() {
        let (book, mut ours) = (Book::shipped(), 0);
        let (mut plain, mut ready) = (BarChooser::new(), BarChooser::new());
        let (mut chance, mut same) = (Chance::new(3), Chance::new(3));
        for n in 0..60 {
            ready.get_ready(&book, &same);
            if n % 3 == 1 {
                assert_eq!(chance.next(), same.next());
            }
            let around = around(n, ours);
            let (bar, _) = plain.next(&book, &around, &mut chance);
            assert_eq!(ready.next(&book, &around, &mut same).0, bar, "bar {n}");
            assert!(chance == same, "bar {n}");
            ours = struck(&book, bar.expect("a bar"));
        }
    }

    #[test]
    fn the_hands_share_their_finest_note() {
        let [eighths, some, sixteenths] =
            [Finest::Eighths, Finest::Some, Finest::Sixteenths].map(fine);
        println!("of 800 bars {eighths}, {some}, {sixteenths} have sixteenths");
        assert!(eighths <= 800 / 8, "under eighths {eighths} of 800 bars have sixteenths");
        assert!(sixteenths >= 800 * 5 / 8, "under sixteenths {sixteenths} of 800 bars have some");
        assert!(eighths < some && some < sixteenths, "{some}");
    }

    #[test]
    fn what_was_fine_in_the_two_bars_before_counts_and_nothing_earlier() {
        use super::super::FreeHand;
        use crate::pitch::KeyNumber;
        use crate::time::{Metre, Place, Ticks};
        let bar = |number: i64| Place::first(Metre::COMMON).of(Metre::COMMON.bar() * number);
        let mut hand = FreeHand::new(Book::shipped());
        for (number, strokes) in [(0, 1), (1, 2), (2, 4)] {
            for n in 0..strokes {
                let off_the_eighths = Ticks(Ticks::PER_BEAT / 4 + n * Ticks::PER_BEAT);
                let at = bar(number).bar + off_the_eighths;
                hand.hear(KeyNumber::MIDDLE_C, 64, at, bar(number));
            }
        }
        let fine = [2, 3, 4, 5].map(|number| hand.fine_before(bar(number)));
        assert_eq!(fine, [3, 6, 4, 0]);
    }

    #[test]
    fn sixteenths_are_played_from_seven_of_them_in_two_bars_on() {
        let heard = [0, 1, 6, 7, 255].map(Finest::heard);
        let [none, some, many] = [Finest::Eighths, Finest::Some, Finest::Sixteenths];
        assert_eq!(heard, [none, some, some, many, many]);
        // A rest has no finest note but in eighths.
        let (eighths, dotted) = (0b0101, 0b1001);
        assert_eq!([none, some, many].map(|f| f.differs(eighths)), [false, false, true]);
        assert_eq!([none, some, many].map(|f| f.differs(dotted)), [true, false, false]);
        assert!(!many.differs(0) && !none.differs(0));
    }
}
