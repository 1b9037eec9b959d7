//! `cargo xtask package`: the page as a user unpacks it on a web server, in
//! `target/packages`, with licences, a bill of materials and checksums.
//!
//! Every file has the time of the last commit and no owner, files are in the order of
//! their names, and nothing names the machine: made twice, the same bytes.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::packages::{self, Need};
use crate::parts::{self, ThirdParty};
use crate::steps::{Done, program, step, target};
use crate::web;

const VERSION: &str = env!("CARGO_PKG_VERSION");

const NEEDS: &[Need] = &[Need { package: "zip", why: "packs", probe: &["zip", "--version"] }];

/// Builds and packs the page.
pub fn run() -> Done {
    packages::provide(NEEDS)?;
    web::build()?;
    let home = target().join("packages");
    anew(&home)?;
    page(&home, &epoch()?)?;
    checksums(&home)?;
    println!("\nWrote {}", home.display());
    Ok(())
}

/// Every part with its licence, and the texts that it brings.
fn licences(parts: &[ThirdParty]) -> String {
    let mut text = String::from("Sinistra is made with these parts; their licences follow.\n\n");
    for part in parts {
        text += &format!("{} {}: {}\n", part.name, part.version, part.licence);
    }
    for part in parts {
        for (name, words) in part.texts() {
            text +=
                &format!("\n== {} {}: {name}\n\n{}\n", part.name, part.version, words.trim_end());
        }
    }
    text
}

fn page(home: &Path, epoch: &str) -> Done {
    let packed = home.join(format!("sinistra-{VERSION}-page.zip"));
    let tree = home.join("page");
    copy(&web::folder(), &tree)?;
    let parts = parts::of(&["sinistra-web"])?;
    write(&tree.join("third-party.txt"), &licences(&parts))?;
    write(&tree.join("sbom.cdx.json"), &parts::sbom(VERSION, &parts))?;
    let script = "find . -exec touch -d \"@$1\" {} +; \
                  find . -type f | LC_ALL=C sort | TZ=UTC zip -X -q -9 \"$2\" -@";
    step(
        "The page",
        Command::new("sh").current_dir(&tree).args(["-ec", script, "sh", epoch]).arg(&packed),
    )?;
    remove(&tree)
}

fn checksums(home: &Path) -> Done {
    let script = "LC_ALL=C sha256sum -- sinistra* > SHA256SUMS; cat SHA256SUMS";
    step("Checksums", Command::new("sh").current_dir(home).args(["-ec", script]))
}

/// The time of the last commit, seconds since 1970.
fn epoch() -> Result<String, String> {
    let asked = program("git").args(["log", "-1", "--format=%ct"]).output();
    let out = asked.map_err(|e| format!("git: {e}"))?;
    let time = String::from_utf8_lossy(&out.stdout).trim().to_owned();
    if time.is_empty() { Ok("1700000000".into()) } else { Ok(time) }
}

fn names(folder: &Path) -> Result<Vec<String>, String> {
    let read = fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let mut names: Vec<String> =
        read.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    Ok(names)
}

fn copy(from: &Path, to: &Path) -> Done {
    make_folder(to)?;
    for name in names(from)? {
        let (from, to): (PathBuf, PathBuf) = (from.join(&name), to.join(&name));
        if from.is_dir() {
            copy(&from, &to)?;
        } else {
            fs::copy(&from, &to).map_err(|e| format!("{}: {e}", from.display()))?;
        }
    }
    Ok(())
}

fn write(to: &Path, text: &str) -> Done {
    make_folder(to.parent().unwrap_or(to))?;
    fs::write(to, text).map_err(|e| format!("{}: {e}", to.display()))
}

fn make_folder(folder: &Path) -> Done {
    fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))
}

fn remove(folder: &Path) -> Done {
    fs::remove_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))
}

fn anew(folder: &Path) -> Done {
    if folder.exists() {
        remove(folder)?;
    }
    make_folder(folder)
}
