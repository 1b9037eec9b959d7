//! What the left hand has on; every on gets its off.
//!
//! A note is admitted only with room for its end as well, so that an overflow
//! costs a missing note and never a stuck one. An off that the home refuses
//! stays owed and is offered again. Real-time safe throughout.

use arrayvec::ArrayVec;

use super::{Message, Output, Timed};
use crate::chord::Chord;
use crate::pitch::KeyNumber;
use crate::play::free::belongs;
use crate::play::{Note, Role};
use crate::time::Ticks;

/// The most notes at once: two strokes of four keys overlapping, twice over.
pub const MOST: usize = 16;

/// A note of the left hand that is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sounding {
    /// The key.
    pub key: KeyNumber,
    /// What it is to its chord.
    pub role: Role,
    /// The channel it was struck on, which is the one to end it on.
    channel: u8,
    /// When it ends by itself.
    until: Ticks,
    state: NoteState,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum NoteState {
    /// On, ends at `until`.
    On,
    /// The home refused its off.
    Owed,
    /// The player struck the same key on the same channel: our off would cut
    /// their note, so it goes out with theirs.
    Lent,
}

/// What is on, and what offs are owed.
#[derive(Clone, Debug, Default)]
pub struct Voices {
    notes: ArrayVec<Sounding, MOST>,
    dropped: u32,
}

impl Voices {
    /// Notes that are on.
    pub fn sounding(&self) -> impl Iterator<Item = &Sounding> {
        self.notes.iter().filter(|note| note.state != NoteState::Owed)
    }

    /// Notes given up because the home or we had no room.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }

    /// When the next note ends by itself.
    pub fn next_end(&self) -> Option<Ticks> {
        self.notes.iter().filter(|n| n.state == NoteState::On).map(|n| n.until).min()
    }

    /// Strikes a note that is to end by itself at `until`. `false` if there was no room for it or its end.
    pub fn strike(
        &mut self,
        frame: u32,
        channel: u8,
        &Note { key, role, velocity, .. }: &Note,
        until: Ticks,
        out: &mut impl Output,
    ) -> bool {
        // The same key again: its first stroke ends here, and must have ended.
        self.end_where(frame, out, |note| note.key == key && note.channel == channel);
        let taken = self.notes.iter().any(|n| n.key == key && n.channel == channel);
        let message = Message::On { channel, key, velocity };
        let struck = !taken && !self.notes.is_full() && out.send(Timed { frame, message });
        if struck {
            self.notes.push(Sounding { key, role, channel, until, state: NoteState::On });
        } else {
            self.dropped = self.dropped.saturating_add(1);
        }
        struck
    }

    /// Ends what is due at `now`.
    pub fn end_due(&mut self, frame: u32, now: Ticks, out: &mut impl Output) {
        self.end_where(frame, out, |note| note.until <= now);
    }

    /// Ends everything, lent notes too: stop, panic, bypass.
    pub fn end_all(&mut self, frame: u32, out: &mut impl Output) {
        self.settle(frame, out, |_| true);
    }

    /// Ends every note that is ours alone.
    pub fn end_own(&mut self, frame: u32, out: &mut impl Output) {
        self.end_where(frame, out, |_| true);
    }

    /// Ends every note that is ours alone and no tone of `chord`.
    pub fn end_foreign(&mut self, chord: Chord, frame: u32, out: &mut impl Output) {
        self.end_where(frame, out, |note| !belongs(note.key, chord));
    }

    /// Ends notes at `limit` or above: the right hand has come down to them.
    pub fn end_from(&mut self, limit: KeyNumber, frame: u32, out: &mut impl Output) {
        self.end_where(frame, out, |note| note.key >= limit);
    }

    /// Offers again what was refused.
    pub fn pay(&mut self, out: &mut impl Output) {
        self.settle(0, out, |note| note.state == NoteState::Owed);
    }

    /// The player struck `key`.
    pub fn lend(&mut self, channel: u8, key: KeyNumber) {
        for note in &mut self.notes {
            if note.key == key && note.channel == channel && note.state == NoteState::On {
                note.state = NoteState::Lent;
            }
        }
    }

    /// The player let go of `key`: ours ends with theirs.
    pub fn give_back(&mut self, channel: u8, key: KeyNumber, frame: u32, out: &mut impl Output) {
        self.settle(frame, out, |note| {
            note.state == NoteState::Lent && note.key == key && note.channel == channel
        });
    }

    /// Ends the notes that are on and `which` picks.
    fn end_where(&mut self, frame: u32, out: &mut impl Output, which: impl Fn(&Sounding) -> bool) {
        self.settle(frame, out, |note| note.state == NoteState::On && which(note));
    }

    /// Sends the offs of the picked notes; what is refused stays, owed.
    fn settle(&mut self, frame: u32, out: &mut impl Output, which: impl Fn(&Sounding) -> bool) {
        self.notes.retain(|note| {
            if !which(note) {
                return true;
            }
            let message = Message::off(note.channel, note.key);
            let sent = out.send(Timed { frame, message });
            note.state = NoteState::Owed;
            !sent
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Takes `room` events, then refuses.
    struct Cable {
        sent: Vec<Timed>,
        room: usize,
    }

    impl Output for Cable {
        fn send(&mut self, event: Timed) -> bool {
            let fits = self.sent.len() < self.room;
            if fits {
                self.sent.push(event);
            }
            fits
        }
    }

    fn key(number: u8) -> KeyNumber {
        KeyNumber::new(number).expect("a key")
    }

    fn strike(voices: &mut Voices, number: u8, cable: &mut Cable) -> bool {
        let (from, until) = (Ticks::ZERO, Ticks(960));
        let note = Note { key: key(number), velocity: 80, role: Role::Root, from, until };
        voices.strike(0, 0, &note, until, cable)
    }

    #[test]
    fn a_refused_off_stays_owed_until_it_is_taken() {
        let mut cable = Cable { sent: vec![], room: 1 };
        let mut voices = Voices::default();
        assert!(strike(&mut voices, 36, &mut cable));
        voices.end_all(5, &mut cable); // no room
        assert_eq!(cable.sent.len(), 1);
        cable.room = 9;
        voices.pay(&mut cable);
        voices.pay(&mut cable); // only once
        assert_eq!(cable.sent.len(), 2);
        assert!(matches!(cable.sent[1].message, Message::Off { .. }));
    }

    #[test]
    fn no_room_costs_a_note_and_is_counted() {
        let mut cable = Cable { sent: vec![], room: 0 };
        let mut voices = Voices::default();
        assert!(!strike(&mut voices, 36, &mut cable));
        assert_eq!((voices.dropped(), voices.sounding().count()), (1, 0));
    }

    #[test]
    fn a_key_struck_again_is_ended_first() {
        let mut cable = Cable { sent: vec![], room: 9 };
        let mut voices = Voices::default();
        strike(&mut voices, 36, &mut cable);
        strike(&mut voices, 36, &mut cable);
        let ons = cable.sent.iter().filter(|t| matches!(t.message, Message::On { .. })).count();
        assert_eq!((ons, cable.sent.len()), (2, 3));
    }

    #[test]
    fn our_off_waits_for_the_players_own_on_the_same_key() {
        let mut cable = Cable { sent: vec![], room: 9 };
        let mut voices = Voices::default();
        strike(&mut voices, 36, &mut cable);
        voices.lend(0, key(36));
        voices.end_due(0, Ticks(960), &mut cable);
        assert_eq!(cable.sent.len(), 1, "their note would have been cut");
        voices.give_back(0, key(36), 0, &mut cable);
        assert_eq!(cable.sent.len(), 2);
    }
}
