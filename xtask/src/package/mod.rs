//! `cargo xtask package`: what a user installs, in `target/packages`; made to be checked
//! only, in `target/debug/packages`.
//!
//! Every file has the time of the last commit and no owner, files are in the order of
//! their names, and nothing names the machine: made twice, the same bytes.

mod archive;
mod debian;
mod parts;
mod tree;

use std::path::Path;
use std::process::Command;

use crate::bundle::Profile;
use crate::packages::{self, Need, need};
use crate::steps::{Done, epoch, step, target};
use crate::system::System;
use crate::{folders, web};

pub const VERSION: &str = env!("CARGO_PKG_VERSION");

pub const NEEDS: &[Need] = &[need("zip", "packs", &["zip", "--version"])];

/// What there is to be packed.
pub const KINDS: [&str; 3] = ["linux", "windows", "page"];

/// Builds and packs each of `kinds`, all if there are none, and writes checksums over
/// what is there.
///
/// # Errors
/// If a kind is unknown, or what failed.
pub fn run(kinds: &[String], profile: Profile) -> Done {
    if let Some(odd) = kinds.iter().find(|kind| !KINDS.contains(&kind.as_str())) {
        return Err(format!("`{odd}` cannot be packed; there are {}", KINDS.join(", ")));
    }
    packages::provide(packages::BUILD)?;
    packages::provide(NEEDS)?;
    let home = match profile {
        Profile::Release => target().join("packages"),
        Profile::Debug => target().join(profile.folder()).join("packages"),
    };
    let epoch = epoch()?;
    if kinds.is_empty() {
        folders::anew(&home)?;
    }
    folders::make(&home)?;
    for kind in KINDS.iter().filter(|kind| kinds.is_empty() || kinds.iter().any(|k| k == *kind)) {
        let tree = home.join("tree");
        folders::anew(&tree)?;
        let effort = profile.effort();
        match *kind {
            "linux" => {
                tree::linux(&tree, profile)?;
                archive::tarball(&tree, &name(System::Linux), &home, &epoch, effort)?;
                debian::package(&tree, &home, &epoch, effort)?;
            }
            "windows" => {
                tree::windows(&tree, profile)?;
                archive::zip(&tree, &name(System::Windows), &home, &epoch, effort)?;
            }
            _ => {
                web::build()?;
                folders::copy(&web::folder(), &tree)?;
                tree::papers(&tree, &["sinistra-web"])?;
                archive::zip(&tree, &format!("sinistra-{VERSION}-page"), &home, &epoch, effort)?;
            }
        }
        folders::remove(&tree)?;
    }
    checksums(&home)?;
    println!("\nWrote {}", home.display());
    Ok(())
}

fn name(system: System) -> String {
    format!("sinistra-{VERSION}-{}-{}", system.arch(), system.word())
}

fn checksums(home: &Path) -> Done {
    let script = "LC_ALL=C sha256sum -- sinistra* > SHA256SUMS; cat SHA256SUMS";
    step("Checksums", Command::new("sh").current_dir(home).args(["-ec", script]))
}
