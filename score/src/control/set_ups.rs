//! Set-ups: a left hand for a kind of song, in one choice.

use super::{Control, Values};
use Control::{Busy, Certainty, Hold, Length, Loudness, Pattern, Swing};

/// What a set-up sets; what it does not name is as at first. The keyboard, the
/// key, channels and clocks stay as the player has them.
pub const TOUCHED: [Control; 8] =
    [Pattern, Busy, Control::Variation, Hold, Loudness, Length, Swing, Certainty];

/// A left hand for a kind of song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SetUp {
    /// As the player sees it; each once.
    pub name: &'static str,
    /// A sentence.
    pub about: &'static str,
    /// What it is for, in words that players look for.
    pub tags: &'static [&'static str],
    /// What differs from the first.
    values: &'static [(Control, i32)],
}

impl SetUp {
    /// The value of each control that it sets.
    pub fn values(&self) -> [(Control, i32); TOUCHED.len()] {
        TOUCHED.map(|control| {
            let own = self.values.iter().find(|(named, _)| *named == control);
            (control, own.map_or(control.spec().default, |(_, value)| *value))
        })
    }

    /// Whether `values` are as it sets them.
    pub fn is(&self, values: &Values) -> bool {
        self.values().iter().all(|(control, value)| values.get(*control) == *value)
    }
}

macro_rules! set_ups {
    ($($name:literal [$($tag:literal)*] ($($control:ident $value:literal),*) $about:literal;)*) => {
        /// All, the plainest first.
        pub const SET_UPS: &[SetUp] = &[$(SetUp {
            name: $name,
            about: $about,
            tags: &[$($tag),*],
            values: &[$(($control, $value)),*],
        }),*];
    };
}

// The number of a pattern is that of the teaching order.
#[rustfmt::skip]
set_ups! {
    "Slow practice"        ["practice" "plain"]      (Pattern 1, Busy 40, Loudness 75) "Roots on the beat and little else: to learn where the changes are.";
    "First steps"          ["practice" "plain"]      (Pattern 2, Busy 50) "Roots on the beat and on the \"and\".";
    "Walking on"           ["practice" "moving"]     (Pattern 3, Busy 60, Length 95) "A scale note leads from one root to the next.";
    "Thirds to learn"      ["practice" "moving"]     (Pattern 4, Busy 55) "The third leads where it lies a step from the next root.";
    "Fifths to learn"      ["practice" "moving"]     (Pattern 5, Busy 55) "Root and fifth, and the fifth that is the next root.";
    "Octaves to learn"     ["practice" "octaves"]    (Pattern 6, Busy 50) "The root and the octave above it at once.";
    "Quiet ballad"         ["ballad" "slow" "soft"]  (Pattern 7, Busy 35, Loudness 65, Length 100) "Broken octaves, long and soft.";
    "Wide ballad"          ["ballad" "slow"]         (Pattern 9, Busy 45, Loudness 75, Length 100) "The root falls an octave for depth, and rings on.";
    "Ballad that grows"    ["ballad" "moving"]       (Pattern 10, Busy 55, Loudness 80, Length 95) "A little of everything, joined.";
    "Hymn"                 ["hymn" "plain"]          (Pattern 1, Busy 30, Length 100, Loudness 80) "A root to each chord, joined, as on an organ's pedals.";
    "March"                ["march" "dance"]         (Pattern 5, Busy 60, Length 45, Loudness 95) "Root and fifth by turns, short and firm.";
    "Polka"                ["dance" "fast"]          (Pattern 2, Busy 65, Length 40, Loudness 95) "Short roots on the beat, light \"ands\".";
    "Waltz"                ["waltz" "dance" "3/4"]   (Pattern 11, Busy 50, Loudness 85) "The root on one, the rest of the bar above it.";
    "Slow waltz"           ["waltz" "slow" "3/4"]    (Pattern 11, Busy 35, Length 100, Loudness 70) "The same with less, and joined.";
    "Rocking six"          ["lullaby" "6/8"]         (Pattern 12, Busy 45, Length 95, Loudness 70) "Two slow beats of three, for a cradle.";
    "Slow twelve"          ["slow" "12/8"]           (Pattern 13, Busy 50, Length 90) "Four slow beats of three.";
    "Swing"                ["swing" "dance"]         (Pattern 3, Busy 65, Swing 64, Length 70) "Leaning \"ands\", a note that leads to every root.";
    "Shuffle"              ["swing" "fast"]          (Pattern 8, Busy 70, Swing 67, Length 60, Loudness 95) "Octaves high and low on triplets.";
    "Pop, driving"         ["pop" "fast" "octaves"]  (Pattern 6, Busy 75, Length 60, Loudness 100) "Octaves together on every half beat.";
    "Careful company"      ["live" "plain"]          (Pattern 10, Busy 40, Certainty 85, Hold 2) "Leads only when it is nearly sure: for songs that it does not know.";
    "Bold company"         ["live" "moving"]         (Pattern 10, Busy 75, Certainty 55, Hold 2) "Leads wherever it has a guess: for songs that come round.";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_has_a_name_of_its_own_and_values_that_can_be_set() {
        assert!(SET_UPS.len() >= 20);
        for (n, set_up) in SET_UPS.iter().enumerate() {
            assert!(SET_UPS[..n].iter().all(|other| other.name != set_up.name));
            assert!(!set_up.tags.is_empty() && set_up.about.ends_with('.'), "{}", set_up.name);
            for (control, value) in set_up.values() {
                assert_eq!(control.spec().clamp(value), value, "{}", set_up.name);
            }
            let named = |(control, _): &(Control, i32)| TOUCHED.contains(control);
            assert!(set_up.values.iter().all(named), "{}", set_up.name);
            // None is another one under a second name.
            assert!(SET_UPS[..n].iter().all(|other| other.values() != set_up.values()));
        }
    }
}
