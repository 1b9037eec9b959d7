//! The system packages that a build or a check needs, installed when missing.

use crate::steps::{Done, program, works};

/// Something that must be there, how to see that it is, and who brings it.
pub struct Need {
    /// The Debian package.
    pub package: &'static str,
    /// What it is for, in plain words.
    pub why: &'static str,
    /// A command that ends well only when it is there.
    pub probe: &'static [&'static str],
}

/// To build and run the program.
pub const BUILD: &[Need] = if cfg!(target_os = "linux") {
    &[
        Need {
            package: "pkg-config",
            why: "finds the sound library",
            probe: &["pkg-config", "--version"],
        },
        Need {
            package: "libasound2-dev",
            why: "sound and MIDI ports (ALSA)",
            probe: &["pkg-config", "--exists", "alsa"],
        },
        Need {
            package: "libjack-jackd2-dev",
            why: "MIDI ports of JACK and PipeWire (opened at run time, if they are there)",
            probe: &["pkg-config", "--exists", "jack"],
        },
    ]
} else {
    &[]
};

/// For the tests that open a window, besides [`BUILD`].
pub const WINDOW: &[Need] = if cfg!(target_os = "linux") {
    &[
        Need {
            package: "xvfb",
            why: "a display without a screen",
            probe: &["sh", "-c", "command -v Xvfb"],
        },
        Need {
            package: "libgl1",
            why: "OpenGL",
            probe: &["sh", "-c", "ldconfig -p | grep libGL.so.1"],
        },
        Need {
            package: "libgl1-mesa-dri",
            why: "OpenGL without a graphics card",
            probe: &["sh", "-c", "ls /usr/lib/*/dri/*_dri.so"],
        },
        Need {
            package: "libx11-xcb1",
            why: "windows",
            probe: &["sh", "-c", "ldconfig -p | grep libX11-xcb.so.1"],
        },
        Need {
            package: "libxkbcommon-x11-0",
            why: "keys in windows",
            probe: &["sh", "-c", "ldconfig -p | grep libxkbcommon-x11.so.0"],
        },
    ]
} else {
    &[]
};

/// For the checks in a DAW, which are skipped where it cannot be installed.
pub const DAW: &[Need] = if cfg!(target_os = "linux") {
    &[Need {
        package: "ardour",
        why: "a DAW that other people wrote",
        probe: &["sh", "-c", "ls /usr/bin/ardour[0-9]*-lua"],
    }]
} else {
    &[]
};

/// For the checks against other libraries, besides [`BUILD`].
pub const OUTSIDE: &[Need] = &[
    Need {
        package: "python3",
        why: "runs the checks against other libraries",
        probe: &["python3", "--version"],
    },
    Need {
        package: "python3-venv",
        why: "keeps those libraries inside the target folder",
        probe: &["python3", "-c", "import venv, ensurepip"],
    },
    Need {
        package: "qemu-system-x86",
        why: "a small virtual machine with the real ALSA sequencer",
        probe: &["qemu-system-x86_64", "--version"],
    },
    Need {
        package: "busybox-static",
        why: "the tools inside that machine",
        probe: &["sh", "-c", "b=$(command -v busybox) && ! ldd $b"],
    },
    Need {
        package: "alsa-utils",
        why: "plays and records MIDI in that machine",
        probe: &["sh", "-c", "command -v arecordmidi"],
    },
    Need { package: "cpio", why: "packs that machine", probe: &["cpio", "--version"] },
    Need {
        package: "systemd",
        why: "says whether the unit for starting at boot is right",
        probe: &["systemd-analyze", "--version"],
    },
    Need {
        package: "jackd2",
        why: "a JACK server without a sound card",
        probe: &["jackd", "--version"],
    },
    Need {
        package: "xdotool",
        why: "hands on the bridge's window",
        probe: &["sh", "-c", "command -v xdotool"],
    },
    Need {
        package: "imagemagick",
        why: "pictures of that window",
        probe: &["sh", "-c", "command -v import"],
    },
];

/// Installs what is missing of `needs`; says what is missing where it cannot.
pub fn provide(needs: &[Need]) -> Done {
    let missing = missing(needs);
    if missing.is_empty() {
        return Ok(());
    }
    let list: Vec<String> =
        missing.iter().map(|need| format!("  {}: {}", need.package, need.why)).collect();
    let list = list.join("\n");
    if !works("apt-get", &["--version"]) {
        return Err(format!(
            "Missing, by the names of their Debian packages:\n{list}\n\
             Please install what your system calls them, then try again."
        ));
    }
    println!("Installing what is missing:\n{list}");
    let root = works("sh", &["-c", "test \"$(id -u)\" = 0"]);
    let mut names: Vec<&str> = missing.iter().map(|need| need.package).collect();
    // An old package list is still worth a try.
    let _ = apt_get(root, &["update", "-q"]);
    let mut install = vec!["install", "-y", "-q", "--no-install-recommends"];
    install.append(&mut names);
    apt_get(root, &install)?;
    let left = self::missing(needs);
    if left.is_empty() {
        Ok(())
    } else {
        let names: Vec<&str> = left.iter().map(|need| need.package).collect();
        Err(format!("Installed, but still not found: {}", names.join(", ")))
    }
}

fn missing(needs: &[Need]) -> Vec<&Need> {
    needs
        .iter()
        .filter(|need| match need.probe {
            [name, arguments @ ..] => !works(name, arguments),
            [] => false,
        })
        .collect()
}

fn apt_get(root: bool, arguments: &[&str]) -> Done {
    let mut command = program(if root { "env" } else { "sudo" });
    if !root {
        command.arg("env");
    }
    command.args(["DEBIAN_FRONTEND=noninteractive", "apt-get"]).args(arguments);
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("apt-get {}: failed ({status})", arguments.join(" "))),
        Err(e) => Err(format!("cannot run {}: {e}", command.get_program().display())),
    }
}
