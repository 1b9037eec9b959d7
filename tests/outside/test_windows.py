"""Program and plugin for Windows, under Wine (Debian's), beside the same ones here."""

import os
import pty
import select
import shutil
import signal
import subprocess
import time
from pathlib import Path

import pytest
from test_window import display, look, until  # noqa: F401

PROGRAM = os.environ.get("SINISTRA_WINDOWS", "")


@pytest.fixture(scope="module")
def windows(tmp_path_factory):
    """A Windows of its own: the environment, and a folder with program, plugin and
    the plugin's test host."""
    if not PROGRAM or shutil.which("wine") is None:
        pytest.skip("cargo xtask test builds the program for Windows where Wine is")
    program = tmp_path_factory.mktemp("program")
    shutil.copy(PROGRAM, program)
    built = Path(PROGRAM).parent / "deps"
    host = max(built.glob("clap-*.exe"), key=lambda file: file.stat().st_mtime)
    # The host looks for the plugin in the folder `deps` beside its own.
    (program / "deps").mkdir()
    for file in [host, built / "sinistra_plugin.dll"]:
        shutil.copy(file, program / "deps" / ("host.exe" if file == host else file.name))
    stand_in(program)
    shutil.copy(program / "bcryptprimitives.dll", program / "deps")
    env = set_up(tmp_path_factory)
    yield env, program
    subprocess.run(["wineserver", "--kill"], env=env)


def set_up(tmp_path_factory, tries=3):
    """The environment of a Wine that is set up: now and then Wine ends half-way and
    says nothing, after which no program starts in that folder, so a new one is tried."""
    for _ in range(tries):
        home = tmp_path_factory.mktemp("wine")
        env = {**os.environ, "WINEPREFIX": str(home), "WINEDEBUG": "-all", "DISPLAY": ""}
        env["WINEDLLOVERRIDES"] = "mscoree,mshtml="
        boot = subprocess.run(["wineboot", "--init"], env=env, capture_output=True, timeout=600)
        if (home / "drive_c/windows/system32/kernel32.dll").exists():
            return env
        subprocess.run(["wineserver", "--kill"], env=env)
    pytest.fail(
        f"Wine could not be set up in {tries} tries ({boot.returncode}): "
        f"{boot.stdout + boot.stderr}, {shutil.disk_usage(home).free} bytes free"
    )


@pytest.fixture(scope="module")
def wine(windows):
    """Runs the program: `wine(*words, cwd=…)`."""
    env, program = windows

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

    return run


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


def test_the_plugin_plays_in_a_host(windows):
    env, program = windows
    done = subprocess.run(
        ["wine", program / "deps" / "host.exe", "--test-threads=1"],
        env=env,
        cwd=program,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=600,
    )
    out = done.stdout.decode()
    assert done.returncode == 0, out + done.stderr.decode()
    assert "18 passed" in out, out


def test_a_window_opens_and_is_used(windows, display, tmp_path):  # noqa: F811
    # A desktop that has begun without a display knows none.
    env = {**windows[0], "DISPLAY": display["DISPLAY"]}
    subprocess.run(["wineserver", "--kill"], env=env)
    words = ["practise", "slow-rain", "--progress", "progress.json"]
    xdotool = lambda *words: subprocess.run(["xdotool", *words], env=env, capture_output=True, text=True).stdout.split()
    running = subprocess.Popen(["wine", windows[1] / "sinistra.exe", *words], cwd=tmp_path, env=env)
    try:
        window = until(lambda: xdotool("search", "--name", "^Sinistra practice$"))[-1]

        def picture(name):
            path = Path(os.environ.get("PICTURES", tmp_path)) / f"windows-{name}.png"
            subprocess.run(["import", "-window", "root", path], env=env, check=True)
            return path

        # Letters and notes are drawn in many tones.
        until(lambda: int(look("colours", picture("first"))) > 60)
        # "Dark".
        before = picture("first")
        xdotool("mousemove", "--window", window, "885", "763", "click", "1")
        until(lambda: float(look("changed", before, picture("dark"), 0, 500, 1040, 780)) > 0.5)
    finally:
        subprocess.run(["wineserver", "--kill"], env=env)
        running.wait(60)


@pytest.mark.parametrize("shown", [[], ["--quiet"]], ids=["with a screen", "quiet"])
def test_ctrl_c_ends_the_bridge_with_every_note_off(windows, tmp_path, shown):
    env, program = windows
    words = ["bridge", "--for", "120", "--log", "log.txt", *shown]
    # On a terminal of its own, which makes of Ctrl-C what a Windows console does.
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(tmp_path)
        os.execvpe("wine", ["wine", str(program / "sinistra.exe"), *words], env)
    begun, asked, said = time.monotonic(), False, b""
    try:
        while time.monotonic() - begun < 100:
            if select.select([terminal], [], [], 0.5)[0]:
                said += os.read(terminal, 4096)
            if not asked and time.monotonic() - begun > 12:
                asked = bool(os.write(terminal, b"\x03"))
    except OSError:  # it goes, and its terminal with it
        pass
    else:
        os.kill(child, signal.SIGKILL)
    took = time.monotonic() - begun
    assert os.waitpid(child, 0)[1] == 0 and took < 100, said
    assert "every note is off" in (tmp_path / "log.txt").read_text()
