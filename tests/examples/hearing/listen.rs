//! Plays a song to the ear as the engine would, and counts what it heard.

use std::fmt;
use std::io;

use sinistra_core::engine::Message;
use sinistra_core::foresee::Foresight;
use sinistra_core::hear::{Ear, Hearing};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::time::{Metre, Place, Ticks};
use sinistra_tests::hands::HandChance;
use sinistra_tests::songs::{Label, LabelledSong, RATE};

/// How to listen.
pub struct HearingOptions {
    /// The right hand's lowest key.
    pub split: KeyNumber,
    pub left: bool,
    /// So many of a hundred of the questions between changes are written down.
    pub thin: u64,
    pub weights: EarWeights,
}

impl Default for HearingOptions {
    fn default() -> Self {
        let weights = EarWeights::default();
        Self { split: KeyNumber::MIDDLE_C, left: false, thin: 100, weights }
    }
}

/// Weights to use instead of the built-in ones.
#[derive(Default)]
pub struct EarWeights {
    pub now: Option<Vec<f32>>,
    pub again: Option<Vec<f32>>,
    pub bar: Option<Vec<f32>>,
}

/// What a row is about.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum AskedAbout {
    /// The moment of a question.
    Now,
    /// What is past: judged again.
    Past,
    /// The bar that is felt.
    Bar,
}

/// How often the root was right, by the time since the labelled onset.
#[derive(Default)]
pub struct HearingTally {
    /// Asked and right: at the onset, half a beat later, a beat later, at the end.
    by_time: [(u32, u32); 4],
    /// Changes heard; with the labelled root or bass of that moment.
    changes: (u32, u32),
    /// Eighths of the song; at which the root was right.
    eighths: (u32, u32),
    /// Beats; at which the key's scale … (not labelled here).
    songs: u32,
}

impl fmt::Display for HearingTally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = |(all, right): (u32, u32)| 100.0 * f64::from(right) / f64::from(all.max(1));
        let names = ["at the onset", "half a beat later", "a beat later", "at the chord's end"];
        writeln!(f, "{} songs", self.songs)?;
        for (name, count) in names.iter().zip(self.by_time) {
            writeln!(f, "root right {name}: {:.1} % of {}", share(count), count.0)?;
        }
        writeln!(
            f,
            "changes with the labelled root or bass: {:.1} % of {}",
            share(self.changes),
            self.changes.0
        )?;
        writeln!(
            f,
            "eighths with the right root: {:.1} % of {}",
            share(self.eighths),
            self.eighths.0
        )
    }
}

/// An eighth: the grid on which the pattern asks.
const SLOT: i64 = Ticks::PER_BEAT / 2;

/// Labels start and end a little off; these many ticks are near.
const NEAR: i64 = Ticks::PER_BEAT / 8;

impl HearingTally {
    /// What was heard at `now`, on an eighth or not, while a label holds until `end`.
    fn count(&mut self, hearing: &Hearing, label: &Label, now: Ticks, end: Ticks, eighth: bool) {
        let right = hearing.chord.is_some_and(|chord| chord.root == label.root);
        if hearing.changed {
            let bass = hearing.chord.is_some_and(|chord| chord.bass == label.bass);
            count(&mut self.changes, right || bass);
        }
        if !eighth {
            return;
        }
        count(&mut self.eighths, right);
        let ago = (now - label.at).0;
        let after = [0, SLOT, 2 * SLOT].map(|after| (ago - after).abs() <= NEAR);
        let asked = after.into_iter().chain([now.0 + SLOT >= end.0]);
        for (tally, asked) in self.by_time.iter_mut().zip(asked) {
            if asked {
                count(tally, right);
            }
        }
    }
}

/// What is played to the ear, in time order.
fn events(song: &LabelledSong, options: &HearingOptions) -> Vec<(Ticks, Message)> {
    let heard = |message: &Message| match message {
        Message::On { key, .. } | Message::Off { key, .. } => options.left || *key >= options.split,
        Message::Control { .. } => false,
    };
    let events = song.events.iter().filter(|(_, message)| heard(message));
    events.map(|&(frame, m)| (song.timeline.tick_at_frame(frame, RATE), m)).collect()
}

/// Listens to one song. `row` takes the song's number, the time in beats, the
/// labelled root and bass, beats since their onset, the labelled chord's tones
/// (bit n is class n; 0 if it is not known) and the signs.
pub fn listen(
    song: &LabelledSong,
    options: &HearingOptions,
    tally: &mut HearingTally,
    mut row: impl FnMut(AskedAbout, &[f32]) -> io::Result<()>,
) -> io::Result<()> {
    let events = events(song, options);
    let end = events.last().map_or(Ticks::ZERO, |event| event.0);
    let tempo = song.timeline.tempo(Ticks::ZERO);
    let EarWeights { now, again, bar } = &options.weights;
    let mut ear = Ear::new(options.split).trained(now.as_deref(), again.as_deref(), bar.as_deref());
    let mut foresight = Foresight::new();
    let mut chance = HandChance::new(7);
    let start = Place::first(Metre::COMMON);
    let (mut next, mut slot) = (0, 0i64);
    tally.songs += 1;
    loop {
        let event = events.get(next).map(|event| event.0);
        let times = [event, ear.due(), Some(Ticks(slot))];
        let Some(now) = times.into_iter().flatten().min().filter(|now| *now <= end) else { break };
        let mut struck = false;
        while let Some((_, message)) = events.get(next).filter(|event| event.0 == now) {
            match *message {
                Message::On { key, velocity: velocity @ 1.., .. } => {
                    ear.note_on(now, key, velocity);
                    struck |= key >= options.split;
                }
                Message::On { key, .. } | Message::Off { key, .. } => ear.note_off(now, key),
                Message::Control { .. } => {}
            }
            next += 1;
        }
        let is_slot = now.0 == slot;
        if is_slot {
            slot += SLOT;
        } else if !struck && ear.due() != Some(now) {
            continue;
        }
        let place = start.of(now);
        let label = label_at(&song.labels, now);
        let expected = foresight.expected(now, place, None, None, false);
        if label.is_some_and(|(label, _)| (now - label.at).0.abs() <= NEAR)
            || label.is_some() && chance.percent(options.thin)
        {
            row_of(AskedAbout::Now, song, now, ear.signs(now, place, &expected), &mut row)?;
        }
        ear.think(now, place);
        let hearing = ear.listen(now, place, tempo, &expected);
        if let Some(chord) = hearing.revised {
            foresight.revise(chord);
        }
        if let (true, Some(chord)) = (hearing.changed, hearing.chord) {
            foresight.chord_started(hearing.since, chord, place.of(hearing.since));
        }
        if is_slot {
            for age in [8, 16] {
                if let Some((at, signs)) = ear.signs_of_past(age)
                    && chance.percent(options.thin)
                {
                    row_of(AskedAbout::Past, song, at, signs, &mut row)?;
                }
            }
            if slot % (4 * SLOT) == 0 {
                row_of(AskedAbout::Bar, song, now, ear.signs_of_bar(), &mut row)?;
            }
        }
        if let Some((label, end)) = label {
            tally.count(&hearing, &label, now, end, is_slot);
        }
    }
    Ok(())
}

fn row_of(
    about: AskedAbout,
    song: &LabelledSong,
    at: Ticks,
    signs: Vec<f32>,
    row: &mut impl FnMut(AskedAbout, &[f32]) -> io::Result<()>,
) -> io::Result<()> {
    let Some((label, _)) = label_at(&song.labels, at) else { return Ok(()) };
    let class = |class: PitchClass| class.index() as f32;
    let tones = label.chord.map_or(0, |chord| chord.tones().with(label.bass).bits());
    let mut values = vec![
        song.name.parse().unwrap_or(0.0),
        at.beats() as f32,
        class(label.root),
        class(label.bass),
        (at - label.at).beats() as f32,
        f32::from(tones),
    ];
    values.extend(signs);
    row(about, &values)
}

fn count(tally: &mut (u32, u32), right: bool) {
    tally.0 += 1;
    tally.1 += u32::from(right);
}

/// The label that holds at `now`, and its end. A label just ahead counts.
fn label_at(labels: &[Label], now: Ticks) -> Option<(Label, Ticks)> {
    let index = labels.partition_point(|label| label.at.0 <= now.0 + NEAR).checked_sub(1)?;
    let end = labels.get(index + 1).map_or(Ticks(i64::MAX), |next| next.at);
    Some((labels[index], end))
}
