"""Nothing leaves the computer: no command opens a socket to a network."""

import os
import shutil
import subprocess

import pytest


@pytest.mark.parametrize(
    "words",
    [
        ["perform", "slow-rain", "--midi", "a.mid", "--sheet", "a.musicxml"],
        ["harmonise", "b.mid", "-o", "c.mid"],
        ["practise", "slow-rain", "--take", "b.mid", "--progress", "p.json"],
        ["practise", "--progress", "p.json", "--show"],
        ["name"],
        ["foresee"],
        ["ports"],
        ["bridge", "--for", "1", "--sound"],
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_no_socket_but_of_this_computer(sinistra, tmp_path, words):
    if shutil.which("strace") is None and "CI" not in os.environ:
        pytest.skip("not installed: strace")
    sinistra("perform", "slow-rain", "--midi", "b.mid", cwd=tmp_path)
    log = tmp_path / "calls"
    command = ["strace", "-f", "-e", "trace=socket,connect,sendto", "-o", log]
    subprocess.run(
        [*command, os.environ["SINISTRA"], *words],
        cwd=tmp_path,
        input="C E G\n",
        text=True,
        capture_output=True,
        timeout=120,
    )
    calls = log.read_text()
    assert "exited with" in calls, "it ran to its end"
    assert "AF_INET" not in calls and "AF_NETLINK" not in calls, calls
