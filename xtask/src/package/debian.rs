//! The Debian package (Debian Policy Manual, chapters 3 and 5; deb(5)).

use std::path::Path;
use std::process::Command;

use super::VERSION;
use crate::folders;
use crate::steps::{Done, step};

/// `tree`, as it lies below `/usr`, as a package in `home`, pressed with an `effort` of 0 to 9.
pub fn package(tree: &Path, home: &Path, epoch: &str, effort: &str) -> Done {
    let arch = if cfg!(target_arch = "aarch64") { "arm64" } else { "amd64" };
    let debian = home.join("debian");
    folders::anew(&debian)?;
    folders::copy(tree, &debian.join("usr"))?;
    let control = format!(
        "Package: sinistra\nVersion: {VERSION}\nArchitecture: {arch}\n\
         Maintainer: The Sinistra authors <sinistra@localhost>\n\
         Section: sound\nPriority: optional\n\
         Depends: libc6 (>= 2.36), libgcc-s1, libasound2t64 | libasound2\n\
         Recommends: libgl1, libx11-6, libx11-xcb1, libxcursor1, libxkbcommon-x11-0\n\
         Suggests: jackd2\n\
         Description: plays the left hand to the chords that your right hand holds\n \
         As a CLAP and VST3 plugin, between keyboard and sound module, and in the\n \
         practice room. Hears the chord, foresees the next, plays in time.\n"
    );
    folders::write(&debian.join("DEBIAN/control"), control)?;
    let packed = home.join(format!("sinistra_{VERSION}_{arch}.deb"));
    let script = "find . -type d -exec chmod 755 {} +; find . -type f -exec chmod 644 {} +; \
                  chmod 755 usr/bin/sinistra; gzip -n9 usr/share/man/man1/*; \
                  find . -exec touch -h -d \"@$1\" {} +; \
                  SOURCE_DATE_EPOCH=$1 dpkg-deb --root-owner-group -Zxz -z\"$2\" --build . \"$3\"";
    step(
        "The Debian package",
        Command::new("sh")
            .current_dir(&debian)
            .args(["-ec", script, "sh", epoch, effort])
            .arg(&packed),
    )?;
    folders::remove(&debian)
}
