//! Which MIDI system is meant, and the rig that plays through it.

use crate::bridge::ports::{JackPorts, MidiSystem, Midir, SeenPort, jack_is_there, jack_ports};
use crate::bridge::rig::{Absent, Jacked, Rig, RigOrder, Wired};
use crate::bridge::run::{Links, links};
use crate::bridge::set::roots;
use crate::bridge::setup::{SetupWords, SystemName};
use crate::bridge::stage::{Stage, StageOptions};
use crate::quiet::hushed;
use crate::sound::Timbre;

pub(super) fn absent() -> Box<dyn Rig> {
    Box::new(Absent)
}

/// The free world's side of a stage that nobody runs.
pub(super) fn idle(options: &StageOptions) -> Links {
    links(Box::new(Stage::new(options.clone(), roots(), roots(), 0.0))).1
}

/// The rig that the words ask for.
pub(super) fn start(
    words: &SetupWords,
    options: &StageOptions,
    timbre: &Timbre,
    links: &mut Option<Links>,
) -> Result<Box<dyn Rig>, String> {
    let order = RigOrder { words, options: options.clone(), timbre, links };
    let jack = is_jack(words.system.unwrap_or_default());
    if jack {
        return Ok(Box::new(Jacked::start(order)?));
    }
    Ok(Box::new(Wired::start(Box::new(Midir::default()), order)?))
}

/// Whether JACK is meant. It runs because somebody wants it; but where the
/// system itself has MIDI ports, those are meant.
pub(super) fn is_jack(system: SystemName) -> bool {
    match system {
        SystemName::Alsa => false,
        SystemName::Jack => true,
        SystemName::Auto => {
            let has_ports = hushed(|| Midir::default().ports());
            has_ports.map_or(true, |(ins, outs)| ins.is_empty() && outs.is_empty())
                && jack_is_there()
        }
    }
}

/// What is there: ports to hear from, then to send to.
///
/// # Errors
/// If the system does not answer.
pub fn ports_of(system: SystemName) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
    if is_jack(system) { jack_ports() } else { hushed(|| Midir::default().ports()) }
}

/// The MIDI system itself, for who plays without the stage.
pub fn system_of(system: SystemName) -> Box<dyn MidiSystem> {
    if is_jack(system) { Box::new(JackPorts) } else { Box::new(Midir::default()) }
}
