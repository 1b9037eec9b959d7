//! A SoundFont of one note, made here byte by byte, and what becomes of it
//! when it is cut off or spoiled. Layout: SoundFont Technical Specification
//! 2.04 (Creative, 2006), chapters 4 to 7.

use super::*;
use std::io::Write;

fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = name.to_vec();
    bytes.extend(u32::try_from(body.len()).expect("short").to_le_bytes());
    bytes.extend(body);
    bytes.resize(bytes.len().next_multiple_of(2), 0);
    bytes
}

fn list(name: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"LIST", &[name.to_vec(), chunks.concat()].concat())
}

fn words(words: &[u16]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_le_bytes()).collect()
}

fn named(name: &str, rest: &[u8]) -> Vec<u8> {
    let mut bytes = name.as_bytes().to_vec();
    bytes.resize(20, 0);
    bytes.extend(rest);
    bytes
}

/// A sawtooth of A4 at 44.1 kHz, looped: one preset, one instrument.
fn one_note() -> Vec<u8> {
    const PERIOD: u32 = 100; // 441 Hz
    const LENGTH: u32 = 40 * PERIOD;
    let sawtooth: Vec<u8> = (0..LENGTH + 46)
        .map(|n| if n < LENGTH { (n % PERIOD) as i16 * 300 - 15_000 } else { 0 })
        .flat_map(i16::to_le_bytes)
        .collect();
    let info = list(
        b"INFO",
        &[
            chunk(b"ifil", &words(&[2, 1])),
            chunk(b"isng", b"EMU8000\0"),
            chunk(b"INAM", b"One note\0\0"),
        ],
    );
    let data = list(b"sdta", &[chunk(b"smpl", &sawtooth)]);
    let preset = |name, bag| named(name, &words(&[0, 0, bag, 0, 0, 0, 0, 0, 0]));
    let sample = |name, [start, end, from, to]: [u32; 4]| {
        let places: Vec<u8> =
            [start, end, from, to, 44_100].iter().flat_map(|n| n.to_le_bytes()).collect();
        named(name, &[places, vec![69, 0], words(&[0, 1])].concat())
    };
    let hydra = list(
        b"pdta",
        &[
            chunk(b"phdr", &[preset("Piano", 0), preset("EOP", 1)].concat()),
            chunk(b"pbag", &words(&[0, 0, 1, 0])),
            chunk(b"pmod", &[0; 10]),
            chunk(b"pgen", &words(&[41, 0, 0, 0])), // the instrument
            chunk(b"inst", &[named("One", &words(&[0])), named("EOI", &words(&[1]))].concat()),
            chunk(b"ibag", &words(&[0, 0, 2, 0])),
            chunk(b"imod", &[0; 10]),
            chunk(b"igen", &words(&[54, 1, 53, 0, 0, 0])), // looped; the sample
            chunk(
                b"shdr",
                &[sample("Saw", [0, LENGTH, PERIOD, LENGTH - PERIOD]), sample("EOS", [0; 4])]
                    .concat(),
            ),
        ],
    );
    chunk(b"RIFF", &[b"sfbk".to_vec(), info, data, hydra].concat())
}

fn open(bytes: &[u8]) -> Result<SoundFontPlayer, Failure> {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    file.write_all(bytes).expect("written");
    SoundFontPlayer::new(&SoundFontFile::open(file.path())?, 44_100)
}

#[test]
fn a_users_file_sounds_and_falls_silent() {
    let mut player = open(&one_note()).expect("a SoundFont");
    let (mut left, mut right) = (vec![0.0; 8_820], vec![0.0; 8_820]);
    player.note_on(0, KeyNumber::MIDDLE_C, 100);
    player.render(&mut left, &mut right);
    let peak = left.iter().fold(0.0f32, |peak, sample| peak.max(sample.abs()));
    assert!(peak > 0.01, "{peak}");
    assert!(!player.is_silent());
    player.note_off(0, KeyNumber::MIDDLE_C);
    for _ in 0..50 {
        player.render(&mut left, &mut right);
    }
    assert!(player.is_silent());
}

#[test]
fn a_file_that_is_no_soundfont_is_one_clear_error() {
    let whole = one_note();
    for (bytes, what) in [
        (&b""[..], "nothing"),
        (&b"MThd\0\0\0\x06\0\x01"[..], "a MIDI file"),
        (&whole[..whole.len() / 2], "cut off in the sample"),
        (&whole[..whole.len() - 30], "cut off in the tables"),
    ] {
        match open(bytes) {
            Err(Failure::Input(message)) => {
                assert!(message.contains("SoundFont 2"), "{what}: {message}");
                assert_eq!(message.lines().count(), 1, "{what}: {message}");
            }
            Err(other) => panic!("{what}: {other}"),
            Ok(_) => panic!("{what}: taken for a SoundFont"),
        }
    }
}

#[test]
fn a_spoiled_file_is_an_error_or_sounds_but_never_a_crash() {
    let whole = one_note();
    let tables = whole.len() - 420;
    for at in (0..100).chain(tables..whole.len()) {
        for value in [0, 0xFF] {
            let mut spoiled = whole.clone();
            spoiled[at] = value;
            let Ok(mut player) = open(&spoiled) else { continue };
            let (mut left, mut right) = ([0.0; 256], [0.0; 256]);
            player.note_on(0, KeyNumber::MIDDLE_C, 100);
            player.render(&mut left, &mut right);
        }
    }
}
