"""The bridge's window on a display without a screen (Xvfb), at a JACK server
with the dummy driver: a client of our own plays into it while it is looked at.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import mido
import pytest
import Xlib.display
import Xlib.protocol.event
from jack_player import Player
from test_jack import server  # noqa: F401 (a fixture)

pytestmark = pytest.mark.real_time

# Where the second pattern is listed in the page "Set up", at the usual size.
PATTERN = (670, 560)
NEEDED = ["Xvfb", "xdotool", "import", "jackd"]
jack = pytest.importorskip("jack") if "CI" not in os.environ else __import__("jack")


@pytest.fixture
def display(tmp_path):
    lacks = [name for name in NEEDED if shutil.which(name) is None]
    if lacks and "CI" not in os.environ:
        pytest.skip(f"not installed: {', '.join(lacks)}")
    for _ in range(20):
        # A display listens at port 6000 and its number.
        number = random.randrange(1000, 59000)
        command = ["Xvfb", f":{number}", "-screen", "0", "1280x900x24", "-nolisten", "tcp", "-noreset"]
        running = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        env = {**os.environ, "DISPLAY": f":{number}"}
        opens = lambda: subprocess.run(["xdotool", "getmouselocation"], env=env, capture_output=True).returncode == 0
        until(lambda: running.poll() is not None or opens())
        if running.poll() is None:
            break
    yield {**env, "HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    running.terminate()
    running.wait()


def until(what, seconds=60):
    """Waits for it: the machine may be busy."""
    for _ in range(seconds * 10):
        found = what()
        if found:
            return found
        time.sleep(0.1)
    raise AssertionError("it never came")


class Window:
    def __init__(self, env, folder, *words):
        self.env, self.folder = env, folder
        self.said = folder / "said.txt"
        command = [os.environ["SINISTRA"], "bridge", "--system", "jack", "--window", *words]
        with open(self.said, "w") as said:
            self.running = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT, env=env)
        try:
            self.id = until(lambda: self.xdotool("search", "--name", "Sinistra bridge")).splitlines()[-1]
        except AssertionError:
            self.running.kill()
            raise AssertionError(self.said.read_text())

    def xdotool(self, *words):
        return subprocess.run(["xdotool", *words], env=self.env, capture_output=True, text=True).stdout.strip()

    def says(self, words, times=1):
        until(lambda: self.said.read_text().count(words) >= times)

    def picture(self, name):
        path = Path(os.environ.get("PICTURES", self.folder)) / f"bridge-{name}.png"
        subprocess.run(["import", "-window", self.id, path], env=self.env, check=True)
        return path

    def click(self, x, y):
        self.xdotool("mousemove", "--window", self.id, str(x), str(y))
        time.sleep(0.3)
        self.xdotool("click", "1")
        time.sleep(0.7)

    def key(self, *names):
        self.xdotool("windowfocus", self.id)
        for name in names:
            self.xdotool("key", "--window", self.id, name)
            time.sleep(0.4)

    def close(self):
        """As the cross in its corner does (ICCCM, WM_DELETE_WINDOW)."""
        display = Xlib.display.Display(self.env["DISPLAY"])
        window = display.create_resource_object("window", int(self.id))
        kind, delete = (display.intern_atom(name) for name in ("WM_PROTOCOLS", "WM_DELETE_WINDOW"))
        data = (32, [delete, Xlib.X.CurrentTime, 0, 0, 0])
        window.send_event(Xlib.protocol.event.ClientMessage(window=window, client_type=kind, data=data))
        display.flush()
        return self.running.wait(20)


def chord(keys, on=True):
    return [(0, [0x90 if on else 0x80, key, 90]) for key in keys]


def left_of(heard):
    return [m[1] for _, m in heard if m[0] & 0xF0 == 0x90 and m[2] and m[1] < 60]


def look(*words):
    command = [sys.executable, str(Path(__file__).parent / "pictures.py"), *map(str, words)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def changed(one, other, box):
    """The part of the pixels of `box` (left, top, right, bottom) that differ."""
    return float(look("changed", one, other, *box))


def real_time(player, plan, seconds):
    """As `Player.play`, but by the clock: a window is looked at."""
    base = player.now + 4800
    player.plan([(base + round(at * 48000), m) for at, m in plan])
    time.sleep(seconds)


def test_a_night_in_the_window(server, display, tmp_path):  # noqa: F811
    player = Player(server)
    window = Window(display, tmp_path, "--from", "Player:keys", "--to", "Player:module", "--tempo", "120")
    try:
        window.says("hears Player:keys"), window.says("sends to Player:module")
        time.sleep(2)
        rest = window.picture("1-rest")
        assert int(look("colours", rest)) > 50, "something is drawn"
        width, height = map(int, look("size", rest).split())
        foot = (0, height - 90, width, height)

        # A chord is played: the left hand sounds, and the window shows it.
        real_time(player, chord([60, 64, 67]), 1)
        until(lambda: len(left_of(player.heard)) >= 4)
        playing = window.picture("2-playing")
        assert changed(rest, playing, (0, 0, width, height // 2)) > 0.01

        # A pattern chosen in the window arrives: no octaves any more, roots alone.
        assert len(set(left_of(player.heard))) > 1
        window.key("4")  # the page "Set up"
        window.picture("2-set-up")
        window.click(*PATTERN)
        count = len(player.heard)
        until(lambda: len(left_of(player.heard[count:])) >= 6)
        window.picture("2-roots")
        chosen = left_of(player.heard[count:])
        assert len(set(chosen[1:])) == 1 and chosen[-1] % 12 == 0, chosen

        # Keep what was just played, with the button in the foot.
        window.click(90, height - 30)
        takes = until(lambda: list(tmp_path.rglob("Take 1.mid")), 10)
        window.picture("3-kept")
        take = mido.MidiFile(takes[0])
        names = [track.name for track in take.tracks]
        assert names == ["Sinistra", "Right hand", "Left hand"]
        right = [m.note for m in take.tracks[1] if m.type == "note_on" and m.velocity]
        left = [m.note for m in take.tracks[2] if m.type == "note_on" and m.velocity]
        assert right == [60, 64, 67], "the chord that set the beat going is in it"
        assert left and set(left) <= set(left_of(player.heard))

        window.key("1")
        # The cable is pulled: it is said, and the player's notes are ended.
        before = window.picture("4-before")
        player.ask("disconnect", "Player:keys", player_port(player, "in"))
        window.says("Player:keys was disconnected")
        until(lambda: changed(before, window.picture("5-pulled"), foot) > 0.005)
        assert not {key for _, key in player.sounding() if key >= 60}

        # Put back by hand: it is heard again.
        player.ask("connect", "Player:keys", player_port(player, "in"))
        window.says("hears Player:keys", 2)
        count = len(left_of(player.heard))
        real_time(player, chord([62, 65, 69]), 1)
        until(lambda: len(left_of(player.heard)) > count)

        # Closing the window ends the bridge, with nothing on.
        assert window.close() == 0
        time.sleep(0.3)
        assert not player.sounding(), "though the chord is still held"
    finally:
        window.running.kill()
        player.close()


def test_the_panel_from_the_computers_keys(server, display, tmp_path):  # noqa: F811
    """Left hand, tempo, song, ports and full screen; what is saved is there again."""
    night = tmp_path / "night.toml"
    night.write_text(
        '[[entry]]\nname = "First"\ntempo = 120.0\npattern = "roots-on-the-beat"\n'
        '[[entry]]\nname = "Second"\ntempo = 60.0\n'
    )
    player = Player(server)
    words = ["--from", "Player:keys", "--to", "Player:module"]
    window = Window(display, tmp_path, *words, "--setup", str(night))
    try:
        window.says("hears Player:keys"), window.says("sends to Player:module")
        real_time(player, chord([60, 64, 67]), 1)
        until(lambda: len(left_of(player.heard)) >= 3)
        window.picture("play")
        window.key("l", "l")  # roots, then rests
        time.sleep(1)
        count = len(left_of(player.heard))
        time.sleep(1.5)
        assert len(left_of(player.heard)) == count, "the left hand rests"
        window.key("l")
        until(lambda: len(left_of(player.heard)) > count)
        for page in ("2", "3", "4"):
            window.key(page)
            window.picture(f"page-{page}")
        window.key("1", "n")
        window.says("entry 2 of 2: Second")
        # A fault in the file changes nothing and is told; mended, it is read anew.
        text = night.read_text()
        night.write_text(text.replace("60.0", "6.0"))
        window.says("a tempo is 20 to 400")
        window.says("what was read before goes on")
        night.write_text(text.replace("60.0", "66.0") + '[[entry]]\nname = "Third"\n')
        window.says("night.toml: read anew")
        window.key("n")
        window.says("entry 3 of 3: Third")
        window.key("w")
        time.sleep(1)
        size = lambda: tuple(map(int, look("size", window.picture("full")).split()))
        until(lambda: size() == (1280, 900), 10)
        assert window.close() == 0
    finally:
        window.running.kill()
    # The next start has the set, and the song, of the last.
    window = Window(display, tmp_path, *words)
    try:
        window.says("hears Player:keys")
        window.key("b")
        window.says("entry 2 of 3: Second")
        assert window.close() == 0
    finally:
        window.running.kill()
        player.close()


def player_port(player, side):
    flag = {"is_input": True} if side == "in" else {"is_output": True}
    return player.ask("ports", "Sinistra", {"is_midi": True, **flag})[-1]


def test_a_window_that_cannot_open_is_said_and_the_help_is_shown(sinistra):
    done = sinistra(env={"DISPLAY": ":987"})
    assert "no window opens on this display" in done.stderr.splitlines()[0]
    assert "Usage: sinistra" in done.stdout
    done = sinistra(env={"DISPLAY": ""})
    assert done.stderr == "" and "Usage: sinistra" in done.stdout


def test_a_signal_closes_the_window(server, display, tmp_path):  # noqa: F811
    player = Player(server)
    window = Window(display, tmp_path, "--from", "Player:keys", "--to", "Player:module")
    try:
        window.says("hears Player:keys"), window.says("sends to Player:module")
        real_time(player, chord([60, 64, 67]), 1)
        until(lambda: left_of(player.heard))
        window.running.send_signal(signal.SIGTERM)
        assert window.running.wait(20) == 0
        time.sleep(0.3)
        assert not player.sounding()
    finally:
        window.running.kill()
        player.close()
