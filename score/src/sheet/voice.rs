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

/// Ticks of an eighth in a triplet.
const THIRD: i64 = Ticks::PER_BEAT / 3;

/// The nearest place that can be written: a sixteenth, or a third of a beat.
fn nearest(tick: i64) -> i64 {
    let to = |grid: i64| (tick + grid / 2).div_euclid(grid) * grid;
    let (sixteenth, third) = (to(grid::FINEST), to(THIRD));
    // What could be either is no triplet.
    if (tick - third).abs() + 20 < (tick - sixteenth).abs() { third } else { sixteenth }
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
        let room = (next - stroke.at).max(grid::FINEST);
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
    let thirds = thirds(strokes, metre, bar, end, first);
    let mut push = |from: i64, until: i64, stroke: Option<usize>, tied: (bool, bool)| {
        let (from, until) = (from - bar + first, until - bar + first);
        let pieces = pieces(metre, &thirds, (from, until), stroke.is_some());
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
        let (from, until) = (stroke.at.max(bar), stroke.until.min(end));
        if from >= until {
            continue;
        }
        push(at, from, None, (false, false));
        push(from, until, Some(index), (stroke.at < bar, stroke.until > end));
        at = until;
    }
    push(at, end, None, (false, false));
    for beat in thirds {
        let of_beat = |event: &&mut VoiceEvent| {
            event.triplet.is_some() && (beat..beat + Ticks::PER_BEAT).contains(&event.offset)
        };
        let mut three: Vec<&mut VoiceEvent> = events.iter_mut().filter(of_beat).collect();
        if let Some(first) = three.first_mut() {
            first.triplet = Some(Triplet::Start);
        }
        if three.len() > 1
            && let Some(last) = three.last_mut()
        {
            last.triplet = Some(Triplet::Stop);
        }
    }
    beam(&mut events, metre);
    events
}

/// Beats, as offsets in the bar, in which a stroke lies on a third.
fn thirds<N>(
    strokes: &[WrittenStroke<N>],
    metre: Metre,
    bar: i64,
    end: i64,
    first: i64,
) -> Vec<i64> {
    if metre.unit_ticks().0 != Ticks::PER_BEAT {
        return Vec::new();
    }
    let inside = strokes.iter().filter(|stroke| (bar..end).contains(&stroke.at));
    let mut beats: Vec<i64> = inside
        .map(|stroke| stroke.at - bar + first)
        .filter(|at| at % grid::FINEST != 0)
        .map(|at| at / Ticks::PER_BEAT * Ticks::PER_BEAT)
        .collect();
    beats.dedup();
    beats
}

/// A length and how it is written; whether it is part of a triplet.
type Piece = (i64, Option<Value>, bool);

/// The lengths, one after another, in which a note or rest is written that starts
/// and ends at these offsets.
fn pieces(metre: Metre, thirds: &[i64], (from, until): (i64, i64), sounds: bool) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut at = from;
    while at < until {
        let beat = thirds.iter().find(|beat| (**beat..**beat + Ticks::PER_BEAT).contains(&at));
        let end = match beat {
            Some(beat) => until.min(beat + Ticks::PER_BEAT),
            None => thirds.iter().copied().filter(|beat| *beat > at).fold(until, i64::min),
        };
        match beat {
            Some(_) if end - at < Ticks::PER_BEAT => {
                let one = |length: i64| (length, value::in_triplet(length), true);
                if end - at == 2 * THIRD && !sounds {
                    pieces.extend([one(THIRD), one(THIRD)]);
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
