//! How a command ends when it does not end well.

use std::fmt;
use std::process::ExitCode;

/// Why a command stopped; one clear message, already complete.
#[derive(Debug)]
pub enum Failure {
    /// A device or the disk failed: exit code 1.
    Machine(String),
    /// What the user gave was wrong: exit code 2.
    Input(String),
}

impl Failure {
    /// 1 for the machine, 2 for the input.
    pub fn exit_code(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::Machine(_) => 1,
            Self::Input(_) => 2,
        })
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (Self::Machine(message) | Self::Input(message)) = self;
        f.write_str(message)
    }
}
