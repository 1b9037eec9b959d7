//! Archives of a folder: the same bytes whenever they are made.

use std::path::Path;
use std::process::Command;

use crate::steps::{Done, step};

/// `HOME/NAME.tar.gz`, pressed with an `effort` of 0 to 9; all lies in a folder NAME inside.
pub fn tarball(tree: &Path, name: &str, home: &Path, epoch: &str, effort: &str) -> Done {
    let script = "tar --sort=name --mtime=\"@$1\" --owner=0 --group=0 --numeric-owner \
                  --mode=u+w,go-w,a+rX --transform=\"s,^\\.,$2,\" -cf - . | gzip -n\"$3\" > \"$4\"";
    let packed = home.join(format!("{name}.tar.gz"));
    step(
        "The tarball",
        Command::new("sh")
            .current_dir(tree)
            .args(["-ec", script, "sh", epoch, name, effort])
            .arg(packed),
    )
}

/// `HOME/NAME.zip`, pressed with an `effort` of 0 to 9.
pub fn zip(tree: &Path, name: &str, home: &Path, epoch: &str, effort: &str) -> Done {
    let script = "rm -f \"$2\"; find . -exec touch -d \"@$1\" {} +; \
                  find . -type f | LC_ALL=C sort | TZ=UTC zip -X -q -\"$3\" \"$2\" -@";
    let packed = home.join(format!("{name}.zip"));
    step(
        "The zip",
        Command::new("sh")
            .current_dir(tree)
            .args(["-ec", script, "sh", epoch])
            .arg(packed)
            .arg(effort),
    )
}
