//! A rig: ports, threads and outputs of one MIDI system, at work.

mod absent;
mod again;
mod jack_process;
mod jack_sound;
mod jacked;
mod sound;
mod stock;
mod wired;

pub use absent::Absent;
pub use jacked::Jacked;
pub use sound::QUIET;
pub use wired::{PIANO, Wired};

use super::ports::{PortNews, Selector};
use super::run::Links;
use super::setup::SetupWords;
use super::stage::StageOptions;
use crate::sound::Timbre;

/// What a rig is made for.
pub struct RigOrder<'a> {
    /// Ports, echo, sound, MIDI clock.
    pub words: &'a SetupWords,
    pub options: StageOptions,
    /// What the built-in sound plays on.
    pub timbre: &'a Timbre,
    /// Takes the free world's side of the links.
    pub links: &'a mut Option<Links>,
}

/// What every rig can do for the free world.
pub trait Rig {
    /// What cannot wait for the next look: keyboards that fell silent.
    fn tend(&mut self, _tell: &mut dyn FnMut(PortNews)) {}
    /// Looks at the ports; closes what went and opens what came.
    fn look(&mut self, tell: &mut dyn FnMut(PortNews));
    /// The stage has a wish waiting.
    fn wake(&self) {}
    /// Ends every note on every output, with all-notes-off on all channels.
    fn panic(&mut self) {}
    /// Names of what is heard, then of what is sent to.
    fn open(&self) -> (Vec<String>, Vec<String>) {
        Default::default()
    }
    /// Names of what could be heard, then of what could be sent to.
    fn there(&self) -> (Vec<String>, Vec<String>) {
        Default::default()
    }
    /// Hears and sends to these from now on; what is let go of is ended first.
    fn rewire(&mut self, _from: Vec<Selector>, _to: Vec<Selector>) {}
    /// What is heard at an input, if inputs are told apart.
    fn input(&self, _input: usize) -> Option<String> {
        None
    }
    /// The module that each zone names.
    ///
    /// # Errors
    /// Where zones cannot name modules.
    fn zone(&mut self, _modules: Vec<Option<Selector>>) -> Result<(), String> {
        Ok(())
    }
    /// Loudness of the built-in piano, 0..=100.
    fn piano(&mut self, _percent: u8) {}
    /// What was named and is not there.
    fn missing(&self) -> Vec<String> {
        Vec::new()
    }
    /// Messages given up so far.
    fn dropped(&self) -> u32 {
        0
    }
    /// Left-hand notes sent more than 5 ms late so far.
    fn late(&self) -> u64 {
        0
    }
    /// Whether our own code failed since the last question.
    fn failed(&mut self) -> bool {
        false
    }
    /// Whether the system is gone, so that only a new rig can go on.
    fn is_over(&self) -> bool {
        false
    }
    /// Ends the stage, every note, and then the ports. Gives lines for the log.
    fn end(&mut self) -> Vec<String> {
        Vec::new()
    }
}
