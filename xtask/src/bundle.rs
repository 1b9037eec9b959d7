//! `cargo xtask bundle` and `install`: the plugin as hosts look for it.
//!
//! Folders and layouts: `entry.h` of CLAP 1.2 and the VST 3 developer portal,
//! "Plug-in Format Structure" and "Plug-in Locations" (from memory).

use std::path::{Path, PathBuf};
use std::{env, fs};

use crate::packages;
use crate::steps::{Done, cargo, step, target};

/// The name of the files.
const NAME: &str = "Sinistra";
/// The package, and its library's name.
const PACKAGE: &str = "sinistra-plugin";
const LIBRARY: &str = "sinistra_plugin";

/// The two formats.
#[derive(Clone, Copy)]
enum Format {
    Clap,
    Vst3,
}

const FORMATS: [Format; 2] = [Format::Clap, Format::Vst3];

/// Builds the plugin and writes `bundled/Sinistra.clap` and `.vst3`.
pub fn bundle(arguments: &[String]) -> Done {
    for made in build(arguments)? {
        println!("{}", made.display());
    }
    Ok(())
}

/// The same, and copies both to the user's plugin folders.
pub fn install(arguments: &[String]) -> Done {
    let made = build(arguments)?;
    for (format, from) in FORMATS.into_iter().zip(made) {
        let folder = format.folder().ok_or("No home folder was found to install to.")?;
        let to = folder.join(format.file());
        replace(&to, |fresh| copy(&from, fresh))?;
        println!("Installed {}", to.display());
    }
    println!("Have your host look for plugins again; Sinistra is a note (MIDI) effect.");
    Ok(())
}

fn build(arguments: &[String]) -> Result<Vec<PathBuf>, String> {
    let mut profile = "release";
    for argument in arguments {
        match argument.as_str() {
            "--debug" => profile = "debug",
            "--release" | PACKAGE => {}
            other => return Err(format!("`{other}` is nothing that can be bundled; try --debug")),
        }
    }
    packages::provide(packages::BUILD)?;
    let mut command = cargo(&["build", "--package", PACKAGE, "--lib"]);
    if profile == "release" {
        command.arg("--release");
    }
    step("Build the plugin", &mut command)?;
    let (before, after) = (env::consts::DLL_PREFIX, env::consts::DLL_SUFFIX);
    let library = target().join(profile).join(format!("{before}{LIBRARY}{after}"));
    FORMATS
        .into_iter()
        .map(|format| {
            let made = target().join("bundled").join(format.file());
            replace(&made, |fresh| format.lay_out(&library, fresh))?;
            Ok(made)
        })
        .collect()
}

impl Format {
    fn extension(self) -> &'static str {
        match self {
            Self::Clap => "clap",
            Self::Vst3 => "vst3",
        }
    }

    fn file(self) -> String {
        format!("{NAME}.{}", self.extension())
    }

    /// Where this user's plugins of the format are.
    fn folder(self) -> Option<PathBuf> {
        let home = || env::var_os("HOME").map(PathBuf::from);
        let name = self.extension();
        if cfg!(windows) {
            let local = env::var_os("LOCALAPPDATA").map(PathBuf::from)?;
            Some(local.join("Programs").join("Common").join(name.to_uppercase()))
        } else if cfg!(target_os = "macos") {
            Some(home()?.join("Library/Audio/Plug-Ins").join(name.to_uppercase()))
        } else {
            Some(home()?.join(format!(".{name}")))
        }
    }

    /// Writes the plugin at `to` as a host expects it.
    fn lay_out(self, library: &Path, to: &Path) -> std::io::Result<()> {
        let place = if cfg!(target_os = "macos") {
            write_plist(to)?;
            to.join("Contents").join("MacOS").join(NAME)
        } else {
            match self {
                Self::Clap => to.to_path_buf(),
                Self::Vst3 => {
                    let (system, ending) =
                        if cfg!(windows) { ("win", "vst3") } else { ("linux", "so") };
                    let folder = format!("{}-{system}", env::consts::ARCH);
                    to.join("Contents").join(folder).join(format!("{NAME}.{ending}"))
                }
            }
        };
        if let Some(folder) = place.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::copy(library, place).map(|_| ())
    }
}

fn write_plist(bundle: &Path) -> std::io::Result<()> {
    let contents = bundle.join("Contents");
    fs::create_dir_all(&contents)?;
    fs::write(contents.join("PkgInfo"), "BNDL????")?;
    let entry =
        |key: &str, value: &str| format!("  <key>{key}</key>\n  <string>{value}</string>\n");
    let entries = [
        entry("CFBundleExecutable", NAME),
        entry("CFBundleIdentifier", "sinistra.left-hand"),
        entry("CFBundleName", NAME),
        entry("CFBundlePackageType", "BNDL"),
        entry("CFBundleSignature", "????"),
        entry("CFBundleVersion", env!("CARGO_PKG_VERSION")),
    ]
    .concat();
    let plist = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE plist PUBLIC \"-//Apple//DTD PLIST 1.0//EN\" \
         \"http://www.apple.com/DTDs/PropertyList-1.0.dtd\">\n\
         <plist version=\"1.0\">\n<dict>\n{entries}</dict>\n</plist>\n"
    );
    fs::write(contents.join("Info.plist"), plist)
}

/// Makes `to` anew beside itself, then puts it in place: a host that looks
/// meanwhile finds the old one or the new one.
fn replace(to: &Path, make: impl Fn(&Path) -> std::io::Result<()>) -> Done {
    let failed = |error: std::io::Error| format!("{}: {error}", to.display());
    let fresh = to.with_extension("new");
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    remove(&fresh).map_err(failed)?;
    make(&fresh).map_err(failed)?;
    remove(to).map_err(failed)?;
    fs::rename(&fresh, to).map_err(failed)
}

fn remove(path: &Path) -> std::io::Result<()> {
    match fs::symlink_metadata(path) {
        Ok(found) if found.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
        Err(_) => Ok(()),
    }
}

fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    if !from.is_dir() {
        return fs::copy(from, to).map(|_| ());
    }
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        copy(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}
