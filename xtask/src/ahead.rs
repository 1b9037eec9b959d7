//! What later checks need, built beside the checks before.

use std::process::{Child, Stdio};

use crate::steps::{Done, program};
use crate::{elsewhere, fuzz, races, web};

/// Begins to build what later checks need, on what the checks before leave of the
/// processors: many of those wait for the clock or run one at a time. Whatever is not
/// built when it is needed, or does not build, that step builds itself, and shows.
pub struct BuildsAhead(Option<Child>);

impl BuildsAhead {
    /// The task that is run for it.
    pub const TASK: &str = "ahead";

    pub fn begin() -> Self {
        let mut builds = program("nice");
        builds.args(["-n", "19"]).args(std::env::current_exe().ok()).arg(Self::TASK);
        builds.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        Self(builds.spawn().ok())
    }
}

impl Drop for BuildsAhead {
    /// Where a check failed nothing more is begun.
    fn drop(&mut self) {
        if let Some(mut child) = self.0.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// Builds it, in the order in which it is needed.
///
/// # Errors
/// The first that does not build.
pub fn build() -> Done {
    elsewhere::windows()?;
    web::compile()?;
    // Not macOS: it would keep the folder in which packages are built.
    fuzz::build()?;
    races::build()
}
