"""What the checks share: the binary under test, and a way to run it."""

import faulthandler
import os
import subprocess

import pytest

# Seconds; the slowest is the first with the virtual machine, and an evening as long as asked.
LONGEST = 900 + 60 * float(os.environ.get("EVENING", 0))


def pytest_configure(config):
    config.addinivalue_line("markers", "real_time: by the clock on the wall; nothing runs beside it")
    # The standard error that is seen, not the one that is captured.
    with config.pluginmanager.getplugin("capturemanager").global_and_fixture_disabled():
        config.stash["seen"] = os.dup(2)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """A test that hangs, or what is set up for it, ends the run and shows
    where, instead of keeping it."""
    faulthandler.dump_traceback_later(LONGEST, exit=True, file=item.config.stash["seen"])
    try:
        return (yield)
    finally:
        faulthandler.cancel_dump_traceback_later()


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
