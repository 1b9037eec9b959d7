//! What a program is made of: the packages that cargo links into it, their licences,
//! and the same as a CycloneDX 1.5 bill of materials.

use std::path::PathBuf;
use std::{env, fs};

use crate::steps::cargo;

/// A package of somebody else's.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ThirdParty {
    pub name: String,
    pub version: String,
    /// An SPDX expression.
    pub licence: String,
}

/// The parts of our `packages`, by name.
///
/// # Errors
/// If cargo cannot tell them, or one names no licence.
pub fn of(packages: &[&str]) -> Result<Vec<ThirdParty>, String> {
    let mut tree = cargo(&["tree", "--edges", "normal", "--prefix", "none", "--no-dedupe"]);
    tree.args(["--format", "{p}\t{l}"]);
    for package in packages {
        tree.args(["--package", package]);
    }
    let out = tree.output().map_err(|e| format!("cargo tree: {e}"))?;
    if !out.status.success() {
        return Err(String::from_utf8_lossy(&out.stderr).into_owned());
    }
    let mut parts = Vec::new();
    for line in String::from_utf8_lossy(&out.stdout).lines() {
        // Ours have their folder behind the version.
        let Some((package, licence)) = line.split_once('\t').filter(|_| !line.contains(" (/"))
        else {
            continue;
        };
        let mut words = package.split(' ');
        let (Some(name), Some(version)) = (words.next(), words.next()) else { continue };
        if licence.is_empty() {
            return Err(format!("{package} names no licence"));
        }
        parts.push(ThirdParty {
            name: name.into(),
            version: version.trim_start_matches('v').into(),
            licence: licence.replace('/', " OR "),
        });
    }
    parts.sort();
    parts.dedup();
    Ok(parts)
}

impl ThirdParty {
    /// The texts of its licences, as its authors ship them.
    pub fn texts(&self) -> Vec<(String, String)> {
        let home = env::var_os("CARGO_HOME").map(PathBuf::from);
        let home =
            home.or_else(|| env::var_os("HOME").map(|home| PathBuf::from(home).join(".cargo")));
        let Some(registries) = home.and_then(|home| fs::read_dir(home.join("registry/src")).ok())
        else {
            return Vec::new();
        };
        let folder = format!("{}-{}", self.name, self.version);
        let mut found = Vec::new();
        for entry in registries
            .flatten()
            .filter_map(|r| fs::read_dir(r.path().join(&folder)).ok())
            .flatten()
            .flatten()
        {
            let name = entry.file_name().to_string_lossy().into_owned();
            let upper = name.to_uppercase();
            let is_one =
                ["LICENSE", "LICENCE", "COPYING", "NOTICE"].iter().any(|n| upper.starts_with(n));
            if let (true, Ok(text)) = (is_one, fs::read_to_string(entry.path())) {
                found.push((name, text));
            }
        }
        found.sort();
        found.dedup();
        found
    }
}

/// Every part with its licence, and the texts that it brings.
pub fn licences(parts: &[ThirdParty]) -> String {
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

/// CycloneDX 1.5 as JSON (ECMA-424): each part with its package URL and licence.
pub fn sbom(version: &str, parts: &[ThirdParty]) -> String {
    let components: Vec<_> = parts
        .iter()
        .map(|ThirdParty { name, version, licence }| {
            let url = format!("pkg:cargo/{name}@{version}");
            format!(
                "    {{\"type\": \"library\", \"bom-ref\": \"{url}\", \"name\": \"{name}\", \
                 \"version\": \"{version}\", \"purl\": \"{url}\", \
                 \"licenses\": [{{\"expression\": \"{licence}\"}}]}}"
            )
        })
        .collect();
    format!(
        "{{\n  \"bomFormat\": \"CycloneDX\",\n  \"specVersion\": \"1.5\",\n  \"version\": 1,\n  \
         \"metadata\": {{\"component\": {{\"type\": \"application\", \"name\": \"sinistra\", \
         \"version\": \"{version}\", \"licenses\": [{{\"expression\": \"MIT\"}}]}}}},\n  \
         \"components\": [\n{}\n  ]\n}}\n",
        components.join(",\n")
    )
}
