//! Zones: where a hand sounds, how high, on which channel and how hard. A hand with no
//! zone goes everywhere as it is. What a zone makes of a message depends on the message
//! alone, so that every end finds its beginning; when zones change, all is ended first.

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};
use sinistra_core::maths;
use sinistra_core::pitch::{KeyNumber, Semitones};

use super::midi::{ChannelKind, Short};
use super::ports::Selector;
use super::stage::To;
use crate::options::key_number;

/// Zones at most.
pub const MOST: usize = 8;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneHand {
    /// What the left hand plays for the player.
    #[default]
    Left,
    /// What the player plays.
    Through,
}

impl ZoneHand {
    /// Whose it is that is sent there; nobody's for metronome and clock.
    pub fn of(to: To) -> Option<Self> {
        (to == To::Left).then_some(Self::Left)
    }
}

/// How a key's velocity is heard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneTouch {
    #[default]
    AsPlayed,
    /// A light keyboard: less comes of the same stroke.
    Softer,
    /// A heavy keyboard: more comes of it.
    Louder,
    /// Every stroke alike, as on an organ.
    Even,
}

impl ZoneTouch {
    /// The next of the four.
    pub const fn next(self) -> Self {
        match self {
            Self::AsPlayed => Self::Softer,
            Self::Softer => Self::Louder,
            Self::Louder => Self::Even,
            Self::Even => Self::AsPlayed,
        }
    }

    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::AsPlayed => "as played",
            Self::Softer => "softer",
            Self::Louder => "louder",
            Self::Even => "even",
        }
    }

    /// A velocity, 1..=127, under the curve: the power of the part that is played,
    /// our own choice; both ends stay where they are.
    fn velocity(self, played: u8) -> u8 {
        let part = f32::from(played) / 127.0;
        let part = match self {
            Self::AsPlayed => return played,
            Self::Softer => part.powf(1.6),
            Self::Louder => part.powf(0.6),
            Self::Even => 0.7,
        };
        maths::velocity(part * 127.0)
    }
}

/// A zone in the words of a set-up file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct ZoneWords {
    pub hand: ZoneHand,
    /// The module; else all that are sent to.
    pub to: Option<Selector>,
    /// The MIDI channel, 1 to 16; else as it is.
    pub channel: Option<u8>,
    /// Semitones higher, or lower.
    #[serde(skip_serializing_if = "is_zero")]
    pub transpose: i8,
    /// Octaves higher, or lower.
    #[serde(skip_serializing_if = "is_zero")]
    pub octave: i8,
    /// How hard it sounds.
    #[serde(skip_serializing_if = "is_as_played")]
    pub touch: ZoneTouch,
    /// The lowest key that belongs to it.
    pub lowest: Option<String>,
    pub highest: Option<String>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
fn is_zero(number: &i8) -> bool {
    *number == 0
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
fn is_as_played(touch: &ZoneTouch) -> bool {
    *touch == ZoneTouch::AsPlayed
}

impl ZoneWords {
    /// What makes no sense: the word, and what would be right.
    pub fn faults(&self) -> Vec<(&'static str, String)> {
        let mut faults = Vec::new();
        let mut within = |word, value: i32, low: i32, high: i32| {
            if !(low..=high).contains(&value) {
                faults.push((word, format!("it is {low} to {high}")));
            }
        };
        within("channel", self.channel.map_or(1, i32::from), 1, 16);
        within("transpose", self.transpose.into(), -24, 24);
        within("octave", self.octave.into(), -4, 4);
        let read = |key: &Option<String>| key.as_deref().map(key_number).transpose();
        let (low, high) = (read(&self.lowest), read(&self.highest));
        if let (Ok(Some(low)), Ok(Some(high))) = (&low, &high)
            && low > high
        {
            faults.push(("lowest", "it lies above highest".into()));
        }
        faults.extend(low.err().map(|fault| ("lowest", fault)));
        faults.extend(high.err().map(|fault| ("highest", fault)));
        faults
    }

    fn zone(&self) -> Zone {
        let key = |name: &Option<String>, usual| {
            name.as_deref()
                .and_then(|key| key_number(key).ok())
                .unwrap_or(KeyNumber::clamped(usual))
        };
        Zone {
            part: self.hand,
            channel: self.channel.map(|channel| channel.saturating_sub(1) & 15),
            by: i32::from(self.transpose) + 12 * i32::from(self.octave),
            touch: self.touch,
            keys: (key(&self.lowest, 0), key(&self.highest, 127)),
        }
    }

    /// `left hand → Module, channel 2, an octave down, softer`.
    pub fn about(&self) -> String {
        let hand = match self.hand {
            ZoneHand::Left => "left hand",
            ZoneHand::Through => "what you play",
        };
        let mut about = hand.to_owned();
        if let Some(to) = &self.to {
            about += &format!(" → {to}");
        }
        if let Some(channel) = self.channel {
            about += &format!(", channel {channel}");
        }
        let by = self.zone().by;
        if by != 0 {
            let how = if by > 0 { "up" } else { "down" };
            about += &match by.abs() {
                12 => format!(", an octave {how}"),
                octaves if octaves % 12 == 0 => format!(", {} octaves {how}", octaves / 12),
                1 => format!(", a semitone {how}"),
                many => format!(", {many} semitones {how}"),
            };
        }
        if self.touch != ZoneTouch::AsPlayed {
            about += &format!(", {}", self.touch.name());
        }
        match (&self.lowest, &self.highest) {
            (None, None) => {}
            (Some(low), None) => about += &format!(", from {low} up"),
            (None, Some(high)) => about += &format!(", up to {high}"),
            (Some(low), Some(high)) => about += &format!(", {low} to {high}"),
        }
        about
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Zone {
    part: ZoneHand,
    channel: Option<u8>,
    /// Semitones.
    by: i32,
    touch: ZoneTouch,
    /// The lowest and the highest key.
    keys: (KeyNumber, KeyNumber),
}

/// All zones. Fixed size; real-time safe.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Zones(ArrayVec<Zone, MOST>);

impl Zones {
    /// Of at most [`MOST`]; more are left out.
    pub fn new(words: &[ZoneWords]) -> Self {
        Self(words.iter().take(MOST).map(ZoneWords::zone).collect())
    }

    /// What each zone of the hand makes of a message, with the zone's place. `None`
    /// where the hand has no zone, or the message is of no channel: it goes everywhere
    /// as it is.
    pub fn each(&self, part: ZoneHand, message: &[u8]) -> Option<ArrayVec<(usize, Short), MOST>> {
        if self.0.iter().all(|zone| zone.part != part) {
            return None;
        }
        let short = Short::new(message).filter(|short| short.channel().is_some())?;
        let own = self.0.iter().enumerate().filter(|(_, zone)| zone.part == part);
        Some(own.filter_map(|(n, zone)| Some((n, zone.make(short)?))).collect())
    }
}

impl Zone {
    /// What comes of a message of a channel; `None` for a key outside.
    fn make(&self, message: Short) -> Option<Short> {
        let (channel, kind) = message.channel()?;
        let channel = self.channel.unwrap_or(channel);
        let key = |key: KeyNumber| {
            let inside = self.keys.0 <= key && key <= self.keys.1;
            inside.then(|| key.transpose(Semitones(self.by))).flatten()
        };
        Some(match kind {
            ChannelKind::On(number, velocity) => {
                Short::on(channel, key(number)?, self.touch.velocity(velocity))
            }
            ChannelKind::Off(number, velocity) => Short::off(channel, key(number)?, velocity),
            _ => {
                let kind = message.status() & 0xF0;
                let one = if kind == 0xA0 {
                    key(KeyNumber::clamped(message.one().into()))?.number()
                } else {
                    message.one()
                };
                match message.bytes().len() {
                    2 => Short::new(&[kind | channel, one])?,
                    _ => Short::channel_message(kind, channel, one, message.two()),
                }
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zones(lines: &[&str]) -> (Zones, Vec<String>) {
        let words: Vec<ZoneWords> =
            lines.iter().map(|line| toml::from_str(line).expect(line)).collect();
        assert!(words.iter().all(|zone| zone.faults().is_empty()));
        (Zones::new(&words), words.iter().map(ZoneWords::about).collect())
    }

    fn made(zones: &Zones, part: ZoneHand, message: &[u8]) -> Vec<(usize, Vec<u8>)> {
        let made = zones.each(part, message).expect("a zone");
        made.into_iter().map(|(zone, short)| (zone, short.bytes().to_vec())).collect()
    }

    #[test]
    fn a_hand_without_a_zone_goes_everywhere_as_it_is() {
        let (all, _) = zones(&["hand = \"left\"\nchannel = 2"]);
        for message in [&[0x90, 60, 90][..], &[0xF8], &[0xF0, 1, 0xF7], &[0xB3, 64, 127]] {
            assert_eq!(all.each(ZoneHand::Through, message), None);
        }
        assert_eq!(made(&all, ZoneHand::Left, &[0x90, 60, 90]), [(0, vec![0x91, 60, 90])]);
        // What is of no channel is of no zone.
        assert_eq!(all.each(ZoneHand::Left, &[0xF8]), None);
    }

    #[test]
    fn what_is_played_goes_to_each_zone_that_has_its_key() {
        let (all, about) = zones(&[
            "hand = \"through\"\nto = \"Piano\"",
            "hand = \"through\"\nchannel = 3\noctave = -1\ntranspose = 2\ntouch = \"softer\"\n\
             highest = \"B4\"",
        ]);
        assert_eq!(about[0], "what you play → Piano");
        assert_eq!(about[1], "what you play, channel 3, 10 semitones down, softer, up to B4");
        let low = made(&all, ZoneHand::Through, &[0x90, 60, 64]);
        assert_eq!(low[0], (0, vec![0x90, 60, 64]));
        assert_eq!((low[1].0, &low[1].1[..2]), (1, &[0x92, 50][..]));
        assert!(low[1].1[2] < 64 && low[1].1[2] > 0);
        assert_eq!(made(&all, ZoneHand::Through, &[0x80, 60, 0]).len(), 2);
        assert_eq!(made(&all, ZoneHand::Through, &[0x90, 72, 64]).len(), 1, "above the second");
        let pedal = made(&all, ZoneHand::Through, &[0xB0, 64, 127]);
        assert_eq!(pedal, [(0, vec![0xB0, 64, 127]), (1, vec![0xB2, 64, 127])]);
        assert_eq!(made(&all, ZoneHand::Through, &[0xC0, 5])[1].1, [0xC2, 5]);
        // A note on of velocity 0 is an end, and stays one.
        assert_eq!(made(&all, ZoneHand::Through, &[0x90, 60, 0])[1].1[..2], [0x82, 50]);
    }

    #[test]
    fn every_end_finds_its_beginning_and_nothing_leaves_the_keyboard() {
        for by in -24..=24_i8 {
            let words = ZoneWords { transpose: by, octave: 4, ..ZoneWords::default() };
            let all = Zones::new(&[words]);
            for key in 0..128 {
                let on = made(&all, ZoneHand::Left, &[0x90, key, 90]);
                let off = made(&all, ZoneHand::Left, &[0x80, key, 90]);
                assert_eq!(on.len(), off.len());
                let same = on.iter().zip(&off).all(|(on, off)| on.1[1] == off.1[1]);
                assert!(same && on.iter().all(|on| on.1[1] < 128));
            }
        }
    }

    #[test]
    fn a_touch_is_a_curve_with_both_ends_where_they_were() {
        for touch in [ZoneTouch::AsPlayed, ZoneTouch::Softer, ZoneTouch::Louder] {
            let all: Vec<_> = (1..=127).map(|played| touch.velocity(played)).collect();
            assert!(all.is_sorted() && all[126] == 127 && all[0] >= 1, "{touch:?}");
        }
        assert!(ZoneTouch::Softer.velocity(64) < 64 && ZoneTouch::Louder.velocity(64) > 64);
        assert_eq!(ZoneTouch::Even.velocity(1), ZoneTouch::Even.velocity(127));
    }
}
