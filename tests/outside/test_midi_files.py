"""MIDI files that we write, read by another library (mido)."""

import pathlib

import mido
import pytest

CHARTS = sorted((pathlib.Path(__file__).parents[2] / "presets" / "charts").glob("*.txt"))


def absolute(track):
    """Messages of a track with their ticks from its start."""
    tick, messages = 0, []
    for message in track:
        tick += message.time
        messages.append((tick, message.copy(time=0)))
    return messages


def sounding(track):
    """Keys still down at the track's end, and ends without a start."""
    down, orphans = set(), 0
    for message in track:
        if message.type == "note_on" and message.velocity > 0:
            down.add((message.channel, message.note))
        elif message.type in ("note_on", "note_off"):
            key = (message.channel, message.note)
            orphans += key not in down
            down.discard(key)
    return down, orphans


@pytest.mark.parametrize("chart", CHARTS, ids=lambda path: path.stem)
def test_a_performed_chart_reads_back(sinistra, tmp_path, chart):
    out = tmp_path / "out.mid"
    done = sinistra("perform", chart, "--midi", out)
    assert done.returncode == 0, done.stderr
    song = mido.MidiFile(out)
    assert (song.type, song.ticks_per_beat) == (1, 960)
    assert [track.name for track in song.tracks][1:] == ["Right hand", "Left hand"]
    head = dict(
        line.split(": ", 1) for line in chart.read_text().splitlines() if ": " in line and line[0].islower()
    )
    assert song.tracks[0].name == head["title"]
    metre = next(m for m in song.tracks[0] if m.type == "time_signature")
    assert f"{metre.numerator}/{metre.denominator}" == head["metre"]
    key = next(m for m in song.tracks[0] if m.type == "key_signature")
    assert key.key == head["key"]
    tempo = next(m for m in song.tracks[0] if m.type == "set_tempo")
    felt = 1.5 if metre.denominator == 8 else 1
    assert mido.tempo2bpm(tempo.tempo) == pytest.approx(float(head["tempo"]) * felt, abs=0.01)
    for track in song.tracks[1:]:
        assert sounding(track) == (set(), 0)
        assert any(m.type == "note_on" for m in track)
    right = [m.note for m in song.tracks[1] if m.type == "note_on"]
    left = [m.note for m in song.tracks[2] if m.type == "note_on"]
    assert min(right) >= 60 > max(left)


@pytest.mark.parametrize("kind", [0, 1])
def test_the_old_tracks_come_back_event_for_event(sinistra, tmp_path, kind):
    song = mido.MidiFile(type=kind, ticks_per_beat=384)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track.append(mido.MetaMessage("track_name", name="Piano"))
    track.append(mido.MetaMessage("set_tempo", tempo=600_000))
    track.append(mido.MetaMessage("time_signature", numerator=3, denominator=4))
    track.append(mido.Message("sysex", data=(0x43, 0x10, 0x4C, 0, 0, 0x7E, 0)))
    track.append(mido.Message("program_change", program=4))
    for chord in [(60, 64, 67), (60, 65, 69), (62, 65, 71), (60, 64, 67)]:
        for note in chord:
            track.append(mido.Message("note_on", note=note, velocity=70))
        track.append(mido.Message("pitchwheel", pitch=1000, time=5))
        track.append(mido.Message("control_change", control=64, value=127, time=7))
        for n, note in enumerate(chord):
            # Ends in both ways that files have.
            end = {"velocity": 0} if n else {"velocity": 33}
            track.append(mido.Message("note_on" if n else "note_off", note=note, time=1129 if not n else 0, **end))
        track.append(mido.Message("control_change", control=64, value=0, time=11))
    track.append(mido.MetaMessage("lyrics", text="la"))
    if kind == 1:
        other = mido.MidiTrack()
        other.append(mido.Message("note_on", channel=9, note=38, velocity=99, time=100))
        song.tracks.append(other)  # a drum that is never let go
    source, out = tmp_path / "in.mid", tmp_path / "out.mid"
    song.save(source)
    done = sinistra("harmonise", source, "-o", out)
    assert done.returncode == 0, done.stderr
    before, after = mido.MidiFile(source), mido.MidiFile(out)
    assert after.type == 1 and after.ticks_per_beat == 384
    assert len(after.tracks) == len(before.tracks) + 1
    for old, new in zip(before.tracks, after.tracks):
        assert absolute(old) == absolute(new)
    left = after.tracks[-1]
    assert left.name == "Left hand"
    assert sounding(left) == (set(), 0)
    assert sum(m.type == "note_on" for m in left) >= 4


def test_which_of_several_parts_was_the_right_hand_is_told(sinistra, tmp_path):
    file, out = tmp_path / "in.mid", tmp_path / "out.mid"
    sinistra("perform", "four-bar-loop", "--midi", file)
    told = "the right hand is track 2 (Right hand); "
    done = sinistra("harmonise", file, "-o", out, "--force")
    assert told in done.stdout
    for more in [["--track", "2"], ["--channel", "1"]]:
        done = sinistra("harmonise", file, "-o", out, "--force", *more)
        assert done.returncode == 0 and "the right hand is" not in done.stdout
    # There is nothing to choose from.
    sinistra("perform", "four-bar-loop", "--hands", "right", "--midi", file, "--force")
    done = sinistra("harmonise", file, "-o", out, "--force")
    assert done.returncode == 0 and "the right hand is" not in done.stdout


def test_a_chart_that_is_heard_has_the_tempo_that_was_meant(sinistra, tmp_path):
    right, heard = tmp_path / "right.mid", tmp_path / "heard.txt"
    for chart, tempo in [("fog-over-the-lake", 76), ("harbour-light", 58)]:
        sinistra("perform", chart, "--hands", "right", "--midi", right, "--force")
        more = ["--write-chart", heard, "--force"]
        done = sinistra("harmonise", right, "-o", tmp_path / "o.mid", *more)
        assert done.returncode == 0, done.stderr
        assert f"tempo: {tempo}\n" in heard.read_text()


@pytest.mark.parametrize(
    "keys, hint",
    [([36, 60, 64, 67], "--right-only"), ([48, 52, 55], "--split")],
    ids=["both hands on one track", "a right hand below the split"],
)
def test_a_left_hand_with_nothing_to_play_says_why(sinistra, tmp_path, keys, hint):
    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    for _bar in range(4):
        track += [mido.Message("note_on", note=key, velocity=80) for key in keys]
        track.append(mido.Message("note_off", note=keys[0], time=1900))
        track += [mido.Message("note_off", note=key) for key in keys[1:]]
    file.save(tmp_path / "in.mid")
    done = sinistra("harmonise", tmp_path / "in.mid", "-o", tmp_path / "out.mid")
    assert done.returncode == 0, done.stderr
    assert "0 notes for the left hand\nhint: " in done.stdout and hint in done.stdout


def test_cut_off_files_leave_nothing_behind(sinistra, tmp_path):
    good = tmp_path / "good.mid"
    done = sinistra("perform", "four-bar-loop", "--midi", good)
    assert done.returncode == 0, done.stderr
    whole = good.read_bytes()
    for length in [0, 3, 13, 14, 20, len(whole) // 2, len(whole) - 1]:
        bad, out = tmp_path / "bad.mid", tmp_path / "out.mid"
        bad.write_bytes(whole[:length])
        done = sinistra("harmonise", bad, "-o", out)
        assert done.returncode == 2, (length, done.stderr)
        assert "bad.mid" in done.stderr and not out.exists()
