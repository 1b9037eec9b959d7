//! Reads chord symbols in the spellings that are common in print and by hand.
//!
//! Source of the spellings: common practice of lead sheets and method books,
//! from memory. Where they differ: `C2` is read as add2 (the third stays),
//! `CΔ` as maj7, `C+7` as an augmented seventh (C7♯5), `Cø` as Cm7♭5.

use alloc::format;
use alloc::string::String;

use super::Symbol;
use super::build::{Build, degree};
use super::kinds::{TriadSign, kind_of};
use crate::chord::{Alteration, Kind};
use crate::pitch::Spelled;

/// What is wrong with a symbol; `from..to` are bytes of the text given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SymbolFault {
    /// First faulty byte.
    pub from: usize,
    /// Behind the last faulty byte.
    pub to: usize,
    /// In one line.
    pub what: String,
    /// What would be right.
    pub hint: &'static str,
}

/// The sign of a major seventh, and what is typed for it.
const TRIANGLES: [&str; 4] = ["Δ", "∆", "△", "^"];

const HINT_ROOT: &str = "a chord starts with a letter A to G, such as Bb7, F#m or Cmaj7/E; \
                         N.C. is no chord";
const HINT_KIND: &str = "kinds are such as m 7 m7 maj7 6 9 sus4 add9 dim m7b5 + 7alt; \
                         changes such as b5 #9 #11 add9 no3";

/// Reads one symbol, all of `text`; `None` is `N.C.` (no chord).
///
/// # Errors
/// A fault that points at the first part that makes no sense.
pub fn read(text: &str) -> Result<Option<Symbol>, SymbolFault> {
    let plain: String = text.chars().filter(|c| *c != '.').collect();
    if plain.eq_ignore_ascii_case("nc") {
        return Ok(None);
    }
    Symbol::read(text).map(Some)
}

impl Symbol {
    /// Reads a symbol, all of `text`: a root, a kind with its changes, and
    /// a bass after a slash.
    ///
    /// # Errors
    /// A fault that points at the first part that makes no sense.
    pub fn read(text: &str) -> Result<Self, SymbolFault> {
        let no_root = || SymbolFault {
            from: 0,
            to: text.chars().next().map_or(0, char::len_utf8),
            what: format!("no chord `{text}`"),
            hint: HINT_ROOT,
        };
        let (root, rest) = Spelled::read(text).ok_or_else(no_root)?;
        if text.starts_with(|c: char| c.is_lowercase()) {
            return Err(no_root());
        }
        let mut reader = SymbolReader { text, at: text.len() - rest.len(), depth: 0 };
        let mut build = reader.base()?;
        reader.changes(&mut build)?;
        let end = reader.at;
        let quality = build.finish().ok_or_else(|| SymbolFault {
            from: text.len() - rest.len(),
            to: end,
            what: format!("more changes in `{text}` than a chord has room for"),
            hint: "four changed degrees at most",
        })?;
        let bass = reader.bass()?;
        Ok(Self { root, quality, bass })
    }
}

struct SymbolReader<'a> {
    text: &'a str,
    at: usize,
    /// Open parentheses.
    depth: usize,
}

impl<'a> SymbolReader<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    /// Takes the first of `words` that stands here. Words of two ASCII letters
    /// or more may be written large or small.
    fn take(&mut self, words: &[&str]) -> bool {
        let rest = self.rest();
        let found = words.iter().find(|word| {
            let exact = word.len() < 2 || !word.is_ascii();
            match rest.get(..word.len()) {
                Some(start) if exact => start == **word,
                Some(start) => start.eq_ignore_ascii_case(word),
                None => false,
            }
        });
        self.at += found.map_or(0, |word| word.len());
        found.is_some()
    }

    /// Takes a run of digits that is one of `values`.
    fn number(&mut self, values: &[u8]) -> Option<u8> {
        let rest = self.rest();
        let length = rest.bytes().take_while(u8::is_ascii_digit).count();
        // The 0 of `C07` is meant for the ° of a diminished chord.
        let value = rest[..length].parse().ok().filter(|_| !rest.starts_with('0'))?;
        values.contains(&value).then(|| {
            self.at += length;
            value
        })
    }

    fn fault(&self, what: impl Into<String>) -> SymbolFault {
        let width = self.rest().chars().next().map_or(0, char::len_utf8);
        SymbolFault { from: self.at, to: self.at + width, what: what.into(), hint: HINT_KIND }
    }

    fn major_word(&mut self) -> bool {
        if self.take(&["major", "maj"]) {
            return true;
        }
        // `ma7`, but not the start of `madd9`.
        let behind = self.rest().get(2..).and_then(|rest| rest.chars().next());
        let short = behind.is_none_or(|c| c.is_ascii_digit() || "(/)".contains(c));
        short && self.take(&["ma"]) || self.take(&["M"])
    }

    fn triad(&mut self) -> TriadSign {
        if self.rest().starts_with("m7b5") {
            self.at += "m7b5".len(); // one word, whatever else the fifth does
            TriadSign::Half
        } else if self.take(&TRIANGLES) {
            TriadSign::Triangle
        } else if self.take(&["minor", "min", "mi"]) {
            TriadSign::Minor
        } else if self.major_word() {
            TriadSign::Major
        } else if self.take(&["m", "-", "−", "–"]) {
            TriadSign::Minor
        } else if self.take(&["ø", "Ø", "⌀"]) {
            TriadSign::Half
        } else if self.take(&["dim", "°", "º", "˚"])
            || !self.rest().starts_with("om") && self.take(&["o"])
        {
            TriadSign::Diminished
        } else if self.take(&["aug", "+"]) {
            TriadSign::Augmented
        } else {
            self.take(&["dom"]);
            TriadSign::Plain
        }
    }

    /// Triad and number: the kind before its changes.
    fn base(&mut self) -> Result<Build, SymbolFault> {
        let start = self.at;
        let triad = self.triad();
        let major_seventh =
            matches!(triad, TriadSign::Minor | TriadSign::Diminished | TriadSign::Augmented)
                && self.major_seventh_word();
        let sixth_ninth = self.take(&["6/9", "69"]);
        let number = if sixth_ninth { Some(69) } else { self.number(&[2, 5, 6, 7, 9, 11, 13]) };
        if major_seventh {
            self.take(&[")"]);
        }
        kind_of(triad, major_seventh, number).ok_or_else(|| {
            let written = self.text.get(start..self.at).unwrap_or("");
            SymbolFault {
                from: start,
                to: self.at,
                what: format!("no kind of chord `{written}`"),
                hint: HINT_KIND,
            }
        })
    }

    /// `maj7`, `M9`, `Δ7` behind a triad, perhaps in parentheses: only the
    /// word is taken, with the opening parenthesis.
    fn major_seventh_word(&mut self) -> bool {
        let start = self.at;
        let open = self.take(&["(", "/"]);
        if self.take(&TRIANGLES) || self.major_word() {
            let rest = self.rest();
            let length = rest.bytes().take_while(u8::is_ascii_digit).count();
            if !open || rest[length..].starts_with(')') || self.text[start..].starts_with('/') {
                return true;
            }
        }
        self.at = start;
        false
    }

    fn changes(&mut self, build: &mut Build) -> Result<(), SymbolFault> {
        while let Some(next) = self.rest().chars().next() {
            match next {
                '/' if self.depth == 0 => break,
                '(' | '[' => {
                    self.depth += 1;
                    self.at += 1;
                }
                ')' | ']' if self.depth > 0 => {
                    self.depth -= 1;
                    self.at += 1;
                }
                ',' | '/' | ' ' if self.depth > 0 => self.at += 1,
                _ => self.change(build)?,
            }
        }
        if self.depth > 0 {
            return Err(self.fault(format!("no closing parenthesis in `{}`", self.text)));
        }
        Ok(())
    }

    fn change(&mut self, build: &mut Build) -> Result<(), SymbolFault> {
        const TENSIONS: &[u8] = &[2, 4, 5, 6, 9, 11, 13];
        if self.depth > 0
            && let Some(kind) = self.functional()
        {
            build.kind = kind;
        } else if self.take(&["sus24", "sus2sus4"]) {
            build.suspend(Kind::SuspendedFourth);
            build.degrees.push(degree(9, 0, Alteration::Add));
        } else if self.take(&["sus2"]) {
            build.suspend(Kind::SuspendedSecond);
        } else if self.take(&["sus4", "sus"]) {
            build.suspend(Kind::SuspendedFourth);
        } else if self.take(&["alter"]) {
            let alter = self.accidentals();
            let value = self.wanted_degree()?;
            build.degrees.push(degree(value, alter, Alteration::Alter));
        } else if self.take(&["alt"]) {
            for (value, alter) in [(5, -1), (5, 1), (9, -1), (9, 1)] {
                build.alter(value, alter);
            }
        } else if self.take(&["add"]) {
            self.added(build)?;
        } else if self.take(&["no", "omit"]) {
            let alter = self.accidentals();
            let value = self.wanted_degree()?;
            build.degrees.push(degree(value, alter, Alteration::Subtract));
        } else if self.depth > 0
            && let Some(value) = self.number(&[2, 4, 6, 9, 11, 13])
        {
            build.degrees.push(degree(value, 0, Alteration::Add));
        } else {
            let start = self.at;
            let alter = self.accidentals_or_signs();
            let sharp_alone = alter == 1 && !self.rest().starts_with(|c: char| c.is_ascii_digit());
            match self.number(TENSIONS) {
                Some(value) if alter != 0 => build.alter(value, alter),
                // `7+` and `7aug` raise the fifth.
                None if sharp_alone && self.text[start..].starts_with('+') => build.alter(5, 1),
                _ if alter == 0 && self.take(&["aug"]) => build.alter(5, 1),
                _ => {
                    self.at = start;
                    let unknown = self.rest();
                    return Err(SymbolFault {
                        from: start,
                        to: self.text.len(),
                        what: format!("`{unknown}` makes no sense in `{}`", self.text),
                        hint: HINT_KIND,
                    });
                }
            }
        }
        Ok(())
    }

    /// Behind `add`.
    fn added(&mut self, build: &mut Build) -> Result<(), SymbolFault> {
        let degree = if self.major_word() && self.take(&["7"]) {
            degree(7, 1, Alteration::Add)
        } else {
            let alter = self.accidentals_or_signs();
            let value = self.wanted_degree()?;
            // The seventh that is counted from is the minor one already.
            let alter = if value == 7 && alter < 0 { alter + 1 } else { alter };
            degree(value, alter, Alteration::Add)
        };
        build.degrees.push(degree);
        Ok(())
    }

    /// Kinds of functional harmony that have no symbol in common use.
    fn functional(&mut self) -> Option<Kind> {
        super::write::FUNCTIONAL.iter().find(|(_, name)| self.take(&[name])).map(|(kind, _)| *kind)
    }

    fn wanted_degree(&mut self) -> Result<u8, SymbolFault> {
        self.number(&[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13])
            .ok_or_else(|| self.fault(format!("a degree is missing in `{}`", self.text)))
    }

    fn accidentals(&mut self) -> i8 {
        let mut alter = 0i8;
        for _ in 0..3 {
            if self.take(&["#", "♯"]) {
                alter += 1;
            } else if self.take(&["b", "♭"]) {
                alter -= 1;
            }
        }
        alter
    }

    fn accidentals_or_signs(&mut self) -> i8 {
        match self.accidentals() {
            0 if self.take(&["+"]) => 1,
            0 if self.take(&["-", "−"]) => -1,
            alter => alter,
        }
    }

    fn bass(&mut self) -> Result<Option<Spelled>, SymbolFault> {
        if !self.take(&["/"]) {
            return Ok(None);
        }
        let fault = SymbolFault {
            from: self.at,
            to: self.text.len(),
            what: format!("no bass note `{}`", self.rest()),
            hint: "the bass after a slash is a note, such as C/E or Dm7/G",
        };
        match Spelled::read(self.rest()) {
            Some((bass, "")) if !self.rest().starts_with(|c: char| c.is_lowercase()) => {
                Ok(Some(bass))
            }
            _ => Err(fault),
        }
    }
}
