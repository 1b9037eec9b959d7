//! Which package may stand on which: arrows point one way.

use std::fs;

use crate::steps::{Done, root};

/// Each package and ours that it may name, from the bottom up.
const MAY_NAME: [(&str, &[&str]); 7] = [
    ("core", &[]),
    ("sound", &["core"]),
    ("score", &["core"]),
    ("panel", &["core", "score"]),
    ("plugin", &["core", "score", "panel"]),
    ("standalone", &["core", "score", "panel", "sound"]),
    ("web", &["core", "score", "sound"]),
];

/// What core may stand on from outside: little, and nothing that needs a
/// standard library.
const CORE_MAY_USE: [&str; 5] = ["arrayvec", "bytemuck", "libm", "once_cell", "wide"];

/// Reads the manifests; tests, examples and benches may name what they like.
///
/// # Errors
/// Names the first arrow that points the wrong way.
pub fn check() -> Done {
    println!("\n== Arrows");
    for (package, may) in MAY_NAME {
        for used in dependencies(package)? {
            let allowed = match used.strip_prefix("sinistra-") {
                Some(ours) => may.contains(&ours),
                None => package != "core" || CORE_MAY_USE.contains(&used.as_str()),
            };
            if !allowed {
                return Err(format!(
                    "{package}/Cargo.toml: {package} must not stand on {used}; \
                     see xtask/src/arrows.rs"
                ));
            }
        }
    }
    Ok(())
}

/// The names under `[dependencies]` of a package, those of one system too.
fn dependencies(package: &str) -> Result<Vec<String>, String> {
    let path = root().join(package).join("Cargo.toml");
    let text = fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    let mut names = Vec::new();
    let mut inside = false;
    for line in text.lines().map(str::trim) {
        if line.starts_with('[') {
            inside = line.ends_with("dependencies]") && !line.contains("dev-dependencies");
        } else if inside && let Some((name, _)) = line.split_once(['.', ' ', '=']) {
            names.push(name.to_owned());
        }
    }
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manifests_are_read_and_every_arrow_points_down() {
        let core = dependencies("core").expect("a manifest");
        assert!(core.contains(&"libm".to_owned()) && !core.contains(&"proptest".to_owned()));
        assert!(dependencies("panel").expect("a manifest").contains(&"sinistra-core".to_owned()));
        assert_eq!(check(), Ok(()));
    }
}
