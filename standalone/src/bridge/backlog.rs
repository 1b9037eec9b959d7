//! Messages that wait for room on the wire, in order.

/// Bytes that may wait: 10,000 messages of three bytes and a long exclusive
/// message beside them.
const ROOM: usize = 256 << 10;
/// Bytes before each message: its length.
const HEAD: usize = 4;

/// A bounded queue of whole messages of any length. Allocates when it is made
/// and never after.
#[derive(Debug)]
pub struct Backlog {
    bytes: Box<[u8]>,
    /// What waits is between these.
    from: usize,
    to: usize,
}

impl Default for Backlog {
    fn default() -> Self {
        Self { bytes: vec![0; ROOM].into(), from: 0, to: 0 }
    }
}

impl Backlog {
    /// Whether nothing waits.
    pub fn is_empty(&self) -> bool {
        self.from == self.to
    }

    /// Nothing waits any more.
    pub fn clear(&mut self) {
        (self.from, self.to) = (0, 0);
    }

    /// Puts a message at the end. `false` if there is no room.
    pub fn push(&mut self, message: &[u8]) -> bool {
        let needs = HEAD + message.len();
        if self.bytes.len() - self.to < needs && self.from > 0 {
            self.bytes.copy_within(self.from..self.to, 0);
            (self.from, self.to) = (0, self.to - self.from);
        }
        let Some(place) = self.bytes.get_mut(self.to..self.to + needs) else { return false };
        let (head, body) = place.split_at_mut(HEAD);
        head.copy_from_slice(&u32::try_from(message.len()).unwrap_or(u32::MAX).to_le_bytes());
        body.copy_from_slice(message);
        self.to += needs;
        true
    }

    /// The first that waits.
    pub fn first(&self) -> Option<&[u8]> {
        let waiting = self.bytes.get(self.from..self.to)?;
        let (head, body) = waiting.split_first_chunk::<HEAD>()?;
        body.get(..u32::from_le_bytes(*head) as usize)
    }

    /// Takes the first away.
    pub fn pop(&mut self) {
        self.from += self.first().map_or(0, |first| HEAD + first.len());
        if self.from >= self.to {
            self.clear();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_thousand_messages_wait_in_order_and_the_queue_is_used_again() {
        let mut backlog = Backlog::default();
        for round in 0..3u8 {
            for n in 0..10_000u16 {
                let [high, low] = n.to_be_bytes();
                assert!(backlog.push(&[0xB0 | round, high, low]), "{n}");
            }
            for n in 0..10_000u16 {
                let [high, low] = n.to_be_bytes();
                assert_eq!(backlog.first(), Some(&[0xB0 | round, high, low][..]));
                backlog.pop();
            }
            assert!(backlog.is_empty() && backlog.first().is_none());
        }
    }

    #[test]
    fn it_is_bounded_and_goes_on_once_there_is_room() {
        let mut backlog = Backlog::default();
        let long = [0xF0; 1000];
        let taken = (0..1000).take_while(|_| backlog.push(&long)).count();
        assert_eq!(taken, ROOM / (1000 + HEAD));
        assert!(!backlog.push(&long));
        backlog.pop();
        assert!(backlog.push(&long));
    }
}
