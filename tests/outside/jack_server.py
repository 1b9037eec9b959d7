"""A JACK server with the dummy driver (jackd2, no sound card), for one module
of checks."""

import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import pytest

MOST = 8  # servers at once (jackd2, MAX_SERVERS)


def serving(*words):
    """A fixture's body: `jackd` with these words after the server's name;
    yields the name."""
    if shutil.which("jackd") is None and "CI" not in os.environ:
        pytest.skip("not installed: jackd2")
    name, running, said = begin(words)
    os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1")
    yield name
    end(running, 20)
    print(said.read_text()[-2000:])  # shown where a test has failed
    said.unlink()


def begin(words):
    """A server that was killed keeps its place among the eight until one of the
    same name begins: so the names are few, and the same each time. `cargo xtask
    test` gives the checks shared memory of their own, where all eight are free."""
    for number in range(MOST):
        name = f"sinistra-checks-{number}"
        running, said = start(name, words)
        if running.poll() is None:
            return name, running, said
        text = said.read_text()
        said.unlink()
        if "Too many servers" in text:
            break
    raise AssertionError(f"no JACK server starts; the last said: {text}")


def start(name, words):
    """Running and serving, or ended."""
    handle, path = tempfile.mkstemp(prefix="jackd-")
    # A line at a time, or what it says stays with it.
    command = ["stdbuf", "-oL", "jackd", "-n", name, *words]
    env = {**os.environ, "JACK_NO_AUDIO_RESERVATION": "1"}
    running = subprocess.Popen(command, stdout=handle, stderr=handle, env=env)
    os.close(handle)
    said = Path(path)
    for _ in range(600):
        # Said once it answers: the first thing after its driver is opened.
        if running.poll() is not None or "self-connect-mode" in said.read_text():
            break
        time.sleep(0.1)
    time.sleep(0.2)
    return running, said


def end(running, seconds=5):
    """Politely first: JACK waits five seconds for a client that was killed."""
    running.terminate()
    try:
        running.wait(seconds)
    except subprocess.TimeoutExpired:
        running.kill()
        running.wait()
