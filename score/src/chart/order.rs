//! In which order the bars are played: repeats, endings, D.C., D.S., coda and fine.

use super::{Bar, Chart, Draft, JumpBack, JumpEnd, Problem, RoadSigns, problem};

/// The endings of one repeat: the passes of each, and its bars.
struct RepeatEndings {
    passes: Vec<u8>,
    from: usize,
    /// The bar with `:|`; `None` for a last ending that just goes on.
    to: Option<usize>,
}

/// The bars in the order in which they are played: repeats, and a jump back.
pub(super) fn order(draft: &Draft) -> Result<Vec<usize>, Problem> {
    let through = repeats(draft)?;
    let Some((from, back)) = jump(&draft.bars)? else { return Ok(through) };
    let bars = &draft.bars;
    let place = |wanted: fn(&RoadSigns) -> bool| bars.iter().position(|bar| wanted(&bar.signs));
    let target = match back.to_segno {
        true => place(|signs| signs.segno),
        false => Some(usize::from(draft.pick_up.is_some())),
    };
    let last = through.iter().rposition(|index| *index == from).unwrap_or(through.len() - 1);
    let mut order = through[..=last].to_vec();
    let until = match back.until {
        JumpEnd::End => bars.len() - 1,
        JumpEnd::Fine => place(|signs| signs.fine).unwrap_or(bars.len() - 1),
        JumpEnd::Coda => place(|signs| signs.to_coda).unwrap_or(from),
    };
    // After the jump no repeat is taken, and of the endings the last (common practice).
    order.extend(once(bars, target.unwrap_or(0), until));
    if back.until == JumpEnd::Coda {
        let coda = place(|signs| signs.coda).unwrap_or(bars.len());
        let behind = through.iter().position(|index| *index >= coda);
        order.extend(&through[behind.unwrap_or(through.len())..]);
    }
    bounded(&order, from)?;
    Ok(order)
}

/// From one bar to another without repeats, by the last of several endings.
fn once(bars: &[Bar], from: usize, to: usize) -> Vec<usize> {
    let mut order = Vec::new();
    let mut skipped = false;
    for (index, bar) in bars.iter().enumerate().take(to + 1).skip(from) {
        if !bar.ending.is_empty() {
            // Another ending behind this one's `:|` takes its place.
            let close = (index..bars.len()).find(|at| bars[*at].repeat_end.is_some());
            let next = close.and_then(|at| bars.get(at + 1));
            skipped = next.is_some_and(|next| !next.ending.is_empty());
        }
        if !skipped {
            order.push(index);
        }
        skipped &= bar.repeat_end.is_none();
    }
    order
}

/// The one jump back, and its bar; everything that it needs is there.
pub(crate) fn jump(bars: &[Bar]) -> Result<Option<(usize, JumpBack)>, Problem> {
    let all = |wanted: fn(&RoadSigns) -> bool| -> Vec<usize> {
        (0..bars.len()).filter(|at| wanted(&bars[*at].signs)).collect()
    };
    let of = [
        ("Segno", all(|signs| signs.segno)),
        ("Coda", all(|signs| signs.coda)),
        ("To Coda", all(|signs| signs.to_coda)),
        ("Fine", all(|signs| signs.fine)),
        ("D.C. or D.S.", all(|signs| signs.back.is_some())),
    ];
    for (name, places) in &of {
        if let [_, second, ..] = places[..] {
            let what = format!("a second {name}");
            return Err(problem(Some(second), &what, "a chart has one of each; write bars out"));
        }
    }
    let [segno, coda, to_coda, fine, back] = of.map(|(_, places)| places.first().copied());
    let Some((at, back)) = back.and_then(|at| Some((at, bars[at].signs.back?))) else {
        let lost = segno.or(coda).or(to_coda).or(fine);
        return lost.map_or(Ok(None), |at| {
            let what = "a sign for a jump, and no jump";
            Err(problem(Some(at), what, "write `D.C. al Fine`, `D.S. al Coda` or the like"))
        });
    };
    let missing = |what: &str, hint: &str| Err(problem(Some(at), what, hint));
    if back.to_segno && segno.is_none_or(|segno| segno > at) {
        return missing("D.S. goes back to a Segno, and none stands before", "write `Segno`");
    }
    match back.until {
        JumpEnd::Fine if fine.is_none() => missing("al Fine, and no `Fine`", "write `Fine`"),
        JumpEnd::Coda if to_coda.is_none_or(|from| from > at) => {
            missing("al Coda, and no `To Coda` before", "write `To Coda` where it is left")
        }
        JumpEnd::Coda if coda.is_none_or(|coda| coda <= at) => {
            missing("al Coda, and no `Coda` behind", "write `Coda` before the bars of the coda")
        }
        JumpEnd::Fine if at + 1 < bars.len() => Err(problem(
            Some(at + 1),
            "nothing leads to the bars behind `al Fine`",
            "leave them out, or write `al Coda`",
        )),
        _ => Ok(Some((at, back))),
    }
}

/// The bars with their repeats.
fn repeats(draft: &Draft) -> Result<Vec<usize>, Problem> {
    let bars = &draft.bars;
    let mut order = Vec::with_capacity(bars.len());
    // Without a `|:` a repeat goes back to the first full bar.
    let mut start = usize::from(draft.pick_up.is_some());
    let mut opened = None;
    let mut gone_on = None;
    let mut index = 0;
    while let Some(bar) = bars.get(index) {
        if bar.repeat_start {
            if let Some(before) = opened {
                return Err(unclosed(before));
            }
            (start, opened) = (index, Some(index));
        }
        if !bar.ending.is_empty() && gone_on != Some(index) {
            let endings = endings(bars, index)?;
            let last = endings.iter().flat_map(|ending| &ending.passes).max().copied();
            for pass in 1..=last.unwrap_or(0) {
                if pass > 1 {
                    order.extend(start..index);
                }
                if let Some(ending) = endings.iter().find(|e| e.passes.contains(&pass)) {
                    order.extend(ending.from..ending.to.map_or(ending.from, |to| to + 1));
                }
                bounded(&order, index)?;
            }
            let last = endings.last().map_or((index, None), |ending| (ending.from, ending.to));
            (index, gone_on) = match last {
                (_, Some(to)) => (to + 1, None),
                (from, None) => (from, Some(from)),
            };
            (start, opened) = (index, None);
            continue;
        }
        order.push(index);
        if let Some(times) = bar.repeat_end {
            for _ in 1..times {
                order.extend(start..=index);
                bounded(&order, index)?;
            }
            (start, opened) = (index + 1, None);
        }
        index += 1;
    }
    match opened {
        Some(before) => Err(unclosed(before)),
        None => Ok(order),
    }
}

fn unclosed(bar: usize) -> Problem {
    problem(
        Some(bar),
        "a repeat starts here and does not end before the next, or the end",
        "end it with `:|`; repeats do not stand inside repeats",
    )
}

fn bounded(order: &[usize], bar: usize) -> Result<(), Problem> {
    if order.len() <= Chart::MOST_BARS.1 {
        return Ok(());
    }
    let what = format!("with its repeats the chart is longer than {} bars", Chart::MOST_BARS.1);
    Err(problem(Some(bar), &what, "repeat less often"))
}

/// The endings that start at `first`, up to the one that goes on.
fn endings(bars: &[Bar], first: usize) -> Result<Vec<RepeatEndings>, Problem> {
    let mut endings: Vec<RepeatEndings> = Vec::new();
    let mut from = first;
    let mut told = 0;
    while let Some(bar) = bars.get(from).filter(|bar| !bar.ending.is_empty()) {
        for &pass in &bar.ending {
            if usize::from(pass) != told + 1 {
                return Err(problem(
                    Some(from),
                    &format!("ending {pass} comes where ending {} should", told + 1),
                    "endings are numbered from 1 without a gap, such as `| 1. G :| 2. C |`",
                ));
            }
            told += 1;
        }
        let close = (from..bars.len()).find(|&at| {
            let here = bars.get(at).is_some_and(|bar| bar.repeat_end.is_some());
            let next = bars.get(at + 1);
            here || next.is_none_or(|next| !next.ending.is_empty() || next.repeat_start)
        });
        let to = close.filter(|&at| bars.get(at).is_some_and(|bar| bar.repeat_end.is_some()));
        if to.and_then(|at| bars.get(at)).is_some_and(|bar| bar.repeat_end != Some(2)) {
            return Err(problem(to, "a count and endings both", "the endings say how often"));
        }
        endings.push(RepeatEndings { passes: bar.ending.clone(), from, to });
        match to {
            Some(at) => from = at + 1,
            None => break,
        }
    }
    if endings.len() < 2 || endings[..endings.len() - 1].iter().any(|e| e.to.is_none()) {
        return Err(problem(
            Some(first),
            "an ending without another",
            "end the first with `:|` and start the next behind it: `| 1. G :| 2. C |`",
        ));
    }
    Ok(endings)
}
