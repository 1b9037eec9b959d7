//! A log file: what was said, with the time since the start.

use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::time::Instant;

/// An open log.
pub struct LogFile {
    file: File,
    start: Instant,
}

impl LogFile {
    /// Adds to `path`, which may be there.
    ///
    /// # Errors
    /// If it cannot be opened.
    pub fn open(path: &Path) -> Result<Self, String> {
        let file = File::options().create(true).append(true).open(path);
        let file = file.map_err(|e| format!("{}: cannot write the log: {e}", path.display()))?;
        Ok(Self { file, start: Instant::now() })
    }

    /// Adds a line. A full disk stops no music.
    pub fn line(&mut self, words: &str) {
        let seconds = self.start.elapsed().as_secs_f64();
        let _ = writeln!(self.file, "{seconds:10.3} {words}");
    }
}
