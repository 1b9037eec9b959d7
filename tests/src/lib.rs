//! Helpers for the whole-job tests in `tests/`.
