//! What one output was told, and what it is still to be told.

use super::key_state::KeyState;
use super::message::Message;
use super::mode::ChannelMode;
use super::short::Short;
use crate::pitch::KeyNumber;

/// How often each key is down, by channel: two strokes of a key need two
/// releases. Fixed size; real-time safe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counts([[u8; 128]; 16]);

impl Default for Counts {
    fn default() -> Self {
        Self([[0; 128]; 16])
    }
}

impl Counts {
    /// How often the key is down.
    pub fn of(&self, channel: u8, key: KeyNumber) -> u8 {
        let keys = self.0.get(usize::from(channel));
        keys.and_then(|keys| keys.get(usize::from(key.number()))).copied().unwrap_or(0)
    }

    /// Once more; how often it was down before.
    pub fn press(&mut self, channel: u8, key: KeyNumber) -> u8 {
        self.change(channel, key, |times| times.saturating_add(1))
    }

    /// Once less, if it was down; how often it was down before.
    pub fn release(&mut self, channel: u8, key: KeyNumber) -> u8 {
        self.change(channel, key, |times| times.saturating_sub(1))
    }

    /// No longer down at all.
    pub fn clear(&mut self, channel: u8, key: KeyNumber) {
        self.change(channel, key, |_| 0);
    }

    /// Nothing of this channel is down.
    pub fn clear_channel(&mut self, channel: u8) {
        if let Some(keys) = self.0.get_mut(usize::from(channel)) {
            *keys = [0; 128];
        }
    }

    fn change(&mut self, channel: u8, key: KeyNumber, to: impl Fn(u8) -> u8) -> u8 {
        let keys = self.0.get_mut(usize::from(channel));
        let times = keys.and_then(|keys| keys.get_mut(usize::from(key.number())));
        times.map_or(0, |times| core::mem::replace(times, to(*times)))
    }
}

/// What sounds at the other end of an output, and what ends are owed to it.
/// An output may refuse a message: a note that was refused has no end to be
/// sent, and an end that was refused is owed. Fixed size; real-time safe.
///
/// Offer what is owed by [`Ledger::pay`] before anything else, so that nothing
/// overtakes it. Before a message is sent, ask [`Ledger::swallows`]; after it,
/// tell [`Ledger::sent`] how it went.
#[derive(Clone, Debug, Default)]
pub struct Ledger {
    /// What was taken and has not ended.
    sounding: KeyState,
    /// How often each of its keys was struck.
    times: Counts,
    /// Strokes that were refused, so that their ends are not sent either.
    refused: Counts,
    /// Ends that were refused: "down" here.
    owed: KeyState,
    /// Whether any is owed at all: most blocks look no further.
    owes: bool,
}

impl Ledger {
    /// Whether a message is not to be sent: the end of a stroke that was
    /// refused. Forgets that stroke.
    pub fn swallows(&mut self, message: Message) -> bool {
        match message {
            Message::Off { channel, key, .. } => {
                !self.sounds(channel, key) && self.refused.release(channel, key) > 0
            }
            _ => false,
        }
    }

    /// A message was taken by the output, or refused.
    pub fn sent(&mut self, message: Message, taken: bool) {
        match message {
            Message::On { channel, key, .. } if taken => {
                self.times.press(channel, key);
                self.sounding.press(channel, key);
            }
            Message::On { channel, key, .. } => _ = self.refused.press(channel, key),
            Message::Off { channel, key, .. } => {
                if self.times.release(channel, key) <= 1 {
                    self.sounding.release(channel, key);
                }
                if !taken {
                    self.owe(Message::On { channel, key, velocity: 1 });
                }
            }
            Message::Control { channel, controller, value } => {
                if taken {
                    self.control(channel, controller, value);
                } else {
                    self.refused_control(channel, controller, value);
                }
            }
        }
    }

    /// The same as bytes; those of no channel and of no hand are nothing to it.
    pub fn sent_short(&mut self, short: Short, taken: bool) {
        if let Some(message) = Message::read(short) {
            self.sent(message, taken);
        }
    }

    /// Whether a key sounds there.
    pub fn sounds(&self, channel: u8, key: KeyNumber) -> bool {
        self.sounding.is_down(channel, key)
    }

    /// What sounds there.
    pub fn sounding(&self) -> &KeyState {
        &self.sounding
    }

    /// Whether an end is owed.
    pub fn owes(&self) -> bool {
        self.owes
    }

    /// Whether nothing sounds and nothing is owed.
    pub fn is_settled(&self) -> bool {
        !self.owes && self.sounding.is_empty()
    }

    /// Every key of `channel` and of `key` was ended at once (`None` is any).
    pub fn ended(&mut self, channel: Option<u8>, key: Option<KeyNumber>) {
        for at in (0..16).filter(|at| channel.is_none_or(|c| c == *at)) {
            match key {
                Some(key) => {
                    self.times.clear(at, key);
                    self.sounding.release(at, key);
                }
                None => self.control(at, super::short::ALL_NOTES_OFF, 0),
            }
        }
    }

    /// Ends all that sounds; what is let go of later has ended already.
    pub fn end_all(&mut self, mut send: impl FnMut(Message) -> bool) {
        let mut sounding = self.sounding.clone();
        sounding.end(|message| {
            let strokes = match message {
                Message::Off { channel, key, .. } => self.times.of(channel, key).max(1),
                _ => 1,
            };
            for _ in 0..strokes {
                let taken = send(message);
                self.sent(message, taken);
                if let Message::Off { channel, key, .. } = message {
                    self.refused.press(channel, key);
                }
            }
            true
        });
    }

    /// Offers every end that is owed again, until one is refused. Whether
    /// nothing is owed any more.
    pub fn pay(&mut self, send: impl FnMut(Message) -> bool) -> bool {
        if self.owes {
            self.owes = !self.owed.end(send);
        }
        !self.owes
    }

    fn owe(&mut self, begin: Message) {
        self.owed.hear(begin);
        self.owes = true;
    }

    fn control(&mut self, channel: u8, controller: u8, value: u8) {
        self.sounding.control(channel, controller, value);
        if ChannelMode::of(controller).is_some_and(ChannelMode::ends_keys) {
            self.times.clear_channel(channel);
        }
    }

    /// What it would have ended is owed.
    fn refused_control(&mut self, channel: u8, controller: u8, value: u8) {
        let mut after = self.sounding.clone();
        after.control(channel, controller, value);
        let ended = self.sounding.without(&after);
        ended.clone().end(|message| {
            self.owe(match message {
                Message::Off { channel, key, .. } => Message::On { channel, key, velocity: 1 },
                Message::Control { channel, controller, .. } => {
                    Message::Control { channel, controller, value: 127 }
                }
                on => on,
            });
            true
        });
        if ChannelMode::of(controller).is_some_and(ChannelMode::ends_keys) {
            self.times.clear_channel(channel);
        }
        self.sounding = self.sounding.without(&ended);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL_OFF: Message = Message::Control { channel: 0, controller: 123, value: 0 };

    fn key(number: u8) -> KeyNumber {
        KeyNumber::clamped(number.into())
    }

    fn on(channel: u8, number: u8) -> Message {
        Message::On { channel, key: key(number), velocity: 80 }
    }

    fn off(channel: u8, number: u8) -> Message {
        Message::off(channel, key(number))
    }

    fn pedal(value: u8) -> Message {
        Message::Control { channel: 0, controller: 64, value }
    }

    fn paid(ledger: &mut Ledger) -> Vec<Message> {
        let mut sent = vec![];
        ledger.pay(|message| {
            sent.push(message);
            true
        });
        sent
    }

    #[test]
    fn a_refused_end_stays_owed_until_it_is_taken() {
        let mut ledger = Ledger::default();
        ledger.sent(on(3, 60), true);
        ledger.sent(pedal(127), true);
        ledger.sent(off(3, 60), false);
        ledger.sent(pedal(0), false);
        assert!(ledger.owes() && !ledger.is_settled() && !ledger.sounds(3, key(60)));
        assert!(!ledger.pay(|_| false));
        assert_eq!(paid(&mut ledger), [pedal(0), off(3, 60)]);
        assert!(!ledger.owes() && ledger.is_settled() && paid(&mut ledger).is_empty());
    }

    #[test]
    fn two_strokes_of_a_key_need_two_ends() {
        let mut ledger = Ledger::default();
        ledger.sent(on(0, 60), true);
        ledger.sent_short(on(0, 60).into(), true);
        ledger.sent(off(0, 60), true);
        assert!(ledger.sounds(0, key(60)));
        ledger.sent(off(0, 60), true);
        assert!(ledger.is_settled());
    }

    #[test]
    fn a_key_that_was_ended_with_others_begins_anew() {
        let ends: [fn(&mut Ledger); 2] =
            [|ledger| ledger.sent(ALL_OFF, true), |ledger| ledger.ended(Some(0), Some(key(60)))];
        for end in ends {
            let mut ledger = Ledger::default();
            ledger.sent(on(0, 60), true);
            ledger.sent(on(0, 60), true);
            end(&mut ledger);
            assert!(ledger.is_settled());
            ledger.sent(on(0, 60), true);
            ledger.sent(off(0, 60), true);
            assert!(ledger.is_settled());
        }
    }

    #[test]
    fn what_was_ended_has_no_second_end() {
        let mut ledger = Ledger::default();
        ledger.sent(on(0, 60), true);
        ledger.sent(on(0, 60), true);
        ledger.sent(pedal(127), true);
        let mut sent = vec![];
        ledger.end_all(|message| {
            sent.push(message);
            true
        });
        assert_eq!(sent, [off(0, 60), off(0, 60), pedal(0)]);
        assert!(ledger.is_settled());
        assert!(ledger.swallows(off(0, 60)) && ledger.swallows(off(0, 60)));
        assert!(!ledger.swallows(off(0, 60)), "a stray one passes");
    }

    #[test]
    fn the_end_of_a_refused_stroke_is_swallowed_once() {
        let mut ledger = Ledger::default();
        ledger.sent(on(0, 60), false);
        assert!(ledger.is_settled());
        assert!(ledger.swallows(off(0, 60)));
        assert!(!ledger.swallows(off(0, 60)));
    }

    #[test]
    fn a_refused_all_notes_off_owes_an_end_for_each_key() {
        let mut ledger = Ledger::default();
        ledger.sent(on(0, 60), true);
        ledger.sent(on(1, 62), true);
        ledger.sent(ALL_OFF, false);
        assert_eq!(paid(&mut ledger), [off(0, 60)]);
        assert!(ledger.sounds(1, key(62)) && !ledger.sounds(0, key(60)));
    }
}
