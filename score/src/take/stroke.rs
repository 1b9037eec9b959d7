//! What is known of a note of the left hand beside the message, in 45 bits.

use sinistra_core::engine::Played;
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{FigureOf, Heard, Role, Rule, Why};

/// What a key that our hand struck is to its chord, and why it was struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LoggedStroke {
    /// The key.
    pub key: KeyNumber,
    /// What it is to its chord.
    pub role: Role,
    /// The chord's root.
    pub root: PitchClass,
    /// The chord's bass: the root, or what stands after a slash.
    pub bass: PitchClass,
    /// Why it was struck.
    pub why: Why,
}

impl LoggedStroke {
    /// What was told of a note. Real-time safe.
    #[must_use]
    pub fn of(note: &Played) -> Self {
        let Played { key, role, chord, why, .. } = *note;
        Self { key, role, root: chord.root, bass: chord.bass, why }
    }

    /// From the lowest bit: key 7, role 4, root 4, bass 4, rule 3, what was heard 4,
    /// rolled 1, kind of figure 2, its number 16.
    pub(super) fn pack(self) -> u64 {
        fn place<T: PartialEq>(all: &[T], it: &T) -> u64 {
            all.iter().position(|one| one == it).unwrap_or(0) as u64
        }
        let Why { figure, rule, heard, rolled } = self.why;
        let (kind, number) = match figure {
            FigureOf::Pattern => (0, 0),
            FigureOf::Library(number) => (1, number),
            FigureOf::Book(number) => (2, number),
        };
        let parts = [
            (7, u64::from(self.key.number())),
            (4, place(&Role::ALL, &self.role)),
            (4, self.root.index() as u64),
            (4, self.bass.index() as u64),
            (3, place(&Rule::ALL, &rule)),
            (4, place(&Heard::ALL, &heard)),
            (1, rolled.into()),
            (2, kind),
            (16, number.into()),
        ];
        parts.iter().rev().fold(0, |packed, (bits, part)| packed << bits | part)
    }

    pub(super) fn unpack(mut packed: u64) -> Option<Self> {
        let mut part = |bits: u32| {
            let part = packed & ((1 << bits) - 1);
            packed >>= bits;
            part as usize
        };
        let key = KeyNumber::new(part(7) as u8)?;
        let role = *Role::ALL.get(part(4))?;
        let [root, bass] = [part(4), part(4)].map(|class| PitchClass::new(class as i32));
        let (rule, heard) = (*Rule::ALL.get(part(3))?, *Heard::ALL.get(part(4))?);
        let (rolled, kind, number) = (part(1) != 0, part(2), part(16) as u16);
        let figure = match kind {
            0 => FigureOf::Pattern,
            1 => FigureOf::Library(number),
            _ => FigureOf::Book(number),
        };
        Some(Self { key, role, root, bass, why: Why { figure, rule, heard, rolled } })
    }
}

#[cfg(all(test, not(loom)))]
mod tests {
    use super::*;

    #[test]
    fn every_stroke_comes_back_as_it_was() {
        let figures = [FigureOf::Pattern, FigureOf::Library(49), FigureOf::Book(u16::MAX)];
        let mut n = 0;
        for role in Role::ALL {
            for rule in Rule::ALL {
                for heard in Heard::ALL {
                    n += 1;
                    let class = |by: i32| PitchClass::new(n + by);
                    let why =
                        Why { figure: figures[n as usize % 3], rule, heard, rolled: n % 2 == 0 };
                    let key = KeyNumber::clamped(n % 128);
                    let stroke = LoggedStroke { key, role, root: class(0), bass: class(7), why };
                    assert_eq!(LoggedStroke::unpack(stroke.pack()), Some(stroke));
                    assert!(stroke.pack() < 1 << 45);
                }
            }
        }
        assert_eq!(LoggedStroke::unpack(15 << 7), None, "no such role");
    }
}
