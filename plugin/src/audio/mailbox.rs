//! A mailbox into the audio world: the latest letter wins, the old one goes home.
//!
//! A triple buffer of `Option<T>`. The audio side swaps what it has with what
//! came; what it had stays in the buffer and is dropped by the sender when it
//! next writes there, or by whoever drops the last half. Wait-free both ways.

use triple_buffer::{Input, Output, TripleBuffer};

/// The free world's half.
pub struct Sender<T: Send>(Input<Option<T>>);

/// The audio world's half.
pub struct Receiver<T: Send>(Output<Option<T>>);

/// An empty mailbox.
pub fn mailbox<T: Send>() -> (Sender<T>, Receiver<T>) {
    let (input, output) = TripleBuffer::default().split();
    (Sender(input), Receiver(output))
}

impl<T: Send> Sender<T> {
    /// Sends `letter`; one that was not fetched yet is replaced by it. Drops
    /// old letters: not for the audio thread.
    pub fn send(&mut self, letter: T) {
        self.0.write(Some(letter));
    }
}

impl<T: Send> Receiver<T> {
    /// Swaps `held` for a new letter, if there is one. Real-time safe.
    pub fn fetch(&mut self, swap: impl FnOnce(T) -> T) -> bool {
        if !self.0.update() {
            return false;
        }
        let place = self.0.output_buffer_mut();
        match place.take() {
            Some(letter) => {
                *place = Some(swap(letter));
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn the_latest_letter_wins_and_old_ones_are_dropped_by_the_sender() {
        let (mut sender, mut receiver) = mailbox();
        let letters: Vec<_> = (0..8).map(Arc::new).collect();
        let mut held = Arc::new(-1);
        let mut fetch = |held: &mut Arc<i32>| receiver.fetch(|new| std::mem::replace(held, new));
        assert!(!fetch(&mut held));
        sender.send(letters[0].clone());
        sender.send(letters[1].clone());
        assert!(fetch(&mut held));
        assert_eq!(*held, 1);
        assert!(!fetch(&mut held));
        for letter in &letters[2..] {
            sender.send(letter.clone());
            assert!(fetch(&mut held));
        }
        // The first have gone home; each of the three buffers may hold one.
        assert!(letters[..4].iter().all(|letter| Arc::strong_count(letter) == 1));
    }
}
