"""What version 0.1 wrote is read for ever, and means the same.

The plugin's state of 0.1 is read by `plugin/tests/upgrade.rs`."""

import re
import shutil
from pathlib import Path

import mido

KEPT = Path("tests/data/0.1")


def test_a_chart_and_a_pattern_mean_the_same(sinistra, tmp_path):
    words = ["--pattern", KEPT / "hand.toml", "--midi", tmp_path / "take.mid"]
    done = sinistra("perform", KEPT / "song.txt", *words)
    assert done.returncode == 0, done.stderr
    chords = re.findall(r"^chord \| (.*)$", done.stdout, re.MULTILINE)
    assert "".join(chords).replace("|", " ").split() == (
        "E♭ Cm7 Fm7 B♭7/D Fm7 B♭7/D N.C. B♭7 A♭maj7 A♭m6 Gø7 C7alt Fsus4 F7 B♭7 E♭".split()
    )
    # Where it is struck, and what, is the pattern's; which key may change.
    assert [when(KEPT / "take.mid"), when(tmp_path / "take.mid")] == [when(KEPT / "take.mid")] * 2


def when(path):
    """Pitch class and time of every left-hand note, ticks."""
    file = mido.MidiFile(path)
    left = next(track for track in file.tracks if track.name == "Left hand")
    now, notes = 0, []
    for message in left:
        now += message.time
        if message.type == "note_on" and message.velocity:
            notes.append((now, message.note % 12))
    return notes


def test_a_take_is_judged_as_it_was(sinistra):
    words = ["--pattern", KEPT / "hand.toml", "--take", KEPT / "take.mid"]
    done = sinistra("practise", KEPT / "song.txt", *words)
    # In which octave a tone is asked for may change, the tone not.
    right = int(re.search(r"(\d+) of 143 notes right", done.stdout)[1])
    assert done.returncode == 0 and right >= 135, done.stdout


def test_what_was_practised_is_remembered(sinistra, tmp_path):
    shutil.copy(KEPT / "progress.json", tmp_path)
    done = sinistra("practise", "--progress", tmp_path / "progress.json", "--show")
    assert done.returncode == 0
    for word in ["All Signs, Hand of 0.1, E♭", "84", "78", "12", "5"]:
        assert word in done.stdout, done.stdout


def test_a_set_up_of_a_later_version_is_refused_and_kept(sinistra, tmp_path):
    later = tmp_path / "progress.json"
    later.write_text((KEPT / "progress.json").read_text().replace('"version": 1', '"version": 9'))
    before = later.read_bytes()
    done = sinistra("practise", "--progress", later, "--show")
    assert done.returncode == 2 and "newer version" in done.stderr
    assert later.read_bytes() == before


def test_a_set_up_says_the_same_words(sinistra, tmp_path):
    saved = tmp_path / "saved.toml"
    sinistra("bridge", "--setup", KEPT / "set-up.toml", "--save", saved, "--for", "0.1")
    text = saved.read_text()
    for line in (KEPT / "set-up.toml").read_text().splitlines():
        if "=" in line and not line.startswith(("chart", "pattern")):
            assert line in text.splitlines(), line
    assert "/song.txt" in text and "/hand.toml" in text
