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
    sinistra("perform", "four-bar-loop", "--hands", "left", "--midi", take)
    done = sinistra("practise", "four-bar-loop", "--take", take, "--hands", "both")
    assert done.returncode == 2 and "cannot be used with" in done.stderr


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
