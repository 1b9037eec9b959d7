//! Checks of the page: `tests/page`, in Debian's Chromium.

use std::path::PathBuf;

use crate::packages::{self, Need};
use crate::steps::{Done, binary, program, root, step, target};
use crate::web;

/// For the checks of the page.
pub const NEEDS: &[Need] = &[
    Need {
        package: "chromium",
        why: "the browser that the page is checked in",
        probe: &["chromium", "--version"],
    },
    Need { package: "nodejs", why: "runs the checks of the page", probe: &["node", "--version"] },
    Need { package: "npm", why: "brings their libraries", probe: &["npm", "--version"] },
    Need {
        package: "poppler-utils",
        why: "reads what the browser prints",
        probe: &["pdfinfo", "-v"],
    },
];

/// What is checked without a browser, and in one.
const FILES: [&str; 2] = ["music", "page"];

/// Builds the page and runs them. `Ok(Some(why))` when they could not run on this
/// machine, which is allowed at home and an error under CI.
pub fn run(filter: Option<&str>) -> Result<Option<String>, String> {
    let ready = web::build().and_then(|()| packages::provide(NEEDS)).and_then(|()| libraries());
    let libraries = match ready {
        Ok(libraries) => libraries,
        Err(why) if std::env::var_os("CI").is_none() => return Ok(Some(why)),
        Err(why) => return Err(format!("{why}\nUnder CI the checks of the page must run.")),
    };
    let server = std::env::current_exe().map_err(|e| e.to_string())?;
    let mut node = program("node");
    node.arg("--test");
    if let Some(filter) = filter {
        // Names are matched as patterns: a filter is meant as it is.
        let plain: String =
            filter.chars().map(|c| if c.is_alphanumeric() || c == ' ' { c } else { '.' }).collect();
        node.args(["--test-name-pattern", &plain]);
    }
    for file in FILES {
        node.arg(format!("tests/page/{file}.test.mjs"));
    }
    node.env("SINISTRA", binary("debug"))
        .env("SINISTRA_PAGE", web::folder())
        .env("SINISTRA_NODE", libraries)
        .env("SINISTRA_XTASK", server);
    step("Checks of the page", &mut node)?;
    Ok(None)
}

/// The checks' names.
pub fn names() -> Result<Vec<String>, String> {
    let folder = root().join("tests/page");
    let mut names = Vec::new();
    for file in FILES {
        let path = folder.join(format!("{file}.test.mjs"));
        let text =
            std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
        let named = text.lines().filter_map(|line| line.strip_prefix("test(\"")?.split('"').next());
        names.extend(named.map(str::to_owned));
    }
    Ok(names)
}

/// The npm packages that `tests/page/package.json` pins, in the target folder.
fn libraries() -> Result<PathBuf, String> {
    let home = target().join("page-checks");
    let list = root().join("tests/page/package.json");
    let failed = |e: std::io::Error| format!("{}: {e}", home.display());
    let wanted = std::fs::read_to_string(&list).map_err(failed)?;
    let stamp = home.join("installed.json");
    if std::fs::read_to_string(&stamp).is_ok_and(|installed| installed == wanted) {
        return Ok(home);
    }
    std::fs::create_dir_all(&home).map_err(failed)?;
    std::fs::copy(&list, home.join("package.json")).map_err(failed)?;
    let done: Done = step(
        "Libraries for the checks of the page",
        program("npm").args(["install", "--no-audit", "--no-fund", "--prefix"]).arg(&home),
    );
    done?;
    std::fs::write(&stamp, wanted).map_err(failed)?;
    Ok(home)
}
