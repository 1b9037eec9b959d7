//! The form, heard: which bar that was played before comes back now.
//!
//! A section comes back where bar after bar the right hand strikes what it struck so
//! many bars ago. In POP909-CL 31 % of the bars lie in four bars or more that return so
//! (eight bars ago or longer); this hears four in five of them, and where it does, the
//! pianist's left hand has the very rhythm that it had then in 79 % of the bars (in 7 %
//! of all pairs of bars).

use crate::maths;
use crate::pitch::PitchClass;
use crate::time::{Place, Ticks};

/// The most bars that are remembered.
pub const HEARD_BARS: usize = 256;

/// The parts of a bar in which tones are told apart: the eighths of four quarters.
const PARTS: usize = 8;

/// How many tones (a class in a part of the bar) must agree before a section is said to
/// be back, in two bars at least: one bar counts for no more than `MOST_OF_A_BAR`. These
/// and `ALIKE` by measuring, see above.
const ENOUGH: u16 = 12;
const MOST_OF_A_BAR: u16 = 8;

/// How many tones of two bars must agree, out of ten, for them to be alike.
const ALIKE: u32 = 7;

/// What comes back sooner than after so many bars is a loop, in which a pianist varies.
const SECTION: usize = 8;

/// What the right hand strikes in a bar: bit 12 p + c is class c in part p.
type Tones = u128;

/// The bars so far, and how they repeat. Fixed size.
#[derive(Clone, Debug, PartialEq)]
pub struct HeardForm {
    /// The bars that are over, in a ring.
    bars: [Tones; HEARD_BARS],
    /// How many tones each has.
    many: [u8; HEARD_BARS],
    /// How many there were, the one that is played not counted.
    count: usize,
    /// The bar that is played: its line, its length, and its tones so far.
    line: Option<Ticks>,
    length: Ticks,
    now: Tones,
    /// What will be so if it has no more of them.
    ready: Option<Closed>,
    /// For each number of bars: how many tones in a row agree with those so many ago.
    agree: [u16; HEARD_BARS],
    /// How many bars ago it was that comes back now.
    ago: Option<usize>,
}

/// How a bar that is over repeats those before.
#[derive(Clone, Debug, PartialEq)]
struct Closed {
    /// Its tones.
    now: Tones,
    /// See [`HeardForm`], as what follows.
    agree: [u16; HEARD_BARS],
    ago: Option<usize>,
}

impl HeardForm {
    /// Nothing was heard.
    pub const fn new() -> Self {
        Self {
            bars: [0; HEARD_BARS],
            many: [0; HEARD_BARS],
            count: 0,
            line: None,
            length: Ticks::ZERO,
            now: 0,
            ready: None,
            agree: [0; HEARD_BARS],
            ago: None,
        }
    }

    /// A jump, a stop: what was played is remembered, the bar that was begun is not.
    /// Real-time safe.
    pub fn break_off(&mut self) {
        self.line = None;
        self.now = 0;
        self.ready = None;
        self.agree = [0; HEARD_BARS];
        self.ago = None;
    }

    /// The right hand strikes a tone. Half a sixteenth before its time is its time.
    /// Real-time safe.
    pub fn hear(&mut self, class: PitchClass, at: Ticks, place: Place) {
        let at = at + place.metre.bar() / (4 * PARTS as i64);
        let place = place.of(at);
        self.turn_to(place);
        let part = (at - place.bar).0 * PARTS as i64 / place.metre.bar().0;
        if self.line == Some(place.bar) {
            self.now |= 1 << (maths::ring(part, PARTS) * 12 + class.index());
        }
    }

    /// The bar at `place` is played, if it was not before. Real-time safe.
    pub fn turn_to(&mut self, place: Place) {
        let bar = place.metre.bar();
        self.length = bar;
        match self.line.map(|line| place.bar - line) {
            Some(gone) if gone <= Ticks::ZERO && -gone <= bar => {}
            Some(gone) if gone == bar => {
                self.close();
                self.line = Some(place.bar);
            }
            _ => {
                self.break_off();
                self.line = Some(place.bar);
            }
        }
    }

    /// When to [`HeardForm::get_ready`]: a little before a stroke belongs to the next
    /// bar.
    pub fn due(&self) -> Option<Ticks> {
        let line = self.line.filter(|_| self.ready.is_none())?;
        Some(line + self.length - Ticks(self.length.0 * 3 / (8 * PARTS as i64)))
    }

    /// Looks how the bar that is played repeats those before, so that it need not be
    /// done where the next one begins, for most likely a chord is struck there. Nothing
    /// that is said is another for it. Real-time safe.
    pub fn get_ready(&mut self) {
        self.ready = Some(self.closed());
    }

    /// The bar that was played is over.
    fn close(&mut self) {
        let ready = self.ready.take().filter(|ready| ready.now == self.now);
        let Closed { now, agree, ago } = ready.unwrap_or_else(|| self.closed());
        let place = self.count % HEARD_BARS;
        if let (Some(bar), Some(had)) = (self.bars.get_mut(place), self.many.get_mut(place)) {
            (*bar, *had) = (now, u8::try_from(now.count_ones()).unwrap_or(u8::MAX));
        }
        self.count += 1;
        (self.now, self.agree, self.ago) = (0, agree, ago);
    }

    /// How the bar that was played repeats those before, if it is over.
    fn closed(&self) -> Closed {
        let (now, mut agree) = (self.now, self.agree);
        let many = now.count_ones();
        let here = self.count;
        let past = here.min(HEARD_BARS - 1);
        // The latest first, from the place before this one and round.
        let (after, before) = self.bars.split_at(here % HEARD_BARS);
        let bars = after.iter().rev().chain(before.iter().rev());
        let (after, before) = self.many.split_at(here % HEARD_BARS);
        let counts = after.iter().rev().chain(before.iter().rev());
        for ((then, had), agree) in bars.zip(counts).zip(&mut agree).take(past) {
            // Only of bars of about as many tones is it counted how many they share.
            let had = u32::from(*had);
            let about = 10 * many.min(had) >= ALIKE * many.max(had);
            let common = if about { (then & now).count_ones() } else { 0 };
            let alike = about && 10 * common >= ALIKE * many.max(had);
            let counts = MOST_OF_A_BAR.min(u16::try_from(common).unwrap_or(MOST_OF_A_BAR));
            *agree = if alike { agree.saturating_add(counts) } else { 0 };
        }
        let agrees = |ago: usize| agree.get(ago - 1).copied().unwrap_or(0);
        let ago = self.ago.filter(|&ago| agrees(ago) > 0).or_else(|| {
            let looped = (1..SECTION).map(agrees).max().unwrap_or(0);
            let back = (SECTION..past + 1).max_by_key(|&ago| (agrees(ago), HEARD_BARS - ago))?;
            (agrees(back) >= ENOUGH.max(looped + 1)).then_some(back)
        });
        Closed { now, agree, ago }
    }

    /// The bar with that line, by its place in the memory, and the bar that it repeats
    /// (itself where it is new). It is the one that is played, or the next.
    /// Real-time safe.
    pub fn bar_and_first(&self, place: Place) -> (usize, usize) {
        let next = self.line.is_some_and(|line| line < place.bar);
        let bar = self.count + usize::from(next);
        let first = bar - self.ago.unwrap_or(0);
        (bar % HEARD_BARS, first % HEARD_BARS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Chance;
    use crate::time::Metre;

    const BAR: Ticks = Ticks(4 * Ticks::PER_BEAT);

    /// Strikes a bar that is told from others by its `name`: three tones on each beat,
    /// so much later than they are due.
    fn strike(form: &mut HeardForm, bar: i64, name: i64, late: i64) {
        let mut chance = Chance::new(name as u64);
        for n in 0..12 {
            let at = BAR * bar + Ticks(Ticks::PER_BEAT * (n / 3) + late);
            let class = PitchClass::new(i32::from(chance.below(12)));
            form.hear(class, at, Place::first(Metre::COMMON).of(at));
        }
    }

    /// For each bar of a song which one it is said to repeat when it begins.
    fn heard(song: &[i64], late: fn(usize) -> i64) -> Vec<usize> {
        let mut form = HeardForm::new();
        let bars = song.iter().enumerate().map(|(n, name)| {
            let place = Place::first(Metre::COMMON).of(BAR * n as i64);
            form.turn_to(place);
            let (bar, first) = form.bar_and_first(place);
            assert_eq!(bar, n % HEARD_BARS);
            strike(&mut form, n as i64, *name, late(n));
            first
        });
        bars.collect()
    }

    #[test]
    fn a_section_is_back_from_its_third_bar_on_however_the_hand_keeps_time() {
        let song = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 1, 2, 3, 4, 11, 6];
        let first = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 2, 3, 4, 15];
        for late in [|_| 0, |n| [-100, 100][n % 2], |n| [110, -110, 0][n % 3]] {
            assert_eq!(heard(&song, late), first);
        }
    }

    #[test]
    fn who_gets_ready_before_a_bar_is_over_hears_the_same() {
        let song = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 1, 2, 3, 4, 11, 6];
        let (mut form, mut ready) = (HeardForm::new(), HeardForm::new());
        for (n, name) in (0..).zip(song) {
            let place = Place::first(Metre::COMMON).of(BAR * n);
            for form in [&mut form, &mut ready] {
                form.turn_to(place);
                strike(form, n, name, 0);
            }
            assert_eq!(ready.due(), Some(place.bar + BAR - Ticks(Ticks::PER_BEAT * 3 / 16)));
            ready.get_ready();
            assert_eq!(ready.due(), None, "once a bar is enough");
            for form in [&mut form, &mut ready] {
                if n % 3 == 0 {
                    // A late tone, and what was made ready is not so.
                    let at = place.bar + BAR - Ticks(Ticks::PER_BEAT / 7);
                    form.hear(PitchClass::C, at, place);
                }
                form.turn_to(place.of(place.bar + BAR));
            }
            assert_eq!(form, ready);
        }
    }

    #[test]
    fn a_loop_is_no_section_and_one_bar_is_not_enough() {
        let round = [1, 2, 3, 4].repeat(6);
        assert!(heard(&round, |_| 0).iter().enumerate().all(|(n, first)| n == *first));
        let one = [1, 2, 3, 4, 5, 6, 7, 8, 9, 2, 10, 11];
        assert!(heard(&one, |_| 0).iter().enumerate().all(|(n, first)| n == *first));
    }

    #[test]
    fn a_bar_of_rest_breaks_no_section_off_and_a_jump_does() {
        let mut form = HeardForm::new();
        let song = [1, 2, 3, 0, 5, 6, 7, 8, 9, 10, 1, 2, 3, 0, 5];
        for (n, name) in (0..).zip(song) {
            form.turn_to(Place::first(Metre::COMMON).of(BAR * n));
            if name != 0 {
                strike(&mut form, n, name, 0);
            }
        }
        let next = Place::first(Metre::COMMON).of(BAR * 15);
        assert_eq!(form.bar_and_first(next), (15, 5));
        form.turn_to(next);
        assert_eq!(form.bar_and_first(next), (15, 5));
        // Elsewhere the hand goes on; that it is the same is heard anew.
        for (n, name) in (0..3).zip([6, 7, 8]) {
            let place = Place::first(Metre::COMMON).of(BAR * n);
            form.turn_to(place);
            let (bar, first) = form.bar_and_first(place);
            assert_eq!((bar, first), (15 + n as usize, [15, 16, 7][n as usize]));
            strike(&mut form, n, name, 0);
        }
    }

    #[test]
    fn a_song_longer_than_the_memory_forgets_its_beginning() {
        let mut song: Vec<_> = (0..300).chain(100..110).collect();
        let first = heard(&song, |_| 0);
        assert_eq!(first[302..310], [102, 103, 104, 105, 106, 107, 108, 109]);
        song.truncate(300);
        song.extend(10..20);
        let first = heard(&song, |_| 0);
        assert!((300..310).all(|n| first[n] == n % HEARD_BARS), "{:?}", &first[300..]);
    }
}
