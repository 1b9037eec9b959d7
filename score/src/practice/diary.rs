//! The diary of practice: every round by its day, for the learner's teacher.

use serde::{Deserialize, Serialize};

/// A round that was played.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DiaryRound {
    /// Seconds since 1970 at which it ended.
    pub at: u64,
    /// What was practised, as progress is kept under.
    pub exercise: String,
    /// Felt beats a minute.
    pub tempo: f64,
    /// Whether it was clean.
    pub clean: bool,
}

/// The rounds of the last months, the oldest first.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Diary {
    rounds: Vec<DiaryRound>,
}

/// Rounds that are kept: half an hour a day for more than a year.
const MOST: usize = 10_000;
const DAY: u64 = 24 * 3600;

impl Diary {
    /// Writes a round down; the oldest is forgotten where there are too many.
    pub fn note(&mut self, round: DiaryRound) {
        self.rounds.push(round);
        let over = self.rounds.len().saturating_sub(MOST);
        self.rounds.drain(..over);
    }

    /// A line a round for spreadsheets (RFC 4180): day, time, exercise, tempo, clean.
    /// Days are those of universal time.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut text = String::from("date,time,exercise,tempo,clean\r\n");
        for DiaryRound { at, exercise, tempo, clean } in &self.rounds {
            let (hour, minute) = (at % DAY / 3600, at % 3600 / 60);
            let exercise = exercise.replace('"', "\"\"");
            let clean = if *clean { "yes" } else { "no" };
            text += &format!(
                "{},{hour:02}:{minute:02},\"{exercise}\",{tempo:.0},{clean}\r\n",
                date(at / DAY)
            );
        }
        text
    }

    /// The week up to `now` (seconds since 1970), a paragraph a day and exercise.
    #[must_use]
    pub fn week(&self, now: u64) -> Vec<String> {
        let today = now / DAY;
        let mut lines = Vec::new();
        for day in today.saturating_sub(6)..=today {
            let of_day: Vec<&DiaryRound> =
                self.rounds.iter().filter(|round| round.at / DAY == day).collect();
            let mut names: Vec<&str> = of_day.iter().map(|round| round.exercise.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            for name in names {
                let rounds = || of_day.iter().filter(|round| round.exercise == name);
                let clean = rounds().filter(|round| round.clean).count();
                let best = rounds().filter(|round| round.clean).map(|round| round.tempo);
                let best = best.fold(0.0, f64::max);
                let best = if clean > 0 { format!(", clean at {best:.0}") } else { String::new() };
                let count = rounds().count();
                lines.push(format!("{}: {name}: {clean} of {count} rounds clean{best}", date(day)));
            }
        }
        if lines.is_empty() {
            lines.push("No round in the last seven days.".into());
        }
        lines
    }
}

/// The date of a day since 1970 (ISO 8601), after H. Hinnant, "chrono-Compatible
/// Low-Level Date Algorithms" (2013).
fn date(day: u64) -> String {
    let z = day + 719_468;
    let (era, of_era) = (z / 146_097, z % 146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted = (5 * of_year + 2) / 153;
    let day = of_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
    let year = year_of_era + era * 400 + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round(at: u64, tempo: f64, clean: bool) -> DiaryRound {
        DiaryRound { at, exercise: "Kitchen \u{201c}Loop\u{201d}, \"slow\"".into(), tempo, clean }
    }

    #[test]
    fn days_have_their_dates() {
        for (day, expected) in
            [(0, "1970-01-01"), (59, "1970-03-01"), (11_016, "2000-02-29"), (20_785, "2026-11-28")]
        {
            assert_eq!(date(day), expected);
        }
    }

    #[test]
    fn a_week_is_read_by_day_and_by_spreadsheet() {
        let mut diary = Diary::default();
        let now = 20_785 * DAY + 3_600;
        diary.note(round(now - 8 * DAY, 60.0, true));
        diary.note(round(now - DAY, 66.0, false));
        diary.note(round(now - DAY + 120, 66.0, true));
        let week = diary.week(now);
        assert_eq!(week.len(), 1);
        assert!(
            week[0].starts_with("2026-11-27: Kitchen")
                && week[0].ends_with("1 of 2 rounds clean, clean at 66")
        );
        let csv = diary.csv();
        assert_eq!(csv.lines().count(), 4);
        assert!(
            csv.contains("2026-11-27,01:02,\"Kitchen \u{201c}Loop\u{201d}, \"\"slow\"\"\",66,yes"),
            "{csv}"
        );
    }
}
