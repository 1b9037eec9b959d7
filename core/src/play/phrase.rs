//! How long what belongs together is.

/// Bars in a phrase: as long as one variation lasts. Common practice.
pub const PHRASE: i64 = 4;

/// The most bars of a chart whose sections get their figures back.
pub const MOST_BARS: usize = 512;
