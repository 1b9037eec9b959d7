//! One belief: what holds and what comes, each said as surely as it comes true
//! when the ear is counted in, and what to strike where that is not sure.
//!
//! The ear gives odds of the chord now, foresight gives odds of the next one as
//! if the ear were never wrong. Here they become one: [`next`] says what comes
//! though the ear may have misheard, [`begin`] what to begin a chord with.
#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

pub mod begin;
pub mod next;
