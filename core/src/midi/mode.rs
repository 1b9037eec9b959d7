//! Channel mode messages: the controllers 120 to 127 mean something of their own.

/// A channel mode message. What each does to keys, sound and pedals of its
/// channel:
///
/// | number | message | keys that are down | sound that a pedal holds | pedals |
/// |---|---|---|---|---|
/// | 120 | all sound off | come up | ends | stay |
/// | 121 | reset all controllers | stay | ends with the pedals | come up |
/// | 122 | local control | stay | stays | stay |
/// | 123 | all notes off | come up | stays until the pedal comes up | stay |
/// | 124–127 | omni off and on, mono, poly | the same as all notes off | | |
///
/// Source: MIDI 1.0 detailed specification, "Channel mode messages" (124 to 127
/// "also cause all notes off"); RP-015 for 121.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ChannelMode {
    /// 120: whatever sounds is silent at once.
    AllSoundOff,
    /// 121: pedals up, bender to the middle.
    ResetControllers,
    /// 122: whether a keyboard plays its own sounds.
    LocalControl,
    /// 123: as if every key came up.
    AllNotesOff,
    /// 124 to 127: omni off, omni on, mono, poly.
    Channels,
}

impl ChannelMode {
    /// Of controller 120..=127; `None` for the others.
    pub const fn of(controller: u8) -> Option<Self> {
        match controller {
            120 => Some(Self::AllSoundOff),
            121 => Some(Self::ResetControllers),
            122 => Some(Self::LocalControl),
            123 => Some(Self::AllNotesOff),
            124..=127 => Some(Self::Channels),
            _ => None,
        }
    }

    /// Whether keys that are down count as up from here on.
    pub const fn ends_keys(self) -> bool {
        matches!(self, Self::AllSoundOff | Self::AllNotesOff | Self::Channels)
    }

    /// Whether what a pedal holds ends as well, the pedal being where it is.
    pub const fn ends_sound(self) -> bool {
        matches!(self, Self::AllSoundOff)
    }

    /// Whether pedals that are down count as up from here on.
    pub const fn lifts_pedals(self) -> bool {
        matches!(self, Self::ResetControllers)
    }
}

#[cfg(test)]
mod tests {
    use super::ChannelMode;

    #[test]
    fn each_does_what_the_table_says() {
        let table = [
            (119, None),
            (120, Some((true, true, false))),
            (121, Some((false, false, true))),
            (122, Some((false, false, false))),
            (123, Some((true, false, false))),
            (124, Some((true, false, false))),
            (125, Some((true, false, false))),
            (126, Some((true, false, false))),
            (127, Some((true, false, false))),
            (128, None),
        ];
        for (controller, does) in table {
            let found = ChannelMode::of(controller)
                .map(|m| (m.ends_keys(), m.ends_sound(), m.lifts_pedals()));
            assert_eq!(found, does, "{controller}");
        }
    }
}
