//! Where there is no terminal: what was said, a line each.

use super::{About, Show};
use crate::bridge::run::Look;
use crate::bridge::stage::Report;

/// Writes to standard output.
pub struct Lines;

impl Show for Lines {
    fn say(&mut self, words: &str) {
        use std::io::Write;
        let _ = writeln!(std::io::stdout().lock(), "{words}");
    }

    fn report(&mut self, report: &Report) {
        match report {
            Report::Started => self.say("the beat starts"),
            Report::Stopped => self.say("the beat rests"),
            _ => {}
        }
    }

    fn look(&mut self, _: &Look, _: &About) {}
}
