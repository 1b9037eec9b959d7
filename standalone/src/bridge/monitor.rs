//! Lights and the last messages, for the window.

use std::collections::{HashMap, VecDeque};
use std::time::{Duration, Instant};

use sinistra_core::key::Key;
use sinistra_panel::stage::Passed as Shown;
use sinistra_score::wording;

use super::midi::{ACTIVE_SENSING, CLOCK, ChannelKind, Short};
use super::run::PassedMessage;

/// How long a light stays on.
const LIT: Duration = Duration::from_millis(150);
/// Messages that are shown.
const MOST: usize = 40;

/// What passed lately.
#[derive(Default)]
pub struct Monitor {
    /// When something last came at an input.
    came: HashMap<usize, Instant>,
    /// When something was last sent.
    sent: Option<Instant>,
    last: VecDeque<Shown>,
}

impl Monitor {
    /// Something passed.
    pub fn note(&mut self, passed: PassedMessage) {
        let now = Instant::now();
        match passed.input {
            Some(input) => drop(self.came.insert(input, now)),
            None => self.sent = Some(now),
        }
        // What comes all the time would push everything else out.
        if !matches!(passed.message.status(), CLOCK | ACTIVE_SENSING) {
            if self.last.len() == MOST {
                self.last.pop_front();
            }
            let sent = passed.input.is_none();
            self.last.push_back(Shown { sent, text: words(passed.message) });
        }
    }

    /// Inputs at which something came just now.
    pub fn lit(&self) -> impl Iterator<Item = usize> {
        self.came.iter().filter(|(_, at)| at.elapsed() < LIT).map(|(input, _)| *input)
    }

    /// Whether something was sent just now.
    pub fn sends(&self) -> bool {
        self.sent.is_some_and(|at| at.elapsed() < LIT)
    }

    /// The last messages, the newest last.
    pub fn last(&self) -> Vec<Shown> {
        self.last.iter().cloned().collect()
    }
}

/// A message as a musician reads it: channels and programs are counted from 1.
fn words(message: Short) -> String {
    let Some((channel, kind)) = message.channel() else {
        let name = match message.status() {
            0xF1 => "time code",
            0xF2 => "song position",
            0xF3 => "song select",
            0xFA => "start",
            0xFB => "continue",
            0xFC => "stop",
            0xFF => "reset",
            _ => "system message",
        };
        return name.to_owned();
    };
    let key = |number| wording::note(number, Key::C_MAJOR);
    let what = match kind {
        ChannelKind::On(number, velocity) => format!("note on {} {velocity}", key(number)),
        ChannelKind::Off(number, _) => format!("note off {}", key(number)),
        ChannelKind::Control(64, value) => format!("sustain pedal {value}"),
        ChannelKind::Control(66, value) => format!("sostenuto pedal {value}"),
        ChannelKind::Control(67, value) => format!("soft pedal {value}"),
        ChannelKind::Control(7, value) => format!("volume {value}"),
        ChannelKind::Control(control, value) => format!("control {control}: {value}"),
        ChannelKind::Mode(120, _) => "all sound off".to_owned(),
        ChannelKind::Mode(123, _) => "all notes off".to_owned(),
        ChannelKind::Mode(control, value) => format!("mode {control}: {value}"),
        ChannelKind::Program(program) => format!("program {}", u16::from(program) + 1),
        _ => match message.status() & 0xF0 {
            0xE0 => format!("pitch bend {}", i32::from(message.fourteen()) - 8192),
            0xA0 => format!("key pressure {}", message.two()),
            _ => format!("pressure {}", message.one()),
        },
    };
    format!("{what}, channel {}", channel + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_told_in_words_and_clocks_only_light() {
        let mut monitor = Monitor::default();
        for (input, bytes) in [
            (Some(0), &[0x90, 60, 90][..]),
            (None, &[0xB1, 64, 127]),
            (Some(0), &[0xF8]),
            (Some(0), &[0xE0, 0, 64]),
            (None, &[0xC9, 4]),
        ] {
            let message = Short::new(bytes).expect("a message");
            monitor.note(PassedMessage { input, message });
        }
        let told: Vec<_> = monitor.last().into_iter().map(|shown| shown.text).collect();
        assert_eq!(
            told,
            [
                "note on C4 90, channel 1",
                "sustain pedal 127, channel 2",
                "pitch bend 0, channel 1",
                "program 5, channel 10",
            ]
        );
        assert!(monitor.sends() && monitor.lit().eq([0]));
    }
}
