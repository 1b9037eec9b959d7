//! The left hand: remembers where it is, decides what to strike.

use arrayvec::ArrayVec;

use super::ahead::Ahead;
use super::lead::{From, lead};
use super::reach::{self, Keyboard, MIDDLE, cheapest, leap, pull};
use super::{
    Moment, Note, Pattern, Role, Slot, SlotAt, Stroke, Wish, dynamics, limits, room, tones,
};
use crate::chord::Chord;
use crate::engine::{Settings, SlotView};
use crate::pitch::KeyNumber;
use crate::time::Ticks;

/// How many slots are looked over for the end of a note.
const LOOK_OVER: usize = 24;

/// The longest note, in bars: a root that nothing follows.
const LONGEST: i64 = 2;

/// The memory of the left hand. Small and plain: copy it to try something out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct LeftHand {
    /// The last key struck (the lowest of an octave), and when.
    last: Option<(KeyNumber, Ticks)>,
    /// The root (or slash bass) as it was struck on this chord.
    home: Option<KeyNumber>,
    /// Where the note that leads has promised the next root.
    goal: Option<KeyNumber>,
    /// Whether the root was last struck as an octave.
    doubled: bool,
}

/// What is decided for a slot: one key, or a root with its octave above.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Choice {
    key: KeyNumber,
    role: Role,
    doubled: bool,
    goal: Option<KeyNumber>,
}

impl Choice {
    const fn of(key: KeyNumber, role: Role) -> Self {
        Self { key, role, doubled: false, goal: None }
    }
}

impl LeftHand {
    /// A hand that has not played yet.
    pub const fn new() -> Self {
        Self { last: None, home: None, goal: None, doubled: false }
    }

    /// Forgets where it was: a jump, a stop, a new song. Real-time safe.
    pub fn reset(&mut self) {
        *self = Self::new();
    }

    /// What to strike at `slot`; empty is a rest. Remembers it as struck.
    /// Notes start at `moment.at`. Real-time safe.
    pub fn stroke(
        &mut self,
        pattern: &Pattern,
        slot: SlotAt,
        moment: &Moment,
        settings: &Settings,
    ) -> Stroke {
        let Some(choice) = self.decide(pattern, slot, moment, settings) else {
            return Stroke::new();
        };
        self.remember(choice, moment);
        let end = self.end(pattern, slot, moment, settings);
        let level = pattern.slot(&slot, settings.seed).map_or(0, |slot| slot.level);
        notes(choice, moment, end, level, settings)
    }

    /// The root (or slash bass) at once, off the grid: a change between slots,
    /// or a correction. Remembers it as struck. It ends with the next stroke,
    /// or when the pattern's next slot comes. Real-time safe.
    pub fn root_now(&mut self, pattern: &Pattern, moment: &Moment, settings: &Settings) -> Stroke {
        let moment = &Moment { starts: true, ..*moment };
        let form = if self.doubled { Wish::Octaves } else { Wish::Root };
        let Some(choice) = self.root(form, pattern, moment, settings) else {
            return Stroke::new();
        };
        self.remember(choice, moment);
        let place = moment.place.of(moment.at);
        let here = SlotAt { at: moment.at, grid: moment.at, place, index: usize::MAX };
        let end = self.end(pattern, here, moment, settings);
        notes(choice, moment, end, 0, settings)
    }

    /// What each slot of the bar at `moment.place` is likely to play if the
    /// forecast comes true; the hand itself does not move. `key` is what it
    /// would strike. Real-time safe.
    pub fn preview(
        mut self,
        pattern: &Pattern,
        moment: &Moment,
        settings: &Settings,
    ) -> ArrayVec<SlotView, 48> {
        let mut views = ArrayVec::new();
        let mut now = *moment;
        let bar = moment.place.bar;
        let end = bar + moment.place.metre.bar();
        let mut after = bar - Ticks(1);
        while let Some(slot) = pattern.next_slot(moment.place, after, settings) {
            if slot.grid >= end || views.is_full() {
                break;
            }
            if let Some(next) = now.next.filter(|next| next.at <= slot.grid && next.at > moment.at)
            {
                now = Moment { chord: next.chord, starts: true, next: None, ..now };
            }
            now = Moment { at: slot.at, place: slot.place, ..now };
            let choice = self.decide(pattern, slot, &now, settings);
            if let Some(choice) = choice {
                self.remember(choice, &now);
                now.starts = false;
            }
            views.push(SlotView {
                at: slot.at,
                role: choice.map(|choice| choice.role),
                key: choice.map(|choice| choice.key),
            });
            after = slot.at;
        }
        views
    }

    /// The first wish of the slot that can be granted; on a change the root.
    fn decide(
        &self,
        pattern: &Pattern,
        at: SlotAt,
        moment: &Moment,
        settings: &Settings,
    ) -> Option<Choice> {
        let slot = pattern.slot(&at, settings.seed)?;
        let keyboard = Keyboard::new(settings, moment.ceiling);
        let home = self.home.filter(|&key| key.class() == moment.chord.bass && keyboard.has(key));
        let Some(home) = home.filter(|_| !moment.starts) else {
            let form = slot.wishes.iter().find(|wish| **wish == Wish::Octaves);
            let due = moment.starts || settings.busy >= slot.from_busy;
            return due
                .then(|| self.root(*form.unwrap_or(&Wish::Root), pattern, moment, settings))?;
        };
        if settings.busy < slot.from_busy || self.seconds_since(moment) < reach::SHORTEST {
            return None;
        }
        let following = following(pattern, at, settings);
        let ahead = Ahead::of(at, following, moment.next.as_ref(), settings);
        slot.wishes
            .iter()
            .filter_map(|&wish| self.grant(wish, ahead, pattern, moment, keyboard, home))
            .find(|choice| self.leaps(choice.key, moment, keyboard))
    }

    /// What `wish` means on this chord, if it can be had.
    fn grant(
        &self,
        wish: Wish,
        ahead: Ahead,
        pattern: &Pattern,
        moment: &Moment,
        keyboard: Keyboard,
        home: KeyNumber,
    ) -> Option<Choice> {
        let last = self.last.map_or(home, |(key, _)| key);
        let root = Choice::of(home, bass_role(moment.chord));
        let octave = |by| {
            let moved = keyboard.moved(home, by);
            moved.map_or(root, |key| Choice::of(key, Role::Octave))
        };
        match wish {
            Wish::Root => Some(root),
            Wish::OctaveUp => Some(octave(12)),
            Wish::OctaveDown => Some(octave(-12)),
            Wish::Octaves => Some(Choice { doubled: doubles(home, keyboard), ..root }),
            Wish::Fifth => tone(wish, pattern, moment, keyboard, last, home),
            _ if wish.leads() => {
                let Ahead::Changes(next) = ahead else { return None };
                let led = lead(wish, next, From { moment, pattern, keyboard, last, home })?;
                Some(Choice { goal: Some(led.goal), ..Choice::of(led.key, led.role) })
            }
            // Thirds and colours are wrong if another chord comes after all.
            _ if ahead == Ahead::Unknown => None,
            _ => tone(wish, pattern, moment, keyboard, last, home),
        }
    }

    /// The root (or slash bass) of a chord that begins: where it was promised,
    /// else nearest to the last key, with room for the pattern's octaves.
    fn root(
        &self,
        form: Wish,
        pattern: &Pattern,
        moment: &Moment,
        settings: &Settings,
    ) -> Option<Choice> {
        let keyboard = Keyboard::new(settings, moment.ceiling);
        let class = moment.chord.bass;
        if moment.chord.tones().is_empty() {
            return None;
        }
        let promised = self.goal.filter(|&key| key.class() == class && keyboard.has(key));
        let last = self.last.map_or(MIDDLE, |(key, _)| key);
        // Roots follow roots; what was struck between them weighs less.
        let line = self.home.unwrap_or(last);
        let near = keyboard.keys(class).filter(|&key| self.leaps(key, moment, keyboard));
        let key = promised.or_else(|| {
            cheapest(near, |&key| {
                let way = 0.75 * leap(line, key) + 0.25 * leap(last, key);
                way + pull(key) + room::cramped(key, pattern, moment.chord, keyboard)
            })
        })?;
        let doubled = form == Wish::Octaves && doubles(key, keyboard);
        Some(Choice { doubled, ..Choice::of(key, bass_role(moment.chord)) })
    }

    fn remember(&mut self, choice: Choice, moment: &Moment) {
        self.last = Some((choice.key, moment.at));
        if moment.starts || self.home.is_none_or(|home| home.class() != moment.chord.bass) {
            self.home = Some(choice.key);
        }
        if matches!(choice.role, Role::Root | Role::Bass) {
            self.doubled = choice.doubled;
        }
        self.goal = choice.goal;
    }

    /// When the note just struck ends if it is held as long as it can be: at
    /// the next slot that will sound, or a sure change.
    fn end(&self, pattern: &Pattern, from: SlotAt, moment: &Moment, settings: &Settings) -> Ticks {
        let sure = moment.next.filter(|next| {
            next.certainty.min(next.when_certainty) >= settings.certainty && next.at > from.grid
        });
        let longest = moment.at + Ticks(LONGEST * from.place.metre.bar().0);
        let longest = sure.map_or(longest, |next| next.at.min(longest));
        let later = Moment { starts: false, ..*moment };
        let mut at = from;
        for _ in 0..LOOK_OVER {
            match pattern.next_slot(from.place, at.at, settings) {
                Some(slot) if slot.at < longest => at = slot,
                _ => break,
            }
            let there = Moment { at: at.at, place: at.place, ..later };
            if self.decide(pattern, at, &there, settings).is_some() {
                return at.at;
            }
        }
        longest
    }

    fn seconds_since(&self, moment: &Moment) -> f64 {
        let Some((_, at)) = self.last else { return f64::INFINITY };
        (moment.at - at).beats() * 60.0 / moment.tempo.max(1.0)
    }

    fn leaps(&self, key: KeyNumber, moment: &Moment, keyboard: Keyboard) -> bool {
        keyboard.leaps(self.last.map(|(key, _)| key), key, self.seconds_since(moment))
    }
}

/// When the next slot comes that the player is busy enough for; the end of the
/// bar if none does.
fn following(pattern: &Pattern, from: SlotAt, settings: &Settings) -> Ticks {
    let mut at = from.at;
    for _ in 0..LOOK_OVER {
        let Some(slot) = pattern.next_slot(from.place, at, settings) else { break };
        let sounds = |written: &Slot| settings.busy >= written.from_busy;
        if pattern.slot(&slot, settings.seed).is_some_and(sounds) {
            return slot.grid;
        }
        at = slot.at;
    }
    from.place.bar + from.place.metre.bar()
}

/// The widest distance of a tone from its root in semitones, a major tenth.
const WIDEST: f32 = 16.0;

/// A tone of the chord: near the last key and the root, and never so low above
/// the root that the two growl.
fn tone(
    wish: Wish,
    pattern: &Pattern,
    moment: &Moment,
    keyboard: Keyboard,
    last: KeyNumber,
    home: KeyNumber,
) -> Option<Choice> {
    let (class, role) = tones::tone(moment.chord, wish)?;
    let clear = keyboard.keys(class).filter(|&key| {
        let at_hand = leap(home, key) <= WIDEST && leap(last, key) <= keyboard.hand();
        at_hand && !limits::growls(home.min(key), home.max(key))
    });
    // Where the hand goes up from the root, its other notes lie above it too.
    let below = |key| if pattern.goes_up && key < home { 6.0 } else { 0.0 };
    let key = cheapest(clear, |&key| leap(last, key) + leap(home, key) + pull(key) + below(key))?;
    Some(Choice::of(key, role))
}

/// Whether the octave above `key` can be struck with it.
fn doubles(key: KeyNumber, keyboard: Keyboard) -> bool {
    keyboard.spans_octave() && keyboard.moved(key, 12).is_some()
}

fn bass_role(chord: Chord) -> Role {
    if chord.bass == chord.root { Role::Root } else { Role::Bass }
}

fn notes(choice: Choice, moment: &Moment, end: Ticks, level: u8, settings: &Settings) -> Stroke {
    let from = moment.at;
    let length = f64::from(settings.length.clamp(0.05, 1.0));
    let held = ((end - from).0 as f64 * length).round() as i64;
    let until = from + Ticks(held.max(1));
    let velocity = dynamics::velocity(moment.loudness, level, moment.starts, settings);
    let note = |key, role| Note { key, velocity, role, from, until };
    let mut stroke = Stroke::new();
    stroke.push(note(choice.key, choice.role));
    if choice.doubled
        && let Some(above) = choice.key.transpose(crate::pitch::Semitones(12))
    {
        stroke.push(note(above, Role::Octave));
    }
    stroke
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::foresee::{Forecast, Source};
    use crate::key::Key;
    use crate::pitch::PitchClass;
    use crate::time::{Metre, Place};

    const BAR: Place = Place { bar: Ticks::ZERO, metre: Metre::COMMON, number: 0 };

    fn chord(root: i32) -> Chord {
        Chord::new(PitchClass::new(root), Kind::Major)
    }

    fn moment(at: i64, root: i32, starts: bool) -> Moment {
        Moment {
            at: Ticks(at),
            place: BAR.of(Ticks(at)),
            chord: chord(root),
            starts,
            next: None,
            key: Key::C_MAJOR,
            ceiling: KeyNumber::MIDDLE_C,
            loudness: 80,
            tempo: 120.0,
        }
    }

    fn pattern(play: &str) -> Box<Pattern> {
        let text = format!(
            "name = \"x\"\n[[bar]]\nmetre = \"4/4\"\ncount = \"1 & 2 & 3 & 4 &\"\nplay = \"{play}\"\n"
        );
        crate::score::PatternFile::compile("x", &text).expect("a pattern")
    }

    fn slot(pattern: &Pattern, at: i64) -> SlotAt {
        pattern.next_slot(BAR, Ticks(at - 1), &Settings::default()).expect("a slot")
    }

    fn to_a(at: i64, certainty: f32, when_certainty: f32) -> Option<Forecast> {
        let source = Source::Memory;
        Some(Forecast { chord: chord(9), at: Ticks(at), certainty, when_certainty, source })
    }

    #[test]
    fn a_note_leads_only_if_chord_and_time_are_sure_and_near() {
        let pattern = pattern("root lead/third root lead/third root lead/third root lead/third");
        for (next, expected) in [
            (to_a(3840, 0.9, 0.9), Role::Passing),
            (to_a(3840, 0.6, 0.9), Role::Root),  // what chord?
            (to_a(3840, 0.9, 0.6), Role::Root),  // when?
            (None, Role::Root),                  // a bar line: it may change
            (to_a(7680, 0.9, 0.9), Role::Third), // not yet, surely
            (to_a(3360, 0.9, 0.9), Role::Root),  // overdue
            (to_a(3840 + 60, 0.9, 0.9), Role::Passing), // a little off the grid
        ] {
            let settings = Settings::default();
            let mut hand = LeftHand::new();
            hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
            let moment = Moment { next, ..moment(3360, 0, false) };
            let stroke = hand.stroke(&pattern, slot(&pattern, 3360), &moment, &settings);
            let role = match stroke.first() {
                // Without a sure chord there is nothing else to play here.
                None => Role::Root,
                Some(note) => note.role,
            };
            assert_eq!(role, expected, "{next:?}");
        }
    }

    #[test]
    fn the_root_keeps_the_promise_of_the_note_that_led() {
        let pattern = pattern("root root root root root root root lead");
        let settings = Settings::default();
        let mut hand = LeftHand::new();
        hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
        let leading = Moment { next: to_a(3840, 1.0, 1.0), ..moment(3360, 0, false) };
        let b = hand.stroke(&pattern, slot(&pattern, 3360), &leading, &settings)[0];
        let a = hand.stroke(&pattern, slot(&pattern, 3840), &moment(3840, 9, true), &settings)[0];
        assert_eq!(b.key.distance(a.key).0, 2, "a step down into the root");
        // Wrong after all: any other root is found without a jump.
        let mut wrong = hand;
        let f = wrong.stroke(&pattern, slot(&pattern, 3840), &moment(3840, 5, true), &settings)[0];
        assert!(f.key.distance(a.key).0.abs() <= 6);
    }

    #[test]
    fn every_root_lies_below_the_right_hand_or_rests() {
        let pattern = pattern("octaves third fifth octave-up root octave-down third fifth");
        for ceiling in 28..=72 {
            let mut hand = LeftHand::new();
            for at in 0..8 {
                let ceiling = KeyNumber::clamped(ceiling);
                let moment = Moment { ceiling, ..moment(at * 480, 7, at == 0) };
                let slot = slot(&pattern, at * 480);
                for note in hand.stroke(&pattern, slot, &moment, &Settings::default()) {
                    assert!(note.key < ceiling && note.key.number() >= 28);
                }
            }
            assert_eq!(hand.home.is_some(), ceiling > 31, "G1 is the lowest G: {ceiling}");
        }
    }

    #[test]
    fn a_narrow_range_still_has_its_root() {
        let pattern = pattern("octaves octave-up fifth third root root root root");
        let settings = Settings {
            lowest: KeyNumber::clamped(40),
            highest: KeyNumber::clamped(51),
            ..Settings::default()
        };
        for root in 0..12 {
            let mut hand = LeftHand::new();
            let stroke =
                hand.stroke(&pattern, slot(&pattern, 0), &moment(0, root, true), &settings);
            assert_eq!(stroke.len(), 1, "no room for an octave");
            assert!((40..=51).contains(&stroke[0].key.number()));
        }
    }

    #[test]
    fn a_note_lasts_as_long_as_the_player_wishes() {
        let pattern = pattern("root - root - root - root -");
        for (length, until) in [(1.0, 960), (0.5, 480), (0.1, 96)] {
            let settings = Settings { length, ..Settings::default() };
            let stroke =
                LeftHand::new().stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
            assert_eq!(stroke[0].until, Ticks(until), "{length}");
        }
    }

    #[test]
    fn a_slot_that_only_leads_does_not_cut_the_note_before_it() {
        let pattern = pattern("root lead root lead root lead root lead");
        let settings = Settings { length: 1.0, ..Settings::default() };
        let until = |next| {
            let moment = Moment { next, ..moment(2880, 0, true) };
            let mut hand = LeftHand::new();
            hand.stroke(&pattern, slot(&pattern, 2880), &moment, &settings)[0].until
        };
        assert_eq!(until(None), Ticks(3840));
        assert_eq!(until(to_a(3840, 1.0, 1.0)), Ticks(3360)); // there a B passes
    }

    #[test]
    fn the_loudness_follows_the_right_hand_and_the_accent() {
        let pattern = pattern("root root root root root root root root");
        let settings = Settings::default();
        let velocity = |at, loudness| {
            let mut hand = LeftHand::new();
            hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
            let moment = Moment { loudness, ..moment(at, 0, false) };
            hand.stroke(&pattern, slot(&pattern, at), &moment, &settings)[0].velocity
        };
        assert!(velocity(1920, 80) > velocity(960, 80));
        assert!(velocity(960, 80) > velocity(480, 80));
        assert!(velocity(960, 100) > velocity(960, 40));
        assert_eq!(velocity(480, 1), 1);
    }

    #[test]
    fn no_two_strokes_follow_faster_than_a_hand_can() {
        let pattern = pattern("root root root root root root root root");
        let settings = Settings::default();
        let mut hand = LeftHand::new();
        let fast = |at, starts| Moment { tempo: 280.0, ..moment(at, 0, starts) };
        hand.stroke(&pattern, slot(&pattern, 0), &fast(0, true), &settings);
        // An eighth at 280 lasts 107 ms, a quarter 214 ms.
        assert!(
            hand.stroke(&pattern, slot(&pattern, 480), &fast(480, false), &settings).is_empty()
        );
        assert!(
            !hand.stroke(&pattern, slot(&pattern, 960), &fast(960, false), &settings).is_empty()
        );
    }

    #[test]
    fn the_preview_is_what_is_then_played() {
        let pattern = pattern("root fifth octave-up lead/root root fifth root lead/root");
        let settings = Settings::default();
        let next = to_a(1920, 1.0, 1.0);
        let mut hand = LeftHand::new();
        let views = hand.preview(&pattern, &Moment { next, ..moment(0, 0, true) }, &settings);
        let mut played = Vec::new();
        for n in 0..8 {
            let at = n * 480;
            let (root, starts) = if n < 4 { (0, n == 0) } else { (9, n == 4) };
            let moment = Moment { next: next.filter(|_| n < 4), ..moment(at, root, starts) };
            let stroke = hand.stroke(&pattern, slot(&pattern, at), &moment, &settings);
            played.push(stroke.first().map(|note| (note.role, note.key)));
        }
        let seen: Vec<_> = views.iter().map(|view| view.role.zip(view.key)).collect();
        assert_eq!(seen, played);
    }
}
