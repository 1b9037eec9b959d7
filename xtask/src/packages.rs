//! The system packages that a build or a check needs, installed when missing.

use crate::steps::{Done, program, works};

/// Something that must be there, how to see that it is, and who brings it.
#[derive(Clone, Copy)]
pub struct Need {
    /// The Debian package.
    pub package: &'static str,
    /// What it is for, in plain words.
    pub why: &'static str,
    /// A command that ends well only when it is there.
    pub probe: &'static [&'static str],
}

pub const fn need(
    package: &'static str,
    why: &'static str,
    probe: &'static [&'static str],
) -> Need {
    Need { package, why, probe }
}

/// To build and run the program.
pub const BUILD: &[Need] = if cfg!(target_os = "linux") {
    &[
        need("pkg-config", "finds the sound library", &["pkg-config", "--version"]),
        need("libasound2-dev", "sound and MIDI ports (ALSA)", &["pkg-config", "--exists", "alsa"]),
        need(
            "libjack-jackd2-dev",
            "MIDI ports of JACK and PipeWire (opened at run time, if they are there)",
            &["pkg-config", "--exists", "jack"],
        ),
    ]
} else {
    &[]
};

/// For the tests that open a window, besides [`BUILD`].
pub const WINDOW: &[Need] = if cfg!(target_os = "linux") {
    &[
        need("xvfb", "a display without a screen", &["sh", "-c", "command -v Xvfb"]),
        need("libgl1", "OpenGL", &["sh", "-c", "ldconfig -p | grep libGL.so.1"]),
        need(
            "libgl1-mesa-dri",
            "OpenGL without a graphics card",
            &["sh", "-c", "ls /usr/lib/*/dri/*_dri.so"],
        ),
        need("libx11-xcb1", "windows", &["sh", "-c", "ldconfig -p | grep libX11-xcb.so.1"]),
        need(
            "libxkbcommon-x11-0",
            "keys in windows",
            &["sh", "-c", "ldconfig -p | grep libxkbcommon-x11.so.0"],
        ),
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
    need("python3", "runs the checks against other libraries", &["python3", "--version"]),
    need(
        "python3-venv",
        "keeps those libraries inside the target folder",
        &["python3", "-c", "import venv, ensurepip"],
    ),
    need(
        "qemu-system-x86",
        "a small virtual machine with the real ALSA sequencer",
        &["qemu-system-x86_64", "--version"],
    ),
    need(
        "busybox-static",
        "the tools inside that machine",
        &["sh", "-c", "b=$(command -v busybox) && ! ldd $b"],
    ),
    need(
        "alsa-utils",
        "plays and records MIDI in that machine",
        &["sh", "-c", "command -v arecordmidi"],
    ),
    need("cpio", "packs that machine", &["cpio", "--version"]),
    need(
        "systemd",
        "says whether the unit for starting at boot is right",
        &["systemd-analyze", "--version"],
    ),
    need("jackd2", "a JACK server without a sound card", &["jackd", "--version"]),
    need("strace", "sees what the program asks of the system", &["strace", "--version"]),
    need("mmdebstrap", "fresh Debians to install in", &["mmdebstrap", "--version"]),
    need("xdotool", "hands on the bridge's window", &["sh", "-c", "command -v xdotool"]),
    need("imagemagick", "pictures of that window", &["sh", "-c", "command -v import"]),
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
