//! The MIDI ports of the practice room, and what goes through them.

use std::sync::mpsc::Sender;
use std::time::Instant;

use midir::{Ignore, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;

use crate::failure::Failure;

/// How we are called among MIDI programs.
const CLIENT: &str = "Sinistra practice";

/// A message and when it came.
pub type Heard = (Instant, Message);

/// MIDI 1.0 channel voice messages.
pub fn bytes(message: Message) -> [u8; 3] {
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

/// Opens the port whose name has `name` in it, or the first real keyboard.
///
/// # Errors
/// If there is none; the message says what there is.
pub fn keyboard(
    name: Option<&str>,
    sender: Sender<Heard>,
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

/// Opens the port whose name has `name` in it.
///
/// # Errors
/// If there is none; the message says what there is.
pub fn output(name: &str) -> Result<MidiOutputConnection, Failure> {
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
