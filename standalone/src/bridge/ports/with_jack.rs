//! JACK, and PipeWire through its JACK library: a client a port, for those who
//! do not play in the server's own thread.

use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, Control, Error, MidiIn, MidiOut, Port, PortFlags,
    ProcessHandler, ProcessScope, RawMidi,
};
use rtrb::{Consumer, Producer, RingBuffer};

use super::system::{CLIENT, Closer, MidiSystem, SeenPort};
use crate::bridge::hub::BoxedWire;
use crate::bridge::intake::Intake;
use crate::bridge::midi::Short;
use crate::bridge::outlet::{Refused, Wire};

/// How JACK names the type of a MIDI port.
const MIDI: &str = "8 bit raw midi";
/// Messages that may wait for the next period.
const WAITING: usize = 1024;
/// How long the last messages may take.
const LAST: Duration = Duration::from_millis(300);

/// A client, without the library's own words on the terminal.
///
/// # Errors
/// If no server runs, or no library is installed.
pub fn client(name: &str) -> Result<Client, String> {
    // Even to be told to keep quiet, the library must be there.
    if jack::jack_sys::library().is_err() {
        return Err("no JACK library is installed (Debian: libjack-jackd2-0)".into());
    }
    jack::set_logger(jack::LoggerType::None);
    match Client::new(name, ClientOptions::NO_START_SERVER) {
        Ok((client, _)) => Ok(client),
        Err(_) => Err("no JACK server runs (jackd, or PipeWire with its JACK library)".into()),
    }
}

/// Whether a JACK server runs.
pub fn is_there() -> bool {
    client(CLIENT).is_ok()
}

/// MIDI ports of others: those to hear from, then those to send to.
///
/// # Errors
/// If no server runs.
pub fn ports() -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
    Ok(seen(&client(CLIENT)?))
}

/// The same, as a client sees them.
pub fn seen(client: &Client) -> (Vec<SeenPort>, Vec<SeenPort>) {
    let list = |flags| {
        let names = client.ports(None, Some(MIDI), flags);
        names.into_iter().map(|name| SeenPort { id: name.clone(), name }).collect()
    };
    (list(PortFlags::IS_OUTPUT), list(PortFlags::IS_INPUT))
}

/// The server's MIDI ports.
pub struct JackPorts;

impl MidiSystem for JackPorts {
    fn ports(&mut self) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String> {
        ports()
    }

    fn hear(&mut self, port: Option<&SeenPort>, intake: Intake) -> Result<Box<dyn Closer>, String> {
        let client = client("Sinistra in")?;
        let own = client.register_port("in", MidiIn::default()).map_err(refuses)?;
        let name = own.name().map_err(refuses)?;
        let client = client.activate_async((), Hears { port: own, intake }).map_err(refuses)?;
        if let Some(port) = port {
            client.as_client().connect_ports_by_name(&port.name, &name).map_err(refuses)?;
        }
        Ok(Box::new(client))
    }

    fn send(&mut self, port: Option<&SeenPort>) -> Result<BoxedWire, String> {
        let client = client("Sinistra out")?;
        let own = client.register_port("out", MidiOut::default()).map_err(refuses)?;
        let name = own.name().map_err(refuses)?;
        let (queue, waiting) = RingBuffer::new(WAITING);
        let sends = Sends { port: own, waiting };
        let client = client.activate_async((), sends).map_err(refuses)?;
        if let Some(port) = port {
            client.as_client().connect_ports_by_name(&name, &port.name).map_err(refuses)?;
        }
        Ok(Box::new(JackWire { queue, _client: client }))
    }
}

fn refuses(fault: Error) -> String {
    format!("JACK refuses: {fault}")
}

struct Hears {
    port: Port<MidiIn>,
    intake: Intake,
}

impl ProcessHandler for Hears {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        // What is read now came during the period before.
        let now = Instant::now();
        let rate = client.sample_rate() as f64;
        for event in self.port.iter(scope) {
            let ago = f64::from(scope.n_frames().saturating_sub(event.time)) / rate;
            let came = now.checked_sub(Duration::from_secs_f64(ago)).unwrap_or(now);
            self.intake.receive_at(came, event.bytes);
        }
        Control::Continue
    }
}

struct Sends {
    port: Port<MidiOut>,
    waiting: Consumer<Short>,
}

impl ProcessHandler for Sends {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writer = self.port.writer(scope);
        while let Ok(message) = self.waiting.peek() {
            if writer.write(&RawMidi { time: 0, bytes: message.bytes() }).is_err() {
                break; // the period is full: the rest in the next
            }
            let _ = self.waiting.pop();
        }
        Control::Continue
    }
}

/// Short messages on their way to the server. System exclusive is not sent.
struct JackWire {
    queue: Producer<Short>,
    _client: AsyncClient<(), Sends>,
}

impl Wire for JackWire {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        match Short::new(message) {
            Some(message) => self.queue.push(message).map_err(|_| Refused),
            None => Ok(()),
        }
    }
}

impl Drop for JackWire {
    /// Note-offs that wait are sent before the port closes.
    fn drop(&mut self) {
        let start = Instant::now();
        while self.queue.slots() < WAITING && start.elapsed() < LAST {
            std::thread::sleep(Duration::from_millis(2));
        }
        std::thread::sleep(Duration::from_millis(30)); // and leave our buffer
    }
}
