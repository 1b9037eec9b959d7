//! How an event for the second output is told from the others on its way through the
//! framework, which knows one output alone.

use nice_plug::midi::Channel;

/// Added to the channel of a note for the second output. Channels end at 15 in
/// both formats, and the framework lets no other in, so that nothing that the
/// player sends can carry it; out it lets any.
const MARK: u8 = 16;

/// The channel, marked for the second output.
pub fn marked(channel: u8) -> Channel {
    Channel::Number(channel | MARK)
}

/// Added to the number of a controller, for the same: they end at 127, and what VST3
/// counts on from there (`ControllerNumbers`) ends long before.
const CONTROL_MARK: u8 = 128;

/// The controller's number, marked for the second output.
pub const fn marked_control(controller: u8) -> u8 {
    controller | CONTROL_MARK
}

/// The controller as the host is to see it, if it was marked. Only pedals are.
pub const fn unmarked_control(number: u8) -> Option<u8> {
    match number {
        192..=197 => Some(number & !CONTROL_MARK),
        _ => None,
    }
}

/// The channel as the host is to see it, if it was marked.
pub fn unmarked(channel: i16) -> Option<i16> {
    let mark = i16::from(MARK);
    (mark..2 * mark).contains(&channel).then_some(channel - mark)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_read_back_and_nothing_else_is_one() {
        for channel in 0..16 {
            let there = marked(channel).number().expect("a channel");
            assert_eq!(unmarked(there.into()), Some(channel.into()));
            assert_eq!(unmarked(channel.into()), None);
        }
        assert_eq!((unmarked(-1), unmarked(32)), (None, None));
        for pedal in 64..=69 {
            assert_eq!(unmarked_control(marked_control(pedal)), Some(pedal));
            assert_eq!(unmarked_control(pedal), None);
        }
        // After-touch and the rest of VST3's own.
        assert!((128..=134).all(|number| unmarked_control(number).is_none()));
    }
}
