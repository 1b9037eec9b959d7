//! `cargo xtask demo | test`: set-up and checks on a fresh machine.

fn main() {}
