//! ALSA sequencer, CoreMIDI and WinMM, through midir.

use crate::quiet::hushed;
use midir::{Ignore, MidiIO, MidiInput, MidiOutput, MidiOutputConnection};

use super::system::{CLIENT, Closer, MidiSystem, SeenPort};
use crate::bridge::hub::BoxedWire;
use crate::bridge::intake::Intake;
use crate::bridge::outlet::{Refused, Wire};

/// What hears and what sends have different names, so that they can be told
/// apart where only clients are named; each begins with [`CLIENT`].
const HEARS: &str = "Sinistra in";
/// See [`HEARS`].
const SENDS: &str = "Sinistra out";

/// The system that midir was built for.
#[derive(Default)]
pub struct Midir {
    /// Kept for looking at the ports again and again.
    looking: Option<(MidiInput, MidiOutput)>,
}

impl Midir {
    fn input(name: &str) -> Result<MidiInput, String> {
        let mut input = hushed(|| MidiInput::new(name)).map_err(|e| no_system(&e))?;
        input.ignore(Ignore::None); // active sensing, clock and exclusive too
        Ok(input)
    }

    fn output(name: &str) -> Result<MidiOutput, String> {
        hushed(|| MidiOutput::new(name)).map_err(|e| no_system(&e))
    }
}

fn no_system(fault: &dyn std::fmt::Display) -> String {
    let hint = if cfg!(target_os = "linux") {
        "\nhint: is the ALSA sequencer there? (/dev/snd/seq; `modprobe snd-seq`)"
    } else {
        ""
    };
    format!("the MIDI system does not answer: {fault}{hint}")
}

fn seen<I: MidiIO>(io: &I, id: impl Fn(&I::Port) -> String) -> Vec<SeenPort> {
    // A port that goes while we look has no name any more.
    io.ports()
        .iter()
        .filter_map(|port| Some(SeenPort { id: id(port), name: io.port_name(port).ok()? }))
        .collect()
}

impl MidiSystem for Midir {
    fn ports(&mut self) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
        if self.looking.is_none() {
            self.looking = Some((Self::input(CLIENT)?, Self::output(CLIENT)?));
        }
        let Some((input, output)) = &self.looking else { return Ok((vec![], vec![])) };
        Ok((seen(input, |port| port.id()), seen(output, |port| port.id())))
    }

    fn hear(
        &mut self,
        port: Option<&SeenPort>,
        mut intake: Intake,
    ) -> Result<Box<dyn Closer>, String> {
        let input = Self::input(HEARS)?;
        let receive = move |_: u64, bytes: &[u8], (): &mut ()| intake.receive(bytes);
        let connection = match port {
            Some(seen) => {
                let ports = input.ports();
                let port = ports.iter().find(|port| port.id() == seen.id).ok_or("it is gone")?;
                input.connect(port, "in", receive, ()).map_err(|e| e.to_string())?
            }
            None => own_in(input, receive)?,
        };
        Ok(Box::new(connection))
    }

    fn send(&mut self, port: Option<&SeenPort>) -> Result<BoxedWire, String> {
        let output = Self::output(SENDS)?;
        let connection = match port {
            Some(seen) => {
                let ports = output.ports();
                let port = ports.iter().find(|port| port.id() == seen.id).ok_or("it is gone")?;
                output.connect(port, "out").map_err(|e| e.to_string())?
            }
            None => own_out(output)?,
        };
        Ok(Box::new(Connection(connection)))
    }
}

#[cfg(unix)]
fn own_in<F>(input: MidiInput, receive: F) -> Result<midir::MidiInputConnection<()>, String>
where
    F: FnMut(u64, &[u8], &mut ()) + Send + 'static,
{
    use midir::os::unix::VirtualInput;
    input.create_virtual("in", receive, ()).map_err(|e| e.to_string())
}

#[cfg(unix)]
fn own_out(output: MidiOutput) -> Result<MidiOutputConnection, String> {
    use midir::os::unix::VirtualOutput;
    output.create_virtual("out").map_err(|e| e.to_string())
}

#[cfg(not(unix))]
fn own_in<F>(_: MidiInput, _: F) -> Result<midir::MidiInputConnection<()>, String> {
    Err("this system has no virtual ports".into())
}

#[cfg(not(unix))]
fn own_out(_: MidiOutput) -> Result<MidiOutputConnection, String> {
    Err("this system has no virtual ports".into())
}

struct Connection(MidiOutputConnection);

impl Wire for Connection {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        self.0.send(message).map_err(|_| Refused)
    }
}
