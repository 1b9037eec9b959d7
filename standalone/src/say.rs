//! `println!` and `print!` that outlive their reader: in `sinistra … | head`
//! the pipe closes early, which is no reason to stop half-way or to panic.
//! They take the place of the standard ones in all of this crate.

use std::fmt::Arguments;
use std::io::Write;

/// Like the standard macro, but a closed pipe is ignored.
macro_rules! print {
    ($($text:tt)*) => { $crate::say::write(format_args!($($text)*)) };
}

/// Like the standard macro, but a closed pipe is ignored.
macro_rules! println {
    () => { $crate::say::write(format_args!("\n")) };
    ($($text:tt)*) => { $crate::say::write(format_args!("{}\n", format_args!($($text)*))) };
}

/// Writes to standard output; nobody reading it is nobody's fault.
pub fn write(text: Arguments<'_>) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_fmt(text).and_then(|()| out.flush());
}
