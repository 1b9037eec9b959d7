//! The sections that a chart names: where each begins, and which come back.

use alloc::boxed::Box;
use alloc::collections::BTreeMap;

/// Where a bar stands in its section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct SectionBar {
    /// The section: 0 the first, 1 the next that is new, and so on. One that comes back
    /// has the number that it had, by whichever name.
    pub section: u32,
    /// How many bars after its first.
    pub bar: u32,
    /// Whether a section begins with the next bar.
    pub last: bool,
}

/// A section when it was first played: its number, its first bar, how many bars it had.
#[derive(Clone, Copy)]
struct Known {
    section: u32,
    first: u32,
    long: u32,
}

/// The places of bars in the sections that begin at `begins`: the index of the first bar,
/// rising, and which name it has. And for each bar the one that it repeats, by index,
/// where a section of that name was played before. `alike` is for each bar the one with
/// the same chords: a new name for what was played before is no new section. Bars before
/// the first belong to it. Allocates.
pub(super) fn places(
    begins: &[(usize, u32)],
    alike: &[u32],
) -> (Box<[SectionBar]>, Box<[Option<u32>]>) {
    let mut known: BTreeMap<u32, Known> = BTreeMap::new();
    let (mut now, mut at, mut new) = (None, SectionBar::default(), 0);
    let mut begins = begins.iter().peekable();
    let mut repeats = alloc::vec![None; alike.len()];
    let mut places: alloc::vec::Vec<SectionBar> = alloc::vec::Vec::with_capacity(alike.len());
    for (index, (same, repeat)) in (0u32..).zip(alike.iter().zip(&mut repeats)) {
        at.bar += u32::from(index > 0);
        if let Some((_, name)) = begins.next_if(|(first, _)| *first == index as usize) {
            let before = places.get(*same as usize).map(|before| before.section);
            let here = known.entry(*name).or_insert_with(|| {
                let section = before.unwrap_or(new);
                new += u32::from(before.is_none());
                Known { section, first: index, long: 0 }
            });
            now = Some(*name);
            at = SectionBar { section: here.section, bar: 0, last: false };
        }
        if let Some(here) = now.and_then(|name| known.get_mut(&name)) {
            if here.first + at.bar == index {
                here.long = at.bar + 1;
            } else if at.bar < here.long {
                *repeat = Some(here.first + at.bar);
            }
        }
        places.push(at);
    }
    for index in 1..places.len() {
        if let Some([before, here]) = places.get_mut(index - 1..=index) {
            before.last = here.bar == 0;
        }
    }
    (places.into(), repeats.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_section_of_one_name_is_one_section_however_long_it_is_this_time() {
        // Two bars before the first, A of three bars, B of two, A of four.
        let alike: Vec<u32> = (0..11).collect();
        let (places, repeats) = places(&[(2, 7), (5, 8), (7, 7)], &alike);
        let at = |n: usize| (places[n].section, places[n].bar, places[n].last);
        assert_eq!(
            (0..11).map(at).collect::<Vec<_>>(),
            [
                (0, 0, false),
                (0, 1, true),
                (0, 0, false),
                (0, 1, false),
                (0, 2, true),
                (1, 0, false),
                (1, 1, true),
                (0, 0, false),
                (0, 1, false),
                (0, 2, false),
                (0, 3, false),
            ]
        );
        let mut expected = [None; 11];
        expected[7..10].copy_from_slice(&[Some(2), Some(3), Some(4)]);
        assert_eq!(*repeats, expected);
    }

    #[test]
    fn a_second_verse_with_the_chords_of_the_first_is_no_new_section() {
        let verses = [(0, 1), (2, 2), (4, 3), (6, 4)];
        let (places, _) = places(&verses, &[0, 1, 2, 3, 0, 1, 6, 7]);
        let sections: Vec<_> = places.iter().map(|place| place.section).collect();
        assert_eq!(sections, [0, 0, 1, 1, 0, 0, 2, 2]);
    }

    #[test]
    fn a_chart_without_sections_is_one() {
        let (places, repeats) = places(&[], &[0, 1, 2]);
        assert!(places.iter().all(|place| place.section == 0 && !place.last));
        assert!(repeats.iter().all(Option::is_none));
    }
}
