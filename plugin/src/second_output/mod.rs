//! A second note output, for a left hand that wants its own.
//!
//! The framework declares one note output and sends every event there (nice-plug
//! 0.4.2). Here its plugins are handed to the host in a wrapping of ours, one for
//! each format, that answers for the outputs and stands between the plugin and
//! the host's event list, where notes that are marked are turned to the second
//! output. Nothing here allocates while notes are played.

mod clap;
mod vst3;

/// The names of the note input and of both outputs.
const INPUT: &str = "Right hand";
const OUTPUTS: [&str; 2] = ["Both hands", "Left hand"];
