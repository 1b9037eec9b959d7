//! Chords of an intro, played once before the song; and where the song begins.

use super::{Bar, Chart, Content, Draft, Problem};

/// The section of an intro.
const INTRO: &str = "Intro";
/// The section behind it, where the song names none.
const SONG: &str = "Song";

impl Chart {
    /// This song with `intro` once before it: repeats and a D.C. go back to where the
    /// song begins. A pick-up lies over the intro's last bar, and is left out. The
    /// tempo and swing are the song's.
    ///
    /// # Errors
    /// What makes no sense of both together, as too many bars.
    pub fn with_intro(&self, intro: &Self) -> Result<Self, Vec<Problem>> {
        let (own, before) = (&self.draft, &intro.draft);
        let picked_up = usize::from(own.pick_up.is_some());
        let mut song: Vec<Bar> = own.bars.iter().skip(picked_up).cloned().collect();
        let mut bars = before.bars.clone();
        if let Some(first) = bars.first_mut() {
            first.section = Some(INTRO.into());
        }
        let closes = song.iter().position(|bar| bar.repeat_end.is_some());
        let opens = song.iter().position(|bar| bar.repeat_start);
        let returns = song.iter().any(|bar| bar.signs.back.is_some_and(|back| !back.to_segno));
        for bar in song.iter_mut().filter(|_| returns) {
            bar.signs.segno = false;
            bar.signs.back = bar.signs.back.map(|back| super::JumpBack { to_segno: true, ..back });
        }
        if let Some(first) = song.first_mut() {
            first.section.get_or_insert_with(|| SONG.into());
            first.starts_line = true;
            first.repeat_start |= closes.is_some_and(|at| opens.is_none_or(|from| from > at));
            first.signs.segno |= returns;
            if first.content == Content::Same {
                let before = own.bars.first().map(Bar::cells).unwrap_or_default();
                first.content = Content::Places(before.to_vec()); // the pick-up's
            }
        }
        bars.extend(song);
        // Felt beats: those of the bar that it begins with now.
        let felt = |metre: sinistra_core::time::Metre| metre.pulse().beats();
        let tempo = own.tempo.map(|tempo| tempo * felt(own.metre) / felt(before.metre));
        Self::new(Draft {
            bars,
            metre: before.metre,
            pick_up: before.pick_up,
            tempo,
            ..own.clone()
        })
    }

    /// The intro that it begins with, and the song behind it.
    #[must_use]
    pub fn parted(&self) -> Option<(Self, Self)> {
        let bars = &self.draft.bars;
        let named =
            |bar: &Bar| bar.section.as_deref().is_some_and(|name| name.eq_ignore_ascii_case(INTRO));
        bars.first().filter(|first| named(first))?;
        let from = 1 + bars.iter().skip(1).position(|bar| bar.section.is_some())?;
        let (intro, song) = bars.split_at(from);
        let mut song = song.to_vec();
        let first = song.first_mut()?;
        first.section.take_if(|name| name == SONG);
        let metre = first.metre;
        let part = |bars: Vec<Bar>, draft: Draft| Self::new(Draft { bars, ..draft }).ok();
        let (from, own) = (self.draft.clone(), self.draft.clone());
        let tempo = own.tempo.map(|tempo| self.quarters(tempo) / metre.pulse().beats());
        let song = part(song, Draft { metre, tempo, pick_up: None, ..own })?;
        Some((part(intro.to_vec(), from)?, song))
    }

    /// Its bars alone, on one line where no repeat is in the way: `| Dm7 | G7 |`.
    #[must_use]
    pub fn line(&self) -> String {
        let mut line = String::new();
        let text = self.to_string();
        for bars in text.lines().map(str::trim).filter(|bars| bars.starts_with('|')) {
            let bars = bars.split_whitespace().collect::<Vec<_>>().join(" ");
            let plain = line.ends_with(" |") && !bars.starts_with("|:");
            let more = bars.strip_prefix('|').filter(|_| plain);
            let apart = if more.is_none() && !line.is_empty() { "\n" } else { "" };
            line = format!("{line}{apart}{}", more.unwrap_or(&bars));
        }
        line
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn chart(text: &str) -> Chart {
        Chart::read("song", text).unwrap()
    }

    fn played(chart: &Chart) -> String {
        let symbols: Vec<_> = chart.symbols().collect();
        let name = |written: u32| symbols[written as usize].map_or("-".into(), |s| s.to_string());
        let song = chart.unfold();
        let names: Vec<String> = song.chords().iter().map(|chord| name(chord.written)).collect();
        names.join(" ")
    }

    #[test]
    fn it_is_played_once_and_what_goes_back_goes_back_to_the_song() {
        let intro = chart("key: C\n\n| Dm7 | G7 |\n");
        for (song, all) in [
            ("| C | F | C |", "Dm7 G7 C F C"),
            ("| C | F :| G |", "Dm7 G7 C F C F G"),
            ("|: C | F :| G |", "Dm7 G7 C F C F G"),
            ("| C | F Fine | G D.C. al Fine |", "Dm7 G7 C F G C F"),
            ("| C | Segno F | G D.S. |", "Dm7 G7 C F G F G"),
        ] {
            let song = chart(&format!("key: C\n\n{song}\n"));
            let both = song.with_intro(&intro).unwrap();
            assert_eq!(played(&both), all);
            // It is written, and read, as it is; and comes apart again.
            assert_eq!(chart(&both.to_string()), both);
            let (before, behind) = both.parted().unwrap();
            assert_eq!(before.line(), "| Dm7 | G7 |");
            assert_eq!(behind.with_intro(&before).unwrap(), both);
            assert_eq!(played(&behind), played(&song));
            assert!(song.parted().is_none());
        }
    }

    #[test]
    fn its_bars_on_a_line_are_read_again() {
        for (text, line) in [
            ("| Dm7 |\n|  G7 |\n", "| Dm7 | G7 |"),
            ("|: C | F :|\n|: G | C :| x3\n| F |\n", "|: C | F :|\n|: G | C :| x3\n| F |"),
        ] {
            let one = chart(&format!("key: C\n\n{text}"));
            assert_eq!(one.line(), line);
            assert_eq!(played(&chart(&format!("key: C\n\n{line}\n"))), played(&one));
        }
    }

    #[test]
    fn a_pick_up_lies_over_its_last_bar_and_a_tempo_stays_what_it_is() {
        let intro = chart("key: C\nmetre: 4/4\n\n| Dm7 | G7 |\n");
        let song = chart("key: C\nmetre: 6/8\ntempo: 60\npick-up: 2\n\n| G | C | F |\n");
        let both = song.with_intro(&intro).unwrap();
        assert_eq!(played(&both), "Dm7 G7 C F");
        assert_eq!(both.unfold().tempo, song.unfold().tempo);
        assert_eq!(both.parted().unwrap().1.unfold().tempo, song.unfold().tempo);
    }
}
