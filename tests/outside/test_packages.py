"""What users install, installed: the packages in Debians of their own."""

import hashlib
import os
import shutil
import subprocess
import tarfile
from pathlib import Path

import pytest

MIRROR = "http://deb.debian.org/debian"


@pytest.fixture(scope="module")
def packages():
    """The folder with what `cargo xtask package linux` makes, made here."""
    xtask = os.environ.get("SINISTRA_XTASK")
    if xtask is None:
        pytest.skip("cargo xtask test makes the packages")
    folder = Path(xtask).parent.parent / "packages"
    make(xtask)
    return folder


def make(xtask):
    done = subprocess.run([xtask, "package", "linux", "--debug"], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]


def sums(folder):
    return dict(reversed(line.split()) for line in (folder / "SHA256SUMS").read_text().splitlines())


def test_the_checksums_are_right(packages):
    told = sums(packages)
    for made in packages.glob("sinistra*"):
        assert told[made.name] == hashlib.sha256(made.read_bytes()).hexdigest()


def test_packed_twice_they_are_the_same_bytes(packages):
    first = sums(packages)
    make(os.environ["SINISTRA_XTASK"])
    assert sums(packages) == first and len(first) >= 2


def test_the_tarball_has_everything_in_one_folder_and_nobodys_name(packages):
    with tarfile.open(next(packages.glob("*.tar.gz"))) as packed:
        members = packed.getmembers()
        folder = members[0].name
        names = {member.name.removeprefix(folder) for member in members}
        assert {(member.uid, member.gid, member.uname) for member in members} == {(0, 0, "")}
        assert all(not member.mode & 0o022 for member in members), "written by its owner alone"
        bill = packed.extractfile(f"{folder}/share/doc/sinistra/sbom.cdx.json").read()
    assert b"CycloneDX" in bill
    for name in [
        "/bin/sinistra",
        "/lib/clap/Sinistra.clap",
        "/share/man/man1/sinistra-bridge.1",
        "/share/bash-completion/completions/sinistra",
        "/share/zsh/vendor-completions/_sinistra",
        "/share/fish/vendor_completions.d/sinistra.fish",
        "/share/doc/sinistra/third-party.txt",
    ]:
        assert name in names


@pytest.mark.parametrize("suite, sound", [("bookworm", "libasound2"), ("trixie", "libasound2t64")])
def test_it_installs_and_plays_on_a_fresh_debian(packages, tmp_path, suite, sound):
    if os.geteuid() != 0 or shutil.which("mmdebstrap") is None:
        pytest.skip("needs root and mmdebstrap")
    root = tmp_path / suite
    include = f"--include={sound},libgcc-s1"
    made = subprocess.run(
        ["mmdebstrap", "--quiet", "--variant=minbase", include, suite, root, MIRROR],
        capture_output=True,
        text=True,
    )
    if made.returncode != 0 and "CI" not in os.environ:
        pytest.skip(f"no Debian {suite} to be had: {made.stderr[-300:]}")
    assert made.returncode == 0, made.stderr
    shutil.copy(next(packages.glob("*.deb")), root / "sinistra.deb")

    def inside(*words):
        done = subprocess.run(["chroot", root, *words], capture_output=True, text=True)
        return done.returncode, done.stdout + done.stderr

    try:
        assert inside("dpkg", "--install", "/sinistra.deb")[0] == 0
        code, said = inside("sinistra", "perform", "slow-rain", "--midi", "/rain.mid")
        assert code == 0, said
        assert (root / "rain.mid").read_bytes().startswith(b"MThd")
        assert inside("sinistra", "perform", "no-such-chart")[0] == 2
        # No sound card and no JACK library here: said, not stumbled over.
        code, said = inside("sinistra", "ports")
        assert code in (0, 1) and "panicked" not in said, said
        # All that the plugin links is there without a desktop, but for its window's.
        code, said = inside("ldd", "/usr/lib/clap/Sinistra.clap")
        missing = {line.split()[0] for line in said.splitlines() if "not found" in line}
        assert code == 0 and all(name.startswith(("libX", "libGL", "libxkb", "libxcb")) for name in missing)
        assert inside("dpkg", "--purge", "sinistra")[0] == 0
        assert not list((root / "usr").rglob("*inistra*"))
    finally:
        shutil.rmtree(root)
