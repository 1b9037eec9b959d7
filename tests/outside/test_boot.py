"""The systemd unit is one that systemd itself accepts."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

UNIT = Path("standalone/boot/sinistra-bridge.service")


def test_systemd_accepts_the_unit(tmp_path):
    if shutil.which("systemd-analyze") is None and "CI" not in os.environ:
        pytest.skip("not installed: systemd")
    # The program where the unit expects it: systemd looks whether it is there.
    program = tmp_path / ".cargo/bin/sinistra"
    program.parent.mkdir(parents=True)
    shutil.copy(os.environ["SINISTRA"], program)
    unit = tmp_path / UNIT.name
    unit.write_text(UNIT.read_text().replace("%h", str(tmp_path)))
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", "--user", unit],
        capture_output=True,
        text=True,
        env={**os.environ, "XDG_RUNTIME_DIR": str(tmp_path), "HOME": str(tmp_path)},
    )
    assert (done.returncode, done.stderr.strip()) == (0, "")
