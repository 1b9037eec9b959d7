//! The voice above the bass: where its strokes lie.

use super::part::{Part, Tones};
use super::reach::{cheapest, leap};
use super::stack::{Grip, Stand};
use super::{Wish, limits};
use crate::pitch::KeyNumber;

/// Where the upper voice of a left hand lies: around E3, where triads in close
/// position are clear (low interval limits) and a right hand has room. By ear.
const MIDDLE: KeyNumber = KeyNumber::clamped(52);

/// What the voice plays at its place; nothing if the chord or the keyboard has
/// nothing of it. `last` is its lowest key of the stroke before.
pub fn stroke(part: &Part, stand: Stand<'_>, last: Option<KeyNumber>) -> Grip {
    let found = part.strokes.iter().find_map(|tones| grip(tones, stand, last));
    found.unwrap_or_default()
}

fn grip(tones: &Tones, stand: Stand<'_>, last: Option<KeyNumber>) -> Option<Grip> {
    match tones.as_slice() {
        [Wish::Chord] => chord(stand, last),
        &[single] if is_fixed(single) => Some([stand.fixed(single)?].into_iter().collect()),
        [first, rest @ ..] => placed(*first, rest, stand, last).map(|(grip, _)| grip),
        [] => None,
    }
}

/// Tones that a figure writes by their distance from the bass.
pub const fn is_fixed(wish: Wish) -> bool {
    use Wish::{AddedNinth, AddedSixth, FifthUp, OctaveUp, Tenth, ThirdUp, Twelfth};
    matches!(wish, ThirdUp | FifthUp | OctaveUp | Tenth | Twelfth | AddedSixth | AddedNinth)
}

/// A stroke where it lies nearest to the one before and to the voice's middle,
/// and how far that is.
fn placed(
    first: Wish,
    rest: &[Wish],
    stand: Stand<'_>,
    last: Option<KeyNumber>,
) -> Option<(Grip, f32)> {
    let (class, role, least) = stand.tone(first)?;
    let keys = stand
        .keyboard
        .keys(class)
        .filter(|key| key.distance(stand.home).0 >= least && !limits::muddy(stand.home, *key));
    let grips = keys.filter_map(|key| {
        let grip = stand.stacked((key, role), rest)?;
        // Whole, or not here.
        (grip.len() == rest.len() + 1).then_some(grip)
    });
    let cost = |grip: &Grip| {
        let (low, high) =
            (grip.first().map_or(MIDDLE, |k| k.0), grip.last().map_or(MIDDLE, |k| k.0));
        let middle = 0.5 * (leap(MIDDLE, low) + leap(MIDDLE, high));
        last.map_or(0.0, |last| leap(last, low)) + 0.5 * middle
    };
    let grip = cheapest(grips, cost)?;
    let far = cost(&grip);
    Some((grip, far))
}

/// Three tones of the chord in close position: with a seventh it stands for the
/// root, which the bass has.
fn chord(stand: Stand<'_>, last: Option<KeyNumber>) -> Option<Grip> {
    use Wish::{Fifth, Root, Seventh, Third};
    let tones = match (stand.tone(Seventh), stand.tone(Third)) {
        (Some(_), Some(_)) => [Third, Fifth, Seventh],
        _ => [Root, Third, Fifth],
    };
    let has = |wish: &Wish| stand.tone(*wish).is_some();
    let tones: Tones = tones.into_iter().filter(has).collect();
    let turned = (0..tones.len()).filter_map(|turn| {
        let mut turned = tones.clone();
        turned.rotate_left(turn);
        let (first, rest) = turned.split_first()?;
        placed(*first, rest, stand, last)
    });
    cheapest(turned, |(_, far)| *far).map(|(grip, _)| grip)
}
