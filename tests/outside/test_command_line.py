"""The command line's contract, seen from outside."""

import os
import subprocess


def test_the_version_is_told(sinistra):
    done = sinistra("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("sinistra ")


def test_a_wrong_subcommand_is_the_users_mistake(sinistra):
    done = sinistra("no-such-thing")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "no-such-thing" in done.stderr


def test_a_take_is_judged_by_the_hands_that_are_in_it(sinistra, tmp_path):
    take = tmp_path / "take.mid"
    pattern = ["--pattern", "everything-mixed"]
    sinistra("perform", "four-bar-loop", *pattern, "--hands", "left", "--midi", take)
    for hands in [[], ["--hands", "left"]]:
        done = sinistra("practise", "four-bar-loop", *pattern, "--take", take, *hands)
        assert done.returncode == 0 and "a clean round" in done.stdout, done.stdout


def test_a_left_hand_without_keys_is_refused(sinistra, tmp_path):
    take = tmp_path / "take.mid"
    sinistra("perform", "four-bar-loop", "--midi", take)
    keys = ["--lowest", "C4", "--highest", "C2"]
    for words in [["harmonise", take, "-o", tmp_path / "out.mid"], ["practise", "slow-rain"]]:
        done = sinistra(*words, *keys)
        assert done.returncode == 2 and "lies above" in done.stderr
    assert list(tmp_path.iterdir()) == [take]


def test_a_reader_who_leaves_is_no_disaster(tmp_path):
    """As in `sinistra perform lantern-street --repeat 99 | head -1`."""
    command = [os.environ["SINISTRA"], "perform", "lantern-street", "--repeat", "99"]
    command += ["--midi", str(tmp_path / "a.mid")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        assert run.stdout.readline()
        run.stdout.close()
        assert run.stderr.read() == ""
        assert run.wait(timeout=60) == 0
    assert (tmp_path / "a.mid").exists(), "it goes on with what it was asked for"


def test_no_midi_system_is_said_in_our_own_words(sinistra):
    done = sinistra("ports")
    assert done.returncode in (0, 1)
    assert "ALSA lib" not in done.stderr


def test_what_has_no_end_is_not_read(sinistra, tmp_path):
    for words in [
        ["harmonise", "/dev/zero", "-o", tmp_path / "o.mid"],
        ["practise", "slow-rain", "--take", "/dev/zero"],
        ["perform", "slow-rain", "--soundfont", "/dev/zero", "--midi", tmp_path / "o.mid"],
        ["practise", "--progress", "/dev/full", "--show"],
    ]:
        done = sinistra(*words)
        assert done.returncode == 2 and "this is a device, not a file" in done.stderr, words
    assert list(tmp_path.iterdir()) == []


def test_numbers_are_told_their_range(sinistra):
    for words, told in [
        (["perform", "slow-rain", "--busy", "-1"], "from 0 to 100"),
        (["bridge", "--for", "NaN"], "0 to 1000000 seconds"),
        (["perform", "slow-rain", "--tempo", "NaN"], "20 to 400 beats a minute"),
        (["perform", "slow-rain", "--repeat", "x"], "from 1 to 999"),
        (["practise", "slow-rain", "--bars", "0-3"], "from 1"),
        (["practise", "slow-rain", "--take", "x", "--track", "a"], "from 1 to 65535"),
        (["harmonise", "x", "-o", "y", "--channel", "17"], "from 1 to 16"),
        (["harmonise", "x", "-o", "y", "--look-ahead", "inf"], "0 to 16 quarter notes"),
    ]:
        done = sinistra(*words)
        assert done.returncode == 2 and told in done.stderr, (words, done.stderr)
        assert "digit" not in done.stderr and "..=" not in done.stderr


def test_progress_is_copied_again_without_losing_it(sinistra, tmp_path):
    kept, copy = tmp_path / "progress.json", tmp_path / "copy.json"
    kept.write_text('{"version": 1, "exercises": {}}')
    export = ["practise", "--progress", kept, "--export", copy]
    assert sinistra(*export).returncode == 0
    assert "--force" in sinistra(*export).stderr
    done = sinistra(*export, "--force")
    assert done.returncode == 0 and "forget" not in done.stderr
    assert kept.exists()


def test_a_wrong_soundfont_is_told_before_any_device_is_asked(sinistra, tmp_path):
    (tmp_path / "night.toml").write_text('sound = true\nsoundfont = "none.sf2"\n')
    (tmp_path / "none.sf2").write_bytes(b"RIFF")
    font = ["--soundfont", tmp_path / "none.sf2"]
    for words in [
        ["perform", "slow-rain", *font],
        ["perform", "slow-rain", "--midi", tmp_path / "o.mid", *font],
        ["practise", "slow-rain", "--terminal", *font],
        ["bridge", "--for", "0", "--sound", *font],
        ["bridge", "--for", "0", "--setup", tmp_path / "night.toml"],
    ]:
        done = sinistra(*words)
        told = (done.returncode, "none.sf2: not a SoundFont 2 file" in done.stderr)
        assert told == (2, True), (words, done)
    assert len(list(tmp_path.iterdir())) == 2
