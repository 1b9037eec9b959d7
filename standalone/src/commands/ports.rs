//! `sinistra ports`: what is there.

use crate::bridge::{SeenPort, SystemName, choose, ports_of};
use crate::failure::Failure;

/// List the MIDI ports, and which of them the bridge would choose
#[derive(clap::Args)]
pub struct PortsArgs {
    /// The MIDI system
    #[arg(long, default_value = "auto")]
    system: SystemName,
    /// As one line of JSON
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(args: PortsArgs) -> Result<(), Failure> {
    let (inputs, outputs) = ports_of(args.system).map_err(Failure::Machine)?;
    let chosen = choose(&inputs, &outputs, &[], &[]);
    let name = |port: &SeenPort| port.name.clone();
    if args.json {
        let names = |ports: &[_]| ports.iter().map(name).collect::<Vec<_>>();
        let line = serde_json::json!({
            "from": names(&inputs), "to": names(&outputs),
            "chosen_from": names(&chosen.from), "chosen_to": names(&chosen.to),
        });
        println!("{line}");
        return Ok(());
    }
    for (title, ports, chosen) in [
        ("To hear from (--from):", &inputs, &chosen.from),
        ("To send to (--to):", &outputs, &chosen.to),
    ] {
        println!("{title}");
        for (n, port) in ports.iter().enumerate() {
            let mark = if chosen.contains(port) { "*" } else { " " };
            println!(" {mark} {:>2}  {}", n + 1, port.name);
        }
        if ports.is_empty() {
            println!("      nothing is there");
        }
    }
    println!("* is chosen when nothing is named");
    Ok(())
}
