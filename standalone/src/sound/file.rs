//! A long file, written piece by piece and there only when it is whole.

use std::fs::File;
use std::io;
use std::path::Path;

use crate::failure::Failure;
use crate::files;

/// Writes `path` through a temporary file beside it. An existing file is
/// replaced only when `force` says so; where `fill` fails nothing is left.
///
/// # Errors
/// [`Failure::Input`] when the file exists and is not to be replaced,
/// [`Failure::Machine`] when the disk fails.
pub fn write(
    path: &Path,
    force: bool,
    fill: impl FnOnce(&mut File) -> io::Result<()>,
) -> Result<(), Failure> {
    let failed = |e: io::Error| files::cannot_write(path, &e);
    files::may_write(path, force)?;
    // Devices cannot be renamed onto.
    if path.exists() && !path.is_file() {
        return File::create(path).and_then(|mut file| fill(&mut file)).map_err(failed);
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut unfinished =
        like_any_other_file().tempfile_in(folder.unwrap_or(Path::new("."))).map_err(failed)?;
    fill(unfinished.as_file_mut()).map_err(failed)?;
    unfinished.persist(path).map_err(|e| failed(e.error))?;
    Ok(())
}

/// Temporary files are private by default; what becomes the user's file gets
/// the rights that the user's other files get.
fn like_any_other_file() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".sinistra-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    #[test]
    fn a_users_file_is_not_replaced_unasked() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("take.wav");
        write(&path, false, |file| file.write_all(b"first")).expect("written");
        let refused = write(&path, false, |file| file.write_all(b"second"));
        assert!(matches!(refused, Err(Failure::Input(_))));
        assert_eq!(std::fs::read(&path).expect("there"), b"first");
        write(&path, true, |file| file.write_all(b"second")).expect("written");
        assert_eq!(std::fs::read(&path).expect("there"), b"second");
    }

    #[test]
    fn a_failure_half_way_leaves_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let failed = write(&folder.path().join("take.wav"), false, |file| {
            file.write_all(b"half")?;
            Err(io::Error::other("the disk is full"))
        });
        assert!(matches!(failed, Err(Failure::Machine(_))));
        assert_eq!(std::fs::read_dir(folder.path()).expect("there").count(), 0);
    }
}
