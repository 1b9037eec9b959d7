"""Practice sheets: valid MusicXML 4.0, and read alike by two other programs."""

import json
import pathlib

import pytest
import sheet_readers
from lxml import etree

# A chart in each metre, with a pattern for it.
PIECES = [
    ("lantern-street", "passing-notes"),
    ("millers-gate", "waltz"),
    ("harbour-light", "six-eight"),
    ("seven-stones", "everything-mixed"),
    ("slow-rain", "slow-twelve-eight"),
    ("swing-door", "octaves-together"),
    ("lantern-street", "triplet-arpeggio"),
    ("fog-over-the-lake", "slow-ballad"),
    ("four-bar-loop", "shuffle"),
]


@pytest.fixture(scope="module")
def schema():
    return sheet_readers.schema()


@pytest.mark.parametrize("chart,pattern", PIECES)
def test_two_readers_count_what_we_wrote(sinistra, tmp_path, schema, chart, pattern):
    path = tmp_path / "sheet.musicxml"
    done = sinistra("perform", chart, "--pattern", pattern, "--sheet", path)
    assert done.returncode == 0, done.stderr
    document = etree.parse(str(path))
    schema.assertValid(document)
    counted = sheet_readers.ours(document)
    theirs, wrong = sheet_readers.by_music21(path)
    assert wrong == []
    assert theirs == counted
    assert sheet_readers.by_verovio(path) == counted


def test_every_key_has_its_sheet_and_its_midi_file(sinistra, tmp_path, schema):
    folder = tmp_path / "set"
    done = sinistra("perform", "four-bar-loop", "--all-keys", "--sheet", folder)
    assert done.returncode == 0, done.stderr
    sheets = sorted(folder.glob("*.musicxml"))
    assert len(sheets) == 12
    assert len(list(folder.glob("*.mid"))) == 12
    fifths = set()
    for path in sheets:
        document = etree.parse(str(path))
        schema.assertValid(document)
        fifths.add(document.findtext(".//fifths"))
    assert len(fifths) == 12
    # Never over what is there.
    again = sinistra("perform", "four-bar-loop", "--all-keys", "--sheet", folder)
    assert again.returncode == 2
    assert "there already" in again.stderr


def test_a_perfect_take_is_clean_and_a_wrong_key_is_named(sinistra, tmp_path):
    import mido

    take = tmp_path / "take.mid"
    play = ["--pattern", "roots-and-offbeats"]
    assert sinistra("perform", "lantern-street", *play, "--midi", take).returncode == 0
    done = sinistra("practise", "lantern-street", *play, "--take", take, "--json")
    assert done.returncode == 0, done.stderr
    verdict = json.loads(done.stdout)
    assert verdict["clean"] and verdict["figures"]["all"]["right"] == verdict["figures"]["all"]["asked"]

    file = mido.MidiFile(take)
    left = next(track for track in file.tracks if track.name == "Left hand")
    strikes = [event for event in left if event.type == "note_on" and event.velocity > 0]
    key = strikes[10].note
    for event in left:
        if event.type in ("note_on", "note_off"):
            if event is strikes[10]:
                event.note = key + 1
            elif event.note == key and strikes[10].note == key + 1:
                event.note = key + 1
                break
    spoiled = tmp_path / "spoiled.mid"
    file.save(spoiled)
    verdict = json.loads(sinistra("practise", "lantern-street", *play, "--take", spoiled, "--json").stdout)
    wrong = [note for note in verdict["notes"] if note["outcome"] == "wrong"]
    assert [(note["key"], note["played"]) for note in wrong] == [(key, key + 1)]
    assert any("instead of" in place for place in verdict["words"]["places"])


def test_progress_is_told_and_forgotten(sinistra, tmp_path):
    path = tmp_path / "progress.json"
    assert "nothing is remembered" in sinistra("practise", "--show", "--progress", path).stdout
    path.write_text('{"version":1,"exercises":{"A":{"tempo":60,"cleanest":55,"rounds":3,"clean":2,"last":0}}}')
    assert "2 of 3 rounds clean" in sinistra("practise", "--show", "--progress", path).stdout
    copy = tmp_path / "copy.json"
    assert sinistra("practise", "--export", copy, "--progress", path).returncode == 0
    assert copy.read_text() == path.read_text()
    assert sinistra("practise", "--forget", "--progress", path).returncode == 0
    assert not pathlib.Path(path).exists()
