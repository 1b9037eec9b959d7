//! The log: the last events, in a ring that the writer never waits for.

#[cfg(not(loom))]
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering, fence};

#[cfg(loom)]
use loom::sync::atomic::{AtomicI64, AtomicU64, Ordering, fence};
use sinistra_core::time::{Metre, Ticks};

use super::stroke::LoggedStroke;

/// Events that are remembered; a dense minute of both hands is about 2,000.
pub const ROOM: u64 = if cfg!(loom) { 2 } else { 1 << 14 };

/// Whose note it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Owner {
    Right,
    Left,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// A channel message of three bytes (the third is 0 where there are two).
    Message(Owner, [u8; 3]),
    /// From here on, quarter notes a minute.
    Tempo(f32),
    /// A bar starts here.
    Bar(Metre),
    /// What is known of the left hand's note that is struck now.
    Stroke(LoggedStroke),
}

/// An event with the time that has been played since the log began: it goes
/// on rising when the song is wound back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoggedEvent {
    /// Time played.
    pub at: Ticks,
    /// What happened.
    pub what: What,
}

struct LogSlot {
    at: AtomicI64,
    what: AtomicU64,
}

/// One writer (the audio thread), any number of readers.
pub struct TakeLog {
    slots: Box<[LogSlot]>,
    /// Entries written since the start.
    written: AtomicU64,
}

impl std::fmt::Debug for TakeLog {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Log of {}", self.written.load(Ordering::Relaxed))
    }
}

impl Default for TakeLog {
    fn default() -> Self {
        let slot = |_| LogSlot { at: AtomicI64::new(0), what: AtomicU64::new(0) };
        Self { slots: (0..ROOM).map(slot).collect(), written: AtomicU64::new(0) }
    }
}

impl TakeLog {
    /// Adds an entry over the oldest. For one thread; wait-free, real-time safe.
    pub fn write(&self, entry: LoggedEvent) {
        let count = self.written.load(Ordering::Relaxed);
        if let Some(slot) = self.slots.get((count % ROOM) as usize) {
            // Whoever sees the new content also sees the count before it, and
            // so knows that the oldest entry is being written over.
            fence(Ordering::Release);
            slot.at.store(entry.at.0, Ordering::Relaxed);
            slot.what.store(entry.what.pack(), Ordering::Relaxed);
            self.written.store(count + 1, Ordering::Release);
        }
    }

    /// The time of the newest entry.
    pub fn end(&self) -> Ticks {
        let newest = self.written.load(Ordering::Acquire).checked_sub(1);
        let slot = newest.and_then(|count| self.slots.get((count % ROOM) as usize));
        slot.map_or(Ticks::ZERO, |slot| Ticks(slot.at.load(Ordering::Relaxed)))
    }

    /// A copy of what is remembered, oldest first. Not for the audio thread.
    pub fn read(&self) -> Vec<LoggedEvent> {
        let end = self.written.load(Ordering::Acquire);
        let copied: Vec<_> = (end.saturating_sub(ROOM)..end)
            .filter_map(|count| {
                let slot = self.slots.get((count % ROOM) as usize)?;
                Some((count, slot.at.load(Ordering::Relaxed), slot.what.load(Ordering::Relaxed)))
            })
            .collect();
        fence(Ordering::Acquire);
        let written = self.written.load(Ordering::Relaxed);
        copied
            .into_iter()
            .filter(|(count, ..)| count + ROOM > written)
            .filter_map(|(_, at, what)| {
                Some(LoggedEvent { at: Ticks(at), what: What::unpack(what)? })
            })
            .collect()
    }
}

impl LoggedEvent {
    /// As 16 bytes, from the lowest: the time, then what happened.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; 16] {
        (u128::from(self.what.pack()) << 64 | u128::from(self.at.0.cast_unsigned())).to_le_bytes()
    }

    /// From [`LoggedEvent::to_bytes`]; `None` if that is no event.
    #[must_use]
    pub fn from_bytes(bytes: &[u8; 16]) -> Option<Self> {
        let (at, what) = bytes.split_first_chunk::<8>()?;
        let at = Ticks(i64::from_le_bytes(*at));
        Some(Self { at, what: What::unpack(u64::from_le_bytes(what.try_into().ok()?))? })
    }
}

impl What {
    /// Kind in the highest byte, the rest below; 0 is nothing.
    fn pack(self) -> u64 {
        let bytes = |[a, b, c]: [u8; 3]| u64::from(a) << 16 | u64::from(b) << 8 | u64::from(c);
        match self {
            Self::Message(Owner::Right, message) => 1 << 56 | bytes(message),
            Self::Message(Owner::Left, message) => 2 << 56 | bytes(message),
            Self::Tempo(tempo) => 3 << 56 | u64::from(tempo.to_bits()),
            Self::Bar(metre) => 4 << 56 | bytes([0, metre.beats(), metre.unit()]),
            Self::Stroke(stroke) => 5 << 56 | stroke.pack(),
        }
    }

    fn unpack(packed: u64) -> Option<Self> {
        let [kind, _, _, _, _, a, b, c] = packed.to_be_bytes();
        match kind {
            1 => Some(Self::Message(Owner::Right, [a, b, c])),
            2 => Some(Self::Message(Owner::Left, [a, b, c])),
            3 => Some(Self::Tempo(f32::from_bits(packed as u32))),
            4 => Metre::new(b, c).map(Self::Bar),
            5 => LoggedStroke::unpack(packed & ((1 << 56) - 1)).map(Self::Stroke),
            _ => None,
        }
    }
}

#[cfg(all(test, loom))]
mod races {
    use super::*;

    /// In every order in which a processor may see the writes (`cargo xtask races`).
    #[test]
    fn a_reader_never_sees_half_an_entry() {
        loom::model(|| {
            let log = loom::sync::Arc::new(TakeLog::default());
            let writer = loom::thread::spawn({
                let log = log.clone();
                move || {
                    for n in 1..4_u8 {
                        let what = What::Message(Owner::Left, [n, n, n]);
                        log.write(LoggedEvent { at: Ticks(n.into()), what });
                    }
                }
            });
            let reader = loom::thread::spawn(move || {
                let entries = log.read();
                assert!(entries.is_sorted_by(|a, b| a.at.0 + 1 == b.at.0));
                for LoggedEvent { at, what } in entries {
                    let n = at.0 as u8;
                    assert_eq!(what, What::Message(Owner::Left, [n, n, n]));
                }
            });
            reader.join().expect("the reader");
            writer.join().expect("the writer");
        });
    }
}

#[cfg(all(test, not(loom)))]
mod tests {
    use super::*;

    #[test]
    fn the_last_entries_are_kept_in_order() {
        let log = TakeLog::default();
        assert_eq!(log.read(), []);
        let entries: Vec<_> = (0..ROOM as i64 + 10)
            .map(|at| LoggedEvent { at: Ticks(at), what: What::Tempo(at as f32) })
            .collect();
        entries.iter().for_each(|entry| log.write(*entry));
        // The oldest may be being written over at any time, so it is not given.
        assert_eq!(log.read(), entries[11..]);
    }

    #[test]
    fn everything_comes_back_as_it_was() {
        let log = TakeLog::default();
        let whats = [
            What::Message(Owner::Right, [0x90, 64, 100]),
            What::Message(Owner::Left, [0x8F, 127, 127]),
            What::Tempo(133.3),
            What::Bar(Metre::COMMON),
        ];
        for what in whats {
            log.write(LoggedEvent { at: Ticks(-5), what });
        }
        assert_eq!(log.read().iter().map(|entry| entry.what).collect::<Vec<_>>(), whats);
        for entry in log.read() {
            assert_eq!(LoggedEvent::from_bytes(&entry.to_bytes()), Some(entry));
        }
        assert_eq!(LoggedEvent::from_bytes(&[0; 16]), None);
    }

    #[test]
    fn a_reader_never_sees_half_an_entry() {
        let log = std::sync::Arc::new(TakeLog::default());
        let writer = std::thread::spawn({
            let log = log.clone();
            move || {
                for n in 0..400_000_u32 {
                    let what = What::Tempo(f32::from_bits(n));
                    log.write(LoggedEvent { at: Ticks(n.into()), what });
                }
            }
        });
        while !writer.is_finished() {
            let entries = log.read();
            assert!(entries.is_sorted_by(|a, b| a.at.0 + 1 == b.at.0));
            for entry in entries {
                assert_eq!(entry.what, What::Tempo(f32::from_bits(entry.at.0 as u32)));
            }
        }
        writer.join().expect("the writer");
    }
}
