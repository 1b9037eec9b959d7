//! The systems that Sinistra is built for, and what their files are called.

use std::path::PathBuf;
use std::process::Command;

use crate::packages::{self, Need, need};
use crate::steps::{cargo, target};
use crate::target::cargo_for;

/// A system, on the processor that it mostly has; this machine's, if it is the one
/// in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    Linux,
    Windows,
    MacOs,
}

/// Windows, as it is built from elsewhere.
pub const WINDOWS: &str = "x86_64-pc-windows-gnu";

/// To build for it.
pub const MINGW: &[Need] = &[need(
    "gcc-mingw-w64-x86-64",
    "links programs for Windows",
    &["x86_64-w64-mingw32-gcc", "--version"],
)];

impl System {
    /// The one in use.
    pub fn here() -> Self {
        if cfg!(windows) {
            Self::Windows
        } else if cfg!(target_os = "macos") {
            Self::MacOs
        } else {
            Self::Linux
        }
    }

    pub fn word(self) -> &'static str {
        match self {
            Self::Linux => "linux",
            Self::Windows => "windows",
            Self::MacOs => "macos",
        }
    }

    pub fn arch(self) -> &'static str {
        if self == Self::here() { std::env::consts::ARCH } else { "x86_64" }
    }

    /// What a library is called.
    pub fn library(self, name: &str) -> String {
        match self {
            Self::Linux => format!("lib{name}.so"),
            Self::Windows => format!("{name}.dll"),
            Self::MacOs => format!("lib{name}.dylib"),
        }
    }

    /// `cargo VERB` for it, and the folder that has the profiles' folders.
    ///
    /// # Errors
    /// If what it takes is not there, nor to be had.
    pub fn cargo(self, verb: &str) -> Result<(Command, PathBuf), String> {
        if self == Self::here() {
            return Ok((cargo(&[verb]), target()));
        }
        let triple = match self {
            Self::Windows => {
                packages::provide(MINGW)?;
                WINDOWS
            }
            Self::MacOs | Self::Linux => {
                return Err(format!("Nothing here links programs for {}.", self.word()));
            }
        };
        Ok((cargo_for(&[triple], verb)?, target().join("other").join(triple)))
    }
}
