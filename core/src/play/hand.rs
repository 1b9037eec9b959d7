//! The left hand: remembers where it is, decides what to strike.

use arrayvec::ArrayVec;

use super::ahead::Following;
use super::lead::{From, lead};
use super::reach::{self, MIDDLE, PlayableKeys, cheapest, leap, pull};
use super::{
    Moment, Note, Pattern, Role, SlotAt, SlotView, Stroke, Wish, dynamics, limits, room, tones,
};
use crate::foresee::Forecast;
use crate::pitch::{KeyNumber, PitchClass};
use crate::settings::Settings;
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
struct Decision {
    key: KeyNumber,
    role: Role,
    doubled: bool,
    goal: Option<KeyNumber>,
}

impl Decision {
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

    /// What each slot after `after` in the bar `moment.place` will play if the
    /// forecast comes true and nothing else changes; for a copy of the hand, which
    /// moves as if it had played, and `moment` with it. What is `risky` to the chord
    /// that holds (key, role, the tone to begin with) gives way to that tone.
    /// Real-time safe.
    pub fn preview(
        &mut self,
        pattern: &Pattern,
        moment: &mut Moment,
        settings: &Settings,
        mut after: Ticks,
        risky: impl Fn(KeyNumber, Role, PitchClass) -> bool,
    ) -> ArrayVec<SlotView, 48> {
        let now = moment.chord;
        let mut views = ArrayVec::new();
        let place = moment.place;
        let end = place.bar + place.metre.bar();
        while let Some(slot) = pattern.next_slot(place, after, settings) {
            if slot.grid >= end || views.is_full() {
                break;
            }
            if let Some(next) = moment.next.filter(|next| next.at <= slot.grid) {
                let (chord, next) = (next.chord, None);
                *moment = Moment { chord, starts: true, next, first: chord.bass, ..*moment };
            }
            *moment = Moment { at: slot.at, place: slot.place, ..*moment };
            let mut choice = self.decide(pattern, slot, moment, settings);
            let at_risk = |choice: Decision| risky(choice.key, choice.role, moment.first);
            if !moment.starts && moment.chord == now && choice.is_some_and(at_risk) {
                moment.starts = true;
                choice = self.decide(pattern, slot, moment, settings);
            }
            if let Some(choice) = choice {
                self.remember(choice, moment);
                moment.starts = false;
            }
            views.push(SlotView {
                at: slot.at,
                role: choice.map(|choice| choice.role),
                key: choice.map(|choice| choice.key),
                played: false,
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
    ) -> Option<Decision> {
        let slot = pattern.slot(&at, settings.seed)?;
        let keyboard = PlayableKeys::new(settings, moment.ceiling);
        let home = self.home.filter(|&key| key.class() == moment.first && keyboard.has(key));
        let Some(home) = home.filter(|_| !moment.starts) else {
            let form = slot.wishes.iter().find(|wish| **wish == Wish::Octaves);
            let due = moment.starts || settings.busy >= slot.from_busy;
            return due
                .then(|| self.root(*form.unwrap_or(&Wish::Root), pattern, moment, settings))?;
        };
        if settings.busy < slot.from_busy || self.seconds_since(moment) < reach::SHORTEST {
            return None;
        }
        // The root of the next chord is due before the hand could strike it.
        let due = sure_change(moment, settings).map(|next| seconds(next.at - moment.at, moment));
        if due.is_some_and(|due| due > 0.0 && due < reach::SHORTEST) {
            return None;
        }
        let following = following(pattern, at, settings);
        // A stronger place comes before the hand could strike there as well.
        let stronger = following.filter(|(_, level)| *level < slot.level);
        if stronger.is_some_and(|(next, _)| seconds(next.at - at.at, moment) < reach::SHORTEST) {
            return None;
        }
        let end = at.place.bar + at.place.metre.bar();
        let following = following.map_or(end, |(next, _)| next.grid);
        let ahead = Following::of(at, following, moment.next.as_ref(), settings);
        slot.wishes
            .iter()
            .filter_map(|&wish| self.grant(wish, ahead, pattern, moment, keyboard, home))
            .find(|choice| self.leaps(choice.key, moment, keyboard))
    }

    /// What `wish` means on this chord, if it can be had.
    fn grant(
        &self,
        wish: Wish,
        ahead: Following,
        pattern: &Pattern,
        moment: &Moment,
        keyboard: PlayableKeys,
        home: KeyNumber,
    ) -> Option<Decision> {
        let last = self.last.map_or(home, |(key, _)| key);
        let root = Decision::of(home, first_role(moment));
        let octave = |by| {
            let moved = keyboard.moved(home, by);
            moved.map_or(root, |key| Decision::of(key, Role::Octave))
        };
        match wish {
            Wish::Root => Some(root),
            Wish::OctaveUp => Some(octave(12)),
            Wish::OctaveDown => Some(octave(-12)),
            Wish::Octaves => Some(Decision { doubled: doubles(home, keyboard), ..root }),
            Wish::Fifth => tone(wish, pattern, moment, keyboard, last, home),
            _ if wish.leads() => {
                let Following::Changes(next) = ahead else { return None };
                let led = lead(wish, next, From { moment, pattern, keyboard, last, home })?;
                Some(Decision { goal: Some(led.goal), ..Decision::of(led.key, led.role) })
            }
            // Thirds and colours are wrong if another chord comes after all.
            _ if ahead == Following::Unknown => None,
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
    ) -> Option<Decision> {
        let keyboard = PlayableKeys::new(settings, moment.ceiling);
        let class = moment.first;
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
        Some(Decision { doubled, ..Decision::of(key, first_role(moment)) })
    }

    fn remember(&mut self, choice: Decision, moment: &Moment) {
        self.last = Some((choice.key, moment.at));
        if moment.starts || self.home.is_none_or(|home| home.class() != moment.first) {
            self.home = Some(choice.key);
        }
        if choice.key.class() == moment.first {
            self.doubled = choice.doubled;
        }
        self.goal = choice.goal;
    }

    /// When the note just struck ends if it is held as long as it can be: at
    /// the next slot that will sound, or a sure change.
    fn end(&self, pattern: &Pattern, from: SlotAt, moment: &Moment, settings: &Settings) -> Ticks {
        let sure = sure_change(moment, settings).filter(|next| next.at > from.grid);
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
        seconds(moment.at - at, moment)
    }

    fn leaps(&self, key: KeyNumber, moment: &Moment, keyboard: PlayableKeys) -> bool {
        keyboard.leaps(self.last.map(|(key, _)| key), key, self.seconds_since(moment))
    }
}

/// How long a span lasts.
fn seconds(span: Ticks, moment: &Moment) -> f64 {
    span.beats() * 60.0 / moment.tempo.max(1.0)
}

/// The change that is foreseen, if surely.
fn sure_change(moment: &Moment, settings: &Settings) -> Option<Forecast> {
    moment.next.filter(|next| next.together >= settings.certainty)
}

/// The next slot that the player is busy enough for, and its level.
fn following(pattern: &Pattern, from: SlotAt, settings: &Settings) -> Option<(SlotAt, u8)> {
    let mut at = from.at;
    for _ in 0..LOOK_OVER {
        let slot = pattern.next_slot(from.place, at, settings)?;
        let written = pattern.slot(&slot, settings.seed);
        if let Some(written) = written.filter(|written| settings.busy >= written.from_busy) {
            return Some((slot, written.level));
        }
        at = slot.at;
    }
    None
}

/// The widest distance of a tone from its root in semitones, a major tenth.
const WIDEST: f32 = 16.0;

/// A tone of the chord: near the last key and the root, and never so low above
/// the root that the two growl.
fn tone(
    wish: Wish,
    pattern: &Pattern,
    moment: &Moment,
    keyboard: PlayableKeys,
    last: KeyNumber,
    home: KeyNumber,
) -> Option<Decision> {
    let (class, role) = tones::tone(moment.chord, wish)?;
    // Over a slash bass what was struck last may be the root itself.
    let root = Some(last).filter(|last| last.class() == moment.chord.root);
    let low = |key| root.is_some_and(|root| root < key && limits::growls(root, key));
    let clear = keyboard.keys(class).filter(|&key| {
        let at_hand = leap(home, key) <= WIDEST && leap(last, key) <= keyboard.hand();
        at_hand && !limits::growls(home.min(key), home.max(key)) && !low(key)
    });
    // Where the hand goes up from the root, its other notes lie above it too.
    let below = |key| if pattern.goes_up && key < home { 6.0 } else { 0.0 };
    let key = cheapest(clear, |&key| leap(last, key) + leap(home, key) + pull(key) + below(key))?;
    Some(Decision::of(key, role))
}

/// Whether the octave above `key` can be struck with it.
fn doubles(key: KeyNumber, keyboard: PlayableKeys) -> bool {
    keyboard.spans_octave() && keyboard.moved(key, 12).is_some()
}

/// What the tone that the chord begins with is to it.
fn first_role(moment: &Moment) -> Role {
    let (chord, first) = (moment.chord, moment.first);
    match () {
        () if first == chord.root => Role::Root,
        () if first == chord.bass => Role::Bass,
        () => tones::role(chord, first),
    }
}

fn notes(choice: Decision, moment: &Moment, end: Ticks, level: u8, settings: &Settings) -> Stroke {
    let from = moment.at;
    let length = f64::from(settings.length.clamp(0.05, 1.0));
    let held = libm::round((end - from).0 as f64 * length) as i64;
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
mod tests;
