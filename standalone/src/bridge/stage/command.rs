//! What the free world tells the stage.

use std::sync::Arc;

use sinistra_core::engine::Settings;
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Pattern;
use sinistra_core::time::Metre;
use sinistra_panel::take::TakeLog;

use super::settings::LeftHandWork;
use crate::bridge::controls::{Action, Map, Move};
use crate::bridge::time::{Clicks, ClockSource, PaceChoice};
use crate::bridge::zones::Zones;

/// One wish. Everything that needs the heap was made before.
#[derive(Debug)]
pub enum Command {
    /// Do what a control would do.
    Do(Action, Move),
    /// The next control that moves does this.
    Learn(Action),
    /// Play this from now on.
    Entry(SetEntry),
    /// The entry that is played was read anew: it takes the other's place at the next
    /// bar line.
    Anew(SetEntry),
    /// These are the engine's settings from now on; what the left hand does
    /// stays as it is.
    Settings(Settings),
    /// Play this pattern from now on.
    Pattern(Box<Pattern>),
    /// Own tempo, quarter notes a minute.
    Tempo(f64),
    /// The beat comes from there.
    Lead(ClockSource),
    /// The metronome's loudness, percent.
    ClickLoudness(u8),
    /// Each hand sounds there, and so, from now on; the player's business, not the
    /// stage's.
    Zones(Zones),
    /// Messages were lost on the way: nothing is down any more.
    LetGo,
    /// Fail, to see what happens then.
    #[cfg(test)]
    Fail,
}

/// An entry of the set, ready to play.
#[derive(Clone, Debug, Default)]
pub struct SetEntry {
    /// When the left hand plays; `None` keeps the pattern.
    pub pattern: Option<Box<Pattern>>,
    /// The chart, or none.
    pub song: Option<Box<Song>>,
    /// The same again: the engine has one, the beat has the other.
    pub bars: Option<Box<Song>>,
    /// Quarter notes a minute.
    pub tempo: Option<f64>,
    /// The metre without a chart.
    pub metre: Option<Metre>,
    /// The key, if it is set.
    pub key: Option<Key>,
    /// Where the "and" falls, 0.5..=0.75, if the chart says.
    pub swing: Option<f32>,
    /// What is set for this song alone.
    pub own: SongSettings,
}

/// What is set for one song alone: with the next it is as it was before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SongSettings {
    /// What the left hand does.
    pub left: Option<LeftHandWork>,
    /// The lowest key of the right hand.
    pub split: Option<KeyNumber>,
    /// Sparing 0..=100 busy.
    pub busy: Option<u8>,
    /// One figure 0..=100 many.
    pub variety: Option<u8>,
    /// As in [`Settings`].
    pub length: Option<f32>,
    /// As in [`Settings`].
    pub loose: Option<f32>,
    /// As in [`Settings`].
    pub pedal: Option<bool>,
    /// As in [`Settings`].
    pub loudness: Option<f32>,
    /// 0..=15.
    pub channel: Option<u8>,
    /// 0..=127.
    pub program: Option<u8>,
    /// 0..=16,383.
    pub bank: Option<u16>,
}

impl SongSettings {
    /// What is named here is set; gives it as it was.
    pub fn lay(&self, settings: &mut Settings) -> Self {
        fn put<T: Copy>(place: &mut T, own: Option<T>) -> Option<T> {
            own.map(|own| std::mem::replace(place, own))
        }
        Self {
            split: put(&mut settings.split, self.split),
            busy: put(&mut settings.busy, self.busy),
            variety: put(&mut settings.variety, self.variety),
            length: put(&mut settings.length, self.length),
            loose: put(&mut settings.loose, self.loose),
            pedal: put(&mut settings.pedal, self.pedal),
            loudness: put(&mut settings.loudness, self.loudness),
            channel: self.channel.and_then(|own| settings.channel.replace(own)),
            ..Self::default()
        }
    }
}

/// What the stage starts with.
#[derive(Clone, Debug)]
pub struct StageOptions {
    /// The engine's.
    pub settings: Settings,
    pub time: PaceChoice,
    /// What the left hand does.
    pub left: LeftHandWork,
    /// When the metronome is heard.
    pub clicks: Clicks,
    /// Its channel, 0..=15.
    pub click_channel: u8,
    /// Its loudness, percent.
    pub click_loudness: u8,
    /// Whether MIDI clock goes out.
    pub clock_out: bool,
    /// Channels that are listened to, bit n is channel n; 0 is all but drums.
    pub listen: u16,
    /// What is mapped.
    pub map: Map,
    /// Where both hands are written, to keep takes.
    pub log: Option<Arc<TakeLog>>,
}

impl Default for StageOptions {
    fn default() -> Self {
        Self {
            settings: Settings::default(),
            time: PaceChoice::default(),
            left: LeftHandWork::Plays,
            clicks: Clicks::default(),
            click_channel: 9,
            click_loudness: 100,
            clock_out: false,
            listen: 0,
            map: Map::default(),
            log: None,
        }
    }
}
