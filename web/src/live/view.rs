//! What the page shows of a block: JSON in a fixed room, no heap.

use std::fmt::{self, Write};

use arrayvec::ArrayString;
use sinistra_core::chord::Symbol;
use sinistra_core::engine::Snapshot;
use sinistra_core::key::Mode;
use sinistra_score::wording;

/// Bytes of a view at most; more than the most notes, slots and names need.
const ROOM: usize = 4096;

/// The last view.
#[derive(Default)]
pub struct LiveView(ArrayString<ROOM>);

impl LiveView {
    /// Its JSON.
    pub fn text(&self) -> &[u8] {
        self.0.as_bytes()
    }

    /// Writes a snapshot, and how far the cues are, in seconds, where they play.
    pub fn write(&mut self, snapshot: &Snapshot, cued: Option<f64>) {
        self.0.clear();
        if put(&mut self.0, snapshot, cued).is_err() {
            // It never needs this much; half a view would be no JSON.
            self.0.clear();
            let _ = self.0.write_str("{}");
        }
    }
}

fn put(out: &mut ArrayString<ROOM>, s: &Snapshot, cued: Option<f64>) -> fmt::Result {
    let place = s.place;
    let metre = place.metre;
    write!(
        out,
        "{{\"playing\":{},\"bar\":{},\"beat\":{:.3},\"beats\":{},\"unit\":{},\"tempo\":{:.2},",
        s.playing,
        place.number + 1,
        place.offset(s.at).beats(),
        metre.beats(),
        metre.unit(),
        s.tempo
    )?;
    keys(out, s)?;
    chords(out, s)?;
    out.write_str(",\"slots\":[")?;
    for (n, slot) in s.slots.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        let letter = slot.role.map_or("", wording::letter);
        write!(
            out,
            "{comma}[{:.3},\"{letter}\",{}]",
            place.offset(slot.at).beats(),
            slot.key.map_or(0, |k| k.number())
        )?;
    }
    out.write_str("]")?;
    if let Some(index) = s.chart_chord {
        write!(out, ",\"place\":{index}")?;
    }
    if let Some(seconds) = cued {
        write!(out, ",\"cued\":{seconds:.3}")?;
    }
    write!(out, ",\"dropped\":{}}}", s.dropped)
}

/// The keys that are down, as bits, and what of them is ours; the key of the song.
fn keys(out: &mut ArrayString<ROOM>, s: &Snapshot) -> fmt::Result {
    write!(out, "\"right\":\"{:x}\",\"own\":\"{:x}\",\"left\":[", s.right, s.own_left)?;
    for (n, (key, role)) in s.left.iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        write!(
            out,
            "{comma}[{},\"{}\",\"{}\"]",
            key.number(),
            wording::letter(*role),
            role.name()
        )?;
    }
    let mode = if s.key.mode == Mode::Major { "major" } else { "minor" };
    write!(
        out,
        "],\"key\":\"{} {mode}\",\"flats\":{}",
        s.key.spell(s.key.tonic),
        s.key.fifths() < 0
    )
}

/// The chord that holds and the next, with what else they may be.
fn chords(out: &mut ArrayString<ROOM>, s: &Snapshot) -> fmt::Result {
    if let Some(heard) = &s.chord {
        let said = wording::certainty(heard.certainty);
        let or = wording::or(s.other, s.key);
        write!(out, ",\"chord\":\"{}\",\"sure\":\"{said}{or}\"", Symbol::of(heard.chord, s.key))?;
    }
    if let Some(next) = &s.next {
        write!(
            out,
            ",\"next\":{{\"chord\":\"{}\",\"in\":{:.2},\"sure\":\"{}\",\"percent\":{:.0},\"or\":\"{}\",\"source\":\"{}\"}}",
            Symbol::of(next.chord, s.key),
            (next.at - s.at).beats(),
            wording::certainty(next.certainty),
            next.certainty * 100.0,
            wording::or(next.other, s.key),
            wording::source(next.source)
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::chord::{Chord, Kind, NamedChord};
    use sinistra_core::foresee::{Forecast, Source};
    use sinistra_core::pitch::PitchClass;
    use sinistra_core::time::Ticks;

    #[test]
    fn what_else_a_chord_may_be_is_told_with_its_odds() {
        let named = |root, kind, certainty| NamedChord {
            chord: Chord::new(PitchClass::new(root), kind),
            certainty,
        };
        let chord = Chord::new(PitchClass::new(5), Kind::Major);
        let other = Some(named(2, Kind::Minor, 0.17));
        let next = Forecast { other, ..Forecast::new(chord, Ticks(3840), 0.6, Source::Odds) };
        let snapshot = Snapshot {
            chord: Some(named(4, Kind::Minor, 0.61)),
            other: Some(named(0, Kind::MajorSeventh, 0.33)),
            next: Some(next),
            ..Snapshot::default()
        };
        let mut view = LiveView::default();
        view.write(&snapshot, None);
        let told: serde_json::Value = serde_json::from_slice(view.text()).expect("JSON");
        assert_eq!(told["chord"], "Em");
        assert_eq!(told["sure"], "perhaps, or Cmaj7 33 %");
        assert_eq!(told["next"]["or"], ", or Dm 17 %");
        view.write(&Snapshot { other: None, ..snapshot }, None);
        let told: serde_json::Value = serde_json::from_slice(view.text()).expect("JSON");
        assert_eq!(told["sure"], "perhaps");
    }
}
