//! Every kind, root, inversion and voicing against the published intervals.

use super::*;
use crate::chord::Kind;
use crate::pitch::Semitones;

fn keys(numbers: &[i32]) -> u128 {
    numbers.iter().fold(0, |keys, &n| keys | 1 << n)
}

fn named(numbers: &[i32]) -> Naming {
    name_keys(keys(numbers), &Context::default()).expect("a name")
}

/// Kinds that sound like another, so that a set may be named either way.
fn sounds_like(a: Kind, b: Kind) -> bool {
    a.intervals() == b.intervals()
}

/// Kinds of which no piano sounds more than the name.
const SILENT: [Kind; 3] = [Kind::Pedal, Kind::Other, Kind::None];

/// Whether `heard` is `root` with `kind`, or sounds exactly the same.
fn right(heard: Chord, root: PitchClass, kind: Kind) -> bool {
    let asked = Chord::new(root, kind);
    // The Italian sixth is a dominant seventh without its fifth.
    let italian = kind == Kind::Italian && heard.quality.kind() == Kind::Dominant;
    heard.root == root && (italian || sounds_like(heard.quality.kind(), kind))
        || heard.tones() == asked.tones()
}

/// Voicings of a kind: every inversion, close and drop-2 (the second voice
/// from the top an octave down), and with the lowest tone doubled on top.
fn voicings(root: i32, kind: Kind) -> Vec<Vec<i32>> {
    let tones: Vec<i32> = kind.intervals().iter().map(|c| c.index() as i32).collect();
    let mut all = Vec::new();
    for inversion in 0..tones.len() {
        let (low, high) = tones.split_at(inversion);
        let close: Vec<i32> =
            high.iter().copied().chain(low.iter().map(|t| t + 12)).map(|t| 60 + root + t).collect();
        let mut drop2 = close.clone();
        if let Some(second) = close.len().checked_sub(2) {
            drop2[second] -= 12;
        }
        let mut doubled = close.clone();
        doubled.push(close[0] + 12);
        all.extend([close, drop2, doubled]);
    }
    all
}

#[test]
fn every_kind_on_every_root_in_every_inversion_and_voicing() {
    for &kind in Kind::ALL.iter().filter(|k| !SILENT.contains(k)) {
        for root in 0..12 {
            for voicing in voicings(root, kind) {
                let heard = named(&voicing);
                let class = PitchClass::new(root);
                assert!(
                    right(heard.chord, class, kind),
                    "{kind:?} on {root}: {voicing:?} → {heard:?}"
                );
            }
        }
    }
}

#[test]
fn every_entry_of_the_vocabulary_is_named_on_its_root_or_an_equal() {
    for entry in VOCABULARY {
        for root in 0..12u8 {
            let tones = PitchSet::from_bits(entry.tones).transpose(Semitones(root.into()));
            for lowest in tones.iter() {
                let heard = name(tones, lowest, &Context::default()).expect("a name").chord;
                let same =
                    heard.tones().minus(tones).len() <= 1 && tones.minus(heard.tones()).is_empty();
                assert!(same, "{entry:?} on {root} over {lowest:?}: {heard:?}");
            }
        }
    }
}

#[test]
fn ambiguous_sets_keep_their_other_names() {
    // C E G A: Am7 or C6.
    let heard = named(&[60, 64, 67, 69]);
    let roots: Vec<_> = [heard.chord]
        .into_iter()
        .chain(heard.alternatives.iter().map(|(chord, _)| *chord))
        .map(|c| (c.root.index(), c.quality.kind()))
        .collect();
    assert!(roots.contains(&(9, Kind::MinorSeventh)), "{roots:?}");
    assert!(roots.contains(&(0, Kind::MajorSixth)), "{roots:?}");
}

#[test]
fn the_key_and_the_chord_before_decide_a_hint() {
    let major = |tonic| Some(Key { tonic: PitchClass::new(tonic), mode: Mode::Major });
    // E and G after C in C major: still C. After G in G major: E minor.
    let before = |root, kind| Some(Chord::new(PitchClass::new(root), kind));
    let c = Context { key: major(0), before: before(0, Kind::Major) };
    let heard = name_keys(keys(&[64, 67]), &c).expect("a name").chord;
    assert_eq!(heard.root.index(), 0, "{heard:?}");
}

/// The left hand may have a root below: in songs it often has where A minor is
/// struck anew after itself, in C major.
#[test]
fn a_whole_chord_may_be_another_ones_upper_part() {
    let context = |before, kind| Context {
        key: Some(Key::C_MAJOR),
        before: Some(Chord::new(PitchClass::new(before), kind)),
    };
    let heard = name_keys(keys(&[69, 72, 76]), &context(9, Kind::Minor)).expect("a name");
    assert_eq!((heard.chord.root.index(), heard.chord.quality.kind()), (9, Kind::Minor));
    let (f, odds) = heard.alternatives[0];
    assert_eq!((f.root.index(), f.quality.kind()), (5, Kind::MajorSeventh));
    let all: f32 = heard.alternatives.iter().map(|(_, odds)| odds).sum();
    assert!(odds > 0.2 && heard.certainty < 0.8, "{heard:?}");
    assert!(heard.certainty + all <= 1.0001, "{heard:?}");
    let sure = name_keys(keys(&[60, 64, 67]), &context(7, Kind::Major)).expect("a name");
    assert!(sure.certainty > 0.75, "{sure:?}");
}

#[test]
fn nothing_has_no_name() {
    assert_eq!(name_keys(0, &Context::default()), None);
}
