//! Byte for byte against Standard MIDI Files 1.0, and against bad files.

use midly::{MetaMessage, Smf, TrackEventKind};
use proptest::prelude::*;

use super::*;
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;

/// The example of format 0 in the specification (from memory; its chunk
/// length and event lengths agree with one another).
#[rustfmt::skip]
const EXAMPLE: &[u8] = &[
    0x4D, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0, 0x60,
    0x4D, 0x54, 0x72, 0x6B, 0, 0, 0, 0x3B,
    0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08, // 4/4
    0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20,       // 500,000 µs a quarter
    0x00, 0xC0, 0x05, 0x00, 0xC1, 0x2E, 0x00, 0xC2, 0x46,
    0x00, 0x92, 0x30, 0x60,
    0x00, 0x3C, 0x60,                               // running status
    0x60, 0x91, 0x43, 0x40,
    0x60, 0x90, 0x4C, 0x20,
    0x81, 0x40, 0x82, 0x30, 0x40,                   // two bytes of delta time
    0x00, 0x3C, 0x40,
    0x00, 0x81, 0x43, 0x40,
    0x00, 0x80, 0x4C, 0x40,
    0x00, 0xFF, 0x2F, 0x00,
];

fn key(number: u8) -> KeyNumber {
    KeyNumber::new(number).expect("a key")
}

/// A file of the given format, division and raw tracks.
fn file(format: u8, division: [u8; 2], tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0".to_vec();
    bytes.extend([format, 0, u8::try_from(tracks.len()).expect("few")]);
    bytes.extend(division);
    for track in tracks {
        bytes.extend(b"MTrk");
        bytes.extend(u32::try_from(track.len()).expect("short").to_be_bytes());
        bytes.extend(*track);
    }
    bytes
}

const ALL: HandTrack = HandTrack { track: None, channel: None, drums: true };
const END: &[u8] = &[0, 0xFF, 0x2F, 0];

/// Messages as `tick+key` and `tick-key`.
fn notes(bytes: &[u8], part: &HandTrack) -> String {
    let file = MidiFile::read("a.mid", bytes).expect("a good file");
    let notes = file.messages(part).into_iter().filter_map(|(at, message)| match message {
        Message::On { key, .. } => Some(format!("{}+{}", at.0, key.number())),
        Message::Off { key, .. } => Some(format!("{}-{}", at.0, key.number())),
        Message::Control { .. } => None,
    });
    notes.collect::<Vec<_>>().join(" ")
}

fn refusal(bytes: &[u8]) -> String {
    MidiFile::read("a.mid", bytes).expect_err("a bad file").to_string()
}

#[test]
fn the_specifications_example_reads_as_it_says() {
    let file = MidiFile::read("a.mid", EXAMPLE).expect("a good file");
    assert_eq!(file.timeline(), &Timeline::constant(120.0, Metre::COMMON));
    // A whole note C on channel 3, a dotted half G on 2, a half E on 1.
    assert_eq!(notes(EXAMPLE, &ALL), "0+48 0+60 960+67 1920+76 3840-48 3840-60 3840-67 3840-76");
    assert_eq!(file.end(), Ticks(3840));
}

#[test]
fn the_specifications_delta_times_read_as_they_say() {
    for (value, bytes) in [
        (0u64, &[0x00][..]),
        (0x40, &[0x40]),
        (0x7F, &[0x7F]),
        (0x80, &[0x81, 0x00]),
        (0x2000, &[0xC0, 0x00]),
        (0x3FFF, &[0xFF, 0x7F]),
        (0x4000, &[0x81, 0x80, 0x00]),
        (0x10_0000, &[0xC0, 0x80, 0x00]),
        (0x1F_FFFF, &[0xFF, 0xFF, 0x7F]),
        (0x20_0000, &[0x81, 0x80, 0x80, 0x00]),
        (0x800_0000, &[0xC0, 0x80, 0x80, 0x00]),
        (0xFFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
    ] {
        // At division 32767 the longest of them lasts over an hour.
        let track = [bytes, &[0xFF, 0x2F, 0]].concat();
        let bytes = super::tests::file(1, [0x7F, 0xFF], &[&track]);
        let read = MidiFile::read("a.mid", &bytes).expect("a good file");
        assert_eq!(read.tracks()[0].end, value);
        // And written again: one byte less would change the length.
        let at = read.ticks(value);
        if read.file_tick(at) == value {
            let off = Message::off(0, key(60));
            let written = read.with_track("L", &[(at, off)]);
            let delta = &written[bytes.len() + 8 + 5..];
            assert!(delta.starts_with(&track[..track.len() - 3]), "{value:x}");
        }
    }
}

#[test]
fn every_byte_of_the_old_tracks_is_written_back() {
    #[rustfmt::skip]
    let first: &[u8] = &[
        0, 0xFF, 0x03, 4, b'S', b'o', b'n', b'g',
        0, 0xF0, 5, 0x43, 0x12, 0x00, 0x07, 0xF7,      // system exclusive
        0, 0xF7, 3, 0xF3, 0x01, 0x02,                  // escape
        0, 0xFF, 0x7F, 3, 1, 2, 3,                     // for a sequencer
        0, 0xFF, 0x60, 1, 9,                           // unknown
        0, 0xFF, 0x21, 1, 0x85,                        // a port that cannot be
        0, 0xE0, 1, 2, 0, 0xA0, 60, 9, 0, 0xD0, 7,     // bend, pressure
        0, 0x90, 60, 64, 0x83, 0x00, 60, 0,            // running status, velocity 0
        0, 0xFF, 0x2F, 0,
    ];
    for format in [0, 1] {
        let mut bytes = file(format, [0x01, 0x80], &[first]);
        bytes.extend(b"XYZZ\0\0\0\x02hi"); // an alien chunk
        let read = MidiFile::read("a.mid", &bytes).expect("a good file");
        let on = Message::On { channel: 2, key: key(36), velocity: 80 };
        let off = Message::off(2, key(36));
        let written = read.with_track("Left hand", &[(Ticks(0), on), (Ticks(960), off)]);
        assert_eq!(written[14..bytes.len()], bytes[14..]);
        assert_eq!(&written[8..14], &[0, 1, 0, 2, 0x01, 0x80]); // format 1, two tracks
        #[rustfmt::skip]
        assert_eq!(written[bytes.len()..], [
            b'M', b'T', b'r', b'k', 0, 0, 0, 26,
            0, 0xFF, 0x03, 9, b'L', b'e', b'f', b't', b' ', b'h', b'a', b'n', b'd',
            0, 0x92, 36, 80, 0x83, 0x00, 0x82, 36, 64, 0, 0xFF, 0x2F, 0,
        ][..]);
    }
}

#[test]
fn a_written_file_opens_in_another_reader() {
    let read = MidiFile::read("a.mid", EXAMPLE).expect("a good file");
    let written = read.with_track("Left hand", &[]);
    let smf = Smf::parse(&written).expect("midly reads it");
    assert_eq!(smf.tracks.len(), 2);
    assert_eq!(smf.tracks[0], Smf::parse(EXAMPLE).expect("the example").tracks[0]);
    assert_eq!(smf.tracks[1][0].kind, TrackEventKind::Meta(MetaMessage::TrackName(b"Left hand")));
}

#[test]
fn notes_end_as_they_would_on_a_keyboard() {
    for (why, track, expected) in [
        ("velocity 0 ends a note", &[0, 0x90, 60, 9, 96, 60, 0][..], "0+60 960-60"),
        ("unclosed at the end of the track", &[0, 0x90, 60, 9, 96, 0xB0, 64, 0], "0+60 960-60"),
        ("of no length", &[96, 0x90, 60, 9, 0, 60, 0], "960+60 960-60"),
        (
            "struck again while down",
            &[0, 0x90, 60, 9, 96, 60, 9, 96, 60, 0, 0, 60, 0],
            "0+60 960-60 960+60 1920-60",
        ),
        ("released, never struck", &[0, 0x80, 60, 9, 0, 0x90, 61, 9, 96, 61, 0], "0+61 960-61"),
    ] {
        let track = [track, END].concat();
        assert_eq!(notes(&file(0, [0, 96], &[&track]), &ALL), expected, "{why}");
    }
}

#[test]
fn a_division_that_does_not_divide_ours_keeps_its_own_ticks() {
    for division in [1u16, 7, 96, 100, 120, 384, 480, 1000, 1024, 32767] {
        let bytes = file(0, division.to_be_bytes(), &[END]);
        let read = MidiFile::read("a.mid", &bytes).expect("a good file");
        for tick in (0..=u64::from(division) * 3).step_by(1 + usize::from(division) / 50) {
            let error = read.ticks(tick).beats() - tick as f64 / f64::from(division);
            assert!(error.abs() <= 0.5 / 960.0 + 1e-9, "{division} {tick}");
            if division <= 960 {
                assert_eq!(read.file_tick(read.ticks(tick)), tick, "division {division}");
            }
        }
    }
}

#[test]
fn smpte_ticks_are_parts_of_a_second() {
    // −25 frames a second, 40 ticks a frame: a tick is a millisecond.
    let tempo_60 = [0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    let note = [0x87, 0x68, 0x90, 60, 9, 0x87, 0x68, 60, 0]; // 1,000 ms, 1,000 ms
    let track = [&tempo_60[..], &note, END].concat();
    let bytes = file(0, [0xE7, 40], &[&track]);
    let read = MidiFile::read("a.mid", &bytes).expect("a good file");
    assert_eq!(read.seconds(1000), 1.0);
    assert_eq!(notes(&bytes, &ALL), "960+60 1920-60"); // at 60 a minute
    assert_eq!(read.file_tick(Ticks(1920)), 2000);
    // 29.97: 30 frames last 1.001 seconds.
    let bytes = file(0, [0xE3, 1], &[END]);
    let read = MidiFile::read("a.mid", &bytes).expect("a good file");
    assert!((read.seconds(30) - 1.001).abs() < 1e-12);
}

#[test]
fn tempo_and_metre_change_where_the_file_says() {
    #[rustfmt::skip]
    let track: &[u8] = &[
        0, 0xFF, 0x58, 4, 3, 2, 24, 8,
        0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40,             // 60 a minute
        0, 0xFF, 0x59, 2, 0xFD, 1,                      // three flats, minor
        0x82, 0x20, 0xFF, 0x58, 4, 6, 3, 36, 8,         // 288 ticks: a bar of 3/4
        0, 0xFF, 0x51, 3, 0x07, 0xA1, 0x20,             // 120 a minute
        0, 0xFF, 0x2F, 0,
    ];
    let bytes = file(1, [0, 96], &[track]);
    let read = MidiFile::read("a.mid", &bytes).expect("a good file");
    let line = read.timeline();
    assert_eq!(line.place(Ticks(2879)).metre, Metre::new(3, 4).expect("3/4"));
    assert_eq!(line.place(Ticks(2880)).metre, Metre::new(6, 8).expect("6/8"));
    assert_eq!(line.seconds(Ticks(2880 + 960)), 3.5);
    let (at, c_minor) = read.keys()[0];
    assert_eq!((at, c_minor.key().tonic.index(), c_minor.fifths()), (Ticks(0), 0, -3));
}

#[test]
fn the_right_hand_is_found() {
    let on = |channel: u8, key: u8, times: usize| {
        [0, 0x90 | channel, key, 9, 9, 0x80 | channel, key, 0].repeat(times)
    };
    let named = |name: &str, events: Vec<u8>| {
        let mut track = vec![0, 0xFF, 0x03, u8::try_from(name.len()).expect("short")];
        track.extend(name.as_bytes());
        track.extend(events);
        track.extend(END);
        track
    };
    let drums = named("Kit", on(9, 70, 9));
    let low = named("Bass", on(1, 40, 8));
    let high = named("Choir", [on(2, 72, 3), on(3, 72, 4)].concat());
    let left = named("Piano left", on(0, 64, 9));
    let right = named("Piano RIGHT", on(0, 64, 1));
    let empty = named("Right", vec![]);
    let choose = |tracks: &[&[u8]], track, channel| {
        let bytes = file(1, [0, 96], tracks);
        let read = MidiFile::read("a.mid", &bytes).expect("a good file");
        read.right_hand(track, channel, KeyNumber::MIDDLE_C).map_err(|fault| fault.to_string())
    };
    let part = |track, channel| Ok(HandTrack { track: Some(track), channel, drums: false });
    assert_eq!(choose(&[&drums, &low, &high], None, None), part(2, Some(3)));
    assert_eq!(choose(&[&empty, &high, &left, &right], None, None), part(3, None));
    assert_eq!(choose(&[&left, &high], None, None), part(1, Some(3)));
    assert_eq!(choose(&[&left], None, None), part(0, Some(0))); // there is nothing else
    assert_eq!(
        choose(&[&drums, &low], Some(1), None),
        Ok(HandTrack { track: Some(0), channel: None, drums: true }) // the player insists
    );
    assert_eq!(
        choose(&[&high, &low], None, Some(3)),
        Ok(HandTrack { track: None, channel: Some(2), drums: true })
    );
    assert_eq!(
        choose(&[&drums], None, None),
        Err("no notes for a right hand in the file\n\
             hint: the tracks are 1 (Kit: 9 notes on channel 10)"
            .to_owned())
    );
    assert_eq!(
        choose(&[&high], Some(2), None),
        Err("no track 2\nhint: the tracks are 1 (Choir: 7 notes on channels 3 4)".to_owned())
    );
    assert_eq!(
        choose(&[], None, None),
        Err("no notes for a right hand in the file\nhint: there are no tracks in it".to_owned())
    );
    assert!(choose(&[&high], None, Some(17)).is_err());
    assert!(choose(&[&high], Some(1), Some(1)).is_err());
}

#[test]
fn bad_files_are_refused_in_one_message() {
    for (bytes, message) in [
        (&b"GIF89a"[..], "a.mid: not a Standard MIDI File, or cut off in its header"),
        (b"", "a.mid: not a Standard MIDI File, or cut off in its header"),
        (&EXAMPLE[..10], "a.mid: not a Standard MIDI File, or cut off in its header"),
        (&EXAMPLE[..14], "a.mid: cut off: the header tells of 1 tracks, 0 are there"),
        (&EXAMPLE[..30], "a.mid: cut off: track 1 should have 59 bytes, 8 are there"),
    ] {
        assert_eq!(refusal(bytes).lines().next(), Some(message));
    }
    assert!(refusal(&file(2, [0, 96], &[END])).contains("format 2"));
    assert!(refusal(&file(0, [0, 0], &[END])).contains("division is 0"));
    // A data byte with its top bit set; a status that no file may hold.
    for bad in [&[0, 0x90, 60, 0x85][..], &[0, 0xF8, 0], &[0, 60, 9], &[0, 0x90, 60]] {
        assert!(refusal(&file(0, [0, 96], &[bad])).contains("track 1 is damaged"), "{bad:?}");
    }
    // A text that claims more bytes than there are.
    assert!(refusal(&file(0, [0, 96], &[&[0, 0xFF, 1, 99, b'h']])).contains("has no end"));
    // Ninety years of silence.
    let long = [0xFF, 0xFF, 0xFF, 0x7F, 0xFF, 0x2F, 0];
    assert!(refusal(&file(0, [0, 1], &[&long])).contains("hours"));
    assert!(refusal(&vec![0; (16 << 20) + 1]).contains("16 MiB"));
}

#[test]
fn a_division_of_minus_128_frames_is_refused() {
    // Found by a property test: the reader below panics on it.
    assert!(refusal(&file(0, [0x80, 0], &[END])).contains("SMPTE"));
}

#[test]
fn a_riff_wrapper_is_taken_off() {
    let length = u32::try_from(EXAMPLE.len()).expect("short");
    let mut bytes = b"RIFF".to_vec();
    bytes.extend((length + 12).to_le_bytes());
    bytes.extend(b"RMIDdata");
    bytes.extend(length.to_le_bytes());
    bytes.extend(EXAMPLE);
    assert_eq!(notes(&bytes, &ALL), notes(EXAMPLE, &ALL));
}

#[test]
fn a_cut_anywhere_is_noticed() {
    for length in 0..EXAMPLE.len() {
        assert!(MidiFile::read("a.mid", &EXAMPLE[..length]).is_err(), "{length} bytes");
    }
}

#[test]
fn a_new_file_starts_with_the_bar_of_its_pick_up() {
    let waltz = Metre::new(3, 4).expect("3/4");
    let line = Timeline::constant(90.0, waltz);
    let on = Message::On { channel: 0, key: key(60), velocity: 80 };
    let off = Message::off(0, key(60));
    let messages = [(Ticks(-960), on), (Ticks(0), off)];
    let tracks = [NewTrack { name: "Right hand", program: Some(0), messages: &messages }];
    let key_of_g = sinistra_core::key::Key {
        tonic: sinistra_core::pitch::PitchClass::new(7),
        mode: sinistra_core::key::Mode::Major,
    };
    let bytes = write_tracks(
        "Reed Bend",
        Some(key_of_g.into()),
        &line,
        (Ticks(-960), Ticks(2880)),
        &tracks,
    );
    let read = MidiFile::read("a.mid", &bytes).expect("a good file");
    assert_eq!(notes(&bytes, &ALL), "1920+60 2880-60"); // on the third beat
    assert_eq!(read.timeline().place(Ticks(0)).metre, waltz);
    assert!((read.timeline().tempo(Ticks(0)) - 90.0).abs() < 1e-3);
    assert_eq!(read.keys(), [(Ticks(0), key_of_g.into())]);
    assert_eq!(read.tracks()[0].name.as_deref(), Some("Reed Bend"));
    assert_eq!(read.end(), Ticks(2880 + 2880));
}

proptest! {
    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = MidiFile::read("a.mid", &bytes).map(|file| file.messages(&ALL));
    }

    #[test]
    fn no_damage_panics(hits in prop::collection::vec((0..EXAMPLE.len(), any::<u8>()), 1..6)) {
        let mut bytes = EXAMPLE.to_vec();
        for (place, byte) in hits {
            bytes[place] = byte;
        }
        if let Ok(file) = MidiFile::read("a.mid", &bytes) {
            let _ = file.right_hand(None, None, KeyNumber::MIDDLE_C);
            let messages = file.messages(&ALL);
            let written = file.with_track("Left hand", &messages);
            prop_assert!(MidiFile::read("b.mid", &written).is_ok());
        }
    }

    #[test]
    fn no_track_panics(
        track in prop::collection::vec(
            prop_oneof![any::<u8>(), 0x80u8..0xA0, 0u8..3, Just(0xFF)], 0..200),
        division in any::<[u8; 2]>(),
        format in 0u8..4,
    ) {
        let bytes = file(format, division, &[&track]);
        if let Ok(file) = MidiFile::read("a.mid", &bytes) {
            let messages = file.messages(&ALL);
            prop_assert!(messages.is_sorted_by_key(|(at, _)| *at));
            let ons = messages.iter().filter(|(_, m)| matches!(m, Message::On { .. })).count();
            let offs = messages.iter().filter(|(_, m)| matches!(m, Message::Off { .. })).count();
            prop_assert_eq!(ons, offs);
        }
    }

    #[test]
    fn what_is_written_reads_back(
        notes in prop::collection::vec((0i64..100_000, 0i64..5000, 0u8..128, 1u8..128), 0..40),
    ) {
        let mut messages = Vec::new();
        for &(at, length, number, velocity) in &notes {
            messages.push((Ticks(at), Message::On { channel: 0, key: key(number), velocity }));
            messages.push((Ticks(at + length), Message::Off { channel: 0, key: key(number), velocity: 1 }));
        }
        messages.sort_by_key(|(at, _)| *at);
        let line = Timeline::constant(120.0, Metre::COMMON);
        let tracks = [NewTrack { name: "R", program: None, messages: &messages }];
        let bytes = write_tracks("T", None, &line, (Ticks(0), Ticks(0)), &tracks);
        let file = MidiFile::read("a.mid", &bytes).expect("a good file");
        let (raw, _) = file.raw(&ALL);
        prop_assert_eq!(raw.len(), messages.len());
        for ((tick, ..), (at, _)) in raw.iter().zip(&messages) {
            prop_assert_eq!(*tick as i64, at.0);
        }
    }
}
