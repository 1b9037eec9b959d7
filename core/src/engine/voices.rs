//! What the left hand has on; every on gets its off.
//!
//! A note is admitted only with room for its end as well, so that an overflow
//! costs a missing note and never a stuck one. An off that the home refuses
//! stays owed and is offered again. Real-time safe throughout.

use arrayvec::ArrayVec;

use super::{Message, Output, Played, Timed};
use crate::chord::Chord;
use crate::pitch::KeyNumber;
use crate::play::free::belongs;
use crate::play::{Note, Role, Stroke, Voice, limits};
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
    /// The voice that it belongs to.
    voice: Voice,
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

/// A note that is struck a little later than the rest of its stroke.
#[derive(Clone, Debug)]
struct Later {
    from: Ticks,
    note: Sounding,
    told: Played,
}

/// What is on, what is about to be, and what offs are owed.
#[derive(Clone, Debug, Default)]
pub struct Voices {
    notes: ArrayVec<Sounding, MOST>,
    /// The upper notes of a stroke that is rolled.
    later: ArrayVec<Later, 4>,
    dropped: u32,
}

impl Voices {
    /// Notes that are on.
    pub fn sounding(&self) -> impl Iterator<Item = &Sounding> {
        self.notes.iter().filter(|note| note.state != NoteState::Owed)
    }

    /// Whether nothing is on and no end is owed.
    pub fn is_at_rest(&self) -> bool {
        self.notes.is_empty()
    }

    /// Notes given up because the home or we had no room.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }

    /// When the next note ends by itself.
    pub fn next_end(&self) -> Option<Ticks> {
        self.notes.iter().filter(|n| n.state == NoteState::On).map(|n| n.until).min()
    }

    /// When the next note of a rolled stroke is due.
    pub fn next_start(&self) -> Option<Ticks> {
        self.later.iter().map(|later| later.from).min()
    }

    /// Strikes a note that is to end by itself at `until`, and tells of it; or puts
    /// it off until it begins.
    pub fn strike(
        &mut self,
        channel: u8,
        note: &Note,
        until: Ticks,
        told: Played,
        out: &mut impl Output,
    ) {
        let &Note { key, role, voice, from, .. } = note;
        let note = Sounding { key, role, voice, channel, until, state: NoteState::On };
        if from <= told.at {
            self.begin(note, told, out);
        } else if self.later.try_push(Later { from, note, told }).is_err() {
            self.dropped = self.dropped.saturating_add(1);
        }
    }

    /// Strikes what is due at `now`.
    pub fn strike_due(&mut self, frame: u32, now: Ticks, out: &mut impl Output) {
        while let Some(index) = self.later.iter().position(|later| later.from <= now) {
            let Later { from, note, told } = self.later.remove(index);
            self.begin(note, Played { frame, at: from, ..told }, out);
        }
    }

    fn begin(&mut self, note: Sounding, told: Played, out: &mut impl Output) {
        let Sounding { key, channel, .. } = note;
        let frame = told.frame;
        // The same key again: its first stroke ends here, and must have ended.
        self.end_where(frame, out, |note| note.key == key && note.channel == channel);
        let taken = self.notes.iter().any(|n| n.key == key && n.channel == channel);
        let message = Message::On { channel, key, velocity: told.velocity };
        if !taken && !self.notes.is_full() && out.send(Timed { frame, message }) {
            self.notes.push(note);
            out.played(&told);
        } else {
            self.dropped = self.dropped.saturating_add(1);
        }
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

    /// Ends what gives way to `stroke`: its voices go on with it, and what would
    /// growl with it is let go.
    pub fn give_way(&mut self, stroke: &Stroke, frame: u32, out: &mut impl Output) {
        self.end_where(frame, out, |old| {
            stroke.iter().any(|new| {
                let (low, high) = (old.key.min(new.key), old.key.max(new.key));
                new.voice == old.voice || limits::muddy(low, high)
            })
        });
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
        self.later.retain(|later| !which(&later.note));
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

    fn note(number: u8, from: i64) -> Note {
        let (from, until) = (Ticks(from), Ticks(960));
        let (key, voice) = (key(number), Voice::Bass);
        let why = crate::play::Why::default();
        Note { key, velocity: 80, role: Role::Root, voice, from, until, why }
    }

    fn told(note: &Note) -> Played {
        Played {
            frame: 0,
            at: Ticks::ZERO,
            grid: None,
            key: note.key,
            velocity: note.velocity,
            role: note.role,
            chord: Chord::new(crate::pitch::PitchClass::C, crate::chord::Kind::Major),
            sure: 1.0,
            other: None,
            song_key: crate::key::Key::C_MAJOR,
            next: None,
            why: note.why,
        }
    }

    fn strike(voices: &mut Voices, number: u8, cable: &mut Cable) -> bool {
        let (note, before) = (note(number, 0), voices.dropped());
        voices.strike(0, &note, note.until, told(&note), cable);
        voices.dropped() == before
    }

    #[test]
    fn a_rolled_note_waits_and_is_cut_off_with_its_stroke() {
        let mut cable = Cable { sent: vec![], room: 9 };
        let mut voices = Voices::default();
        for (number, from) in [(36, 0), (52, 60)] {
            let note = note(number, from);
            voices.strike(0, &note, note.until, told(&note), &mut cable);
        }
        assert_eq!((cable.sent.len(), voices.next_start()), (1, Some(Ticks(60))));
        let mut cut = voices.clone();
        cut.end_own(9, &mut cable);
        assert_eq!(cut.next_start(), None, "what never began needs no end");
        voices.strike_due(3, Ticks(60), &mut cable);
        assert_eq!(voices.sounding().count(), 2);
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
