//! The free world: charts, pattern files, MIDI files, MusicXML. Not real-time.
