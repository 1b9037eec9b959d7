//! The real room: speakers or a MIDI port, a MIDI keyboard, a terminal.

use std::collections::HashSet;
use std::io::{BufRead, IsTerminal, Write};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use midir::{Ignore, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::score::practice::{Stroke, Take};

use super::round::Round;
use super::session::{Answer, Room};
use crate::failure::Failure;
use crate::interrupt::asked_to_stop;
use crate::quiet::hushed;
use crate::sound::{Feed, Speakers, Timbre, go_live};

/// How we are called among MIDI programs.
const CLIENT: &str = "Sinistra practice";
/// How often the room looks at its watch.
const LOOK: Duration = Duration::from_millis(1);

/// What to open.
pub struct Wishes<'a> {
    /// A part of an input port's name; `None` takes the first keyboard.
    pub from: Option<&'a str>,
    /// A part of an output port's name; `None` plays through the speakers.
    pub to: Option<&'a str>,
    /// The instrument in the speakers.
    pub timbre: Timbre,
    /// Whether the player's own keys sound in the speakers.
    pub echo: bool,
}

enum Out {
    Speakers { feed: Feed, drums: bool, _open: Speakers },
    Port(MidiOutputConnection),
}

/// A keyboard, a sound and a terminal.
pub struct Live {
    out: Out,
    echo: bool,
    heard: Receiver<(Instant, Message)>,
    typed: Receiver<String>,
    began: Instant,
    /// Notes of ours that sound.
    on: HashSet<(u8, KeyNumber)>,
    _keyboard: MidiInputConnection<()>,
}

impl Live {
    /// Opens everything.
    ///
    /// # Errors
    /// If there is no keyboard or no sound; the message says what there is.
    pub fn open(wishes: Wishes<'_>) -> Result<Self, Failure> {
        let (sender, heard) = channel();
        let keyboard = hushed(|| keyboard(wishes.from, sender))?;
        let out = match wishes.to {
            Some(name) => Out::Port(hushed(|| output(name))?),
            None => {
                let drums = matches!(wishes.timbre, Timbre::SoundFont(_));
                let (open, feed) = go_live(&wishes.timbre)?;
                Out::Speakers { feed, drums, _open: open }
            }
        };
        Ok(Self {
            out,
            echo: wishes.echo,
            heard,
            typed: typed(),
            began: Instant::now(),
            on: HashSet::new(),
            _keyboard: keyboard,
        })
    }

    fn play(&mut self, message: Message) {
        match message {
            Message::On { channel, key, .. } => self.on.insert((channel, key)),
            Message::Off { channel, key, .. } => self.on.remove(&(channel, key)),
            Message::Control { .. } => false,
        };
        match &mut self.out {
            Out::Speakers { feed, drums, .. } => {
                let _ = feed.send(if *drums { message } else { without_drums(message) });
            }
            Out::Port(port) => {
                let _ = port.send(&bytes(message));
            }
        }
    }

    /// Every note of ours ends.
    fn hush(&mut self) {
        let on: Vec<_> = self.on.iter().copied().collect();
        for (channel, key) in on {
            self.play(Message::Off { channel, key, velocity: 64 });
        }
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        self.hush();
    }
}

impl Room for Live {
    fn perform(&mut self, round: &Round) -> Result<Option<Take>, Failure> {
        while self.heard.try_recv().is_ok() {} // what came before does not count
        let start = Instant::now();
        let mut recorder = Recorder::default();
        let mut next = 0;
        loop {
            let now = start.elapsed().as_secs_f64() * 1000.0;
            while let Some((_, message)) = round.events.get(next).filter(|event| event.0 <= now) {
                self.play(*message);
                next += 1;
            }
            while let Ok((at, message)) = self.heard.try_recv() {
                let ms = at.saturating_duration_since(start).as_secs_f64() * 1000.0;
                recorder.hear(ms, message);
                if self.echo {
                    self.play(message);
                }
            }
            if asked_to_stop() {
                self.hush();
                return Ok(None);
            }
            if now >= round.end_ms {
                self.hush();
                return Ok(Some(recorder.take()));
            }
            std::thread::sleep(LOOK);
        }
    }

    fn say(&mut self, line: &str) {
        println!("{line}");
    }

    fn ask(&mut self) -> Answer {
        let _ = std::io::stdout().flush();
        loop {
            if asked_to_stop() {
                return Answer::Enough;
            }
            match self.typed.try_recv() {
                Ok(line) => match answer(&line) {
                    Some(answer) => return answer,
                    None => println!("a letter of those above, or Enter"),
                },
                Err(std::sync::mpsc::TryRecvError::Disconnected) => return Answer::Enough,
                Err(std::sync::mpsc::TryRecvError::Empty) => {}
            }
            while let Ok((_, message)) = self.heard.try_recv() {
                if self.echo {
                    self.play(message);
                }
                if let Some(answer) = pedal(message) {
                    return answer;
                }
            }
            std::thread::sleep(LOOK * 5);
        }
    }

    fn minutes(&self) -> f64 {
        self.began.elapsed().as_secs_f64() / 60.0
    }
}

/// What a typed line means.
fn answer(line: &str) -> Option<Answer> {
    Some(match line.trim().to_lowercase().as_str() {
        "" => Answer::On,
        "a" => Answer::Again,
        "h" => Answer::Hear,
        "s" => Answer::Slower,
        "f" => Answer::Faster,
        "n" => Answer::Next,
        "q" => Answer::Enough,
        _ => return None,
    })
}

/// Pedals between rounds: the right one goes on, the left one repeats, the
/// middle one is slower (MIDI 1.0 controllers 64, 67 and 66).
fn pedal(message: Message) -> Option<Answer> {
    match message {
        Message::Control { controller: 64, value: 64.., .. } => Some(Answer::On),
        Message::Control { controller: 67, value: 64.., .. } => Some(Answer::Again),
        Message::Control { controller: 66, value: 64.., .. } => Some(Answer::Slower),
        _ => None,
    }
}

/// Writes strokes down.
#[derive(Default)]
struct Recorder {
    strokes: Vec<Stroke>,
}

impl Recorder {
    fn hear(&mut self, ms: f64, message: Message) {
        match message {
            Message::On { key, velocity, .. } => {
                self.strokes.push(Stroke { at_ms: ms, until_ms: ms, key, velocity });
            }
            Message::Off { key, .. } => {
                let open = self.strokes.iter_mut().rev().find(|stroke| stroke.key == key);
                if let Some(stroke) = open {
                    stroke.until_ms = ms;
                }
            }
            Message::Control { .. } => {}
        }
    }

    fn take(self) -> Take {
        Take::new(self.strokes)
    }
}

/// A click of the metronome for an instrument without drums: the highest keys.
fn without_drums(message: Message) -> Message {
    let high = |key: KeyNumber| {
        KeyNumber::clamped(match key.number() {
            76 => 108,
            77 => 103,
            _ => 98,
        })
    };
    match message {
        Message::On { channel: 9, key, velocity } => {
            Message::On { channel: 0, key: high(key), velocity: velocity / 2 + 1 }
        }
        Message::Off { channel: 9, key, velocity } => {
            Message::Off { channel: 0, key: high(key), velocity }
        }
        other => other,
    }
}

/// MIDI 1.0 channel voice messages.
fn bytes(message: Message) -> [u8; 3] {
    match message {
        Message::On { channel, key, velocity } => [0x90 | channel & 15, key.number(), velocity],
        Message::Off { channel, key, velocity } => [0x80 | channel & 15, key.number(), velocity],
        Message::Control { channel, controller, value } => [0xB0 | channel & 15, controller, value],
    }
}

fn message(bytes: &[u8]) -> Option<Message> {
    let [status, first, second] = *bytes.get(..3)? else { return None };
    let channel = status & 15;
    let key = KeyNumber::new(first)?;
    Some(match status & 0xF0 {
        0x90 if second > 0 => Message::On { channel, key, velocity: second },
        0x80 | 0x90 => Message::Off { channel, key, velocity: second },
        0xB0 => Message::Control { channel, controller: first, value: second },
        _ => return None,
    })
}

fn keyboard(
    name: Option<&str>,
    sender: Sender<(Instant, Message)>,
) -> Result<MidiInputConnection<()>, Failure> {
    let machine = |e: &dyn std::fmt::Display| Failure::Machine(format!("MIDI input: {e}"));
    let mut input = MidiInput::new(CLIENT).map_err(|e| machine(&e))?;
    input.ignore(Ignore::All);
    let ports = input.ports();
    let names: Vec<String> =
        ports.iter().map(|port| input.port_name(port).unwrap_or_default()).collect();
    let index = find(&names, name).ok_or_else(|| missing("keyboard", name, &names))?;
    let port = ports.get(index).ok_or_else(|| missing("keyboard", name, &names))?;
    let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
        if let Some(message) = message(bytes) {
            let _ = sender.send((Instant::now(), message));
        }
    };
    input.connect(port, "keyboard", hear, ()).map_err(|e| machine(&e))
}

fn output(name: &str) -> Result<MidiOutputConnection, Failure> {
    let machine = |e: &dyn std::fmt::Display| Failure::Machine(format!("MIDI output: {e}"));
    let output = MidiOutput::new(CLIENT).map_err(|e| machine(&e))?;
    let ports = output.ports();
    let names: Vec<String> =
        ports.iter().map(|port| output.port_name(port).unwrap_or_default()).collect();
    let index =
        find(&names, Some(name)).ok_or_else(|| missing("sound module", Some(name), &names))?;
    let port = ports.get(index).ok_or_else(|| missing("sound module", Some(name), &names))?;
    output.connect(port, "sound").map_err(|e| machine(&e))
}

/// The port whose name has `wanted` in it; without that the first that is a
/// real device.
fn find(names: &[String], wanted: Option<&str>) -> Option<usize> {
    match wanted {
        Some(wanted) => {
            let wanted = wanted.to_lowercase();
            names.iter().position(|name| name.to_lowercase().contains(&wanted))
        }
        None => names.iter().position(|name| !name.contains("Through") && !name.contains(CLIENT)),
    }
}

fn missing(what: &str, wanted: Option<&str>, names: &[String]) -> Failure {
    let there = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
    let advice = "hint: record a take elsewhere and have it judged with --take TAKE.mid";
    match wanted {
        Some(wanted) => Failure::Input(format!(
            "no MIDI port `{wanted}` for the {what}\nports: {there}\n{advice}"
        )),
        None => Failure::Machine(format!("no MIDI {what}\nports: {there}\n{advice}")),
    }
}

/// Lines from the terminal, read on a thread of their own.
fn typed() -> Receiver<String> {
    let (sender, lines) = channel();
    if std::io::stdin().is_terminal() {
        std::thread::spawn(move || {
            for line in std::io::stdin().lock().lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
    } else {
        // Without a terminal the pedals alone answer.
        std::mem::forget(sender);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_and_messages_are_the_same() {
        for bytes_in in [[0x93, 60, 100], [0x82, 61, 64], [0xB0, 64, 127]] {
            assert_eq!(message(&bytes_in).map(bytes), Some(bytes_in));
        }
        let key = KeyNumber::clamped(60);
        let off = Message::Off { channel: 0, key, velocity: 0 };
        assert_eq!(message(&[0x90, 60, 0]), Some(off)); // a note-on without force ends the note
        assert_eq!(message(&[0xF8]), None);
    }

    #[test]
    fn a_port_is_found_by_a_part_of_its_name() {
        let names = ["Midi Through Port-0", "Stage Piano MIDI 1"].map(String::from);
        assert_eq!(find(&names, None), Some(1));
        assert_eq!(find(&names, Some("piano")), Some(1));
        assert_eq!(find(&names, Some("organ")), None);
    }
}
