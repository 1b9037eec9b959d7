//! The ledger of a stream of notes: what sounds at the host's end, what is owed.

/// A key on a channel, as an index: channel * 128 + key.
fn place(channel: u8, key: u8) -> usize {
    usize::from(channel & 15) * 128 + usize::from(key & 127)
}

/// Counts what one stream has on.
pub struct Ledger {
    /// Note-ons that were taken and not yet ended, by channel and key.
    sounding: Box<[u8; 2048]>,
    /// Note-ons that were refused, so that their offs are not sent either.
    refused: Box<[u8; 2048]>,
    /// Note-offs that were refused; bit n of a channel is key n.
    owed: [u128; 16],
    /// Whether any is owed at all: most blocks look no further.
    owes: bool,
}

impl Default for Ledger {
    fn default() -> Self {
        let (sounding, refused) = (Box::new([0; 2048]), Box::new([0; 2048]));
        Self { sounding, refused, owed: [0; 16], owes: false }
    }
}

impl Ledger {
    /// A note-on was taken (or not).
    pub fn on(&mut self, channel: u8, key: u8, taken: bool) {
        let counts = if taken { &mut self.sounding } else { &mut self.refused };
        if let Some(count) = counts.get_mut(place(channel, key)) {
            *count = count.saturating_add(1);
        }
    }

    /// Whether a note-off ends something that sounds.
    pub fn sounds(&self, channel: u8, key: u8) -> bool {
        self.sounding.get(place(channel, key)).is_some_and(|count| *count > 0)
    }

    /// Whether a note-off belongs to a note-on that was refused; forgets it.
    pub fn was_refused(&mut self, channel: u8, key: u8) -> bool {
        match self.refused.get_mut(place(channel, key)) {
            Some(count) if *count > 0 => {
                *count -= 1;
                true
            }
            _ => false,
        }
    }

    /// A note-off was taken, or refused and is owed.
    pub fn off(&mut self, channel: u8, key: u8, taken: bool) {
        if let Some(count) = self.sounding.get_mut(place(channel, key)) {
            *count = count.saturating_sub(1);
        }
        if !taken && let Some(owed) = self.owed.get_mut(usize::from(channel & 15)) {
            *owed |= 1 << (key & 127);
            self.owes = true;
        }
    }

    /// A note-off for every key of `channels` and `keys` was taken.
    pub fn off_all(&mut self, channel: Option<u8>, key: Option<u8>) {
        for (index, count) in self.sounding.iter_mut().enumerate() {
            let (at, number) = ((index / 128) as u8, (index % 128) as u8);
            if channel.is_none_or(|c| c == at) && key.is_none_or(|k| k == number) {
                *count = 0;
            }
        }
    }

    /// Ends all that sounds; what the player lets go of later has ended.
    pub fn end_all(&mut self, mut send: impl FnMut(u8, u8) -> bool) {
        for index in 0..self.sounding.len() {
            let (channel, key) = ((index / 128) as u8, (index % 128) as u8);
            while self.sounds(channel, key) {
                let taken = send(channel, key);
                self.off(channel, key, taken);
                self.on(channel, key, false);
            }
        }
    }

    /// Offers every owed note-off again.
    pub fn settle(&mut self, mut send: impl FnMut(u8, u8) -> bool) {
        if !self.owes {
            return;
        }
        for (channel, owed) in (0u8..).zip(self.owed.iter_mut()) {
            while *owed != 0 {
                let key = owed.trailing_zeros() as u8;
                if !send(channel, key) {
                    return;
                }
                *owed &= *owed - 1;
            }
        }
        self.owes = false;
    }

    /// Whether nothing sounds and nothing is owed.
    #[cfg(test)]
    pub fn is_balanced(&self) -> bool {
        self.owed.iter().all(|owed| *owed == 0) && self.sounding.iter().all(|count| *count == 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refused_off_stays_owed_until_it_is_taken() {
        let mut ledger = Ledger::default();
        ledger.on(3, 60, true);
        assert!(ledger.sounds(3, 60));
        ledger.off(3, 60, false);
        assert!(!ledger.is_balanced());
        ledger.settle(|_, _| false);
        let mut sent = vec![];
        ledger.settle(|channel, key| {
            sent.push((channel, key));
            true
        });
        assert_eq!(sent, [(3, 60)]);
        assert!(ledger.is_balanced());
    }

    #[test]
    fn what_was_ended_has_no_second_end() {
        let mut ledger = Ledger::default();
        ledger.on(0, 60, true);
        let mut sent = vec![];
        ledger.end_all(|channel, key| {
            sent.push((channel, key));
            true
        });
        assert_eq!(sent, [(0, 60)]);
        assert!(ledger.is_balanced() && ledger.was_refused(0, 60));
    }

    #[test]
    fn the_off_of_a_refused_on_is_swallowed_once() {
        let mut ledger = Ledger::default();
        ledger.on(0, 60, false);
        assert!(ledger.was_refused(0, 60));
        assert!(!ledger.was_refused(0, 60));
    }
}
