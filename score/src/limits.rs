//! How much is read of any file: sizes and counts in one place. Whatever is in a
//! file, reading it takes no more than 200 MB and about two seconds.

/// Bytes of any file at the most; nothing that is read here is larger.
pub const FILE: u64 = 64 << 20;
/// Bytes of a SoundFont.
pub const SOUNDFONT: u64 = 128 << 20;
/// Bytes of a chart: a songbook of text.
pub const CHART: usize = 1 << 20;
/// Bars of a chart, as written and as played: 48 minutes in 4/4 at 100.
pub const CHART_BARS: (usize, usize) = (1_200, 1_200);
/// Bytes of a pattern file.
pub const PATTERN: usize = 64 << 10;
/// Bars of all of a pattern's `[[bar]]`s together, and of one of them; each is
/// made to fit every metre there is.
pub const PATTERN_BARS: (usize, usize) = (64, 64);
/// Places of a pattern's bar.
pub const PATTERN_PLACES: usize = 48;
/// Bytes of a MusicXML score, unpacked.
pub const MUSICXML: u64 = 16 << 20;
/// Elements, texts and attributes of it.
pub const MUSICXML_NODES: u32 = 1_000_000;
/// Bytes of the list of contents of a compressed one.
pub const CONTAINER: u64 = 64 << 10;
/// Bytes of a MIDI file: an hour of dense playing has a tenth of this.
pub const MIDI: usize = 16 << 20;
/// Tracks of a MIDI file.
pub const MIDI_TRACKS: usize = 1_000;
/// Events of a MIDI file.
pub const MIDI_EVENTS: usize = 1_000_000;
/// Seconds of a MIDI file.
pub const MIDI_SECONDS: f64 = 12.0 * 3600.0;
/// Strokes asked for times strokes played that one judgement compares.
pub const COMPARED: usize = 2_500_000;
