//! A chorus that was improvised, kept as a pattern file to practise from: where it
//! struck, on which tones of the chord, and how long it held them.

use sinistra_core::foresee::Song;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Role, Wish};
use sinistra_core::time::{Metre, Ticks};

use super::word;
use super::{PatternBar, PatternFile};
use crate::count::{Count, Syllable};
use crate::performance::HandNote;
use crate::{Fault, limits};

/// The grid on which places are counted.
const SIXTEENTH: i64 = Ticks::PER_BEAT / 4;

/// The bars of one voice, and where its chord's bass lies.
#[derive(Default)]
struct Writer {
    count: Vec<Vec<String>>,
    play: Vec<Vec<String>>,
    home: Option<KeyNumber>,
}

impl PatternFile {
    /// A left hand over the bars of `song` as a pattern of as many.
    ///
    /// # Errors
    /// If it has more bars than a pattern, or several metres.
    pub fn kept(song: &Song, left: &[HandNote], name: &str) -> Result<Self, Fault> {
        let bars: Vec<_> = song.bars().iter().filter(|bar| bar.at >= Ticks::ZERO).collect();
        let metre = bars.first().map_or(Metre::COMMON, |bar| bar.metre);
        if bars.iter().any(|bar| bar.metre != metre) {
            return Err(Fault::new("a chorus whose metre changes is no pattern")
                .hint("--sheet prints it; a pattern repeats bars of one metre"));
        }
        let most = limits::PATTERN_BARS.1;
        if bars.len() > most {
            let what = format!("{} bars are too many for a pattern, which has {most}", bars.len());
            return Err(Fault::new(what).hint("--sheet prints it; or keep a shorter chart"));
        }
        let mut writer = Writer::default();
        for bar in &bars {
            let end = bar.at + metre.bar();
            let here = |note: &&HandNote| (bar.at..end).contains(&note.at);
            let notes: Vec<_> = left.iter().filter(here).collect();
            writer.bar(&notes, bar.at, metre);
        }
        let Writer { count, play, .. } = writer;
        let metre = format!("{}/{}", metre.beats(), metre.unit());
        Ok(Self {
            name: name.to_owned(),
            about: "A chorus of the free hand, kept to practise from.".to_owned(),
            fill: None,
            improvises: false,
            draws: Vec::new(),
            rolls: true,
            bars: vec![PatternBar { metre, count, play, bass: None }],
        })
    }
}

impl Writer {
    fn bar(&mut self, notes: &[&HandNote], line: Ticks, metre: Metre) {
        let (mut count, mut play) = (Vec::new(), Vec::new());
        let mut counted = 0;
        let place = |note: &HandNote| {
            let offset = (note.at - line).0;
            ((offset + SIXTEENTH / 2) / SIXTEENTH * SIXTEENTH).min(metre.bar().0 - SIXTEENTH)
        };
        for stroke in notes.chunk_by(|a, b| place(a) == place(b)) {
            let Some(first) = stroke.first() else { continue };
            let here = Count::of(metre, Ticks(place(first)));
            if here.part != Syllable::On && counted != here.number {
                count.push(here.number.to_string());
                play.push("-".to_owned());
            }
            counted = here.number;
            count.push(here.syllable());
            play.push(self.word(stroke, metre));
        }
        if count.is_empty() {
            (count, play) = (vec!["1".to_owned()], vec!["-".to_owned()]);
        }
        self.count.push(count);
        self.play.push(play);
    }

    /// A stroke, from its lowest tone up, with how long it is held.
    fn word(&mut self, stroke: &[&HandNote], metre: Metre) -> String {
        let mut stroke = stroke.to_vec();
        stroke.sort_by_key(|note| note.key);
        let Some(lowest) = stroke.first() else { return "-".to_owned() };
        if matches!(lowest.role, Some(Role::Root | Role::Bass)) {
            self.home = Some(lowest.key);
        }
        let names: Vec<_> = stroke.iter().map(|note| self.wish(note).name()).collect();
        let unit = metre.unit_ticks().0 as f64;
        let longest = stroke.iter().map(|note| (note.until - note.at).0).max().unwrap_or(0);
        // In twelfths of a count, which is what a reader hears.
        let counts = (longest as f64 / unit * 12.0).round().max(1.0) / 12.0;
        let counts = ((counts * 1000.0).round() / 1000.0).clamp(0.084, 64.0);
        // What cannot be had in another register gives way to its lowest tone, then
        // to the root.
        let mut asked: Vec<String> = Vec::new();
        let lowest = names.first().copied().unwrap_or("root");
        let plain = match lowest {
            "tenth" | "third-up" => "third",
            "twelfth" | "fifth-up" => "fifth",
            other => other,
        };
        for name in [&names.join("+"), lowest, plain, "root"] {
            let fits = word::read(name, Some(metre)).is_ok();
            if fits && !asked.iter().any(|other| other == name) {
                asked.push(name.to_owned());
            }
        }
        format!("{}:{counts}", asked.join("/"))
    }

    /// What a pattern asks for to have that note.
    fn wish(&self, note: &HandNote) -> Wish {
        let above = self.home.map(|home| note.key.distance(home).0);
        match (note.role.unwrap_or(Role::Root), above) {
            (Role::Octave | Role::Root | Role::Bass, Some(12 | 24)) => Wish::OctaveUp,
            (Role::Octave | Role::Root | Role::Bass, Some(-12)) => Wish::OctaveDown,
            (Role::Third, Some(3..=5)) => Wish::ThirdUp,
            (Role::Third, Some(14..=17)) => Wish::Tenth,
            (Role::Fifth, Some(6..=8)) => Wish::FifthUp,
            (Role::Fifth, Some(18..=20)) => Wish::Twelfth,
            (Role::Third, _) => Wish::Third,
            (Role::Fifth, _) => Wish::Fifth,
            (Role::Seventh, _) => Wish::Seventh,
            (Role::Sixth, _) => Wish::Sixth,
            (Role::Ninth, _) => Wish::Ninth,
            (Role::Passing, _) => Wish::Lead,
            (Role::Octave | Role::Root | Role::Bass, _) => Wish::Root,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::ChartPreset;
    use crate::pattern::find_pattern;
    use crate::{Chart, Performance};
    use sinistra_core::engine::Settings;
    use std::collections::BTreeSet;

    fn performed(chart: &Chart, pattern: Box<sinistra_core::play::Pattern>) -> Performance {
        let settings = Settings { seed: 5, ..Settings::default() };
        Performance::of(chart.unfold(), 92.0, pattern, settings)
    }

    #[test]
    fn a_kept_chorus_is_played_again_where_it_was_struck_on_what_it_struck() {
        let (mut places, mut tones) = ((0, 0), (0, 0));
        for preset in ChartPreset::all() {
            let chart = preset.chart().expect("ships");
            let free = find_pattern("free-hand").expect("ships").compile().expect("ships");
            let first = performed(&chart, free);
            let Ok(kept) = PatternFile::kept(&first.song, &first.left, "Kept") else { continue };
            let pattern = PatternFile::compile(preset.slug, &kept.print()).expect("a pattern");
            let second = performed(&chart, pattern);
            let at = |p: &Performance| -> BTreeSet<_> { p.left.iter().map(|n| n.at).collect() };
            let on = |p: &Performance| -> BTreeSet<_> {
                p.left.iter().map(|note| (note.at, note.key.class().index())).collect()
            };
            places.0 += at(&first).len();
            places.1 += at(&first).intersection(&at(&second)).count();
            tones.0 += on(&first).len();
            tones.1 += on(&first).intersection(&on(&second)).count();
        }
        assert!(places.0 > 300 && places.1 * 100 >= places.0 * 90, "places: {places:?}");
        assert!(tones.1 * 100 >= tones.0 * 75, "tones: {tones:?}");
    }

    #[test]
    fn what_is_no_pattern_is_said() {
        let text = "title: Long\nkey: C\nmetre: 4/4\n\n".to_owned() + &"| C ".repeat(70) + "|\n";
        let chart = Chart::read("long", &text).expect("a chart");
        let free = find_pattern("free-hand").expect("ships").compile().expect("ships");
        let long = performed(&chart, free);
        let told = PatternFile::kept(&long.song, &long.left, "Kept").expect_err("too long");
        assert!(told.to_string().contains("70 bars are too many for a pattern, which has 64"));
    }
}
