//! What a user installs, laid out as their system has it.

use std::path::Path;
use std::process::Command;

use super::{VERSION, parts};
use crate::bundle::{self, Profile};
use crate::elsewhere::{self, PACKAGES};
use crate::folders;
use crate::steps::{Done, epoch, program, root, step};
use crate::system::System;

/// As it lies below `/usr`.
pub fn linux(tree: &Path, profile: Profile) -> Done {
    let built = elsewhere::build(System::Linux, profile)?;
    put(&built.join("sinistra"), tree, "bin/sinistra")?;
    let bundled = tree.join("bundled");
    bundle::lay_out(System::Linux, &built, &bundled)?;
    put(&bundled.join("Sinistra.clap"), tree, "lib/clap/Sinistra.clap")?;
    put(&bundled.join("Sinistra.vst3"), tree, "lib/vst3/Sinistra.vst3")?;
    folders::remove(&bundled)?;
    let inside = format!("Contents/{}-linux/Sinistra.so", System::Linux.arch());
    strip(
        "strip",
        tree,
        ["bin/sinistra", "lib/clap/Sinistra.clap", &format!("lib/vst3/Sinistra.vst3/{inside}")],
    )?;
    let doc = tree.join("share/doc/sinistra");
    texts(&doc)?;
    put(&root().join("LICENSE"), &doc, "copyright")?;
    put(&root().join("web/page/icon.svg"), tree, "share/icons/hicolor/scalable/apps/sinistra.svg")?;
    put(&root().join("xtask/files/sinistra.desktop"), tree, "share/applications/sinistra.desktop")?;
    let unit = "sinistra-bridge.service";
    put(&root().join("standalone/boot").join(unit), &doc, unit)?;
    manual(&built.join("sinistra"), tree)
}

/// As it lies in the zip.
pub fn windows(tree: &Path, profile: Profile) -> Done {
    let built = elsewhere::build(System::Windows, profile)?;
    put(&built.join("sinistra.exe"), tree, "sinistra.exe")?;
    bundle::lay_out(System::Windows, &built, tree)?;
    let inside = "Sinistra.vst3/Contents/x86_64-win/Sinistra.vst3";
    strip("x86_64-w64-mingw32-strip", tree, ["sinistra.exe", "Sinistra.clap", inside])?;
    put(&root().join("LICENSE"), tree, "LICENSE.txt")?;
    texts(&tree.join("doc"))
}

/// What the parts of `packages` are, with their licences.
pub fn papers(folder: &Path, packages: &[&str]) -> Done {
    let parts = parts::of(packages)?;
    folders::write(&folder.join("third-party.txt"), parts::licences(&parts))?;
    folders::write(&folder.join("sbom.cdx.json"), parts::sbom(VERSION, &parts))
}

/// What is to be read.
fn texts(doc: &Path) -> Done {
    for (from, to) in [
        ("README.md", "README.md"),
        ("presets/sounds/README.md", "piano.md"),
        ("presets/sounds/piano/LICENSE-CC-BY-3.0.txt", "piano-CC-BY-3.0.txt"),
        ("panel/fonts/LICENSE.txt", "fonts.txt"),
        ("panel/fonts/OFL.txt", "music-font-OFL.txt"),
    ] {
        put(&root().join(from), doc, to)?;
    }
    papers(doc, &PACKAGES)
}

/// Man pages and completions: the program describes itself.
fn manual(built: &Path, tree: &Path) -> Done {
    let pages = tree.join("manual");
    folders::make(&pages)?;
    step("Man pages and completions", program(built).arg("manual").arg(&pages))?;
    for name in folders::names(&pages)? {
        let to = match name.rsplit_once('.') {
            Some((_, "1")) => format!("share/man/man1/{name}"),
            Some((_, "bash")) => "share/bash-completion/completions/sinistra".into(),
            Some((_, "fish")) => "share/fish/vendor_completions.d/sinistra.fish".into(),
            _ => format!("share/zsh/vendor-completions/{name}"),
        };
        put(&pages.join(&name), tree, &to)?;
    }
    folders::remove(&pages)
}

/// Debug information is for those who build.
fn strip(tool: &str, tree: &Path, files: [&str; 3]) -> Done {
    let files = files.map(|file| tree.join(file));
    let mut strip = Command::new(tool);
    // Windows' files tell when they were made.
    strip.arg("--strip-unneeded").args(files).env("SOURCE_DATE_EPOCH", epoch()?);
    // Where it is not to be had they are longer, and as good.
    let _ = strip.status();
    Ok(())
}

fn put(from: &Path, tree: &Path, to: &str) -> Done {
    folders::copy(from, &tree.join(to))
}
