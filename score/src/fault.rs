//! What is wrong with a file, where, and how to put it right.

use std::fmt;

/// Where a fault lies in a text file; everything counts from 1, in characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// The file as the user named it.
    pub file: String,
    /// The line.
    pub line: usize,
    /// The first faulty character of the line.
    pub column: usize,
    /// How many characters are at fault; 0 marks one place all the same.
    pub width: usize,
    /// The whole line, to be shown with a caret below.
    pub text: String,
}

impl Spot {
    /// The spot of the bytes `from..to` of `whole`; a span over several lines
    /// is marked on its first. Offsets beyond the text or inside a character
    /// are moved back to where they make sense.
    pub fn in_text(file: &str, whole: &str, from: usize, to: usize) -> Self {
        let from = floor_boundary(whole, from);
        let to = floor_boundary(whole, to.max(from));
        let start = whole[..from].rfind('\n').map_or(0, |newline| newline + 1);
        let end = whole[start..].find('\n').map_or(whole.len(), |length| start + length);
        let marked = &whole[from..to.min(end).max(from)];
        Self {
            file: file.to_owned(),
            line: whole[..start].matches('\n').count() + 1,
            column: whole[start..from].chars().count() + 1,
            width: marked.chars().count().max(1),
            text: whole[start..end].trim_end_matches('\r').to_owned(),
        }
    }
}

fn floor_boundary(text: &str, at: usize) -> usize {
    let at = at.min(text.len());
    (0..=at).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

/// One fault of a file or an argument: what, where, and a hint.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong, in one line without a full stop.
    pub what: String,
    /// The file alone, where there is no line (binary files).
    pub file: Option<String>,
    /// Where it is, for text files.
    pub spot: Option<Box<Spot>>,
    /// What would be right.
    pub hint: Option<String>,
}

impl Fault {
    /// A fault of no particular place.
    pub fn new(what: impl Into<String>) -> Self {
        Self { what: what.into(), file: None, spot: None, hint: None }
    }

    /// Somewhere in `file`, which has no lines.
    #[must_use]
    pub fn of_file(mut self, file: &str) -> Self {
        self.file = Some(file.to_owned());
        self
    }

    /// At a spot of a text file.
    #[must_use]
    pub fn at(mut self, spot: Spot) -> Self {
        self.spot = Some(Box::new(spot));
        self
    }

    /// With advice.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// `file:line:column: what`, the line, a caret below it, the hint.
impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(spot) = &self.spot {
            write!(f, "{}:{}:{}: ", printable(&spot.file), spot.line, spot.column)?;
        } else if let Some(file) = &self.file {
            write!(f, "{}: ", printable(file))?;
        }
        write!(f, "{}", printable(&self.what))?;
        if let Some(spot) = &self.spot {
            let (line, column, width) = window(spot);
            let number = spot.line.to_string();
            let gap = " ".repeat(number.len());
            let before = " ".repeat(column - 1);
            write!(f, "\n{number} | {line}\n{gap} | {before}{}", "^".repeat(width))?;
        }
        match &self.hint {
            Some(hint) => write!(f, "\nhint: {}", printable(hint)),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Fault {}

/// What a reader of TOML says, as a musician would: what is meant, not how a computer
/// keeps it.
pub(crate) fn toml_fault(said: &str) -> String {
    let said = said.lines().collect::<Vec<_>>().join(", ");
    let word = said.split('`').nth(1).unwrap_or_default();
    let ends = |end: &str| said.ends_with(end);
    match () {
        () if said.starts_with("unknown field") => format!("`{word}` is no word of it"),
        () if said.starts_with("missing field") => format!("`{word}` is missing"),
        () if said.starts_with("duplicate key") => "said twice".into(),
        () if ends("expected f64") || ends("expected u8") => "a number is meant".into(),
        () if ends("expected a string") => "words in quotes are meant".into(),
        () if ends("expected a sequence") => "a list in [ and ] is meant".into(),
        () if ends("expected a boolean") => "true or false is meant".into(),
        () if said.starts_with("invalid basic string") => "the quotes do not end".into(),
        () => said,
    }
}

/// The part of the line around the spot that fits on a screen, with column
/// and width moved to match.
fn window(spot: &Spot) -> (String, usize, usize) {
    const MOST: usize = 100;
    const BEFORE: usize = 40;
    let length = spot.text.chars().count();
    let column = spot.column.clamp(1, length + 1);
    let skipped = if length > MOST { column.saturating_sub(BEFORE) } else { 0 };
    let shown: String = spot.text.chars().skip(skipped).take(MOST).collect();
    let room = shown.chars().count() + 2 - (column - skipped).min(shown.chars().count() + 1);
    (printable(&shown), column - skipped, spot.width.clamp(1, room))
}

/// Without characters that would move the cursor or the caret.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// Every fault of a file, in the order of its lines; at least one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults {
    faults: Vec<Fault>,
    untold: usize,
}

impl Faults {
    /// As many as are told one by one; the rest are counted.
    pub const MOST: usize = 50;

    /// `Ok(())` if there is none.
    ///
    /// # Errors
    /// The list itself, if there is any fault in it.
    pub fn or_ok(mut faults: Vec<Fault>) -> Result<(), Self> {
        if faults.is_empty() {
            return Ok(());
        }
        let place = |fault: &Fault| fault.spot.as_ref().map_or((0, 0), |s| (s.line, s.column));
        faults.sort_by_key(place);
        let untold = faults.len().saturating_sub(Self::MOST);
        faults.truncate(Self::MOST);
        Err(Self { faults, untold })
    }

    /// Those that are told.
    pub fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.faults.iter()
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self { faults: vec![fault], untold: 0 }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, fault) in self.faults.iter().enumerate() {
            let between = if n == 0 { "" } else { "\n" };
            write!(f, "{between}{fault}")?;
        }
        match self.untold {
            0 => Ok(()),
            more => write!(f, "\nand {more} more"),
        }
    }
}

impl std::error::Error for Faults {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_shows_its_line_with_a_caret_and_a_hint() {
        let text = "title: Lake\nD | Gx7 | A\n";
        let from = text.find("Gx7").expect("there");
        let fault = Fault::new("no chord `Gx7`")
            .at(Spot::in_text("lake.txt", text, from, from + 3))
            .hint("a chord is a letter A to G and a kind, such as G7");
        assert_eq!(
            fault.to_string(),
            "lake.txt:2:5: no chord `Gx7`\n\
             2 | D | Gx7 | A\n  |     ^^^\n\
             hint: a chord is a letter A to G and a kind, such as G7"
        );
    }

    #[test]
    fn columns_count_characters() {
        let spot = Spot::in_text("a", "B♭ ?\r\n", 5, 6);
        assert_eq!((spot.line, spot.column, spot.text.as_str()), (1, 4, "B♭ ?"));
    }

    #[test]
    fn a_long_line_is_cut_around_the_spot() {
        let text = format!("{}!{}", "x".repeat(5000), "y".repeat(5000));
        let shown = Fault::new("odd").at(Spot::in_text("a", &text, 5000, 5001)).to_string();
        assert!(shown.len() < 300, "{}", shown.len());
        let lines: Vec<_> = shown.lines().collect();
        let caret = lines[2].find('^').expect("a caret");
        assert_eq!(lines[1].as_bytes()[caret + "1".len() - 1], b'!');
    }

    #[test]
    fn control_characters_never_reach_the_terminal() {
        let fault = Fault::new("bad \u{1b}[31m").at(Spot::in_text("a", "\u{1b}[2J\tx", 5, 6));
        assert!(!fault.to_string().contains('\u{1b}'));
    }

    #[test]
    fn no_offset_panics() {
        let text = "é\n♭";
        for from in 0..9 {
            for to in 0..9 {
                let _ = Fault::new("x").at(Spot::in_text("f", text, from, to)).to_string();
            }
        }
    }
}
