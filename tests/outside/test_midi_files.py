"""MIDI files that we write, read by another library (mido)."""

import json
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


def test_a_file_with_this_very_left_hand_gets_no_second_one_and_says_why(sinistra, tmp_path):
    file, out = tmp_path / "in.mid", tmp_path / "out.mid"
    pattern = ["--pattern", "roots-on-the-beat"]
    sinistra("perform", "four-bar-loop", "--midi", file, *pattern)
    done = sinistra("harmonise", file, "-o", out, *pattern)
    assert "0 notes for the left hand\n" in done.stdout and "--right-only" in done.stdout
    done = sinistra("harmonise", file, "-o", out, "--right-only", "--force", *pattern)
    assert "64 notes for the left hand\n" in done.stdout


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


def chords_on(track, keys, beats=8, ticks=480, channel=0):
    """Strikes `keys` every beat, each held for the whole of it."""
    for _beat in range(beats):
        for key in keys:
            track.append(mido.Message("note_on", channel=channel, note=key, velocity=80))
        for n, key in enumerate(keys):
            time = ticks if n == 0 else 0
            track.append(mido.Message("note_off", channel=channel, note=key, time=time))


def of_tracks(path, *parts, ticks=480):
    """Writes tracks of (name, keys) and gives the path."""
    file = mido.MidiFile(ticks_per_beat=ticks)
    for name, keys in parts:
        file.tracks.append(mido.MidiTrack([mido.MetaMessage("track_name", name=name)]))
        chords_on(file.tracks[-1], keys, ticks=ticks)
    file.save(path)
    return path


def struck(track):
    return {m.note for m in track if m.type == "note_on" and m.velocity > 0}


@pytest.mark.parametrize(
    "parts",
    [[("Song", [36, 43, 60, 64, 67])], [("Right", [60, 64, 67]), ("Left hand", [36, 43])]],
    ids=["both hands on one track", "a track for each"],
)
def test_right_only_leaves_out_the_files_own_left_hand(sinistra, tmp_path, parts):
    file, out = of_tracks(tmp_path / "in.mid", *parts), tmp_path / "out.mid"
    done = sinistra("harmonise", file, "-o", out, "--right-only")
    assert done.returncode == 0, done.stderr
    *theirs, ours = mido.MidiFile(out).tracks
    assert set().union(*map(struck, theirs)) == {60, 64, 67}
    assert [track.name for track in theirs] == [name for name, _ in parts]
    assert struck(ours) and max(struck(ours)) < 60


def test_what_sounds_on_a_key_and_channel_already_is_neither_struck_again_nor_cut(
    sinistra, tmp_path
):
    # Every C and G below middle C is held by a part of the same channel.
    others = [key for key in range(24, 60) if key % 12 in (0, 7)]
    parts = [("Right", [60, 64, 67]), ("Strings", others)]
    file, out = of_tracks(tmp_path / "in.mid", *parts), tmp_path / "out.mid"
    more = ["--pattern", "octaves-low-high"]
    assert sinistra("harmonise", file, "-o", out, *more).returncode == 0
    assert sounding(mido.merge_tracks(mido.MidiFile(out).tracks)) == (set(), 0)
    assert not struck(mido.MidiFile(out).tracks[-1]) & set(others)


@pytest.mark.parametrize("ticks", [1, 2, 3])
def test_coarse_ticks_leave_every_note_its_end(sinistra, tmp_path, ticks):
    file, out = tmp_path / "in.mid", tmp_path / "out.mid"
    of_tracks(file, ("Right", [60, 64, 67]), ticks=ticks)
    for pattern in ["everything-mixed", "octaves-low-high", "boogie-woogie"]:
        done = sinistra("harmonise", file, "-o", out, "--force", "--pattern", pattern)
        assert done.returncode == 0, done.stderr
        ours = mido.MidiFile(out).tracks[-1]
        assert struck(ours) and sounding(ours) == (set(), 0)
        ons = [(tick, m.note) for tick, m in absolute(ours) if m.type == "note_on"]
        assert len(ons) == len(set(ons)), "no key twice at once"


def test_a_track_of_labels_is_no_right_hand(sinistra, tmp_path):
    # As in POP909-CL, whose labels are notes on a track `MIDI 01`.
    parts = [("piano", [60, 64, 67]), ("MIDI 01", [60, 62, 64, 65, 67, 69, 71])]
    file, out = of_tracks(tmp_path / "in.mid", *parts), tmp_path / "out.mid"
    done = sinistra("harmonise", file, "-o", out)
    assert "the right hand is track 1 (piano)" in done.stdout


def test_the_report_says_what_else_it_may_be_and_how_surely(sinistra, tmp_path):
    take = CHARTS[0].parents[1] / "takes" / "slow-ferry.mid"
    out, why = tmp_path / "out.mid", tmp_path / "why.jsonl"
    done = sinistra("harmonise", take, "-o", out, "--report", why)
    assert done.returncode == 0, done.stderr
    lines = [json.loads(line) for line in why.read_text().splitlines()]
    said = 0
    for line in lines:
        for now, sure in [("chord", "chord_certainty"), ("next", "certainty")]:
            other, odds = line[f"{now}_alternative"], line[f"{now}_alternative_certainty"]
            assert (other is None) == (odds is None)
            if other is not None:
                said += 1
                assert other != line[now] and 0.05 <= odds <= 1 and odds + line[sure] < 1.0001
    assert said > len(lines) / 4
