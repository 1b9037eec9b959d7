"""The program for Windows, under Wine (Debian's), beside the same one here."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

PROGRAM = os.environ.get("SINISTRA_WINDOWS", "")


@pytest.fixture(scope="module")
def wine(tmp_path_factory):
    """Runs it under Wine, with a Windows of its own: `wine(*words, cwd=…)`."""
    if not PROGRAM or shutil.which("wine") is None:
        pytest.skip("cargo xtask test builds the program for Windows where Wine is")
    home, program = tmp_path_factory.mktemp("wine"), tmp_path_factory.mktemp("program")
    shutil.copy(PROGRAM, program)
    stand_in(program)
    env = {**os.environ, "WINEPREFIX": str(home), "WINEDEBUG": "-all", "DISPLAY": ""}
    env["WINEDLLOVERRIDES"] = "mscoree,mshtml="
    subprocess.run(["wineboot", "--init"], env=env, capture_output=True, timeout=600)

    def run(*words, cwd, text=None):
        done = subprocess.run(
            ["wine", program / "sinistra.exe", *map(str, words)],
            cwd=cwd,
            env=env,
            input=text,
            stdin=None if text is not None else subprocess.DEVNULL,
            capture_output=True,
            timeout=300,
        )
        out, err = (b.decode().replace("\r\n", "\n") for b in (done.stdout, done.stderr))
        return done.returncode, out, err

    yield run
    subprocess.run(["wineserver", "--kill"], env=env)


def stand_in(folder):
    """Rust's library draws its random numbers from `bcryptprimitives.dll`, which Wine
    has since version 9; an older one is given the same function under that name."""
    source = folder / "empty.c"
    source.write_text("")
    words = folder / "words.def"
    words.write_text(
        "LIBRARY bcryptprimitives\nEXPORTS\n  ProcessPrng=advapi32.SystemFunction036\n"
    )
    made = folder / "bcryptprimitives.dll"
    compiler = ["x86_64-w64-mingw32-gcc", "-shared", "-nostdlib", "-Wl,--entry=0"]
    subprocess.run([*compiler, "-o", made, source, words], check=True)


def test_it_plays_the_same_notes(wine, sinistra, tmp_path):
    for words in [
        ["perform", "slow-rain", "--midi", "take.mid", "--sheet", "page.musicxml"],
        ["harmonise", "take.mid", "-o", "two.mid", "--report", "why.jsonl"],
    ]:
        (tmp_path / "here").mkdir(exist_ok=True)
        (tmp_path / "there").mkdir(exist_ok=True)
        here = sinistra(*words, cwd=tmp_path / "here")
        code, out, err = wine(*words, cwd=tmp_path / "there")
        assert code == here.returncode == 0, err
        assert out == here.stdout
    for name in ["take.mid", "page.musicxml", "two.mid", "why.jsonl"]:
        made = [(tmp_path / side / name).read_bytes() for side in ("here", "there")]
        assert made[0] == made[1], name


def test_chords_are_named_and_foreseen_alike(wine, sinistra, tmp_path):
    for command, text in [("name", "60 64 67\nC4 E4 A4\n"), ("foresee", "0 C\n4 Am\n8 F\n")]:
        code, out, _ = wine(command, cwd=tmp_path, text=text.encode())
        assert code == 0 and out == sinistra(command, text=text).stdout


def test_a_take_is_judged(wine, sinistra, tmp_path):
    sinistra("perform", "slow-rain", "--midi", "take.mid", cwd=tmp_path)
    words = ["practise", "slow-rain", "--take", "take.mid"]
    code, out, err = wine(*words, cwd=tmp_path)
    assert code == 0 and out == sinistra(*words, cwd=tmp_path).stdout, err


def test_ports_are_told_or_said_to_be_none(wine, tmp_path):
    code, out, err = wine("ports", cwd=tmp_path)
    assert code in (0, 1) and out + err


def test_paths_with_spaces_and_letters_of_any_language(wine, sinistra, tmp_path):
    folder = tmp_path / "Für Übungen" / "左手"
    folder.mkdir(parents=True)
    shutil.copy("presets/charts/slow-rain.txt", folder / "Дождь тихий.txt")
    code, _, err = wine("perform", "Дождь тихий.txt", "--midi", "雨 1.mid", cwd=folder)
    assert code == 0, err
    assert (folder / "雨 1.mid").read_bytes().startswith(b"MThd")


@pytest.mark.parametrize(
    "words",
    [
        ["no-such-thing"],
        ["perform", "no-such-chart"],
        ["perform", "wrong.txt", "--midi", "a.mid"],
        ["harmonise", "wrong.txt", "-o", "a.mid"],
        ["perform", "slow-rain", "--busy", "-1"],
    ],
    ids=" ".join,
)
def test_bad_input_is_said_and_ends_with_2(wine, tmp_path, words):
    (tmp_path / "wrong.txt").write_text("title: x\nkey: C\nmetre: 4/4\n\n| C | Dq7 |\n")
    code, out, err = wine(*words, cwd=tmp_path)
    assert code == 2 and err, (code, out)
    assert not Path(tmp_path / "a.mid").exists()
