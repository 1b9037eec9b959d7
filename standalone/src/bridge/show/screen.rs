//! A steady screen of a few lines in a terminal, and the computer's keys.

use std::io::{IsTerminal, Write, stdin, stdout};
use std::time::Duration;

use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, poll, read};
use crossterm::style::Stylize;
use crossterm::terminal::{Clear, ClearType, disable_raw_mode, enable_raw_mode, size};
use crossterm::{cursor, queue};
use sinistra_core::chord::Symbol;
use sinistra_score::wording;

use super::{About, Pressed, Show};
use crate::bridge::controls::Action;
use crate::bridge::run::Look;
use crate::bridge::stage::Report;

/// The computer's keys.
pub const KEYS: &str = "space tap · s start/stop · l left hand · o octave · h hold · c click · \
                    n/b next/back · k keep · p panic · q end";

/// The screen; dropping it gives the terminal back.
pub struct Screen {
    lines: Vec<String>,
    said: String,
    drawn: usize,
}

impl Screen {
    /// Takes the terminal. `None` where there is none.
    pub fn take() -> Option<Self> {
        if !(stdout().is_terminal() && stdin().is_terminal()) || enable_raw_mode().is_err() {
            return None;
        }
        Some(Self { lines: Vec::new(), said: String::new(), drawn: 0 })
    }

    fn draw(&mut self) {
        let width = usize::from(size().map_or(80, |(columns, _)| columns)).max(2) - 1;
        let mut out = stdout().lock();
        if self.drawn > 0 {
            // All below too: in a window made narrower the old lines have wrapped.
            let up = cursor::MoveToPreviousLine(u16::try_from(self.drawn).unwrap_or(u16::MAX));
            let _ = queue!(out, up, Clear(ClearType::FromCursorDown));
        }
        let last = [self.said.as_str(), KEYS];
        for line in self.lines.iter().map(String::as_str).chain(last) {
            let cut: String = line.chars().take(width).collect();
            let _ = queue!(out, Clear(ClearType::CurrentLine));
            let cut = if line == KEYS { cut.dark_grey().to_string() } else { cut };
            let _ = write!(out, "{cut}\r\n");
        }
        self.drawn = self.lines.len() + last.len();
        let _ = out.flush(); // a terminal that is closed stops no music
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = disable_raw_mode();
    }
}

impl Show for Screen {
    fn say(&mut self, words: &str) {
        self.said = words.to_owned();
        self.draw();
    }

    fn report(&mut self, report: &Report) {
        match report {
            Report::Did(action, Some(value)) => {
                self.said = format!("{} {}", action.name(), (value * 100.0).round() / 100.0);
            }
            Report::Did(action, None) => self.said = action.name(),
            _ => {}
        }
    }

    fn look(&mut self, look: &Look, about: &About) {
        let lines = lines(look, about);
        if lines != self.lines {
            self.lines = lines;
            self.draw();
        }
    }

    fn pressed(&mut self) -> Vec<Pressed> {
        let mut pressed = Vec::new();
        while poll(Duration::ZERO).unwrap_or(false) {
            let Ok(Event::Key(key)) = read() else { continue };
            pressed.extend(meaning(key));
        }
        pressed
    }
}

fn meaning(key: KeyEvent) -> Option<Pressed> {
    if key.kind == KeyEventKind::Release {
        return None;
    }
    let does = |action| Some(Pressed::Does(action));
    match key.code {
        KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => Some(Pressed::End),
        KeyCode::Char('q') => Some(Pressed::End),
        KeyCode::Char('k') => Some(Pressed::Keep),
        KeyCode::Char('p') | KeyCode::Esc => does(Action::Panic),
        KeyCode::Char(' ') => does(Action::Tap),
        KeyCode::Char('s') | KeyCode::Enter => does(Action::Start),
        KeyCode::Char('l') => does(Action::Left),
        KeyCode::Char('o') => does(Action::OctaveDrop),
        KeyCode::Char('h') => does(Action::Hold),
        KeyCode::Char('c') => does(Action::Click),
        KeyCode::Char('n') | KeyCode::Right => does(Action::Next),
        KeyCode::Char('b') | KeyCode::Left => does(Action::Previous),
        _ => None,
    }
}

/// The screen's lines, without the message below them.
fn lines(look: &Look, about: &About) -> Vec<String> {
    let snapshot = &look.snapshot;
    let key = snapshot.key;
    let chord =
        snapshot.chord.map_or("–".to_owned(), |heard| Symbol::of(heard.chord, key).to_string());
    let next = snapshot.next.map_or_else(String::new, |next| {
        let percent = (next.certainty * 100.0).round();
        let chord = Symbol::of(next.chord, key);
        format!("next {chord} ({}, {percent} %)", next.source.name())
    });
    let left: Vec<String> = snapshot
        .left
        .iter()
        .map(|(number, role)| format!("{} {}", wording::note(*number, key), role.name()))
        .collect();
    let hand = match look.left {
        crate::bridge::stage::LeftHandWork::Plays => "plays",
        crate::bridge::stage::LeftHandWork::Roots => "roots only",
        crate::bridge::stage::LeftHandWork::Rests => "rests",
    };
    let metre = snapshot.place.metre;
    let place = if look.moves {
        format!("bar {} beat {}", snapshot.place.number + 1, snapshot.place.felt_beat(snapshot.at))
    } else {
        "waits".to_owned()
    };
    let ports = |names: &[String]| match names {
        [] => "nothing yet".to_owned(),
        names => names.join(", "),
    };
    vec![
        format!(
            "{place:<16} tempo {:<6.1} {}/{}  {}",
            snapshot.tempo,
            metre.beats(),
            metre.unit(),
            about.entry.as_deref().unwrap_or("")
        ),
        format!("chord {chord:<10} {next}"),
        format!("left hand {hand:<11} {}", left.join("  ")),
        format!("from {}  to {}", ports(&about.ports.0), ports(&about.ports.1)),
        format!("dropped {}  late {}", about.dropped, about.late),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::chord::{Chord, Kind};
    use sinistra_core::engine::{NamedChord, Snapshot};
    use sinistra_core::pitch::{KeyNumber, PitchClass};
    use sinistra_core::play::Role;
    use sinistra_core::time::Ticks;

    #[test]
    fn the_screen_says_where_we_are_and_what_sounds() {
        let mut snapshot = Snapshot { at: Ticks(960 * 2), tempo: 96.0, ..Snapshot::default() };
        let chord = Chord::new(PitchClass::new(9), Kind::Minor);
        snapshot.chord = Some(NamedChord { chord, certainty: 1.0 });
        snapshot.left.push((KeyNumber::clamped(45), Role::Root));
        let (left, settings, time, held) = Default::default();
        let octave_drop = false;
        let look = Look { snapshot, left, settings, time, moves: true, held, octave_drop };
        let about = About { ports: (vec!["Keys".into()], vec![]), ..About::default() };
        let text = lines(&look, &about).join("\n");
        for part in ["bar 1 beat 3", "96.0", "4/4", "chord Am", "A2 root", "from Keys  to nothing"]
        {
            assert!(text.contains(part), "{part} in\n{text}");
        }
    }

    #[test]
    fn the_computers_keys_do_what_is_written_under_the_screen() {
        let press = |c| meaning(KeyEvent::new(KeyCode::Char(c), KeyModifiers::NONE));
        assert_eq!(press('p'), Some(Pressed::Does(Action::Panic)));
        assert_eq!(press(' '), Some(Pressed::Does(Action::Tap)));
        assert_eq!(press('q'), Some(Pressed::End));
        assert_eq!(press('k'), Some(Pressed::Keep));
        assert_eq!(press('x'), None);
        let control_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(meaning(control_c), Some(Pressed::End));
    }
}
