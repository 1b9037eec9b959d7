//! Builds for machines other than this one.
//!
//! Where rustup has added the target, the toolchain in use builds it. Else, on
//! Debian, its `rustc-web`, `cargo-web` and `rust-web-src` do: they bring the
//! standard library as source, which is built on the way.

use std::path::Path;
use std::process::Command;

use crate::packages::{self, Need};
use crate::steps::{cargo, program, target};

/// Debian's compiler with its library as source.
const DEBIAN: &[Need] = &[
    Need {
        package: "rustc-web",
        why: "a Rust compiler for other targets",
        probe: &["/usr/bin/rustc", "--version"],
    },
    Need { package: "cargo-web", why: "its cargo", probe: &["/usr/bin/cargo", "--version"] },
    Need {
        package: "rust-web-src",
        why: "the standard library, to be built for those targets",
        probe: &["test", "-e", "/usr/lib/rustlib/src/rust/library/std/Cargo.toml"],
    },
    Need { package: "lld", why: "links WebAssembly", probe: &["sh", "-c", "command -v wasm-ld"] },
];

/// `cargo VERB` for each of `triples` at once, with a folder of its own below the target
/// folder.
///
/// # Errors
/// If neither toolchain is there, nor to be had.
pub fn cargo_for(triples: &[&str], verb: &str) -> Result<Command, String> {
    let mut command = if triples.iter().all(|triple| has(triple)) {
        cargo(&[verb])
    } else {
        packages::provide(DEBIAN)?;
        let mut command = program("/usr/bin/cargo");
        command.args([verb, "-Z", "build-std=std,panic_abort"]);
        // The library as source is for the compiler's makers only; Debian's is whole.
        command.env("RUSTC_BOOTSTRAP", "1").env("RUSTC", "/usr/bin/rustc");
        command.env("RUSTDOC", "/usr/bin/rustdoc").env_remove("RUSTUP_TOOLCHAIN");
        // Its own linker for WebAssembly is not among Debian's packages; LLVM's is.
        command.env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld");
        command
    };
    // Nobody steps through these here; without it they build faster, in half the room.
    command.env("CARGO_PROFILE_DEV_DEBUG", "false").env("CARGO_INCREMENTAL", "0");
    command.args(triples.iter().flat_map(|triple| ["--target", triple]));
    command.arg("--target-dir").arg(target().join("other"));
    Ok(command)
}

/// What `cargo_for` needs for each of `triples` that the toolchain in use lacks.
pub fn needs(triples: &[&str]) -> &'static [Need] {
    if triples.iter().all(|triple| has(triple)) { &[] } else { DEBIAN }
}

/// Whether the toolchain in use has the target's standard library.
fn has(triple: &str) -> bool {
    let asked =
        Command::new("rustc").args(["--print", "target-libdir", "--target", triple]).output();
    asked.is_ok_and(|out| {
        let folder = String::from_utf8_lossy(&out.stdout);
        out.status.success() && Path::new(folder.trim()).is_dir()
    })
}
