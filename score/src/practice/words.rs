//! The verdict in the words of a lesson.

use super::figures::{NoteTally, mean_and_spread};
use super::manner::Manner;
use super::target::{Hand, Target};
use super::verdict::{Extra, NoteVerdict, Outcome, Verdict};
use super::whole::Whole;
use crate::count::Syllable;
use crate::spelling::spelled;
use sinistra_core::chord::Symbol;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;

/// What a teacher would say, most important first.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct TeacherWords {
    /// The sentence that matters most, and the count of notes.
    pub summary: String,
    /// Up to three bars to work on, the worst first, with what went wrong there.
    pub work: Vec<String>,
    /// Habits: what happens again and again.
    pub habits: Vec<String>,
    /// Single places, in the order of the piece.
    pub places: Vec<String>,
    /// What is safe, and what to work on.
    pub advice: Vec<String>,
}

/// Puts a verdict into words; notes are spelled in the target's key.
#[must_use]
pub fn words(target: &Target, verdict: &Verdict) -> TeacherWords {
    let habits = habits(verdict);
    let all = places(target.key, verdict, &habits);
    TeacherWords {
        summary: summary(verdict),
        work: work(&all),
        places: runs(all),
        advice: advice(verdict),
        habits: habits.into_iter().map(|habit| habit.said).collect(),
    }
}

fn summary(verdict: &Verdict) -> String {
    let all = &verdict.figures.all;
    let keys = verdict.keys_right();
    let tempo = verdict.figures.tempo[0];
    let mut said = format!("{keys} of {} notes right, {} in time", all.asked, all.right);
    if !verdict.extras.is_empty() {
        said += &format!(", {} too many", verdict.extras.len());
    }
    said += &format!("; tempo {tempo:.0}");
    if verdict.is_clean() {
        said += ": a clean round";
    }
    match first(verdict) {
        Some(first) => format!("{first}. {said}."),
        None => said + ".",
    }
}

/// What a teacher would say first, where it holds of the whole.
fn first(verdict: &Verdict) -> Option<String> {
    let Whole { octaves, hand, beats_late, stopped_after } = verdict.whole;
    let all = &verdict.figures.all;
    let who = match hand {
        None => "All",
        Some(Hand::Left) => "The left hand is",
        Some(Hand::Right) => "The right hand is",
    };
    let rest = if verdict.keys_right() == all.asked && verdict.extras.is_empty() {
        "else right"
    } else {
        "the rest is told below"
    };
    if octaves != 0 {
        let side = if octaves > 0 { "high" } else { "low" };
        let many = if octaves.abs() == 1 {
            "an octave".into()
        } else {
            format!("{} octaves", octaves.abs())
        };
        return Some(format!("{who} {many} too {side}, {rest}"));
    }
    if beats_late != 0 {
        let side = if beats_late > 0 { "late" } else { "early" };
        let many = if beats_late.abs() == 1 {
            "a beat".into()
        } else {
            format!("{} beats", beats_late.abs())
        };
        let who = match hand {
            None => "You",
            Some(Hand::Left) => "Your left hand",
            Some(Hand::Right) => "Your right hand",
        };
        let then = if rest == "else right" { "from there all was right" } else { rest };
        return Some(format!("{who} entered {many} {side}; {then}"));
    }
    if let Some(bar) = stopped_after {
        return Some(format!("You stopped after {}", self::bar(bar)));
    }
    // Of a take with wrong notes the notes are told first.
    if verdict.keys_right() * 10 < all.asked * 9 || verdict.is_clean() {
        return None;
    }
    verdict.manners.first().map(|manner| said_of(*manner, verdict))
}

/// A manner in a teacher's words.
fn said_of(manner: Manner, verdict: &Verdict) -> String {
    let figures = &verdict.figures;
    let [_, start, end] = figures.tempo;
    let tempo = format!("{start:.0} at the start, {end:.0} at the end");
    match manner {
        Manner::Rushed => format!("You rushed: {tempo}"),
        Manner::SlowedDown => format!("You slowed down: {tempo}"),
        Manner::UnsteadyBeat => {
            "Your beat is unsteady: count aloud, or play with the metronome".into()
        }
        Manner::UnsteadyAnds => {
            "Your \u{201c}ands\u{201d} are unsteady: now early, now late between the beats".into()
        }
        Manner::LateAnds => "Your \u{201c}ands\u{201d} come late".into(),
        Manner::EarlyAnds => "Your \u{201c}ands\u{201d} come early".into(),
        Manner::HandsApart => {
            let behind = figures.hands.is_some_and(|hands| hands.mean_ms > 0.0);
            let side = if behind { "after" } else { "before" };
            format!("Your hands are not together: the left comes {side} the right")
        }
        Manner::AccentsReversed => "Your accents fall on the weak places: lean on the one, and \
            lighten the \u{201c}and\u{201d}"
            .into(),
        Manner::Uneven => {
            "Your touch is uneven: some notes are much louder than their neighbours".into()
        }
        Manner::Short => {
            let part = figures.touch.map_or(0.0, |touch| touch.length * 100.0);
            format!("Your notes are too short: held for {part:.0} % of their length")
        }
        Manner::PedalHeld => {
            "The pedal blurs your chords: change it as each new chord is struck".into()
        }
    }
}

/// A place with what went wrong there.
struct WrongPlace {
    bar: i64,
    said: String,
    /// The note was asked for and nothing answered it.
    missed: bool,
}

/// The three bars with the most faults, with up to three of them each.
fn work(places: &[WrongPlace]) -> Vec<String> {
    let mut bars: Vec<(i64, Vec<&WrongPlace>)> = Vec::new();
    for place in places {
        match bars.iter_mut().find(|(bar, _)| *bar == place.bar) {
            Some((_, of)) => of.push(place),
            None => bars.push((place.bar, vec![place])),
        }
    }
    bars.sort_by_key(|(bar, of)| (std::cmp::Reverse(of.len()), *bar));
    bars.truncate(3);
    let said = |(bar, of): &(i64, Vec<&WrongPlace>)| {
        if of.len() > 6 && of.iter().all(|place| place.missed) {
            return missing(&self::bar(*bar), of.len());
        }
        let start = format!("{}, ", self::bar(*bar));
        let each = of.iter().take(3).map(|p| p.said.strip_prefix(&start).unwrap_or(&p.said));
        let more = if of.len() > 3 { format!(" and {} more", of.len() - 3) } else { String::new() };
        format!("{}: {}{more}", self::bar(*bar), each.collect::<Vec<_>>().join("; "))
    };
    bars.iter().map(said).collect()
}

fn missing(place: &str, notes: usize) -> String {
    format!("{place}: {notes} notes missing")
}

/// Lines for the places; many missing in a row are one line.
fn runs(places: Vec<WrongPlace>) -> Vec<String> {
    const RUN: usize = 6;
    let mut lines = Vec::new();
    for run in places.chunk_by(|a, b| a.missed && b.missed) {
        match run {
            [first, .., last] if first.missed && run.len() >= RUN => {
                let span: Vec<i64> = (first.bar..=last.bar).collect();
                lines.push(missing(&bars(&span), run.len()));
            }
            _ => lines.extend(run.iter().map(|place| place.said.clone())),
        }
    }
    lines
}

/// Something that happens again and again, and which notes it explains.
struct RepeatedFault {
    said: String,
    part: Option<Syllable>,
    mean_ms: f64,
}

fn habits(verdict: &Verdict) -> Vec<RepeatedFault> {
    let mut habits = Vec::new();
    let allowed = verdict.tolerance.mean_ms;
    let left = || verdict.notes.iter().filter(|n| n.note.hand == Hand::Left);
    for (part, name) in
        [(Syllable::And, "\u{201c}ands\u{201d}"), (Syllable::E, "e's"), (Syllable::A, "a's")]
    {
        let of_part = || left().filter(|n| n.note.count.part == part && !n.note.on_pulse);
        let tally = NoteTally::of(of_part());
        if tally.played() < 4 || tally.mean_ms.abs() < allowed {
            continue;
        }
        let times = |passing: bool| -> Vec<f64> {
            let chosen = of_part().filter(|n| (n.note.role == Some(Role::Passing)) == passing);
            chosen.filter_map(|n| n.late_ms).collect()
        };
        let (passing, others) = (times(true), times(false));
        let further = mean_and_spread(&passing).0 - mean_and_spread(&others).0;
        let sign = tally.mean_ms.signum();
        let mut said = format!("Your {name} come {} on average", off(tally.mean_ms));
        if passing.len() >= 2 && others.len() >= 2 && further * sign > allowed / 2.0 {
            let when = if sign > 0.0 { "later" } else { "earlier" };
            let mean = mean_and_spread(&passing).0.abs();
            said += &format!(", and {when} ({mean:.0} ms) when the passing note comes");
        }
        habits.push(RepeatedFault { said: said + ".", part: Some(part), mean_ms: tally.mean_ms });
    }
    let plain = |said| RepeatedFault { said, part: None, mean_ms: 0.0 };
    if let Some(apart) = verdict.figures.strokes_apart_ms
        && apart > verdict.tolerance.together_ms
    {
        habits.push(plain(format!("Notes struck together lie {apart:.0} ms apart on average.")));
    }
    if let Some(hands) = verdict.figures.hands
        && hands.places >= 4
        && hands.mean_ms.abs() > allowed
    {
        let side = if hands.mean_ms > 0.0 { "behind" } else { "ahead of" };
        let by = hands.mean_ms.abs();
        habits.push(plain(format!("The left hand is {by:.0} ms {side} the right on average.")));
    }
    match verdict.figures.stops {
        0 => {}
        1 => habits.push(plain("You stopped or jumped once.".into())),
        n => habits.push(plain(format!("You stopped or jumped {n} times."))),
    }
    habits
}

fn off(ms: f64) -> String {
    format!("{:.0} ms {}", ms.abs(), if ms > 0.0 { "late" } else { "early" })
}

/// Single places that no habit explains.
fn places(key: WrittenKey, verdict: &Verdict, habits: &[RepeatedFault]) -> Vec<WrongPlace> {
    let explained = |n: &NoteVerdict| {
        habits.iter().filter(|h| h.part == Some(n.note.count.part)).any(|h| {
            let rest = n.late_ms.map_or(f64::INFINITY, |late| (late - h.mean_ms).abs());
            !n.note.on_pulse && rest <= verdict.tolerance.note_ms
        })
    };
    let mut lines: Vec<(usize, WrongPlace)> = Vec::new();
    // What follows a stop is told by the stop.
    let played = verdict.notes.iter().rposition(|n| n.stroke.is_some()).map_or(0, |last| last + 1);
    let until = if verdict.whole.stopped_after.is_some() { played } else { verdict.notes.len() };
    for (index, n) in verdict.notes.iter().take(until).enumerate() {
        let spell = |played: KeyNumber| spelled(played.class(), n.note.symbol, key);
        let name = spell(n.note.key);
        let fault = match (n.outcome, n.played) {
            (Outcome::Wrong, Some(played)) => {
                let played = spell(played);
                match n.rule.filter(|rule| !rule.starts) {
                    Some(rule) => {
                        let chord = Symbol::of(rule.chord, key);
                        format!("{played} is no tone of {chord} and leads nowhere")
                    }
                    None => format!("{played} instead of {name}"),
                }
            }
            (Outcome::Missed, _) if n.rule.is_some() => "nothing played".into(),
            (Outcome::Octave, Some(played)) => octave(n.note.key, played, &name.to_string()),
            (Outcome::Missed, _) => format!("{name} missing"),
            (Outcome::Early | Outcome::Late, _) if !explained(n) => {
                format!("{name} {}", off(n.late_ms.unwrap_or(0.0)))
            }
            _ => continue,
        };
        let said = format!("{}: {fault}", place(n));
        lines.push((
            index,
            WrongPlace { bar: n.note.bar, said, missed: n.outcome == Outcome::Missed },
        ));
    }
    for extra in &verdict.extras {
        let index = verdict
            .notes
            .iter()
            .position(|n| n.stroke.is_some_and(|stroke| stroke > extra.stroke))
            .unwrap_or(verdict.notes.len());
        let said = too_many(key, extra);
        lines.push((index, WrongPlace { bar: extra.bar, said, missed: false }));
    }
    lines.sort_by_key(|line| line.0);
    lines.into_iter().map(|line| line.1).collect()
}

fn place(n: &NoteVerdict) -> String {
    let time = match n.note.pass {
        0 | 1 => String::new(),
        2 => " (second time)".into(),
        3 => " (third time)".into(),
        pass => format!(" (time {pass})"),
    };
    let hand = if n.note.hand == Hand::Right { ", right hand" } else { "" };
    format!("{}{time}, the {}{hand}", bar(n.note.bar), n.note.count)
}

fn bar(number: i64) -> String {
    if number > 0 { format!("bar {number}") } else { "pick-up".into() }
}

fn octave(asked: KeyNumber, played: KeyNumber, name: &str) -> String {
    let octaves = played.distance(asked).0 / 12;
    let side = if octaves > 0 { "high" } else { "low" };
    match octaves.abs() {
        1 => format!("{name} an octave too {side}"),
        n => format!("{name} {n} octaves too {side}"),
    }
}

fn too_many(key: WrittenKey, extra: &Extra) -> String {
    let name = key.spell(extra.key.class());
    let bar = bar(extra.bar);
    if extra.repeated {
        format!("{bar}, the {}: {name} struck twice", extra.count)
    } else {
        format!("{bar}, after the {}: {name} too many", extra.count)
    }
}

/// What is safe, and where to work.
fn advice(verdict: &Verdict) -> Vec<String> {
    if verdict.whole.stopped_after.is_some() {
        return vec!["Play on to the end, slower if need be.".into()];
    }
    let mut advice = Vec::new();
    let figures = &verdict.figures;
    let faults = figures.all.faults() + verdict.extras.len();
    let safe: Vec<&str> = figures
        .roles
        .iter()
        .filter(|row| row.tally.asked >= 3 && row.tally.faults() == 0)
        .map(|row| plural(row.of))
        .collect();
    let weak = weak_bars(verdict);
    let work = weak_role(verdict)
        .map(|role| format!("work on the {role}"))
        .or((!weak.is_empty()).then(|| format!("work on {}", bars(&weak))));
    match (faults, safe.is_empty(), work) {
        _ if verdict.is_clean() => {
            advice.push(match (faults, weak_role(verdict)) {
                (0, _) => "Everything is safe; take the next tempo.".into(),
                (_, Some(role)) => format!("Take the next tempo, and mind the {role}."),
                (_, None) => "Safe enough; take the next tempo.".into(),
            });
        }
        (0, ..) => {}
        (_, false, Some(work)) => advice.push(format!("The {} are safe; {work}.", list(&safe))),
        (_, true, Some(work)) => advice.push(format!("{}.", capital(&work))),
        (_, false, None) => advice.push(format!("The {} are safe.", list(&safe))),
        _ => {}
    }
    advice
}

fn plural(role: &str) -> &'static str {
    match role {
        "root" => "roots",
        "third" => "thirds",
        "fifth" => "fifths",
        "seventh" => "sevenths",
        "sixth" => "sixths",
        "ninth" => "ninths",
        "octave" => "octaves",
        "bass" => "slash basses",
        _ => "passing notes",
    }
}

/// The role, if it is one, in which most of the faults lie (three or more).
fn weak_role(verdict: &Verdict) -> Option<&'static str> {
    let all = verdict.figures.all.faults() + verdict.extras.len();
    let worst = verdict.figures.roles.iter().max_by_key(|row| row.tally.faults())?;
    let faults = worst.tally.faults();
    (worst.of != "root" && faults >= 3 && faults * 10 >= all * 7).then(|| plural(worst.of))
}

/// The bars that hold at least half of the faults, the worst first, at most
/// four, in printed order.
fn weak_bars(verdict: &Verdict) -> Vec<i64> {
    let extras = |bar| verdict.extras.iter().filter(|extra| extra.bar == bar).count();
    let mut bars: Vec<(usize, i64)> = verdict
        .figures
        .bars
        .iter()
        .map(|row| (row.tally.faults() + extras(row.of), row.of))
        .filter(|(faults, _)| *faults > 0)
        .collect();
    let all: usize = bars.iter().map(|(faults, _)| faults).sum();
    bars.sort_by_key(|(faults, bar)| (std::cmp::Reverse(*faults), *bar));
    let mut so_far = 0;
    let mut weak = Vec::new();
    for (faults, bar) in bars.into_iter().take(4) {
        if so_far * 2 >= all {
            break;
        }
        so_far += faults;
        weak.push(bar);
    }
    weak.sort_unstable();
    weak
}

/// `bar 5`, `bars 5–6`, `bars 2, 5–6 and 9`.
fn bars(numbers: &[i64]) -> String {
    let runs: Vec<String> = numbers
        .chunk_by(|a, b| a + 1 == *b)
        .filter_map(|run| Some((run.first()?, run.last()?)))
        .map(
            |(first, last)| {
                if first == last { first.to_string() } else { format!("{first}\u{2013}{last}") }
            },
        )
        .collect();
    let runs: Vec<&str> = runs.iter().map(String::as_str).collect();
    format!("bar{} {}", if numbers.len() > 1 { "s" } else { "" }, list(&runs))
}

fn list(items: &[&str]) -> String {
    match items {
        [] => String::new(),
        [one] => (*one).into(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}
