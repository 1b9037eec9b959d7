//! `cargo xtask bundle` and `install`: the plugin as hosts look for it.
//!
//! Folders and layouts: `entry.h` of CLAP 1.2 and the VST 3 developer portal,
//! "Plug-in Format Structure", "Snapshots" and "Plug-in Locations" (from memory).

use std::path::{Path, PathBuf};
use std::{env, fs};

use crate::steps::{Done, cargo, root, step, target};

/// The name of the files.
const NAME: &str = "Sinistra";
/// The package, and its library's name.
const PACKAGE: &str = "sinistra-plugin";
const LIBRARY: &str = "sinistra_plugin";
/// The VST3 class, as it is in the plugin (`VST3_CLASS_ID`).
const CLASS: &[u8; 16] = b"SinistraLeftHand";

/// The two formats.
#[derive(Clone, Copy)]
enum PluginFormat {
    Clap,
    Vst3,
}

const FORMATS: [PluginFormat; 2] = [PluginFormat::Clap, PluginFormat::Vst3];

/// Builds the plugin and writes `bundled/Sinistra.clap` and `.vst3`.
pub fn bundle(profile: Profile) -> Done {
    for made in build(profile)? {
        println!("Wrote {}", made.display());
    }
    Ok(())
}

/// How the plugin is built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Profile {
    /// For use.
    Release,
    /// To look for mistakes: checks that no block allocates.
    Debug,
}

impl Profile {
    /// What the user asked for.
    ///
    /// # Errors
    /// What was not understood.
    pub fn read(arguments: &[String]) -> Result<Self, String> {
        let mut profile = Self::Release;
        for argument in arguments {
            match argument.as_str() {
                "--debug" => profile = Self::Debug,
                "--release" | PACKAGE => {}
                other => return Err(format!("`{other}` makes no sense here; there is --debug")),
            }
        }
        Ok(profile)
    }

    fn folder(self) -> &'static str {
        match self {
            Self::Release => "release",
            Self::Debug => "debug",
        }
    }
}

/// The same, and copies both to the user's plugin folders.
pub fn install(profile: Profile) -> Done {
    let folders = FORMATS.map(PluginFormat::folder);
    if folders.contains(&None) {
        return Err("No home folder was found to install to: is HOME set?".into());
    }
    let made = build(profile)?;
    for ((format, folder), from) in FORMATS.into_iter().zip(folders.into_iter().flatten()).zip(made)
    {
        let to = folder.join(format.file());
        let before = to.exists();
        replace(&to, |fresh| copy(&from, fresh))?;
        println!("{} {}", if before { "Replaced" } else { "Installed" }, to.display());
    }
    println!("Have your host look for plugins again; Sinistra is a note (MIDI) effect.");
    Ok(())
}

fn build(profile: Profile) -> Result<Vec<PathBuf>, String> {
    let mut command = cargo(&["build", "--package", PACKAGE, "--lib"]);
    if profile == Profile::Release {
        command.arg("--release");
    }
    step("Build the plugin", &mut command)?;
    let (before, after) = (env::consts::DLL_PREFIX, env::consts::DLL_SUFFIX);
    let library = target().join(profile.folder()).join(format!("{before}{LIBRARY}{after}"));
    FORMATS
        .into_iter()
        .map(|format| {
            let made = target().join("bundled").join(format.file());
            replace(&made, |fresh| format.lay_out(&library, fresh))?;
            Ok(made)
        })
        .collect()
}

impl PluginFormat {
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
        if let Self::Vst3 = self {
            write_snapshots(to)?;
        }
        fs::copy(library, place).map(|_| ())
    }
}

/// Pictures of the window for hosts that show their plugins by them.
fn write_snapshots(bundle: &Path) -> std::io::Result<()> {
    let folder = bundle.join("Contents").join("Resources").join("Snapshots");
    fs::create_dir_all(&folder)?;
    let class: String = CLASS.iter().map(|byte| format!("{byte:02X}")).collect();
    let pictures = root().join("plugin").join("snapshot");
    for (picture, ending) in [("window.png", ""), ("window@2x.png", "_2.0x")] {
        let to = folder.join(format!("{class}_snapshot{ending}.png"));
        fs::copy(pictures.join(picture), to)?;
    }
    Ok(())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_vst3_has_its_library_and_pictures_where_hosts_look() {
        let folder = env::temp_dir().join(format!("sinistra-bundle-{}", std::process::id()));
        let library = folder.join("library");
        fs::create_dir_all(&folder).expect("a folder");
        fs::write(&library, "code").expect("a file");
        let bundle = folder.join("Sinistra.vst3");
        PluginFormat::Vst3.lay_out(&library, &bundle).expect("a bundle");
        let pictures = bundle.join("Contents/Resources/Snapshots");
        for name in ["", "_2.0x"] {
            let name = format!("53696E69737472614C65667448616E64_snapshot{name}.png");
            let bytes = fs::read(pictures.join(&name)).expect("a picture");
            assert!(bytes.starts_with(b"\x89PNG"), "{name}");
        }
        if cfg!(target_os = "linux") {
            let place = format!("Contents/{}-linux/Sinistra.so", env::consts::ARCH);
            assert_eq!(fs::read(bundle.join(place)).expect("the library"), b"code");
        }
        fs::remove_dir_all(folder).expect("ours to remove");
    }

    #[test]
    fn the_class_is_the_plugins_own() {
        let effect = root().join("plugin").join("src").join("effect.rs");
        let text = fs::read_to_string(effect).expect("the plugin");
        let class = String::from_utf8_lossy(CLASS);
        assert!(text.contains(&format!("VST3_CLASS_ID: [u8; 16] = *b\"{class}\"")));
    }

    #[test]
    fn what_makes_no_sense_is_told() {
        let read = |words: &[&str]| {
            Profile::read(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())
        };
        assert_eq!(read(&[]), Ok(Profile::Release));
        assert_eq!(read(&["--debug"]), Ok(Profile::Debug));
        assert_eq!(
            read(&["--debgu"]),
            Err("`--debgu` makes no sense here; there is --debug".into())
        );
    }
}
