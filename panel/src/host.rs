//! What a host says of a control beside its value: its own menu, and whether it maps or
//! automates it.

/// An entry of a host's menu.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HostMenuEntry {
    /// As the host words it.
    pub label: String,
    /// What it is.
    pub kind: HostMenuKind,
    /// Whether it can be chosen now.
    pub enabled: bool,
    /// The host's number for it.
    pub number: u32,
}

/// What an entry of a host's menu is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HostMenuKind {
    /// Something to be done.
    Action,
    /// Something that is on or off.
    Switch(bool),
    /// Words over a group.
    Title,
    /// A rule between groups.
    Rule,
}

/// A host's mark on a control.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HostMark {
    /// What moves it, where the host has mapped it.
    pub mapped: Option<HostMapping>,
    /// What its automation does.
    pub automation: Automation,
    /// The automation's colour in the host, red, green, blue.
    pub colour: Option<[u8; 3]>,
}

/// A controller that a host has mapped.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HostMapping {
    /// The controller's name; may be empty.
    pub name: String,
    /// What the host says of it; may be empty.
    pub about: String,
    /// Its colour in the host, red, green, blue.
    pub colour: Option<[u8; 3]>,
}

/// What a host's automation of a control does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Automation {
    /// There is none.
    #[default]
    None,
    /// It is there, and off.
    Present,
    /// It plays.
    Plays,
    /// It is being recorded.
    Records,
    /// It would play, but the player holds the control.
    Overridden,
}

impl HostMark {
    /// In words, a line each; empty where the host marks nothing.
    #[must_use]
    pub fn words(&self) -> Vec<String> {
        let mapped = self.mapped.as_ref().map(|mapped| {
            let by = if mapped.name.is_empty() { "a controller" } else { &mapped.name };
            let about = if mapped.about.is_empty() { "" } else { ": " };
            format!("Moved by {by}{about}{}", mapped.about)
        });
        let automation = match self.automation {
            Automation::None => None,
            Automation::Present => Some("Automated; it does not play now"),
            Automation::Plays => Some("Its automation plays"),
            Automation::Records => Some("Its automation is recorded"),
            Automation::Overridden => Some("Your hand outranks its automation"),
        };
        mapped.into_iter().chain(automation.map(str::to_owned)).collect()
    }
}
