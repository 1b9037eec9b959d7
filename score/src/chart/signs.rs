//! Signs that lead through a song: D.C., D.S., segno, coda, fine.

/// What stands at a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RoadSigns {
    /// Here `D.S.` goes back to.
    pub segno: bool,
    /// The coda starts here.
    pub coda: bool,
    /// Behind this bar, after the jump, on to the coda.
    pub to_coda: bool,
    /// Behind this bar, after the jump, it is over.
    pub fine: bool,
    /// Behind this bar a jump back.
    pub back: Option<JumpBack>,
}

/// A jump back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct JumpBack {
    /// `D.S.`, to the segno; else `D.C.`, to the start.
    pub to_segno: bool,
    /// How far it is played then.
    pub until: JumpEnd,
}

/// How far it is played after a jump.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum JumpEnd {
    /// To the end.
    #[default]
    End,
    /// `al Fine`.
    Fine,
    /// `al Coda`.
    Coda,
}

impl JumpBack {
    /// `D.S. al Coda`.
    #[must_use]
    pub fn name(self) -> String {
        let back = if self.to_segno { "D.S." } else { "D.C." };
        match self.until {
            JumpEnd::End => back.to_owned(),
            JumpEnd::Fine => format!("{back} al Fine"),
            JumpEnd::Coda => format!("{back} al Coda"),
        }
    }
}

impl RoadSigns {
    /// What is written before the chords.
    #[must_use]
    pub fn before(&self) -> Vec<&'static str> {
        let signs = [(self.segno, "Segno"), (self.coda, "Coda")];
        signs.into_iter().filter(|sign| sign.0).map(|sign| sign.1).collect()
    }

    /// What is written behind them.
    #[must_use]
    pub fn behind(&self) -> Vec<String> {
        let mut words = Vec::new();
        words.extend(self.to_coda.then(|| "To Coda".to_owned()));
        words.extend(self.fine.then(|| "Fine".to_owned()));
        words.extend(self.back.map(JumpBack::name));
        words
    }

    /// Takes a word of a chart in, `before` being the one read before it. Whether it
    /// was a sign.
    pub(super) fn read(&mut self, word: &str, before: &str) -> bool {
        let low = word.to_lowercase();
        match (before.to_lowercase().as_str(), low.as_str()) {
            ("to", "coda") => self.to_coda = true,
            ("al", "coda" | "fine") => {
                let Some(back) = &mut self.back else { return false };
                back.until = if low == "coda" { JumpEnd::Coda } else { JumpEnd::Fine };
            }
            (_, "to") => {}
            (_, "al") if self.back.is_some() => {}
            (_, "segno" | "𝄋") => self.segno = true,
            (_, "coda" | "𝄌") => self.coda = true,
            (_, "fine") => self.fine = true,
            (_, "d.c." | "d.s.") => {
                self.back = Some(JumpBack { to_segno: low == "d.s.", ..JumpBack::default() });
            }
            _ => return false,
        }
        true
    }
}
