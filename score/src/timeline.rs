//! Tempo and metre over musical time: tick ↔ second ↔ frame, and the bar of a tick.

use sinistra_core::engine::Transport;
use sinistra_core::foresee::Song;
use sinistra_core::time::{Metre, Place, Ticks};

#[derive(Clone, Copy, Debug, PartialEq)]
struct TempoPoint {
    /// In quarter notes; a file's own ticks need not fall on ours.
    beat: f64,
    /// Seconds from the start of the song.
    seconds: f64,
    /// Quarter notes a minute.
    tempo: f64,
}

/// A tempo and metre map. Time 0 is tick 0; before it, both go on backwards
/// as they start.
#[derive(Clone, Debug, PartialEq)]
pub struct Timeline {
    tempos: Vec<TempoPoint>,
    /// Bar lines from which on the bars follow one another in one metre.
    bars: Vec<Place>,
}

impl Timeline {
    /// Without a tempo in the file, 120 quarter notes a minute (Standard MIDI
    /// Files 1.0).
    pub const DEFAULT_TEMPO: f64 = 120.0;

    /// Slowest and fastest tempo that is kept, quarter notes a minute: what
    /// the three bytes of a MIDI file's tempo event can say.
    pub const TEMPOS: (f64, f64) = (60_000_000.0 / 16_777_215.0, 60_000_000.0);

    /// One tempo (quarter notes a minute) and one metre throughout.
    pub fn constant(tempo: f64, metre: Metre) -> Self {
        Self::new(&[(0.0, tempo)], &[(Ticks::ZERO, metre)])
    }

    /// From changes of tempo `(quarter note, quarter notes a minute)` and of
    /// metre `(tick, metre)`, in any order; of several at one time the last
    /// counts. A change of metre inside a bar starts a new bar. What is not a
    /// number is passed over.
    pub fn new(tempos: &[(f64, f64)], metres: &[(Ticks, Metre)]) -> Self {
        Self { tempos: tempo_points(tempos), bars: bar_points(metres) }
    }

    /// The bars of a chart, at its tempo or, if it names none, at `tempo`. A
    /// pick-up lies at the end of a full bar, where it is counted.
    pub fn of_song(song: &Song, tempo: f64) -> Self {
        let mut bars: Vec<Place> = Vec::new();
        for (n, bar) in song.bars().iter().enumerate() {
            let line = song.bar_span(n).map_or(bar.at, |(line, _)| line);
            let number = song.place(bar.at).number;
            let follows = bars.last().is_some_and(|last| {
                let place = last.of(line);
                last.metre == bar.metre && place.bar == line && place.number == number
            });
            if !follows {
                bars.push(Place { bar: line, metre: bar.metre, number });
            }
        }
        let tempo = song.tempo.unwrap_or(tempo);
        Self { tempos: tempo_points(&[(0.0, tempo)]), bars }
    }

    /// Seconds from the start of the song to `at`.
    pub fn seconds(&self, at: Ticks) -> f64 {
        self.seconds_of_beat(at.beats())
    }

    /// Seconds from the start of the song to a quarter note and its fraction.
    pub fn seconds_of_beat(&self, beat: f64) -> f64 {
        let point = self.point(|point| point.beat <= beat);
        point.seconds + (beat - point.beat) * 60.0 / point.tempo
    }

    /// The quarter note, with its fraction, at `seconds` from the start.
    pub fn beat_at(&self, seconds: f64) -> f64 {
        let point = self.point(|point| point.seconds <= seconds);
        point.beat + (seconds - point.seconds) * point.tempo / 60.0
    }

    /// The tick nearest to `seconds` from the start.
    pub fn tick_at(&self, seconds: f64) -> Ticks {
        Ticks::nearest(self.beat_at(seconds))
    }

    /// The frame nearest to `at`, at `rate` frames a second.
    pub fn frame(&self, at: Ticks, rate: f64) -> i64 {
        (self.seconds(at) * rate).round() as i64
    }

    /// The tick nearest to a frame, at `rate` frames a second.
    pub fn tick_at_frame(&self, frame: i64, rate: f64) -> Ticks {
        self.tick_at(frame as f64 / rate)
    }

    /// Quarter notes a minute at `at`.
    pub fn tempo(&self, at: Ticks) -> f64 {
        self.point(|point| point.beat <= at.beats()).tempo
    }

    /// The bar that `at` lies in.
    pub fn place(&self, at: Ticks) -> Place {
        let index = self.bars.partition_point(|bar| bar.bar <= at).saturating_sub(1);
        let first = Place::first(Metre::COMMON);
        self.bars.get(index).copied().unwrap_or(first).of(at)
    }

    /// The clock of a moving host at a frame, `rate` frames a second.
    pub fn transport_at(&self, frame: i64, rate: f64) -> Transport {
        let seconds = frame as f64 / rate;
        let point = self.point(|point| point.seconds <= seconds);
        let beat = point.beat + (seconds - point.seconds) * point.tempo / 60.0;
        let place = self.place(Ticks::nearest(beat));
        Transport {
            playing: true,
            beat,
            tempo: point.tempo,
            metre: place.metre,
            bar: place.bar.beats(),
        }
    }

    /// The first frame after `frame` at which tempo or metre change, so that a
    /// block can end there.
    pub fn next_change(&self, frame: i64, rate: f64) -> Option<i64> {
        let first_at = |seconds: f64| (seconds * rate).ceil() as i64;
        let tempo = |point: &TempoPoint| first_at(point.seconds);
        let bar = |bar: &Place| first_at(self.seconds(bar.bar));
        // Both rise; what goes before the first of each is as it starts.
        let (tempos, bars) =
            (self.tempos.get(1..).unwrap_or(&[]), self.bars.get(1..).unwrap_or(&[]));
        let next_tempo = tempos.get(tempos.partition_point(|point| tempo(point) <= frame));
        let next_bar = bars.get(bars.partition_point(|place| bar(place) <= frame));
        [next_tempo.map(tempo), next_bar.map(bar)].into_iter().flatten().min()
    }

    /// Changes of tempo, `(quarter note, quarter notes a minute)`.
    pub fn tempos(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.tempos.iter().map(|point| (point.beat, point.tempo))
    }

    /// Changes of metre, and bars that are not as long as theirs.
    pub fn metres(&self) -> impl Iterator<Item = Place> + '_ {
        self.bars.iter().copied()
    }

    /// The last point before which `holds` holds, or the first.
    fn point(&self, holds: impl FnMut(&TempoPoint) -> bool) -> TempoPoint {
        let index = self.tempos.partition_point(holds).saturating_sub(1);
        self.tempos.get(index).copied().unwrap_or(TempoPoint {
            beat: 0.0,
            seconds: 0.0,
            tempo: Self::DEFAULT_TEMPO,
        })
    }
}

fn tempo_points(changes: &[(f64, f64)]) -> Vec<TempoPoint> {
    let mut changes: Vec<_> =
        changes.iter().copied().filter(|(beat, tempo)| beat.is_finite() && tempo > &0.0).collect();
    changes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let start = TempoPoint { beat: 0.0, seconds: 0.0, tempo: Timeline::DEFAULT_TEMPO };
    let mut points = vec![start];
    for (beat, tempo) in changes {
        let tempo = tempo.clamp(Timeline::TEMPOS.0, Timeline::TEMPOS.1);
        let Some(last) = points.last_mut() else { break };
        if beat <= last.beat {
            last.tempo = tempo;
        } else if tempo != last.tempo {
            let seconds = last.seconds + (beat - last.beat) * 60.0 / last.tempo;
            points.push(TempoPoint { beat, seconds, tempo });
        }
    }
    points
}

fn bar_points(changes: &[(Ticks, Metre)]) -> Vec<Place> {
    let mut changes = changes.to_vec();
    changes.sort_by_key(|(at, _)| *at);
    let mut bars = vec![Place::first(Metre::COMMON)];
    for (at, metre) in changes {
        let Some(last) = bars.last_mut() else { break };
        if at <= last.bar {
            last.metre = metre;
        } else if metre != last.metre {
            let place = last.of(at);
            // A bar that is cut short by the change still was one.
            let number = place.number + i64::from(place.bar != at);
            bars.push(Place { bar: at, metre, number });
        }
    }
    bars
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use sinistra_core::foresee::SongBar;

    fn metre(beats: u8, unit: u8) -> Metre {
        Metre::new(beats, unit).expect("a metre")
    }

    #[test]
    fn a_quarter_note_at_120_lasts_half_a_second() {
        let line = Timeline::constant(120.0, Metre::COMMON);
        assert_eq!(line.seconds(Ticks(960)), 0.5);
        assert_eq!(line.frame(Ticks(960), 48_000.0), 24_000);
        assert_eq!(line.tick_at_frame(24_000, 48_000.0), Ticks(960));
        assert_eq!(line.seconds(Ticks(-960)), -0.5); // pre-roll
    }

    #[test]
    fn a_change_of_tempo_counts_from_where_it_stands() {
        let line = Timeline::new(&[(4.0, 60.0), (0.0, 120.0), (6.0, 240.0)], &[]);
        for (beat, seconds) in [(0.0, 0.0), (4.0, 2.0), (5.0, 3.0), (6.0, 4.0), (8.0, 4.5)] {
            assert_eq!(line.seconds_of_beat(beat), seconds, "beat {beat}");
            assert_eq!(line.beat_at(seconds), beat, "second {seconds}");
        }
        assert_eq!(line.next_change(0, 1000.0), Some(2000));
        assert_eq!(line.next_change(2000, 1000.0), Some(4000));
        assert_eq!(line.next_change(4000, 1000.0), None);
    }

    #[test]
    fn the_last_of_several_tempos_at_one_place_counts() {
        let line = Timeline::new(&[(0.0, 90.0), (0.0, 60.0)], &[]);
        assert_eq!(line.seconds_of_beat(1.0), 1.0);
    }

    #[test]
    fn bars_are_numbered_through_changes_of_metre() {
        let line = Timeline::new(
            &[],
            &[(Ticks(0), metre(4, 4)), (Ticks(7680), metre(3, 4)), (Ticks(9000), metre(6, 8))],
        );
        for (at, bar, number) in [
            (-1, -3840, -1),
            (0, 0, 0),
            (3839, 0, 0),
            (3840, 3840, 1),
            (7680, 7680, 2),
            (8999, 7680, 2),
            (9000, 9000, 3), // inside the bar of 3/4: cut short
            (9000 + 2880, 9000 + 2880, 4),
        ] {
            let place = line.place(Ticks(at));
            assert_eq!((place.bar.0, place.number), (bar, number), "tick {at}");
        }
    }

    #[test]
    fn a_pick_up_is_counted_at_the_end_of_a_bar() {
        let bar = |at| SongBar { at: Ticks(at), metre: metre(3, 4), written: 0 };
        let song =
            Song::new(vec![], vec![bar(-960), bar(0), bar(2880)], Ticks(5760)).expect("a song");
        let line = Timeline::of_song(&song, 100.0);
        assert_eq!(line.place(Ticks(-960)).bar, Ticks(-2880)); // on the third beat
        assert_eq!(line.place(Ticks(2880)).number, 1);
        assert_eq!(line.metres().count(), 1); // one metre throughout
        let transport = line.transport_at(0, 48_000.0);
        assert_eq!((transport.beat, transport.bar, transport.tempo), (0.0, 0.0, 100.0));
    }

    #[test]
    fn nonsense_is_passed_over() {
        let line = Timeline::new(&[(f64::NAN, 3.0), (1.0, f64::NAN), (2.0, -1.0), (3.0, 0.0)], &[]);
        assert_eq!(line, Timeline::constant(120.0, Metre::COMMON));
    }

    proptest! {
        #[test]
        fn seconds_and_ticks_turn_into_one_another(
            tempos in prop::collection::vec((0.0..500.0f64, 20.0..400.0f64), 0..20),
            at in -5_000i64..600_000,
        ) {
            let line = Timeline::new(&tempos, &[]);
            prop_assert_eq!(line.tick_at(line.seconds(Ticks(at))), Ticks(at));
            prop_assert!(line.seconds(Ticks(at + 1)) > line.seconds(Ticks(at)));
        }

        #[test]
        fn the_place_of_a_tick_holds_it(
            changes in prop::collection::vec((0i64..100_000, 1u8..=12, 0u32..4), 0..12),
            at in -10_000i64..120_000,
        ) {
            let changes: Vec<_> =
                changes.iter().map(|&(at, beats, unit)| (Ticks(at), metre(beats, 1 << unit))).collect();
            let place = Timeline::new(&[], &changes).place(Ticks(at));
            let offset = place.offset(Ticks(at));
            prop_assert!(offset >= Ticks::ZERO && offset < place.metre.bar());
        }
    }
}
