//! Which ports are meant: by number, by part of a name, or what is sensible.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::system::{CLIENT, SeenPort};

/// How the user names a port.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Selector {
    /// By its place in the list, from 1.
    Number(usize),
    /// By part of its name, in any case of letters.
    Name(String),
    /// A port of our own that other programs connect to.
    Virtual,
    /// No port at all.
    Nothing,
}

impl FromStr for Selector {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.trim() {
            "" => Err("a port has a number or a name; `sinistra ports` lists them".into()),
            "virtual" => Ok(Self::Virtual),
            "none" => Ok(Self::Nothing),
            other => Ok(match other.parse() {
                Ok(0) => return Err("ports are counted from 1; `sinistra ports` lists them".into()),
                Ok(number) => Self::Number(number),
                Err(_) => Self::Name(other.to_owned()),
            }),
        }
    }
}

impl TryFrom<String> for Selector {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<Selector> for String {
    fn from(selector: Selector) -> Self {
        selector.to_string()
    }
}

impl fmt::Display for Selector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Name(name) => f.write_str(name),
            Self::Virtual => f.write_str("virtual"),
            Self::Nothing => f.write_str("none"),
        }
    }
}

/// What is to be connected now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChosenPorts {
    /// Ports to hear from.
    pub from: Vec<SeenPort>,
    /// Ports to send to.
    pub to: Vec<SeenPort>,
    /// Whether a port of our own is to be heard.
    pub own_in: bool,
    /// Whether a port of our own is to be sent to.
    pub own_out: bool,
    /// Named, and not there now.
    pub missing: Vec<Selector>,
    /// Names that could be several ports, and those ports: the first is taken.
    pub ambiguous: Vec<(String, Vec<String>)>,
}

/// Chooses among what is there. With nothing named: every keyboard, and one
/// module. A port of our own is never chosen, whatever is named.
pub fn choose(
    inputs: &[SeenPort],
    outputs: &[SeenPort],
    from: &[Selector],
    to: &[Selector],
) -> ChosenPorts {
    let mut chosen = ChosenPorts {
        own_in: from.contains(&Selector::Virtual),
        own_out: to.contains(&Selector::Virtual),
        ..ChosenPorts::default()
    };
    chosen.from = if from.is_empty() {
        inputs.iter().filter(|port| is_instrument(port)).cloned().collect()
    } else {
        named(inputs, from, &mut chosen)
    };
    chosen.to = if to.is_empty() {
        default_output(outputs, &chosen.from).into_iter().collect()
    } else {
        named(outputs, to, &mut chosen)
    };
    chosen
}

/// The first output that is nothing but a module; else, of instruments that
/// are both, the first that is not the first keyboard; else the only one.
fn default_output(outputs: &[SeenPort], from: &[SeenPort]) -> Option<SeenPort> {
    let instruments = || outputs.iter().filter(|port| is_instrument(port));
    let is_keyboard = |port: &SeenPort| from.iter().any(|f| f.name == port.name);
    let is_first = |port: &SeenPort| from.first().is_some_and(|f| f.name == port.name);
    instruments()
        .find(|port| !is_keyboard(port))
        .or_else(|| instruments().find(|port| !is_first(port)))
        .or_else(|| instruments().next())
        .cloned()
}

fn named(ports: &[SeenPort], selectors: &[Selector], chosen: &mut ChosenPorts) -> Vec<SeenPort> {
    let mut found: Vec<SeenPort> = Vec::new();
    for selector in selectors {
        let port = match selector {
            Selector::Virtual | Selector::Nothing => continue,
            Selector::Number(number) => ports.get(number - 1),
            Selector::Name(part) => {
                let part = part.to_lowercase();
                let has = |port: &&SeenPort| port.name.to_lowercase().contains(&part);
                // A whole name before a part of one.
                let whole = ports.iter().find(|port| port.name.to_lowercase() == part);
                let parts: Vec<&SeenPort> =
                    ports.iter().filter(|port| !is_own(port)).filter(has).collect();
                if whole.is_none() && parts.len() > 1 {
                    let names = parts.iter().map(|port| port.name.clone()).collect();
                    chosen.ambiguous.push((selector.to_string(), names));
                }
                whole.or(parts.first().copied())
            }
        };
        match port.filter(|port| !is_own(port)) {
            Some(port) if !found.contains(port) => found.push(port.clone()),
            Some(_) => {}
            None => chosen.missing.push(selector.clone()),
        }
    }
    found
}

/// One of ours: connecting it would feed us our own notes.
pub fn is_own(port: &SeenPort) -> bool {
    port.name.starts_with(CLIENT)
}

/// Not ours, and not the system's loop-back, which would feed us as well.
fn is_instrument(port: &SeenPort) -> bool {
    let name = port.name.to_lowercase();
    !is_own(port) && !name.contains("midi through") && !name.starts_with("system")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ports(names: &[&str]) -> Vec<SeenPort> {
        names
            .iter()
            .enumerate()
            .map(|(n, name)| SeenPort { id: n.to_string(), name: (*name).to_owned() })
            .collect()
    }

    fn chosen(ins: &[&str], outs: &[&str], from: &[&str], to: &[&str]) -> (String, String, usize) {
        let read = |list: &[&str]| list.iter().map(|s| s.parse().expect(s)).collect::<Vec<_>>();
        let chosen = choose(&ports(ins), &ports(outs), &read(from), &read(to));
        let names = |list: Vec<SeenPort>| {
            list.into_iter().map(|port| port.name).collect::<Vec<_>>().join(" + ")
        };
        (names(chosen.from), names(chosen.to), chosen.missing.len())
    }

    #[test]
    fn with_nothing_named_every_keyboard_is_heard_and_one_module_sounds() {
        for (ins, outs, from, to) in [
            // A keyboard without sound, and a module.
            (&["Keys"][..], &["Module"][..], "Keys", "Module"),
            // A digital piano alone is both.
            (&["Piano"], &["Piano"], "Piano", "Piano"),
            // Two instruments that are both: the second one sounds.
            (&["Piano", "Expander"], &["Piano", "Expander"], "Piano + Expander", "Expander"),
            // A module that is nothing else comes first.
            (&["Piano", "Pads"], &["Piano", "Pads", "Module"], "Piano + Pads", "Module"),
            // The loop-back and our own ports are no instruments.
            (
                &["Midi Through:Port-0", "Sinistra:in", "Keys"],
                &["Midi Through:Port-0", "Sinistra:out"],
                "Keys",
                "",
            ),
            (&[], &[], "", ""),
        ] {
            let expected = (from.to_owned(), to.to_owned(), 0);
            assert_eq!(chosen(ins, outs, &[], &[]), expected, "{ins:?} {outs:?}");
        }
    }

    #[test]
    fn ports_are_named_by_number_or_part_of_a_name() {
        let (ins, outs) = (&["Left Keys", "Keys", "Pads"], &["Grand Module"]);
        let expected = |from: &str, missing| (from.to_owned(), "Grand Module".to_owned(), missing);
        for (from, names, missing) in [
            (&["2"][..], "Keys", 0),
            (&["pads", "1"], "Pads + Left Keys", 0),
            (&["keys"], "Keys", 0), // the whole name before a part of another
            (&["left"], "Left Keys", 0),
            (&["4"], "", 1),
            (&["organ", "pads"], "Pads", 1),
            (&["pads", "3"], "Pads", 0), // once
        ] {
            assert_eq!(chosen(ins, outs, from, &["module"]), expected(names, missing), "{from:?}");
        }
    }

    #[test]
    fn a_name_that_could_be_several_ports_is_told_with_all_of_them() {
        let inputs = ports(&["Left Keys", "Grand Keys", "Keys", "Pads"]);
        let ambiguous = |name: &str| {
            let from = [name.parse().expect("a name")];
            choose(&inputs, &[], &from, &[]).ambiguous
        };
        let both = ["Left Keys", "Grand Keys", "Keys"].map(str::to_owned).to_vec();
        assert_eq!(ambiguous("key"), [("key".to_owned(), both)]);
        assert!(ambiguous("keys").is_empty(), "the whole name of one");
        assert!(ambiguous("pad").is_empty());
    }

    #[test]
    fn our_own_port_is_never_connected_even_when_it_is_named() {
        let (from, to, missing) = chosen(&["Sinistra:in"], &["Sinistra:out"], &["sin"], &["1"]);
        assert_eq!((from.as_str(), to.as_str(), missing), ("", "", 2));
    }

    #[test]
    fn zero_and_nothing_are_no_ports() {
        assert!("0".parse::<Selector>().is_err());
        assert!(" ".parse::<Selector>().is_err());
        assert_eq!("virtual".parse(), Ok(Selector::Virtual));
    }
}
