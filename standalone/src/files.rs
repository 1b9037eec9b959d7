//! Reading what the user named, and writing without losing anything of theirs.

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use sinistra_score::limits;

use crate::failure::Failure;

/// A file's bytes.
///
/// # Errors
/// As [`read_up_to`].
pub fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    read_up_to(path, limits::FILE)
}

/// A file's text.
///
/// # Errors
/// As [`read_up_to`], or if it is none.
pub fn read_text(path: &Path) -> Result<String, Failure> {
    let none = |_| Failure::Input(format!("{}: not a text file (UTF-8)", path.display()));
    String::from_utf8(read(path)?).map_err(none)
}

/// The bytes of a file, or of a pipe up to its end, of at most `most`.
///
/// # Errors
/// If it cannot be read, is a folder, a device (which has no end), or larger.
pub fn read_up_to(path: &Path, most: u64) -> Result<Vec<u8>, Failure> {
    let name = path.display();
    let cannot = |e| Failure::Input(format!("{name}: cannot read it: {e}"));
    let about = fs::metadata(path).map_err(cannot)?;
    let kind = about.file_type();
    if kind.is_dir() {
        return Err(Failure::Input(format!("{name}: this is a folder, not a file")));
    }
    #[cfg(unix)]
    if !kind.is_file() && !std::os::unix::fs::FileTypeExt::is_fifo(&kind) {
        return Err(Failure::Input(format!("{name}: this is a device, not a file")));
    }
    let too_large = || Failure::Input(format!("{name}: larger than {} MB", most >> 20));
    if about.len() > most {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    // What grows meanwhile, or comes through a pipe, has no size beforehand.
    fs::File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(cannot)?;
    if bytes.len() as u64 > most { Err(too_large()) } else { Ok(bytes) }
}

/// Refuses to write over a file that holds something, unless asked to.
///
/// # Errors
/// If there is such a file and not `force`, or `path` is a folder.
pub fn may_write(path: &Path, force: bool) -> Result<(), Failure> {
    let name = path.display();
    match fs::metadata(path) {
        Ok(about) if about.is_dir() => {
            Err(Failure::Input(format!("{name}: this is a folder, not a file")))
        }
        Ok(about) if about.is_file() && about.len() > 0 && !force => Err(Failure::Input(format!(
            "{name}: this file is there already\nhint: name another, or add --force to replace it"
        ))),
        _ => Ok(()),
    }
}

/// [`may_write`] for all that a command is going to write, before it writes any:
/// each has a folder to lie in, and no two are one file.
///
/// # Errors
/// If one may not be written, has no folder, or would be written over by another.
pub fn may_write_all<'a>(
    paths: impl IntoIterator<Item = &'a Path>,
    force: bool,
) -> Result<(), Failure> {
    let mut places = Vec::new();
    for path in paths {
        may_write(path, force)?;
        let (name, folder) = (path.display(), folder_of(path));
        let Ok(place) = folder.canonicalize().map(|f| f.join(path.file_name().unwrap_or_default()))
        else {
            return Err(Failure::Input(format!(
                "{name}: there is no folder {}\nhint: make it first, or name another",
                folder.display()
            )));
        };
        // Any number may go to one device.
        if fs::metadata(path).is_ok_and(|about| !about.is_file()) {
            continue;
        }
        if places.contains(&place) {
            return Err(Failure::Input(format!(
                "{name}: two files of one name\nhint: give each that is written its own"
            )));
        }
        places.push(place);
    }
    Ok(())
}

/// The disk's refusal. The temporary file's own name, which stands behind the
/// words of some, is no help to anybody.
pub fn cannot_write(path: &Path, error: &std::io::Error) -> Failure {
    let why = error.to_string();
    let why = why.split(" at path ").next().unwrap_or_default();
    Failure::Machine(format!("{}: cannot write it: {why}", path.display()))
}

/// The folder that `path` lies in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Writes all or nothing: a temporary file beside it, then a rename.
///
/// # Errors
/// As [`may_write`], or if the disk refuses.
pub fn write(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    write_by(path, force, |file| file.write_all(bytes))
}

/// The same of what is too long to be held whole: `fill` writes it, piece by piece.
///
/// # Errors
/// As [`may_write`], or if the disk or `fill` refuses; then nothing is left.
pub fn write_by(
    path: &Path,
    force: bool,
    fill: impl FnOnce(&mut fs::File) -> std::io::Result<()>,
) -> Result<(), Failure> {
    may_write(path, force)?;
    let cannot = |e: std::io::Error| cannot_write(path, &e);
    // Devices and pipes cannot be renamed onto.
    if fs::metadata(path).is_ok_and(|about| !about.is_file()) {
        return fs::File::create(path).and_then(|mut file| fill(&mut file)).map_err(cannot);
    }
    let mut file = unfinished(folder_of(path)).map_err(cannot)?;
    fill(file.as_file_mut()).and_then(|()| file.as_file().sync_all()).map_err(cannot)?;
    file.persist(path).map_err(|e| cannot(e.error))?;
    Ok(())
}

/// A temporary file is its owner's alone; a score is as readable as any.
#[cfg(unix)]
fn unfinished(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    use std::os::unix::fs::PermissionsExt;
    let readable = fs::Permissions::from_mode(0o666);
    tempfile::Builder::new().permissions(readable).tempfile_in(folder)
}

#[cfg(not(unix))]
fn unfinished(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    tempfile::Builder::new().tempfile_in(folder)
}

/// Where a file of ours is kept from one start to the next.
pub fn kept(name: &str) -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "sinistra")?;
    Some(folders.config_dir().join(name))
}

/// Keeps it there; a disk that refuses costs no more than the comfort.
pub fn keep(name: &str, bytes: &[u8]) {
    let Some(path) = kept(name) else { return };
    let _ = fs::create_dir_all(folder_of(&path));
    let _ = write(&path, bytes, true);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_without_an_end_is_read() {
        let told = |name: &str| read(Path::new(name)).unwrap_err().to_string();
        if cfg!(unix) {
            assert_eq!(told("/dev/zero"), "/dev/zero: this is a device, not a file");
            assert_eq!(told("/dev/full"), "/dev/full: this is a device, not a file");
        }
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("large");
        fs::File::create(&path).unwrap().set_len(limits::FILE + 1).unwrap();
        assert!(read(&path).unwrap_err().to_string().ends_with("larger than 64 MB"));
        fs::write(&path, b"small").unwrap();
        assert_eq!(read(&path).unwrap(), b"small");
        assert!(read_up_to(&path, 4).is_err());
    }

    #[test]
    fn a_users_file_is_not_replaced_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        write(&path, b"one", false).unwrap();
        assert!(matches!(write(&path, b"two", false), Err(Failure::Input(_))));
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write(&path, b"two", true).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no temporary file stays");
    }

    #[test]
    fn a_failure_half_way_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let failed = write_by(&folder.path().join("take.wav"), false, |file| {
            file.write_all(b"half")?;
            Err(std::io::Error::other("the disk is full"))
        });
        assert!(matches!(failed, Err(Failure::Machine(_))));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn what_is_written_together_has_folders_and_names_of_its_own() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let asked = |names: [&str; 2]| {
            let paths = names.map(at);
            may_write_all(paths.iter().map(|path| path.as_path()), true)
        };
        assert!(asked(["a.mid", "a.wav"]).is_ok());
        let problem = |names| asked(names).unwrap_err().to_string();
        assert!(problem(["a.mid", "./a.mid"]).contains("two files of one name"));
        assert!(problem(["a.mid", "nowhere/a.wav"]).contains("there is no folder"));
        let devices = [Path::new("/dev/null"); 2];
        assert!(!cfg!(unix) || may_write_all(devices, true).is_ok());
    }

    #[test]
    fn a_file_that_cannot_be_written_is_the_only_one_named() {
        let path = tempfile::tempdir().unwrap().path().join("song.mid");
        let text = write(&path, b"one", false).unwrap_err().to_string(); // its folder is gone
        assert_eq!(text.matches("song.mid").count(), 1);
        assert!(!text.contains(" at path "), "{text}");
    }
}
