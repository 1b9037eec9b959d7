//! Puts a kept take where the player finds it, over nothing else.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use super::log::TakeLog;
use super::midi_file;

/// Takes that one folder may hold.
const MOST: usize = 9_999;

/// Writes the last `bars` bars of `log` into `folder`, made if need be.
///
/// # Errors
/// What went wrong, in a sentence for the player.
pub fn keep(log: &TakeLog, bars: usize, folder: &Path) -> Result<PathBuf, String> {
    let bytes = midi_file(&log.read(), bars)
        .ok_or("Nothing was played yet while the clock was running.")?;
    let failed = |path: &Path, error| format!("{}: {error}", path.display());
    fs::create_dir_all(folder).map_err(|error| failed(folder, error))?;
    for number in 1..=MOST {
        let path = folder.join(format!("Take {number}.mid"));
        let mut file = match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => continue,
            Err(error) => return Err(failed(&path, error)),
        };
        if let Err(error) = file.write_all(&bytes).and_then(|()| file.sync_all()) {
            drop(file);
            let _ = fs::remove_file(&path); // nothing half-written stays
            return Err(failed(&path, error));
        }
        return Ok(path);
    }
    Err(format!("{} is full of takes.", folder.display()))
}

#[cfg(test)]
mod tests {
    use super::super::{LoggedEvent, Owner, What};
    use super::*;
    use sinistra_core::time::Ticks;

    #[test]
    fn takes_are_numbered_and_none_is_written_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let folder = folder.path().join("Sinistra");
        let log = TakeLog::default();
        assert!(keep(&log, 8, &folder).is_err());
        let message = What::Message(Owner::Left, [0x90, 36, 80]);
        log.write(LoggedEvent { at: Ticks(0), what: message });
        log.write(LoggedEvent { at: Ticks(10), what: message });
        let names: Vec<_> = (0..2).map(|_| keep(&log, 8, &folder).expect("a take")).collect();
        assert!(names[0].ends_with("Take 1.mid") && names[1].ends_with("Take 2.mid"));
        assert!(midly::Smf::parse(&fs::read(&names[1]).expect("the file")).is_ok());
    }
}
