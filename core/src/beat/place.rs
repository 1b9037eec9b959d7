//! Where in the bar strokes fall.

use super::quarters::place_of;

/// Places in a beat where strokes fall: on it, quarters, thirds, the half.
pub const PLACES: [f64; 6] = [0.0, 0.25, 1.0 / 3.0, 0.5, 2.0 / 3.0, 0.75];
/// Two strokes are no nearer than this, in beats.
pub const NEAREST: f64 = 0.12;
/// The longest bar, in beats.
pub const LONGEST: usize = 12;
/// How often chords, then single keys, fall on each place.
const CHORDS: [f32; 6] = [0.82, 0.05, 0.01, 0.16, 0.01, 0.05];
const KEYS: [f32; 6] = [0.32, 0.22, 0.02, 0.35, 0.02, 0.22];
/// Cost of a stroke off the beat, beside how usual it is there: what a player
/// does again and again becomes usual, but a beat is still where most falls.
pub const OFF: [f64; 6] = [0.0, 0.47, 0.59, 0.30, 0.59, 0.47];
/// How much what is usual counts against this player's own, in strokes.
const USUAL: f32 = 2.47;
/// What is left of the own after a stroke.
const FADES: f32 = 0.837;

/// The beat of the bar and the place in it, in order.
pub fn slot(bar: usize, whole: i64) -> usize {
    usize::try_from(whole.rem_euclid(bar.max(1) as i64)).map_or(0, |beat| beat.min(LONGEST - 1))
}

/// How likely a stroke falls there, by what is usual: chords on the first beat
/// of a bar, then in its middle, then on the other beats.
pub fn usual(bar: usize, beat: usize, place: usize, chord: bool) -> f32 {
    let beats = bar as f32;
    if !chord {
        return KEYS[place] / beats;
    }
    let halves = bar.is_multiple_of(2);
    let share = match beat {
        _ if bar == 1 => 1.0,
        0 => 0.55,
        _ if halves && beat == bar / 2 => 0.2,
        _ => 0.25 / (beats - if halves { 2.0 } else { 1.0 }).max(1.0),
    };
    CHORDS[place] * share
}

/// The second chord of a song comes after a beat, half a bar or a bar rather
/// than after anything else.
pub fn first_gap(beats: f64, bar: usize) -> f64 {
    let bar = bar as f64;
    let is = |wanted: f64| (beats - wanted).abs() < 1e-6;
    match () {
        () if is(bar) || is(1.0) || is(bar / 2.0) => 1.0,
        () if is(2.0 * bar) => 0.35,
        () if is(libm::round(beats)) => 0.15,
        () => 0.03,
    }
}

/// Where this player has struck so far; what is long ago fades.
#[derive(Clone, Copy, Debug, Default)]
pub struct StruckPlaces([[f32; 6]; LONGEST]);

impl StruckPlaces {
    /// A stroke fell there.
    pub fn note(&mut self, beat: usize, place: usize) {
        self.0.iter_mut().flatten().for_each(|strokes| *strokes *= FADES);
        self.0[beat][place] += 1.0;
    }

    /// The beat goes on by so many quarters, or back by one for three.
    pub fn turn(&mut self, by: usize, bar: usize) {
        let (old, all) = (self.0, 4 * bar);
        self.0 = [[0.0; 6]; LONGEST];
        for from in 0..all {
            let to = (from + if by == 3 { all - 1 } else { by }) % all;
            self.0[to / 4][place_of(to)] += old[from / 4][place_of(from)];
        }
    }

    /// How likely a stroke falls there, given what is usual.
    pub fn likely(&self, beat: usize, place: usize, usual: f32) -> f64 {
        let all: f32 = self.0.iter().flatten().sum();
        f64::from((self.0[beat][place] + USUAL * usual) / (all + USUAL))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_chord_comes_on_a_beat_rather_than_off_it() {
        let gaps = [4.0, 8.0, 3.0, 2.5].map(|beats| first_gap(beats, 4));
        assert!(gaps.is_sorted_by(|nearer, farther| nearer > farther), "{gaps:?}");
        assert_eq!([1.0, 2.0, 4.0].map(|beats| first_gap(beats, 4)), [1.0; 3]);
    }
}
