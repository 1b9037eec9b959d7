//! Rows for `tools/hear/train_next.py`: what the engine looked at whenever it
//! said what comes next, and what came.

use std::io::{self, Write};

use sinistra_core::engine::{Block, Engine, Output, Played, Timed};
use sinistra_core::foresee::Forecast;
use sinistra_core::time::Ticks;
use sinistra_tests::songs::{LabelledSong, RATE};

/// Whether something was said in a block.
#[derive(Default)]
struct SomethingSaid(bool);

impl Output for SomethingSaid {
    fn send(&mut self, _: Timed) -> bool {
        true
    }

    fn played(&mut self, _: &Played) {
        self.0 = true;
    }

    fn foreseen(&mut self, _: Ticks, _: &Forecast) {
        self.0 = true;
    }
}

/// Ten milliseconds.
const FRAMES: u32 = 480;

/// Plays the right hand of a song to the engine; `after` each block it gets the
/// engine, when the block began, and whether anything was said in it.
pub fn each_block(
    song: &LabelledSong,
    engine: &mut Engine,
    mut after: impl FnMut(&Engine, Ticks, bool),
) {
    engine.watch(false);
    let mut said = SomethingSaid::default();
    let right = song.right_hand();
    let mut rest = &right[..];
    for start in (0..song.end).step_by(FRAMES as usize) {
        let stop = start + i64::from(FRAMES);
        let (now, later) = rest.split_at(rest.partition_point(|(at, _)| *at < stop));
        rest = later;
        let timed: Vec<_> = now
            .iter()
            .map(|(at, message)| Timed { frame: (at - start).max(0) as u32, message: *message })
            .collect();
        let transport = song.timeline.transport_at(start, RATE);
        engine.process(&Block { frames: FRAMES, rate: RATE, transport, events: &timed }, &mut said);
        let at = song.timeline.tick_at_frame(start, RATE);
        after(engine, at, std::mem::take(&mut said.0));
    }
}

/// The rows of a song: its number, the beat, the root that holds by the labels, the
/// one that comes and when, the root foreseen and when, then the signs.
pub fn rows(song: &LabelledSong, engine: &mut Engine, out: &mut impl Write) -> io::Result<()> {
    let near = Ticks(Ticks::PER_BEAT / 8);
    let mut all = vec![];
    each_block(song, engine, |engine, at, said| {
        let Some((signs, forecast)) = engine.signs_of_next().filter(|_| said) else { return };
        let labels = &song.labels;
        let here = labels.partition_point(|label| label.at <= at + near).checked_sub(1);
        let Some(here) = here.map(|n| &labels[n..]) else { return };
        let Some(coming) = here.iter().find(|label| label.root != here[0].root) else { return };
        all.extend([
            song.name.parse().unwrap_or(0.0),
            at.beats() as f32,
            here[0].root.index() as f32,
            coming.root.index() as f32,
            coming.at.beats() as f32,
            forecast.chord.root.index() as f32,
            forecast.at.beats() as f32,
        ]);
        all.extend(signs.own.iter().flatten().chain(&signs.shared));
    });
    all.iter().try_for_each(|value| out.write_all(&value.to_le_bytes()))
}
