//! `cargo xtask web`: the page, as a folder of files that any web server serves.

use std::fs;
use std::path::{Path, PathBuf};

use crate::steps::{Done, nameless, root, step, target};
use crate::target::cargo_for;

pub const TRIPLE: &str = "wasm32-unknown-unknown";

/// Where the page is written.
pub fn folder() -> PathBuf {
    target().join("web")
}

/// Builds the page into [`folder`].
pub fn build() -> Done {
    compile()?;
    let code = target().join("other").join(TRIPLE).join("web").join("sinistra_web.wasm");
    let made = folder();
    lay_out(&code, &made).map_err(|e| format!("{}: {e}", made.display()))?;
    println!("Wrote {}", made.display());
    Ok(())
}

/// Builds its code alone.
pub fn compile() -> Done {
    let mut cargo = cargo_for(&[TRIPLE], "build")?;
    cargo.args(["--profile", "web", "--package", "sinistra-web", "--lib"]);
    // Four numbers at once: in every browser since 2023, and in the engine's own code.
    nameless(&mut cargo, &["-Ctarget-feature=+simd128"])?;
    step("Build the page's WebAssembly", &mut cargo)
}

/// The page's own files, the code, the piano, and what the service worker keeps.
fn lay_out(code: &Path, to: &Path) -> std::io::Result<()> {
    if to.exists() {
        fs::remove_dir_all(to)?;
    }
    fs::create_dir_all(to.join("piano"))?;
    for entry in fs::read_dir(root().join("web").join("page"))? {
        let entry = entry?;
        fs::copy(entry.path(), to.join(entry.file_name()))?;
    }
    fs::copy(code, to.join("sinistra.wasm"))?;
    let fonts = root().join("panel").join("fonts");
    fs::copy(fonts.join("DejaVuSerif-Bold-subset.ttf"), to.join("chords.ttf"))?;
    for entry in fs::read_dir(root().join("presets").join("sounds").join("piano"))? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if let Some(key) = name.strip_suffix("v10.ogg").and_then(key_number) {
            fs::copy(entry.path(), to.join("piano").join(format!("{key}.ogg")))?;
        } else if name.starts_with("LICENSE") {
            fs::copy(entry.path(), to.join("piano").join(name))?;
        }
    }
    keep_list(to)
}

/// `D#2`: 39.
fn key_number(name: &str) -> Option<u32> {
    let (note, octave) = name.split_at(name.len().checked_sub(1)?);
    let semitone = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
        .iter()
        .position(|known| *known == note)?;
    Some(12 * (octave.parse::<u32>().ok()? + 1) + u32::try_from(semitone).ok()?)
}

/// Tells the service worker what to keep, and by which mark the whole is known: a
/// page that changed anywhere is kept anew.
fn keep_list(to: &Path) -> std::io::Result<()> {
    let mut names: Vec<String> = Vec::new();
    for folder in ["", "piano/"] {
        for entry in fs::read_dir(to.join(folder))? {
            let entry = entry?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if entry.path().is_file() && name != "keep.js" {
                names.push(format!("{folder}{name}"));
            }
        }
    }
    names.sort();
    let mut mark = 0xCBF2_9CE4_8422_2325u64;
    for name in &names {
        for byte in name.bytes().chain(fs::read(to.join(name))?) {
            // FNV-1a: told apart, not kept secret.
            mark = (mark ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3);
        }
    }
    let list: Vec<_> = names.iter().map(|name| format!("  \"{name}\",\n")).collect();
    let text = format!("const MARK = \"{mark:016x}\";\nconst KEPT = [\n{}];\n", list.concat());
    fs::write(to.join("keep.js"), text)
}
