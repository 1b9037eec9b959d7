//! Keeps libraries from writing to the user's terminal behind our back.

/// Runs `work` with standard error closed to the C libraries below us: where
/// there is no sound card they print pages of their own. What went wrong comes
/// back as a value.
pub fn hushed<T>(work: impl FnOnce() -> T) -> T {
    #[cfg(unix)]
    let _gag = gag::Gag::stderr().ok();
    work()
}
