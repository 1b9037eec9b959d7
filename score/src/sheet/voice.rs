//! One hand in one bar: strokes and rests with the values they are written in.

use super::grid;
use super::value::{self, Value};
use sinistra_core::time::{Metre, Ticks};

/// A stroke of one hand: notes struck together.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct WrittenStroke<N> {
    pub at: i64,
    pub until: i64,
    /// From low to high.
    pub notes: Vec<N>,
}

/// A written stroke or rest.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct VoiceEvent {
    /// After the bar line.
    pub offset: i64,
    pub length: i64,
    /// `None` if no single value has this length.
    pub value: Option<Value>,
    /// Its part in a triplet.
    pub triplet: Option<Triplet>,
    /// Index of the stroke; `None` for a rest.
    pub stroke: Option<usize>,
    /// Whether it goes on from the event before, or into the next.
    pub tied_from: bool,
    pub tied_on: bool,
    /// A level each.
    pub beams: Vec<Beam>,
}

/// A note's or rest's part in a triplet: three in the time of two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Triplet {
    Start,
    Inside,
    Stop,
}

/// Ticks of an eighth in a triplet, and of a sixteenth.
const THIRD: i64 = Ticks::PER_BEAT / 3;
const SIXTH: i64 = Ticks::PER_BEAT / 6;
/// What is no nearer to a sixth of a beat than this is not meant for it.
const MEANT: i64 = 16;

/// The nearest place that can be written: a sixteenth, a third or a sixth of a beat.
fn nearest(tick: i64) -> i64 {
    let to = |grid: i64| (tick + grid / 2).div_euclid(grid) * grid;
    let (sixteenth, third, sixth) = (to(grid::FINEST), to(THIRD), to(SIXTH));
    // What could be either is no triplet.
    match (tick - sixth).abs() <= MEANT {
        true => sixth,
        false if (tick - third).abs() + 20 < (tick - sixteenth).abs() => third,
        false => sixteenth,
    }
}

/// A note's part in a beam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beam {
    Begin,
    Continue,
    End,
    ForwardHook,
    BackwardHook,
}

impl Beam {
    /// MusicXML 4.0 `beam-value`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Begin => "begin",
            Self::Continue => "continue",
            Self::End => "end",
            Self::ForwardHook => "forward hook",
            Self::BackwardHook => "backward hook",
        }
    }
}

/// Moves strokes to the finest written grid and lets each sound until the
/// next where the player does not mean a rest.
pub(super) fn settle<N>(strokes: Vec<WrittenStroke<N>>, end: i64) -> Vec<WrittenStroke<N>> {
    settle_among(strokes, &[], end)
}

/// The same for one of two voices: a note also gives way to a stroke of the other, at
/// one of `others` in time order, unless it is meant to sound on.
pub(super) fn settle_among<N>(
    mut strokes: Vec<WrittenStroke<N>>,
    others: &[i64],
    end: i64,
) -> Vec<WrittenStroke<N>> {
    let own = strokes.iter().skip(1).map(|s| nearest(s.at)).chain([end]);
    let gives_way = |(stroke, own): (&WrittenStroke<N>, i64)| {
        let other = others.get(others.partition_point(|at| *at <= stroke.at));
        let other = other.filter(|other| stroke.until <= **other + grid::FINEST);
        other.map_or(own, |other| nearest(*other).min(own))
    };
    let nexts: Vec<i64> = strokes.iter().zip(own).map(gives_way).collect();
    for (stroke, next) in strokes.iter_mut().zip(nexts) {
        let held = stroke.until - stroke.at;
        stroke.at = nearest(stroke.at);
        let room = (next - stroke.at).max(SIXTH);
        // A hand lets go a little before it strikes again; half a beat and
        // more of silence is meant as a rest.
        let silence = room - held;
        let eighth = Ticks::PER_BEAT / 2;
        stroke.until = if silence < eighth || held * 2 >= room {
            stroke.at + room
        } else {
            // In a triplet's thirds to the end of the beat, in eighths from there.
            let beat = Ticks::PER_BEAT - stroke.at.rem_euclid(Ticks::PER_BEAT);
            let in_thirds = stroke.at.rem_euclid(grid::FINEST) != 0;
            let (unit, from) = match in_thirds {
                true if held <= beat => (THIRD, 0),
                true => (eighth, beat),
                false => (eighth, 0),
            };
            let over = (held - from).max(1);
            let up = over.div_euclid(unit) + i64::from(over.rem_euclid(unit) > 60);
            let least = i64::from(from == 0);
            (stroke.at + from + up.max(least) * unit).min(stroke.at + room)
        };
    }
    // Of two on one place of the grid the later is kept.
    let mut kept: Vec<WrittenStroke<N>> = Vec::with_capacity(strokes.len());
    for stroke in strokes {
        if kept.last().is_some_and(|last| last.at == stroke.at) {
            kept.pop();
        }
        kept.push(stroke);
    }
    kept
}

/// The events of the bar from `bar` to `end` (ticks); `first` is the offset
/// in the metre at which it starts (later than 0 in a pick-up).
pub(super) fn bar<N>(
    strokes: &[WrittenStroke<N>],
    metre: Metre,
    (bar, end): (i64, i64),
    first: i64,
) -> Vec<VoiceEvent> {
    let mut events: Vec<VoiceEvent> = Vec::new();
    let mut at = bar;
    let inside = strokes.iter().map(|stroke| stroke.at).filter(|at| (bar..end).contains(at));
    let offsets: Vec<i64> = inside.map(|at| at - bar + first).collect();
    let threes = threes(&offsets, metre);
    let mut push = |from: i64, until: i64, stroke: Option<usize>, tied: (bool, bool)| {
        let (from, until) = (from - bar + first, until - bar + first);
        let pieces = pieces(metre, &threes, (from, until), stroke.is_some());
        let last = pieces.len().saturating_sub(1);
        let mut offset = from;
        for (index, (length, value, in_three)) in pieces.into_iter().enumerate() {
            let sounds = stroke.is_some();
            events.push(VoiceEvent {
                offset,
                length,
                value,
                triplet: in_three.then_some(Triplet::Inside),
                stroke,
                tied_from: sounds && (index > 0 || tied.0),
                tied_on: sounds && (index < last || tied.1),
                beams: Vec::new(),
            });
            offset += length;
        }
    };
    for (index, stroke) in strokes.iter().enumerate() {
        let next = strokes.get(index + 1).map_or(end, |next| next.at.min(end));
        let until = bar - first + writable(stroke.until - bar + first, &threes);
        let (from, until) = (stroke.at.max(bar), until.min(next.max(stroke.until)).min(end));
        if from >= until {
            continue;
        }
        push(at, from, None, (false, false));
        push(from, until, Some(index), (stroke.at < bar, stroke.until > end));
        at = until;
    }
    push(at, end, None, (false, false));
    for three in threes {
        let of_three = |event: &&mut VoiceEvent| event.triplet.is_some() && three.has(event.offset);
        let mut all: Vec<&mut VoiceEvent> = events.iter_mut().filter(of_three).collect();
        if let Some(first) = all.first_mut() {
            first.triplet = Some(Triplet::Start);
        }
        if all.len() > 1
            && let Some(last) = all.last_mut()
        {
            last.triplet = Some(Triplet::Stop);
        }
    }
    beam(&mut events, metre);
    events
}

/// A stretch of the bar that is written in three: a beat, or half of one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct ThreeInTwo {
    /// From the bar line.
    at: i64,
    length: i64,
}

impl ThreeInTwo {
    const fn end(self) -> i64 {
        self.at + self.length
    }

    const fn has(self, offset: i64) -> bool {
        self.at <= offset && offset < self.end()
    }
}

/// The stretches in which a stroke lies on a third: the count of the metre where all
/// that is struck in it does, else halves of it, down to an eighth.
fn threes(offsets: &[i64], metre: Metre) -> Vec<ThreeInTwo> {
    const EIGHTH: i64 = Ticks::PER_BEAT / 2;
    let unit = metre.unit_ticks().0.max(EIGHTH);
    let mut found: Vec<ThreeInTwo> = Vec::new();
    for at in offsets.iter().copied().filter(|at| at % grid::FINEST != 0) {
        if found.last().is_some_and(|last| last.has(at)) {
            continue;
        }
        let free = |three: &ThreeInTwo| found.last().is_none_or(|last| last.end() <= three.at);
        let of = |length: i64| ThreeInTwo { at: at / length * length, length };
        let fits = |three: &ThreeInTwo| {
            let inside = offsets.iter().filter(|offset| three.has(**offset));
            let mut into = inside.map(|offset| offset - three.at);
            free(three) && into.all(|into| into % (three.length / 3) == 0)
        };
        let lengths = std::iter::successors(Some(unit), |length| Some(length / 2));
        let mut all = lengths.take_while(|length| *length >= EIGHTH).map(of);
        let three = all.clone().find(fits).or_else(|| all.find(free));
        found.extend(three);
    }
    found
}

/// Where a note that is let go at this offset ends on the page: a sixteenth, or a third
/// where it is written in three.
fn writable(offset: i64, threes: &[ThreeInTwo]) -> i64 {
    let grid = threes
        .iter()
        .find(|three| three.has(offset))
        .map_or((0, grid::FINEST), |three| (three.at, three.length / 3));
    let into = offset - grid.0;
    grid.0 + (into + grid.1 - 1).div_euclid(grid.1) * grid.1
}

/// A length and how it is written; whether it is part of a triplet.
type Piece = (i64, Option<Value>, bool);

/// The lengths, one after another, in which a note or rest is written that starts
/// and ends at these offsets.
fn pieces(
    metre: Metre,
    threes: &[ThreeInTwo],
    (from, until): (i64, i64),
    sounds: bool,
) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut at = from;
    while at < until {
        let three = threes.iter().find(|three| three.has(at));
        let next = || threes.iter().map(|three| three.at).filter(|start| *start > at);
        let end = three.map_or_else(|| next().fold(until, i64::min), |t| until.min(t.end()));
        match three {
            Some(three) if end - at < three.length => {
                let one = |length: i64| (length, value::in_triplet(length), true);
                let third = three.length / 3;
                if end - at == 2 * third && !sounds {
                    pieces.extend([one(third), one(third)]);
                } else {
                    pieces.push(one(end - at));
                }
            }
            _ => {
                let written = if sounds { value::note } else { value::rest };
                let whole = written(metre, at, end);
                pieces
                    .extend(whole.into_iter().map(|length| (length, value::value(length), false)));
            }
        }
        at = end;
    }
    pieces
}

/// Joins short notes inside a felt beat; four even eighths inside half a bar
/// of 4/4 (common practice).
fn beam(events: &mut [VoiceEvent], metre: Metre) {
    let beats = grid::beats(metre);
    let flags = |event: &VoiceEvent| {
        let flags = event.value.map_or(0, |value| value.flags);
        if event.stroke.is_some() { flags } else { 0 }
    };
    let eighth = Ticks::PER_BEAT / 2;
    let half = metre.bar().0 / 2;
    let even_half = |offset: i64| {
        let from = offset / half * half;
        let inside = |e: &&VoiceEvent| (from..from + half).contains(&e.offset);
        let all: Vec<_> = events.iter().filter(inside).collect();
        all.len() == 4 && all.iter().all(|e| e.length == eighth && e.stroke.is_some())
    };
    let groups: Vec<i64> = events
        .iter()
        .map(|event| {
            if metre == Metre::COMMON && even_half(event.offset) {
                -1 - event.offset / half
            } else {
                beats.iter().filter(|beat| **beat <= event.offset).count() as i64
            }
        })
        .collect();
    let mut from = 0;
    while from < events.len() {
        let mut to = from;
        while to < events.len() && groups[to] == groups[from] && flags(&events[to]) > 0 {
            to += 1;
        }
        if to - from > 1 {
            let levels: Vec<u8> = events[from..to].iter().map(flags).collect();
            for (index, event) in events[from..to].iter_mut().enumerate() {
                event.beams = beams(&levels, index);
            }
        }
        from = to.max(from + 1);
    }
}

/// The beams of note `index` in a group with these flags.
fn beams(flags: &[u8], index: usize) -> Vec<Beam> {
    let joins = |other: Option<usize>, level: u8| {
        other.and_then(|other| flags.get(other)).is_some_and(|flags| *flags >= level)
    };
    (1..=flags[index])
        .map(|level| match (joins(index.checked_sub(1), level), joins(Some(index + 1), level)) {
            (false, true) => Beam::Begin,
            (true, true) => Beam::Continue,
            (true, false) => Beam::End,
            (false, false) if index == 0 => Beam::ForwardHook,
            (false, false) => Beam::BackwardHook,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(metre: Metre, strokes: &[(i64, i64)]) -> Vec<(i64, i64, bool, Vec<&'static str>)> {
        let strokes: Vec<WrittenStroke<()>> = strokes
            .iter()
            .map(|(at, until)| WrittenStroke { at: *at, until: *until, notes: vec![()] })
            .collect();
        let strokes = settle(strokes, metre.bar().0);
        bar(&strokes, metre, (0, metre.bar().0), 0)
            .into_iter()
            .map(|e| {
                let beams = e.beams.iter().map(|beam| beam.name()).collect();
                (e.offset, e.length, e.stroke.is_some(), beams)
            })
            .collect()
    }

    #[test]
    fn roots_and_ands_are_beamed_in_fours() {
        let strokes: Vec<_> = (0..8).map(|n| (n * 480, n * 480 + 430)).collect();
        let beams: Vec<_> = written(Metre::COMMON, &strokes).into_iter().map(|e| e.3[0]).collect();
        let four = ["begin", "continue", "continue", "end"];
        assert_eq!(beams, [four, four].concat());
    }

    #[test]
    fn thirds_of_a_beat_are_triplets() {
        let strokes: Vec<WrittenStroke<()>> =
            [(0, 310), (320, 630), (640, 950), (960, 1900), (1920, 2550), (2560, 2870)]
                .map(|(at, until)| WrittenStroke { at, until, notes: vec![()] })
                .to_vec();
        let strokes = settle(strokes, 3840);
        let events = bar(&strokes, Metre::COMMON, (0, 3840), 0);
        let told: Vec<_> = events
            .iter()
            .map(|e| (e.offset, e.length, e.value.map(|v| v.name), e.triplet))
            .collect();
        use Triplet::{Inside, Start, Stop};
        assert_eq!(
            told,
            [
                (0, 320, Some("eighth"), Some(Start)),
                (320, 320, Some("eighth"), Some(Inside)),
                (640, 320, Some("eighth"), Some(Stop)),
                (960, 960, Some("quarter"), None),
                (1920, 640, Some("quarter"), Some(Start)),
                (2560, 320, Some("eighth"), Some(Stop)),
                (2880, 960, Some("quarter"), None), // a rest
            ]
        );
        let beams: Vec<_> = events.iter().map(|e| e.beams.len()).collect();
        assert_eq!(beams, [1, 1, 1, 0, 0, 0, 0]);
    }

    #[test]
    fn sixths_of_a_beat_are_triplets_of_sixteenths_in_every_metre() {
        let told = |metre: Metre, strokes: &[(i64, i64)]| {
            let stroke = |(at, until): &(i64, i64)| WrittenStroke {
                at: *at,
                until: *until,
                notes: vec![()],
            };
            let end = metre.bar().0;
            let strokes = settle(strokes.iter().map(stroke).collect(), end);
            let events = bar(&strokes, metre, (0, end), 0);
            assert!(events.iter().all(|event| event.value.is_some()), "{events:?}");
            let three = |event: &VoiceEvent| event.triplet.is_some();
            let rest = |event: &VoiceEvent| event.stroke.is_none();
            let name = |event: &VoiceEvent| event.value.map_or("", |value| value.name);
            let event = |e: &VoiceEvent| (e.offset, name(e), three(e), rest(e));
            events.iter().map(event).collect::<Vec<_>>()
        };
        let six: Vec<_> = (0..6).map(|n| (n * 160, n * 160 + 150)).chain([(960, 3800)]).collect();
        let events = told(Metre::COMMON, &six);
        let sixteenths: Vec<_> = (0..6).map(|n| (n * 160, "16th", true, false)).collect();
        assert_eq!(events[..6], sixteenths);
        // Half a beat of them, then an eighth; and one left out.
        let mixed = [(0, 150), (320, 470), (480, 950), (960, 1900), (1920, 3800)];
        assert_eq!(
            told(Metre::COMMON, &mixed)[..4],
            [
                (0, "eighth", true, false),
                (320, "16th", true, false),
                (480, "eighth", false, false),
                (960, "quarter", false, false)
            ]
        );
        // "1 trip let" in 6/8 is an eighth in three; in 2/2 a half.
        let six_eight = Metre::new(6, 8).expect("a metre");
        let events =
            told(six_eight, &[(0, 150), (160, 310), (320, 470), (480, 1400), (1440, 2800)]);
        assert_eq!(events[..3], [0, 160, 320].map(|at| (at, "16th", true, false)));
        assert!(events[3..].iter().all(|event| !event.2), "{events:?}");
        let two_two = Metre::new(2, 2).expect("a metre");
        let events = told(two_two, &[(0, 600), (640, 1200), (1280, 1900), (1920, 3800)]);
        assert_eq!(events[..3], [0, 640, 1280].map(|at| (at, "quarter", true, false)));
        // What is near by chance is no triplet; what ends in its midst is written whole.
        assert_eq!(told(Metre::COMMON, &[(0, 200), (200, 900), (960, 3800)])[1].0, 240);
        told(Metre::COMMON, &[(160, 300), (960, 3800)]);
        told(six_eight, &[(0, 150), (320, 400), (1440, 2800)]);
    }

    #[test]
    fn a_dotted_eighth_carries_its_sixteenth() {
        let written = written(Metre::COMMON, &[(0, 700), (720, 950), (960, 1900), (1920, 3800)]);
        assert_eq!(written[0].3, ["begin"]);
        assert_eq!(written[1].3, ["end", "backward hook"]);
        assert_eq!(written[2], (960, 960, true, vec![]));
    }

    #[test]
    fn silence_is_written_as_rests() {
        let metre = Metre::new(3, 4).expect("a metre");
        let lengths: Vec<_> =
            written(metre, &[(0, 430), (1920, 2800)]).into_iter().map(|e| (e.1, e.2)).collect();
        assert_eq!(lengths, [(480, true), (480, false), (960, false), (960, true)]);
    }
}
