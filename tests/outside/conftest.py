"""What the checks share: the binary under test, and a way to run it."""

import os
import subprocess

import pytest


@pytest.fixture
def sinistra():
    """Runs the binary: `sinistra(*arguments, text=None)` gives the finished process."""
    binary = os.environ["SINISTRA"]

    def run(*arguments, text=None, cwd=None, env=None):
        return subprocess.run(
            [binary, *map(str, arguments)],
            input=text,
            stdin=None if text is not None else subprocess.DEVNULL,
            text=True,
            capture_output=True,
            cwd=cwd,
            env={**os.environ, **(env or {})},
            timeout=300,
        )

    return run
