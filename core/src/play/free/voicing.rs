//! Which keys a place of a figure becomes on the chord that holds now.

use arrayvec::ArrayVec;

use super::book::{Book, Noted};
use super::figure::FigurePlace;
use crate::chord::Chord;
use crate::pitch::{KeyNumber, PitchClass};
use crate::play::reach::{PlayableKeys, cheapest, leap};
use crate::play::{Role, Wish, limits, tones};
use crate::time::Ticks;

// What the search for a key weighs, in semitones. Chosen on POP909-CL.
/// Another tone of the chord than the pianist's.
const OTHER_TONE: f32 = 2.0;
/// The same above the lowest note of a stroke.
const OTHER_UPPER_TONE: f32 = 5.0;
/// A fifth struck together where the pianist had none, and the other way round.
const FIFTH: f32 = 4.0;
/// The same key again where the pianist moved, or the other way round.
const SAME: f32 = 5.0;
/// Up where the pianist went down.
const OTHER_WAY: f32 = 3.0;
/// A third down where the pianist made another leap: what the nearest tone often is, and
/// what pianists seldom do.
const THIRD_DOWN: f32 = 5.0;
/// The middle of the book's register, beside that of the keys that are left
/// when tones above the right hand's lowest fall away.
const UP: f32 = 4.0;
/// Another leap between basses than the pianist's.
const OTHER_LEAP: f32 = 0.15;
/// A figure that reaches into the right hand, for each semitone.
const TOO_HIGH: f32 = 1.0;

/// Where the hand is: ours, and the pianist's when they played what we play.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct HandPosition {
    /// The bass that is played around, and the pianist's.
    pub home: Option<(KeyNumber, u8)>,
    /// The lowest key of the last stroke, and the pianist's.
    pub last: Option<(KeyNumber, u8)>,
}

impl HandPosition {
    /// Whether `key` is the last one again, where the pianist moved on to `theirs`.
    fn repeats(&self, key: KeyNumber, theirs: u8) -> bool {
        self.last.is_some_and(|(last, before)| key == last && theirs != before)
    }
}

/// A key to strike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StruckKey {
    pub key: KeyNumber,
    pub role: Role,
    /// How long the pianist held it.
    pub length: Ticks,
    /// Louder than the right hand asks for, in velocity.
    pub push: f32,
}

/// The keys of one stroke, lowest first.
pub type Keys = ArrayVec<StruckKey, 4>;

/// A tone that may be struck now: its class, its number in the book, its role.
type Tone = (PitchClass, u8, Role);

/// The tones that may be struck on a chord. `sure`: it will hold, so that tones
/// that tell it from others may be struck as well.
pub fn allowed(chord: Chord, sure: bool) -> ArrayVec<Tone, 8> {
    let mut allowed: ArrayVec<Tone, 8> = ArrayVec::new();
    let bass = if chord.bass == chord.root { Role::Root } else { Role::Bass };
    allowed.push((chord.bass, 0, bass));
    let wishes = [Wish::Fifth, Wish::Third, Wish::Seventh, Wish::Ninth, Wish::Sixth];
    let numbers = [2, 1, 3, 4, 5];
    for (wish, number) in wishes.into_iter().zip(numbers) {
        if let Some((class, role)) = tones::tone(chord, wish)
            && (sure || wish == Wish::Fifth)
            && !allowed.iter().any(|(other, ..)| *other == class)
        {
            allowed.push((class, number, role));
        }
    }
    allowed
}

/// The bass around which a chord is played: near where the pianist had it, and
/// as far from the last as theirs was.
/// `top` is the highest key that they strike around it.
pub fn home(
    chord: Chord,
    (theirs, top): (u8, u8),
    was: HandPosition,
    keyboard: PlayableKeys,
) -> Option<KeyNumber> {
    let theirs_at = f32::from(theirs);
    let number = |key: KeyNumber| f32::from(key.number());
    let cost = |key: &KeyNumber| {
        let leaps = was.home.map_or(0.0, |(ours, before)| {
            (number(*key) - number(ours) - (theirs_at - f32::from(before))).abs()
        });
        // A figure needs room above its bass.
        let room = if keyboard.moved(*key, 3).is_some() { 0.0 } else { 12.0 };
        let high = f32::from(top) + number(*key) - theirs_at - keyboard.top();
        let crossed = TOO_HIGH * high.max(0.0);
        (number(*key) - theirs_at - UP).abs() + OTHER_LEAP * leaps + room + crossed
    };
    cheapest(keyboard.keys(chord.bass), cost)
}

/// The keys of `place` on `chord`. `tells`: its lowest note tells a new chord. What the
/// pianist moved on to is left out if it lies above our keys and would only repeat the
/// last, which rings on; not where a stroke is `due`.
pub fn keys(
    book: &Book,
    place: &FigurePlace,
    (chord, (due, tells), sure): (Chord, (bool, bool), bool),
    (home, was): (KeyNumber, HandPosition),
    keyboard: PlayableKeys,
) -> Keys {
    let tones = allowed(chord, sure);
    let shift = i32::from(home.number()) - i32::from(place.home);
    let mut keys = Keys::new();
    let lowest = book.note(place.notes.0).key;
    for number in place.notes.0..place.notes.1 {
        let noted = book.note(number);
        let found = if keys.is_empty() && tells {
            let bass = tones.first().map_or(Role::Root, |(.., role)| *role);
            Some((told(&noted, place.home, home, keyboard), bass))
        } else {
            let found = nearest((&noted, lowest), shift, &tones, &keys, was, keyboard);
            let high = i32::from(noted.key) + shift >= keyboard.end();
            let repeats = |(key, _): &(KeyNumber, Role)| was.repeats(*key, noted.key);
            let moves = due || !keys.is_empty() || !high;
            found.filter(|found| moves || !repeats(found))
        };
        if let Some((key, role)) = found
            && !keys.is_full()
        {
            let role = again(role, key, home, &keys);
            keys.push(StruckKey { key, role, length: place.held(noted.length), push: noted.push });
        }
    }
    keys
}

/// The bass that tells a new chord: in the octave in which the pianist struck.
fn told(noted: &Noted, theirs: u8, home: KeyNumber, keyboard: PlayableKeys) -> KeyNumber {
    let above = i32::from(noted.key) - i32::from(theirs);
    let octaves = if noted.tone == 0 { (above + 6).div_euclid(12) } else { 0 };
    keyboard.moved(home, 12 * octaves).unwrap_or(home)
}

/// The key that comes closest to what the pianist's was: the same tone of the
/// chord, in the same direction, no lower than those struck with it.
fn nearest(
    (noted, lowest): (&Noted, u8),
    shift: i32,
    tones: &[Tone],
    below: &Keys,
    was: HandPosition,
    keyboard: PlayableKeys,
) -> Option<(KeyNumber, Role)> {
    let meant = KeyNumber::clamped(i32::from(noted.key) + shift);
    let under = below.last().map(|key| key.key);
    let span = |low: i32, high: i32| high - low == 7;
    let keys = tones.iter().flat_map(|&(class, number, role)| {
        keyboard.keys(class).map(move |key| (key, number, role))
    });
    let clear = keys.filter(|&(key, ..)| {
        under.is_none_or(|under| under < key)
            && below.iter().all(|low| !limits::muddy(low.key, key))
    });
    let found = cheapest(clear, |&(key, number, _)| {
        let tone = match (number == noted.tone, below.first()) {
            (true, _) => 0.0,
            (false, None) => OTHER_TONE,
            (false, Some(_)) => OTHER_UPPER_TONE,
        };
        let fifth = below.first().map_or(0.0, |low| {
            let ours = span(i32::from(low.key.number()), i32::from(key.number()));
            let theirs = span(i32::from(lowest), i32::from(noted.key));
            if ours == theirs { 0.0 } else { FIFTH }
        });
        let way = match was.last.filter(|_| under.is_none()) {
            Some((last, theirs)) if (key == last) != (noted.key == theirs) => SAME,
            Some((last, theirs)) if (key > last) != (noted.key > theirs) => OTHER_WAY,
            _ => 0.0,
        };
        let stray = was.last.is_some_and(|(last, theirs)| {
            let third = |from: u8, to: u8| matches!(from.checked_sub(to), Some(3 | 4));
            third(last.number(), key.number()) && !third(theirs, noted.key)
        });
        let third = if stray && under.is_none() { THIRD_DOWN } else { 0.0 };
        leap(meant, key) + tone + fifth + way + third
    })?;
    Some((found.0, found.2))
}

/// What a tone of the book is to its chord.
pub const fn role(tone: u8) -> Role {
    match tone {
        0 => Role::Root,
        2 => Role::Fifth,
        3 => Role::Seventh,
        4 => Role::Ninth,
        5 => Role::Sixth,
        _ => Role::Third,
    }
}

/// A root that doubles or answers another one is an octave.
fn again(role: Role, key: KeyNumber, home: KeyNumber, below: &Keys) -> Role {
    let doubles = below.iter().any(|low| low.key.class() == key.class());
    let another = key != home && key.class() == home.class();
    match role {
        Role::Root | Role::Bass if doubles || another => Role::Octave,
        _ => role,
    }
}

#[cfg(test)]
mod tests {
    use super::super::figure::Figure;
    use super::super::fit::Fit;
    use super::*;
    use crate::chord::Kind;
    use crate::settings::Settings;
    use crate::time::Metre;

    /// The single strokes of every ninth bar of the book.
    fn single_strokes(book: &Book) -> Vec<FigurePlace> {
        let (_, end) = book.song(book.songs() - 1);
        let fit = Fit::of(Metre::COMMON, 0);
        let bars = (0..end).step_by(9).map(|bar| Figure::open(book, bar, &fit));
        let places = bars.flat_map(|figure| figure.places);
        places.filter(|place| place.notes.1 - place.notes.0 == 1).collect()
    }

    #[test]
    fn what_lies_too_high_rings_on_rather_than_be_repeated() {
        let book = Book::shipped();
        let keyboard = PlayableKeys::new(&Settings::default(), KeyNumber::MIDDLE_C);
        let (chord, home) = (Chord::new(PitchClass::C, Kind::Major), KeyNumber::clamped(48));
        let (mut ring, mut struck) = (0, 0);
        for place in single_strokes(&book) {
            let theirs = book.note(place.notes.0).key;
            let after = |last, due| {
                let was = HandPosition { last, ..HandPosition::default() };
                keys(&book, &place, (chord, (due, false), true), (home, was), keyboard)
            };
            let Some(first) = after(None, true).first().map(|key| key.key) else { continue };
            for moved in [0, 5] {
                let last = Some((first, theirs - moved));
                let (due, free) = (after(last, true), after(last, false));
                let again = due.first().is_some_and(|key| key.key == first);
                let high = 48 + i32::from(theirs) - i32::from(place.home) > 59;
                if again && high && moved != 0 {
                    assert!(free.is_empty(), "{place:?}: {free:?}");
                    ring += 1;
                } else {
                    assert_eq!(free, due, "{place:?}");
                    struck += 1;
                }
            }
        }
        assert!(ring > 100 && struck > 1000, "{ring} {struck}");
    }

    #[test]
    fn a_third_down_is_the_pianists_or_seldom_struck() {
        let book = Book::shipped();
        let keyboard = PlayableKeys::new(&Settings::default(), KeyNumber::MIDDLE_C);
        let (chord, home) = (Chord::new(PitchClass::C, Kind::Major), KeyNumber::clamped(48));
        let places = single_strokes(&book);
        // Of all strokes of the book after every key of the chord, for a leap of theirs.
        let thirds = |theirs: u8| {
            let (mut all, mut thirds) = (0, 0);
            for (place, last) in places.iter().flat_map(|p| [48, 52, 55, 59].map(|key| (p, key))) {
                let before = book.note(place.notes.0).key + theirs;
                let last = Some((KeyNumber::clamped(last), before));
                let was = HandPosition { last, ..HandPosition::default() };
                let what = (chord, (true, false), true);
                let found = keys(&book, place, what, (home, was), keyboard);
                let down = found.first().zip(last).map(|(key, (last, _))| last.distance(key.key).0);
                all += usize::from(down.is_some());
                thirds += usize::from(matches!(down, Some(3 | 4)));
            }
            thirds as f32 / all as f32
        };
        let [third, fourth, fifth, sixth] = [3, 5, 7, 9].map(thirds);
        println!("after thirds {third:.2}, fourths {fourth:.2}, fifths {fifth:.2}, {sixth:.2}");
        assert!(third > 0.15, "{third:.2}");
        assert!([fourth, fifth, sixth].iter().all(|other| *other < third / 2.0));
    }
}
