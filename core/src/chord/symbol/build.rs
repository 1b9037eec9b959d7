//! A chord's quality in the making: a kind, and changes one by one.

use alloc::vec::Vec;

use crate::chord::{Alteration, Degree, Kind, Quality};

/// A quality in the making.
pub struct Build {
    /// Before its changes.
    pub kind: Kind,
    /// The changes.
    pub degrees: Vec<Degree>,
}

impl Build {
    /// `kind` as it is.
    pub fn plain(kind: Kind) -> Self {
        Self { kind, degrees: Vec::new() }
    }

    /// With natural degrees added.
    pub fn add(mut self, values: &[u8]) -> Self {
        self.degrees.extend(values.iter().map(|&value| degree(value, 0, Alteration::Add)));
        self
    }

    /// A degree with an accidental: replaces the natural one if that is in the
    /// kind or was added before, else is added.
    pub fn alter(&mut self, value: u8, alter: i8) {
        let same_place = |d: &Degree| d.value % 7 == value % 7;
        let said = self.degrees.iter().any(|d| d.value == value && d.alter == alter);
        if said || value == 5 && self.has_semitones(7 + i32::from(alter)) {
            return; // once is enough, as in Cdim(b5)
        }
        if let Some(natural) = self
            .degrees
            .iter_mut()
            .find(|d| same_place(d) && d.change == Alteration::Add && d.alter == 0)
        {
            natural.alter = alter;
            return;
        }
        let already = self.degrees.iter().any(|d| same_place(d) && d.change == Alteration::Alter);
        let natural = degree(value, 0, Alteration::Add).class();
        let in_kind = self.kind.intervals().has(natural)
            || value == 5 && (6..=8).any(|s| self.has_semitones(s));
        let change = if in_kind && !already { Alteration::Alter } else { Alteration::Add };
        self.degrees.push(degree(value, alter, change));
    }

    fn has_semitones(&self, above: i32) -> bool {
        self.kind.intervals().has(crate::pitch::PitchClass::new(above))
    }

    /// The third gives way; what the kind has beyond it is kept as additions.
    pub fn suspend(&mut self, kind: Kind) {
        let added: &[(u8, i8)] = match self.kind {
            Kind::Dominant | Kind::MinorSeventh => &[(7, 0)],
            Kind::MajorSeventh => &[(7, 1)],
            Kind::MajorSixth | Kind::MinorSixth => &[(6, 0)],
            Kind::DominantNinth | Kind::DominantEleventh | Kind::MinorNinth => &[(7, 0), (9, 0)],
            Kind::MajorNinth => &[(7, 1), (9, 0)],
            Kind::DominantThirteenth => &[(7, 0), (9, 0), (13, 0)],
            Kind::SuspendedSecond | Kind::SuspendedFourth => &[(9, 0)], // sus2sus4
            _ => &[],
        };
        self.kind = kind;
        let added = added.iter().map(|&(value, alter)| degree(value, alter, Alteration::Add));
        self.degrees.extend(added);
    }

    /// The quality, with kinds that have a name of their own under that name.
    pub fn finish(mut self) -> Option<Quality> {
        let fifths: Vec<_> = self.degrees.iter().filter(|d| d.value % 7 == 5).copied().collect();
        if let [Degree { alter, change: Alteration::Alter, .. }] = fifths[..] {
            let named = match (self.kind, alter) {
                (Kind::Major, 1) => Some(Kind::Augmented),
                (Kind::Dominant, 1) => Some(Kind::AugmentedSeventh),
                (Kind::Minor, -1) => Some(Kind::Diminished),
                (Kind::MinorSeventh, -1) => Some(Kind::HalfDiminished),
                _ => None,
            };
            if let Some(kind) = named {
                self.kind = kind;
                self.degrees.retain(|d| d.value != 5);
            }
        }
        // ♭5 before ♯5, whichever was written first: the lower one alters.
        if let [a, b] = fifths[..]
            && a.value == b.value
            && a.change == Alteration::Alter
            && b.change == Alteration::Add
            && b.alter < a.alter
        {
            for d in self.degrees.iter_mut().filter(|d| d.value == 5) {
                d.change = if d.alter == b.alter { Alteration::Alter } else { Alteration::Add };
            }
        }
        self.degrees.sort_unstable();
        self.degrees.dedup();
        self.degrees.into_iter().try_fold(Quality::plain(self.kind), Quality::with)
    }
}

/// `value` with `alter` semitones.
pub const fn degree(value: u8, alter: i8, change: Alteration) -> Degree {
    Degree { value, alter, change }
}
