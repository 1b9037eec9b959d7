//! `cargo xtask bundle` and `install`: the plugin as hosts look for it.
//!
//! Folders and layouts: `entry.h` of CLAP 1.2 and the VST 3 developer portal,
//! "Plug-in Format Structure", "Snapshots" and "Plug-in Locations" (from memory).

use std::path::{Path, PathBuf};
use std::{env, fs};

use crate::folders::{self, copy, remove};
use crate::steps::{Done, cargo, root, step, target};
use crate::system::System;

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
    let built = build(profile)?;
    for made in lay_out(System::here(), &built, &target().join("bundled"))? {
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

    /// Where cargo puts what it built so.
    pub fn folder(self) -> &'static str {
        match self {
            Self::Release => "release",
            Self::Debug => "debug",
        }
    }

    /// How hard its packages are pressed, 0 to 9: what is only checked, quickly.
    pub fn effort(self) -> &'static str {
        match self {
            Self::Release => "6",
            Self::Debug => "1",
        }
    }

    /// What cargo is told.
    pub fn words(self) -> &'static [&'static str] {
        match self {
            Self::Release => &["--release"],
            Self::Debug => &[],
        }
    }
}

/// The same, and copies both to the user's plugin folders.
pub fn install(profile: Profile) -> Done {
    let folders = FORMATS.map(PluginFormat::folder);
    if folders.contains(&None) {
        return Err("No home folder was found to install to: is HOME set?".into());
    }
    let made = lay_out(System::here(), &build(profile)?, &target().join("bundled"))?;
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

/// Builds the plugin for this system; the folder that it is then in.
fn build(profile: Profile) -> Result<PathBuf, String> {
    let mut command = cargo(&["build", "--package", PACKAGE, "--lib"]);
    step("Build the plugin", command.args(profile.words()))?;
    Ok(target().join(profile.folder()))
}

/// Writes both formats into a folder, from the folder that has the library.
pub fn lay_out(system: System, built: &Path, to: &Path) -> Result<Vec<PathBuf>, String> {
    let library = built.join(system.library(LIBRARY));
    FORMATS
        .into_iter()
        .map(|format| {
            let made = to.join(format.file());
            replace(&made, |fresh| format.lay_out(system, &library, fresh))?;
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
    fn lay_out(self, system: System, library: &Path, to: &Path) -> Done {
        let place = match (system, self) {
            (System::MacOs, _) => {
                write_plist(to)?;
                to.join("Contents").join("MacOS").join(NAME)
            }
            (_, Self::Clap) => to.to_path_buf(),
            (_, Self::Vst3) => {
                let (word, ending) =
                    if system == System::Windows { ("win", "vst3") } else { ("linux", "so") };
                let folder = format!("{}-{word}", system.arch());
                to.join("Contents").join(folder).join(format!("{NAME}.{ending}"))
            }
        };
        if let Self::Vst3 = self {
            write_snapshots(to)?;
        }
        copy(library, &place)
    }
}

/// Pictures of the window for hosts that show their plugins by them.
fn write_snapshots(bundle: &Path) -> Done {
    let folder = bundle.join("Contents").join("Resources").join("Snapshots");
    let class: String = CLASS.iter().map(|byte| format!("{byte:02X}")).collect();
    let pictures = root().join("plugin").join("snapshot");
    for (picture, ending) in [("window.png", ""), ("window@2x.png", "_2.0x")] {
        let to = folder.join(format!("{class}_snapshot{ending}.png"));
        copy(&pictures.join(picture), &to)?;
    }
    Ok(())
}

fn write_plist(bundle: &Path) -> Done {
    let contents = bundle.join("Contents");
    folders::write(&contents.join("PkgInfo"), "BNDL????")?;
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
    folders::write(&contents.join("Info.plist"), plist)
}

/// Makes `to` anew beside itself, then puts it in place: a host that looks
/// meanwhile finds the old one or the new one.
fn replace(to: &Path, make: impl Fn(&Path) -> Done) -> Done {
    let fresh = to.with_extension("new");
    folders::make(to.parent().unwrap_or(to))?;
    remove(&fresh)?;
    make(&fresh)?;
    remove(to)?;
    fs::rename(&fresh, to).map_err(|error| format!("{}: {error}", to.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bundles_have_library_and_pictures_where_hosts_look() {
        let folder = env::temp_dir().join(format!("sinistra-bundle-{}", std::process::id()));
        let library = folder.join("library");
        folders::write(&library, "code").expect("a file");
        let bundle = folder.join("Sinistra.vst3");
        PluginFormat::Vst3.lay_out(System::Windows, &library, &bundle).expect("a bundle");
        let pictures = bundle.join("Contents/Resources/Snapshots");
        for name in ["", "_2.0x"] {
            let name = format!("53696E69737472614C65667448616E64_snapshot{name}.png");
            let bytes = fs::read(pictures.join(&name)).expect("a picture");
            assert!(bytes.starts_with(b"\x89PNG"), "{name}");
        }
        let place = "Contents/x86_64-win/Sinistra.vst3";
        assert_eq!(fs::read(bundle.join(place)).expect("the library"), b"code");
        for format in FORMATS {
            let bundle = folder.join("mac").join(format.file());
            format.lay_out(System::MacOs, &library, &bundle).expect("a bundle");
            let contents = bundle.join("Contents");
            assert_eq!(fs::read(contents.join("MacOS/Sinistra")).expect("the library"), b"code");
            let plist = fs::read_to_string(contents.join("Info.plist")).expect("its list");
            assert!(plist.contains("<key>CFBundleExecutable</key>\n  <string>Sinistra</string>"));
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
