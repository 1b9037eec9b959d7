"""What users install, installed: the packages in Debians of their own."""

import hashlib
import os
import re
import shutil
import subprocess
import tarfile
import zipfile
from pathlib import Path

import pytest
from test_windows import set_up, stand_in

MIRROR = "http://deb.debian.org/debian"
XTASK = os.environ.get("SINISTRA_XTASK", "")
FOLDER = Path(XTASK).parent / "packages"


@pytest.fixture(scope="module")
def packages():
    """The folder with what `cargo xtask package` makes, made here: all that this machine
    can make."""
    if not XTASK:
        pytest.skip("cargo xtask test makes the packages")
    shutil.rmtree(FOLDER, ignore_errors=True)
    make()
    return FOLDER


def make():
    for kind in ["linux", "windows", "page"]:
        words = [XTASK, "package", kind, "--debug"]
        done = subprocess.run(words, capture_output=True, text=True)
        must = kind == "linux" or "CI" in os.environ
        assert done.returncode == 0 or not must, done.stdout[-2000:] + done.stderr[-2000:]


def unpacked(packages, kind, to):
    """What is in the zip, in the folder `to`; its names."""
    found = list(packages.glob(f"*{kind}.zip"))
    if not found:
        pytest.skip(f"no zip for {kind} could be made here")
    with zipfile.ZipFile(found[0]) as packed:
        assert packed.testzip() is None
        packed.extractall(to)
        return set(packed.namelist())


def sums(folder):
    return dict(reversed(line.split()) for line in (folder / "SHA256SUMS").read_text().splitlines())


def test_the_checksums_are_right(packages):
    told = sums(packages)
    for made in packages.glob("sinistra*"):
        assert told[made.name] == hashlib.sha256(made.read_bytes()).hexdigest()


def test_packed_twice_they_are_the_same_bytes(packages):
    first = sums(packages)
    make()
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


def test_the_page_in_its_zip_is_whole(packages, tmp_path):
    names = unpacked(packages, "page", tmp_path)
    kept = (tmp_path / "keep.js").read_text().split("[")[1]
    kept = set(re.findall(r'"(.+?)"', kept))
    assert kept | {"keep.js", "third-party.txt", "sbom.cdx.json"} == names
    assert {"index.html", "sinistra.wasm", "piano/60.ogg"} <= kept
    for name in kept:
        assert (tmp_path / name).read_bytes() == (FOLDER.parents[1] / "web" / name).read_bytes()


def test_the_zip_for_windows_has_everything_and_plays(packages, tmp_path, tmp_path_factory):
    names = unpacked(packages, "windows", tmp_path)
    plugins = ["Sinistra.clap", "Sinistra.vst3/Contents/x86_64-win/Sinistra.vst3"]
    papers = ["LICENSE.txt", "doc/README.md", "doc/third-party.txt", "doc/sbom.cdx.json"]
    assert {"sinistra.exe", *plugins, *papers} <= names
    for name in ["sinistra.exe", *plugins]:
        assert (tmp_path / name).read_bytes().startswith(b"MZ"), name
    if shutil.which("wine") is None:
        pytest.skip("no Wine to run it")
    stand_in(tmp_path)
    env = set_up(tmp_path_factory)
    words = ["wine", tmp_path / "sinistra.exe", "perform", "slow-rain", "--midi", "rain.mid"]
    done = subprocess.run(words, cwd=tmp_path, env=env, capture_output=True, timeout=300)
    subprocess.run(["wineserver", "--kill"], env=env)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "rain.mid").read_bytes().startswith(b"MThd")


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
