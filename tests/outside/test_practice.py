"""A sitting in the practice room on a JACK server with the dummy driver.

A client of our own is keyboard, pedal and sound module: it hears a round,
plays it back with faults of its choosing, and reads the verdict. It is
JACK-Client from PyPI, an independent binding. Real time here, not
freewheeling: the room goes by the clock on the wall.
"""

import os
import signal
import subprocess
import time

import pytest

from jack_player import RATE, Player
from jack_server import end, serving

pytestmark = pytest.mark.real_time

CHART = "title: Two Bars\nkey: C\nmetre: 4/4\ntempo: 100\n\n| C | Am |\n"
WOOD_BLOCKS = (76, 77)


@pytest.fixture(scope="module")
def server():
    """It waits for its clients (-S), so that none of them misses a note on a
    busy machine."""
    yield from serving("-r", "-S", "-d", "dummy", "-r", str(RATE), "-p", "512")


@pytest.fixture
def sitting(server, tmp_path):
    player = Player(server, "wall")
    begun = []

    def begin(*words):
        (tmp_path / "two.txt").write_text(CHART)
        said = open(tmp_path / "said.txt", "w")
        command = [os.environ["SINISTRA"], "practise", "two.txt", "--terminal", "--system", "jack"]
        command += ["--from", "Player:keys", "--to", "Player:module"]
        command += ["--progress", "progress.json", *words]
        begun.append(
            subprocess.Popen(
                command, stdout=said, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, cwd=tmp_path
            )
        )
        return Sitting(player, begun[-1], tmp_path / "said.txt")

    yield begin
    for running in begun:
        end(running)
    player.close()


class Sitting:
    def __init__(self, player, running, said):
        self.player, self.running, self.file = player, running, said
        self.read = 0

    def wait(self, words, seconds=40):
        """What was said up to these words, from where it was read before."""
        for _ in range(seconds * 20):
            text = self.file.read_text()
            at = text.find(words, self.read)
            if at >= 0:
                said, self.read = text[self.read : at + len(words)], at + len(words)
                return said
            time.sleep(0.05)
        raise AssertionError(f"never said {words!r}:\n{text}")

    def pedal(self):
        """Down and up: go on. Gives the place in what is heard."""
        place = len(self.player.heard)
        now = self.player.now
        self.player.plan([(now + 500, [0xB0, 64, 127]), (now + 6000, [0xB0, 64, 0])])
        return place

    def click(self, place):
        """The frame of the first click of the round that begins after `place`."""
        for _ in range(400):
            clicks = [at for at, m in self.player.heard[place:] if m[0] == 0x99 and m[1] in WOOD_BLOCKS]
            if clicks:
                return clicks[0]
            time.sleep(0.01)
        raise AssertionError("no count-in is heard")

    def play(self, click, notes):
        """Notes at (frames after the click, key), a fifth of a second long."""
        plan = []
        for after, key in notes:
            plan += [(click + after, [0x90, key, 80]), (click + after + RATE // 5, [0x80, key, 0])]
        self.player.plan(plan)

    def left(self, place):
        """What the machine's left hand played: (frame, key)."""
        return [(at, m[1]) for at, m in self.player.heard[place:] if m[0] == 0x90 and m[1] < 60 and m[2]]


def ms(milliseconds):
    return round(milliseconds * RATE / 1000)


def test_a_sitting_from_hearing_to_the_verdict(sitting):
    room = sitting("--pattern", "roots-on-the-beat")
    room.wait("listen, tempo 60")
    click = room.click(0)
    room.wait("Enter: go on")
    line = [(at - click, key) for at, key in room.left(0)]
    # Two bars of four roots, on the beat at 60, after a bar of count-in.
    assert [key % 12 for _, key in line] == [0] * 4 + [9] * 4
    off = [after - (4 + n) * RATE for n, (after, _) in enumerate(line)]
    print(f"\nheard off the beat, frames: {off}")
    assert max(map(abs, off)) < ms(40)

    # Together: the right hand is played to us, the left is ours, and is right.
    place = room.pedal()
    room.wait("together, tempo 60")
    room.play(room.click(place), line)
    said = room.wait("Enter: go on")
    print(said)
    assert "8 of 8 notes right, 8 in time" in said and "a clean round" in said
    heard = [(at, m) for at, m in room.player.heard[place:] if m[0] == 0x90 and m[2]]
    assert any(m[1] >= 60 for _, m in heard), "the right hand was played"
    assert len(room.left(place)) == 8, "our own keys sound once"

    # Alone: one wrong, one left out, one late by 150 ms.
    place = room.pedal()
    room.wait("you alone, tempo 60")
    faulty = list(line)
    faulty[1] = (faulty[1][0], faulty[1][1] + 2)
    faulty[3] = None
    faulty[6] = (faulty[6][0] + ms(150), faulty[6][1])
    room.play(room.click(place), [note for note in faulty if note])
    said = room.wait("Enter: go on")
    print(said)
    assert "bar 1: the 2: D instead of C; the 4: C missing" in said
    late = [line for line in said.splitlines() if "bar 2: the 3: A" in line and "late" in line]
    assert len(late) == 1, said
    assert 120 < float(late[0].split("A ")[1].split(" ms")[0]) < 180
    others = [line for line in said.splitlines() if line.startswith("  ")]
    assert len(others) == 2, f"nothing else was found: {others}"
    heard = [m for _, m in room.player.heard[place:] if m[0] == 0x90 and m[2] and m[1] >= 60]
    assert not heard, "alone is alone"
    room.running.send_signal(signal.SIGTERM)
    assert room.running.wait(10) == 0
    time.sleep(0.2)
    assert not room.player.sounding()


def test_ended_in_a_round_leaves_no_note_on(sitting):
    room = sitting("--pattern", "roots-on-the-beat")
    room.wait("listen")
    for _ in range(400):
        time.sleep(0.02)
        if any(key < 60 for channel, key in room.player.sounding() if channel == 0):
            break
    assert room.player.sounding(), "it plays"
    room.running.send_signal(signal.SIGTERM)
    assert room.running.wait(10) == 0
    time.sleep(0.2)
    assert not room.player.sounding()


def test_a_keyboard_unplugged_says_so_and_is_heard_when_it_is_back(sitting):
    room = sitting("--pattern", "roots-on-the-beat")
    room.wait("listen")
    room.wait("Enter: go on")
    place = room.pedal()
    room.wait("together")
    room.click(place)
    room.player.ask("unplug")
    said = room.wait("Enter: go on", seconds=10)
    assert "Player:keys is unplugged" in said and "missing" not in said, said
    room.player.ask("plug")
    room.wait("hears Player:keys")
    place = room.pedal()
    room.wait("together")
    room.click(place)
