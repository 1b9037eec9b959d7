"""Where the right hand rests for a bar, nobody played a chord, and none is made up."""

import json

import mido

C, AM, F, G = [60, 64, 67], [60, 64, 69], [60, 65, 69], [62, 67, 71]


def take(path, bars):
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    now = 0
    for number, keys in enumerate(bars):
        for on, at in [(True, number * 1920), (False, (number + 1) * 1920 - 10)]:
            for key in keys:
                track.append(mido.Message("note_on" if on else "note_off", note=key, time=at - now))
                now = at
    file.save(path)


def test_a_bars_rest_stays_a_rest_and_is_written_as_one(sinistra, tmp_path):
    """The song says what would come in bar 10, by memory; nobody played it."""
    take(tmp_path / "rest.mid", [C, AM, F, G] * 2 + [C, [], F, G])
    done = sinistra(
        "harmonise", tmp_path / "rest.mid", "-o", tmp_path / "two.mid",
        "--report", tmp_path / "why.jsonl", "--write-chart", tmp_path / "song.txt",
    )
    assert done.returncode == 0, done.stderr
    notes = [json.loads(line) for line in (tmp_path / "why.jsonl").read_text().splitlines()]
    assert {note["bar"] for note in notes} == {1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12}
    assert "| C | N.C. | F | G |" in " ".join((tmp_path / "song.txt").read_text().split())


def test_a_chart_that_says_no_chord_is_silent_there(sinistra, tmp_path):
    chart = tmp_path / "tacet.txt"
    chart.write_text("tempo: 60\n| C | N.C. | N.C. | F . N.C. . | G |\n")
    sinistra("perform", chart, "--midi", tmp_path / "a.mid", "--hands", "left")
    now, sounding, heard = 0.0, set(), []
    for message in mido.MidiFile(tmp_path / "a.mid"):
        heard += [(now, now + message.time)] if sounding else []
        now += message.time
        if message.type == "note_on" and message.velocity:
            sounding.add(message.note)
        elif message.type in ("note_on", "note_off"):
            sounding.discard(message.note)
    for start, end in [(4, 12), (14, 16)]:
        assert all(b <= start + 0.01 or a >= end - 0.01 or b == a for a, b in heard), heard
