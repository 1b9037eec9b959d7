//! An exercise: a chart played by both hands, the left by the real engine.

use super::fold::{self, Printed};
use super::rule::{FreeRule, RulePlace};
use super::target::{Hand, Target, TargetNote};
use crate::count::Count;
use crate::performance::{HandNote, USUAL_TEMPO, within};
use crate::sheet::{Sheet, SheetBar, SheetChord, SheetNote, reasons};
use crate::{Chart, Performance, wording};
use sinistra_core::chord::Symbol;
use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Pattern, accent, swing};
use sinistra_core::time::{Metre, Ticks};

/// A chart with both hands written out: what is printed and practised of a
/// performance.
#[derive(Clone, Debug)]
pub struct Exercise {
    chart: Chart,
    song: Song,
    /// The pattern's name.
    pub pattern: String,
    /// What it teaches or adds.
    pub about: String,
    /// The key it is spelled in.
    pub key: WrittenKey,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Where the "and" falls in its beat, 0.5 straight.
    pub swing: f32,
    /// The right hand, in time order.
    pub right: Vec<HandNote>,
    /// The left hand, in time order.
    pub left: Vec<HandNote>,
    printed: Vec<Printed>,
    /// For each bar of the song the number that is printed over it, and the pass.
    passes: Vec<(i64, u8)>,
    /// The chart's chord symbols as written.
    symbols: Vec<Option<Symbol>>,
}

impl Exercise {
    /// Lets the engine play `pattern` to the chart's held chords. `tempo` in
    /// quarter notes a minute; without it the chart's, else the usual one.
    #[must_use]
    pub fn new(
        chart: &Chart,
        pattern: Box<Pattern>,
        settings: Settings,
        tempo: Option<f64>,
    ) -> Self {
        let mut song = chart.unfold();
        let tempo = tempo.or(song.tempo).unwrap_or_else(|| chart.quarters(USUAL_TEMPO));
        song.tempo = Some(tempo);
        let key = match settings.key {
            KeyChoice::Fixed(key) => key,
            KeyChoice::Auto => song.key.unwrap_or_else(|| chart.likeliest_key()),
        };
        let (name, mut about) = (pattern.name.clone(), pattern.about.clone());
        if let Some(fitted) = wording::fitted(&pattern, song.bars().iter().map(|bar| bar.metre)) {
            about = format!("{about} {fitted}");
        }
        let settings = Settings { key: KeyChoice::Fixed(key), ..settings };
        Self::of(chart, &Performance::of(song, tempo, pattern, settings), &name, &about)
    }

    /// A hand's notes, in time order.
    #[must_use]
    pub fn notes(&self, hand: Hand) -> &[HandNote] {
        match hand {
            Hand::Left => &self.left,
            Hand::Right => &self.right,
        }
    }

    /// A performance of `chart`, to be printed and practised; `pattern` is the
    /// pattern's name, `about` what it teaches.
    #[must_use]
    pub fn of(chart: &Chart, performance: &Performance, pattern: &str, about: &str) -> Self {
        let Performance { song, timeline, swing, right, left, .. } = performance.clone();
        let printed = fold::fold(&song, &left, &right);
        Self {
            chart: chart.clone(),
            pattern: pattern.to_owned(),
            about: about.to_owned(),
            key: chart.written_key(),
            tempo: timeline.tempo(Ticks::ZERO),
            swing,
            passes: fold::passes(&printed, song.bars().len()),
            printed,
            symbols: chart.symbols().collect(),
            song,
            right,
            left,
        }
    }

    /// The chart as it is written.
    #[must_use]
    pub fn chart(&self) -> &Chart {
        &self.chart
    }

    /// The bars and chords, repeats written out.
    #[must_use]
    pub fn song(&self) -> &Song {
        &self.song
    }

    /// The chart's title.
    #[must_use]
    pub fn title(&self) -> &str {
        self.chart.title()
    }

    /// The number printed over the last bar.
    #[must_use]
    pub fn last_bar(&self) -> i64 {
        self.printed.iter().map(|bar| bar.number).max().unwrap_or(0)
    }

    /// Everything that is to be played, swing applied, at `tempo`.
    #[must_use]
    pub fn target(&self, tempo: f64) -> Target {
        let of = |notes: &[HandNote], hand| -> Vec<TargetNote> {
            notes.iter().map(|note| self.target_note(note, hand)).collect()
        };
        let notes = [of(&self.left, Hand::Left), of(&self.right, Hand::Right)].concat();
        let metre = self.song.bars().first().map_or(Metre::COMMON, |bar| bar.metre);
        Target::new(notes, self.key, tempo, metre)
    }

    fn target_note(&self, note: &HandNote, hand: Hand) -> TargetNote {
        let (metre, offset, index) = self.place(note.at);
        let (bar, pass) = self.passes.get(index).copied().unwrap_or((0, 1));
        TargetNote {
            at: note.sounds.0,
            until: note.sounds.1,
            key: note.key,
            velocity: note.velocity,
            hand,
            symbol: self.symbol_at(note.at),
            role: note.role,
            bar,
            pass,
            count: Count::of(metre, offset),
            on_pulse: accent::beats(metre).iter().any(|beat| beat.start == offset),
        }
    }

    /// The chord symbol that stands over a moment.
    fn symbol_at(&self, at: Ticks) -> Option<Symbol> {
        let chord = self.song.chords().get(self.song.chord_at(at)?)?;
        self.symbols.get(chord.written as usize).copied().flatten()
    }

    /// Quarter notes in a felt beat of the first bar, in which a chart counts
    /// its tempo: 1 in 4/4, 1.5 in 6/8.
    #[must_use]
    pub fn felt_beat(&self) -> f64 {
        self.song.bars().first().map_or(1.0, |bar| bar.metre.pulse().beats())
    }

    /// From the first printed bar `first` to the end of `last`, the first time
    /// that they are played; the whole where there are no such bars.
    #[must_use]
    pub fn span(&self, first: i64, last: i64) -> (Ticks, Ticks) {
        let played = |number: i64| {
            let bar = self.printed.iter().find(|bar| bar.number == number)?;
            bar.played.first().map(|played| played.0)
        };
        let bars = self.song.bars();
        let from =
            played(first).and_then(|index| bars.get(index)).map_or(self.song.start(), |bar| bar.at);
        let end = played(last).map_or(self.song.end(), |index| {
            self.song.bar_span(index).map_or(self.song.end(), |(_, end)| end)
        });
        if end > from { (from, end) } else { (self.song.start(), self.song.end()) }
    }

    /// The felt beats from `from` to before `to`, each with whether it is a bar
    /// line.
    #[must_use]
    pub fn beats(&self, from: Ticks, to: Ticks) -> Vec<(Ticks, bool)> {
        let bars = self.song.bars();
        let mut beats = Vec::new();
        for (index, bar) in bars.iter().enumerate() {
            let Some((line, end)) = self.song.bar_span(index) else { continue };
            for beat in accent::beats(bar.metre) {
                let at = line + beat.start;
                if (bar.at..end).contains(&at) && (from..to).contains(&at) {
                    beats.push((at, beat.start == Ticks::ZERO));
                }
            }
        }
        beats
    }

    /// A bar to count in before `from`: its felt beats from 0, and its end. A
    /// pick-up is led into by the rest of its bar.
    #[must_use]
    pub fn count_in(&self, from: Ticks) -> Vec<Ticks> {
        let (metre, offset, _) = self.place(from);
        let before = if offset > Ticks::ZERO { metre.bar() + offset } else { metre.bar() };
        let beats = accent::beats(metre);
        let bars = [Ticks::ZERO, metre.bar()];
        let all = bars.iter().flat_map(|bar| beats.iter().map(move |beat| *bar + beat.start));
        all.filter(|at| *at < before).chain([before]).collect()
    }

    /// What a free exercise asks for: something by the rule wherever the model
    /// strikes. `split` is the right hand's lowest key.
    #[must_use]
    pub fn rule(&self, tempo: f64, split: KeyNumber) -> FreeRule {
        let target = self.target(tempo);
        let mut strokes: Vec<(Ticks, TargetNote)> =
            self.left.iter().map(|note| (note.at, self.target_note(note, Hand::Left))).collect();
        strokes.dedup_by_key(|stroke| stroke.0);
        let chord_of = |at: Ticks| {
            let index = self.song.chord_at(at)?;
            self.song.chords().get(index)?.chord
        };
        let mut places = Vec::new();
        for (index, (at, model)) in strokes.iter().enumerate() {
            let Some(chord) = chord_of(*at) else { continue };
            let chord_before = index.checked_sub(1).and_then(|before| chord_of(strokes[before].0));
            let chord_after = strokes.get(index + 1).and_then(|after| chord_of(after.0));
            places.push(RulePlace {
                model: *model,
                chord,
                starts: chord_before.is_none_or(|before| before.bass != chord.bass),
                next: chord_after.filter(|after| after.bass != chord.bass),
            });
        }
        FreeRule { places, key: self.key, tempo, pulse: target.pulse, split }
    }

    /// Metre, offset in the full bar, and index of the bar that holds `at`.
    fn place(&self, at: Ticks) -> (Metre, Ticks, usize) {
        let bars = self.song.bars();
        let index = bars.partition_point(|bar| bar.at <= at).saturating_sub(1);
        let Some(bar) = bars.get(index) else { return (Metre::COMMON, at, 0) };
        let line = self.song.bar_span(index).map_or(bar.at, |(line, _)| line);
        (bar.metre, at - line, index)
    }

    /// With the "and" where swing puts it.
    #[must_use]
    pub fn swung(&self, at: Ticks) -> Ticks {
        let (metre, offset, _) = self.place(at);
        at - offset + swing::swung(offset, metre, self.swing)
    }

    /// The bars as they are played, repeats written out, with the reasons of the left
    /// hand: their ticks are the song's, their numbers those of the printed bars.
    #[must_use]
    pub fn unfolded_sheet(&self) -> Sheet {
        let numbered = |index: usize| {
            let number = self.passes.get(index).map_or(0, |(number, _)| *number);
            (index, Printed { number, ..Printed::default() })
        };
        self.sheet_of(&(0..self.song.bars().len()).map(numbered).collect::<Vec<_>>(), true)
    }

    /// The practice sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        self.sheet_of(&self.printed_bars(), false)
    }

    /// The practice sheet with the reasons of the left hand under it.
    #[must_use]
    pub fn explained_sheet(&self) -> Sheet {
        self.sheet_of(&self.printed_bars(), true)
    }

    /// What is printed, each with the bar of the song that it is printed from.
    fn printed_bars(&self) -> Vec<(usize, Printed)> {
        let first = |bar: &Printed| Some((bar.played.first()?.0, bar.clone()));
        self.printed.iter().filter_map(first).collect()
    }

    /// These bars of the song one behind the other.
    fn sheet_of(&self, printed: &[(usize, Printed)], explained: bool) -> Sheet {
        let mut sheet = Sheet {
            title: self.title().to_owned(),
            pattern: self.pattern.clone(),
            key: self.key,
            tempo: self.tempo,
            swing: (self.swing * 100.0).round() as u8,
            bars: Vec::new(),
            chords: Vec::new(),
            right: Vec::new(),
            left: Vec::new(),
            reasons: Vec::new(),
        };
        let bars = self.song.bars();
        let mut at = self.song.start();
        for (place, (index, printed_bar)) in printed.iter().enumerate() {
            let Some(bar) = bars.get(*index) else { continue };
            let end = bars.get(index + 1).map_or(self.song.end(), |next| next.at);
            let moved = at - bar.at;
            let follows = printed.get(place + 1).is_none_or(|next| next.0 == index + 1);
            let (right, left) = (within(&self.right, bar.at, end), within(&self.left, bar.at, end));
            let copy = |note: &HandNote| SheetNote {
                at: note.at + moved,
                until: if follows { note.until } else { note.until.min(end) } + moved,
                key: note.key,
                role: note.role,
            };
            sheet.right.extend(right.iter().map(copy));
            sheet.left.extend(left.iter().map(copy));
            let why = left.iter().filter_map(|note| Some((note.at + moved, note.why?)));
            sheet.reasons.extend(reasons::of_bar(why.filter(|_| explained)));
            let chords = self.song.chords();
            let first = chords.partition_point(|chord| chord.at < bar.at);
            let chords = chords[first..].iter().take_while(|chord| chord.at < end);
            sheet.chords.extend(chords.map(|chord| SheetChord {
                at: chord.at + moved,
                symbol: self.symbols.get(chord.written as usize).copied().flatten(),
            }));
            let draft = self.chart.draft().bars.get(bar.written as usize);
            sheet.bars.push(SheetBar {
                at,
                end: end + moved,
                metre: bar.metre,
                number: printed_bar.number,
                repeat_from: printed_bar.repeat_from,
                repeat_times: printed_bar.repeat_times,
                ending: printed_bar.ending.clone(),
                section: draft.and_then(|bar| bar.section.clone()),
            });
            at = end + moved;
        }
        sheet
    }
}
