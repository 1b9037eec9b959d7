//! The left hand: remembers where it is, decides what to strike.

mod notes;

use arrayvec::ArrayVec;

use super::ahead::Following;
use super::lead::{From, lead};
use super::part::{Part, Tones, Voice};
use super::reach::{self, MIDDLE, PlayableKeys, cheapest, leap, pull};
use super::stack::{Grip, Stand};
use super::{
    Moment, Pattern, Role, Slot, SlotAt, SlotView, Stroke, Wish, limits, room, tenor, tones, walk,
};
use crate::foresee::Forecast;
use crate::pitch::{KeyNumber, PitchClass};
use crate::settings::Settings;
use crate::time::Ticks;

/// How many slots are looked over for the end of a note.
const LOOK_OVER: usize = 24;

/// The memory of the left hand. Small and plain: copy it to try something out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct LeftHand {
    /// The last key struck (the lowest of a stroke), and when.
    last: Option<(KeyNumber, Ticks)>,
    /// The last key of the bass, the lowest of a stroke.
    bass: Option<KeyNumber>,
    /// The same of the voice above it.
    tenor: Option<KeyNumber>,
    /// The root (or slash bass) as it was struck on this chord.
    home: Option<KeyNumber>,
    /// Where the note that leads has promised the next root.
    goal: Option<KeyNumber>,
    /// Whether the root was last struck as an octave.
    doubled: bool,
}

/// What is decided for a slot: what the bass strikes, and the voice above it.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
struct Decision {
    bass: Grip,
    tenor: Grip,
    /// Whether the root is struck with its octave because the pattern likes that.
    doubled: bool,
    /// Where a note that leads has promised the next root.
    goal: Option<KeyNumber>,
}

impl Decision {
    fn of(key: KeyNumber, role: Role) -> Self {
        Self { bass: [(key, role)].into_iter().collect(), ..Self::default() }
    }

    /// Its lowest key, and what that is.
    fn lowest(&self) -> Option<(KeyNumber, Role)> {
        self.bass.first().or(self.tenor.first()).copied()
    }
}

impl LeftHand {
    /// A hand that has not played yet.
    pub const fn new() -> Self {
        Self { last: None, bass: None, tenor: None, home: None, goal: None, doubled: false }
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
        self.remember(&choice, moment);
        self.notes(&choice, pattern, slot, moment, settings)
    }

    /// The root (or slash bass) at once, off the grid: a change between slots,
    /// or a correction. Remembers it as struck. It ends with the next stroke,
    /// or when the pattern's next slot comes. Real-time safe.
    pub fn root_now(&mut self, pattern: &Pattern, moment: &Moment, settings: &Settings) -> Stroke {
        let moment = &Moment { starts: true, ..*moment };
        let Some(choice) = self.root(None, pattern, moment, settings) else {
            return Stroke::new();
        };
        self.remember(&choice, moment);
        let place = moment.place.of(moment.at);
        let here = SlotAt { at: moment.at, grid: moment.at, place, index: usize::MAX };
        self.notes(&choice, pattern, here, moment, settings)
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
            *moment = Moment { at: slot.at, ..*moment };
            let mut choice = self.decide(pattern, slot, moment, settings);
            let at_risk = |choice: &Decision| {
                let mut keys = choice.bass.iter().chain(&choice.tenor);
                keys.any(|&(key, role)| risky(key, role, moment.first))
            };
            if !moment.starts && moment.chord == now && choice.as_ref().is_some_and(at_risk) {
                moment.starts = true;
                choice = self.decide(pattern, slot, moment, settings);
            }
            if let Some(choice) = &choice {
                self.remember(choice, moment);
                moment.starts = false;
            }
            let choice = choice.unwrap_or_default();
            let struck = choice.bass.iter().chain(&choice.tenor).copied();
            views.push(SlotView::of(slot.at, false, struck));
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
        let wants = settings.busy >= slot.from_busy;
        let home = self.home.filter(|&key| key.class() == moment.first && keyboard.has(key));
        let Some(home) = home.filter(|_| !moment.starts) else {
            return self.begin(slot, wants, pattern, moment, settings);
        };
        if !wants || self.seconds_since(moment) < reach::SHORTEST {
            return None;
        }
        let following = following(pattern, at, settings);
        if !has_time(slot, at, following, moment, settings) {
            return None;
        }
        let end = at.place.bar + at.place.metre.bar();
        let following = following.map_or(end, |(next, _)| next.grid);
        let ahead = Following::of(at, following, moment.next.as_ref(), settings);
        let granted = |tones: &Tones| match tones.as_slice() {
            &[Wish::Walk] => self.walks(slot, ahead, moment, keyboard, home),
            &[wish] if tenor::is_fixed(wish) && wish != Wish::OctaveUp => {
                let (key, role) = stand(pattern, moment, keyboard, home).fixed(wish)?;
                Some(Decision::of(key, role))
            }
            &[wish] => self.grant(wish, ahead, pattern, moment, keyboard, home),
            [first, rest @ ..] => {
                let low = self.grant(*first, ahead, pattern, moment, keyboard, home)?;
                let stand = stand(pattern, moment, keyboard, home);
                let bass = stand.stacked(low.lowest()?, rest)?;
                Some(Decision { bass, ..low })
            }
            [] => None,
        };
        let follows = |choice: &Decision| {
            choice.lowest().is_some_and(|low| self.follows(low, moment, keyboard))
        };
        let bass = pattern.part(slot, Voice::Bass);
        let struck = bass.and_then(|bass| bass.strokes.iter().filter_map(granted).find(follows));
        let mut choice = struck.unwrap_or_default();
        if let Some(tenor) = pattern.part(slot, Voice::Tenor) {
            let below = Some(&choice.bass).filter(|bass| !bass.is_empty());
            choice.tenor = self.above(tenor, pattern, moment, keyboard, home, below);
        }
        choice.lowest().is_some().then_some(choice)
    }

    /// A chord begins, or nothing of it was struck yet: its root, with what the slot has
    /// above it.
    fn begin(
        &self,
        slot: &Slot,
        wants: bool,
        pattern: &Pattern,
        moment: &Moment,
        settings: &Settings,
    ) -> Option<Decision> {
        let [bass, tenor] = [Voice::Bass, Voice::Tenor].map(|voice| pattern.part(slot, voice));
        let rests = |part: Option<&Part>| part.is_none_or(Part::is_rest);
        let due = moment.starts || (wants && !(rests(bass) && rests(tenor)));
        let mut choice = due.then(|| self.root(bass, pattern, moment, settings))??;
        // What is struck above a root that no pattern has here crowds it.
        if let (Some(tenor), Some((home, _))) = (tenor, choice.lowest())
            && wants
            && !rests(bass)
        {
            let keyboard = PlayableKeys::new(settings, moment.ceiling);
            choice.tenor = self.above(tenor, pattern, moment, keyboard, home, Some(&choice.bass));
        }
        Some(choice)
    }

    /// What the voice above the bass strikes: over what is struck `below`, if
    /// anything is, as far as the hand gets there.
    fn above(
        &self,
        tenor: &Part,
        pattern: &Pattern,
        moment: &Moment,
        keyboard: PlayableKeys,
        home: KeyNumber,
        below: Option<&Grip>,
    ) -> Grip {
        let mut grip = tenor::stroke(tenor, stand(pattern, moment, keyboard, home), self.tenor);
        let widest = if pattern.rolls { super::stack::WIDEST_ROLL } else { keyboard.span() };
        match below {
            Some(below) => {
                let top = below.last().map_or(home, |(key, _)| *key);
                let low = below.first().map_or(home, |(key, _)| *key);
                let room = 4 - below.len().min(4);
                grip.retain(|(key, _)| {
                    let clear = below.iter().all(|(under, _)| !limits::muddy(*under, *key));
                    *key > top && key.distance(low).0 <= widest && clear
                });
                grip.truncate(room);
            }
            None if grip.first().is_some_and(|low| !self.follows(*low, moment, keyboard)) => {
                grip.clear();
            }
            None => {}
        }
        grip
    }

    /// Whether a stroke's lowest key follows what was struck last: within the hand's
    /// leap, and as a third not so low over the root that the two growl; over a slash
    /// bass, or in the other voice, that is another key than the bass's.
    fn follows(
        &self,
        (key, role): (KeyNumber, Role),
        moment: &Moment,
        keyboard: PlayableKeys,
    ) -> bool {
        let over_root = self.last.filter(|(last, _)| last.class() == moment.chord.root);
        let growls = over_root.is_some_and(|(root, _)| limits::growls(root, key));
        !(growls && role == Role::Third) && self.leaps(key, moment, keyboard)
    }

    /// The walking bass's step.
    fn walks(
        &self,
        slot: &Slot,
        ahead: Following,
        moment: &Moment,
        keyboard: PlayableKeys,
        home: KeyNumber,
    ) -> Option<Decision> {
        let last = self.bass.unwrap_or(home);
        let step = walk::step(moment, ahead, slot.level <= 1, keyboard, (last, home))?;
        Some(Decision { goal: step.goal, ..Decision::of(step.key, step.role) })
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
        let last = self.bass.unwrap_or(home);
        let root = || Decision::of(home, first_role(moment));
        let octave = |by| {
            let moved = keyboard.moved(home, by);
            moved.map_or_else(root, |key| Decision::of(key, Role::Octave))
        };
        match wish {
            Wish::Root => {
                let near = |key: KeyNumber| self.leaps(key, moment, keyboard);
                let key = room::again(home, pattern, keyboard).filter(|key| near(*key));
                Some(Decision::of(key.unwrap_or(home), first_role(moment)))
            }
            Wish::OctaveUp => Some(octave(12)),
            Wish::OctaveDown => Some(octave(-12)),
            Wish::Octaves => Some(doubled(root(), keyboard)),
            Wish::Fifth => tone(wish, pattern, moment, keyboard, last, home),
            _ if wish.leads() => {
                let Following::Changes { next, passes } = ahead else { return None };
                let led = lead(wish, next, passes, From { moment, pattern, keyboard, last, home })?;
                Some(Decision { goal: Some(led.goal), ..Decision::of(led.key, led.role) })
            }
            // Thirds and colours are wrong if another chord comes after all.
            _ if ahead == Following::Unknown => None,
            _ => tone(wish, pattern, moment, keyboard, last, home),
        }
    }

    /// The root (or slash bass) of a chord that begins: where it was promised,
    /// else nearest to the last key, with room for the pattern's octaves; with what
    /// `part` strikes above it.
    fn root(
        &self,
        part: Option<&Part>,
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
        let last = self.bass.unwrap_or(MIDDLE);
        // Roots follow roots; what was struck between them weighs less.
        let line = self.home.unwrap_or(last);
        let near = keyboard.keys(class).filter(|&key| self.leaps(key, moment, keyboard));
        let key = promised.or_else(|| {
            cheapest(near, |&key| {
                let way = 0.75 * leap(line, key) + 0.25 * leap(last, key);
                way + pull(key) + room::cramped(key, pattern, moment.chord, keyboard)
            })
        })?;
        let root = Decision::of(key, first_role(moment));
        let asked = |wish| part.is_some_and(|p| p.strokes.iter().any(|t| t.as_slice() == [wish]));
        if asked(Wish::Octaves) || (part.is_none() && self.doubled) {
            return Some(doubled(root, keyboard));
        }
        let on_it = part.and_then(|part| {
            part.strokes.iter().find_map(|tones| match tones.as_slice() {
                [Wish::Root, rest @ ..]
                    if !rest.is_empty() && moment.first == moment.chord.bass =>
                {
                    stand(pattern, moment, keyboard, key).stacked(root.lowest()?, rest)
                }
                _ => None,
            })
        });
        Some(match on_it {
            Some(bass) => Decision { bass, ..root },
            None => root,
        })
    }

    fn remember(&mut self, choice: &Decision, moment: &Moment) {
        let Some((lowest, _)) = choice.lowest() else { return };
        self.last = Some((lowest, moment.at));
        if let Some((key, _)) = choice.bass.first().copied() {
            self.bass = Some(key);
            let moved = choice.lowest().is_some_and(|(_, role)| role == first_role(moment));
            if moment.starts || moved || self.home.is_none_or(|home| home.class() != moment.first) {
                self.home = Some(key);
            }
            if key.class() == moment.first {
                self.doubled = choice.doubled;
            }
            self.goal = choice.goal;
        }
        if let Some((key, _)) = choice.tenor.first() {
            self.tenor = Some(*key);
        }
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

/// Whether a hand that strikes at `at` can strike where it then must: at the next
/// chord's root, and at a stronger place.
fn has_time(
    slot: &Slot,
    at: SlotAt,
    following: Option<(SlotAt, u8)>,
    moment: &Moment,
    settings: &Settings,
) -> bool {
    let root = sure_change(moment, settings).map(|next| seconds(next.at - moment.at, moment));
    let soon = root.is_some_and(|due| due > 0.0 && due < reach::SHORTEST);
    let stronger = following.filter(|(_, level)| *level < slot.level);
    let stronger = stronger.map(|(next, _)| seconds(next.at - at.at, moment));
    !soon && stronger.is_none_or(|due| due >= reach::SHORTEST)
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
    let low = |key| root.is_some_and(|root| limits::growls(root, key));
    let clear = keyboard.keys(class).filter(|&key| {
        let at_hand = leap(home, key) <= WIDEST && leap(last, key) <= keyboard.hand();
        at_hand && !limits::growls(home.min(key), home.max(key)) && !low(key)
    });
    // Where the hand goes up from the root, its other notes lie above it too.
    let below = |key| if pattern.goes_up && key < home { 6.0 } else { 0.0 };
    let key = cheapest(clear, |&key| leap(last, key) + leap(home, key) + pull(key) + below(key))?;
    Some(Decision::of(key, role))
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

/// Where strokes on the chord are stacked.
fn stand<'a>(
    pattern: &Pattern,
    moment: &'a Moment,
    keyboard: PlayableKeys,
    home: KeyNumber,
) -> Stand<'a> {
    Stand { moment, keyboard, home, rolls: pattern.rolls }
}

/// A root with its octave above, where the hand has room for it.
fn doubled(root: Decision, keyboard: PlayableKeys) -> Decision {
    let above = root.lowest().filter(|_| keyboard.spans_octave());
    let above = above.and_then(|(key, _)| keyboard.moved(key, 12));
    let Some(above) = above else { return root };
    let mut bass = root.bass.clone();
    bass.push((above, Role::Octave));
    Decision { bass, doubled: true, ..root }
}

#[cfg(test)]
mod tests;
