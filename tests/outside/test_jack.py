"""The bridge on a JACK server with the dummy driver (jackd2, no sound card).

A client of our own plays in and listens, sample by sample; it is JACK-Client
from PyPI, an independent binding. The server runs freewheeling, period after
period as fast as every client is done, so that a slow machine changes nothing.
"""

import json
import os
import signal
import subprocess
import time

import pytest
from jack_player import RATE, Player
from jack_server import end, serving

pytestmark = pytest.mark.real_time

PERIOD = 128
SILENCE = [
    bytes([kind | channel, *data])
    for channel in range(16)
    for kind, *data in ([0xB0, 64, 0], [0xB0, 66, 0], [0xB0, 67, 0], [0xB0, 69, 0], [0xE0, 0, 64], [0xB0, 123, 0])
]
jack = pytest.importorskip("jack") if "CI" not in os.environ else __import__("jack")


@pytest.fixture(scope="module")
def server():
    """It waits for its clients (-S), so that none of them misses a period on a
    busy machine."""
    yield from serving("-r", "-S", "-d", "dummy", "-r", str(RATE), "-p", str(PERIOD))


@pytest.fixture
def bridge(server, tmp_path, request):
    player = Player(server, *getattr(request, "param", []))
    begun = []

    def begin(*words):
        said = open(tmp_path / "said.txt", "w")
        command = [os.environ["SINISTRA"], "bridge", "--system", "jack"]
        command += ["--from", "Player:keys", "--to", "Player:module", *words]
        begun.append(subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT))
        for _ in range(300):
            text = (tmp_path / "said.txt").read_text()
            if "hears Player:keys" in text and "sends to Player:module" in text:
                # A module that is connected first lets go of all that MIDI
                # knows: four pedals, the bender, every note of a channel.
                for _ in range(100):
                    if len(player.heard) >= len(SILENCE):
                        break
                    time.sleep(0.1)
                assert [m for _, m in player.heard] == SILENCE
                player.forget()
                return player, begun[-1]
            time.sleep(0.1)
        raise AssertionError(f"the bridge did not connect: {text}")

    yield begin
    for running in begun:
        end(running)
    player.close()


def test_through_is_sample_exact_within_the_period(bridge):
    player, _ = bridge("--left", "rests")
    kinds = ["903c40", "b00101", "c005", "d016", "e07f3f", "e00040", "a03c11", "803c40", "f8", "fe", "f24b01"]
    kinds = [bytes.fromhex(kind) for kind in kinds] + [b"\xf0\x7d" + bytes(100) + b"\xf7"]
    player.play([(n * 0.013 + k * 0.171, kind) for k in range(20) for n, kind in enumerate(kinds)], 4)
    sent, heard = player.sent, player.heard
    assert [m for _, m in heard] == [m for _, m in sent]
    late = {there - here for (here, _), (there, _) in zip(sent, heard)}
    print(f"\nJACK through, frames late: {late} (period {PERIOD})")
    # Both are in one graph with a cycle: what we send in one period the
    # other client reads in the same or the next, always the same.
    assert len(late) == 1 and late.pop() in (0, PERIOD)


def test_the_left_hand_is_on_its_sample(bridge):
    player, running = bridge("--tempo", "120", "--pattern", "roots-on-the-beat")
    chord = [(0, [0x90, key, 90]) for key in (60, 64, 67)]
    player.play(chord, 4)
    left = [at for at, m in player.heard if m[0] == 0x90 and m[1] < 60 and m[2]]
    assert len(left) >= 7
    grid = [(at - left[1]) % (RATE // 2) for at in left[1:]]
    off = [min(g, RATE // 2 - g) for g in grid]
    print(f"\nJACK left hand, frames off the grid: {off}")
    assert max(off) <= 1
    running.send_signal(signal.SIGTERM)
    assert running.wait(10) == 0
    time.sleep(0.3)
    assert not player.sounding()


def test_midi_clock_out_is_24_a_quarter_note(bridge):
    player, _ = bridge("--tempo", "120", "--clock-out")
    player.play([(0, [0x90, key, 90]) for key in (60, 64, 67)], 3)
    clocks = [at for at, m in player.heard if m == b"\xf8"]
    starts = [at for at, m in player.heard if m == b"\xfa"]
    assert len(starts) == 1 and len(clocks) > 80
    gaps = {b - a for a, b in zip(clocks[24:], clocks[25:])}
    assert gaps <= {999, 1000, 1001}, gaps  # 48,000 / 2 / 24 samples


def test_the_built_in_piano_sounds_through_jack_and_fades_at_the_end(bridge):
    player, running = bridge("--sound", "--tempo", "120", "--pattern", "everything-mixed")
    (ours,) = player.ask("ports", ":left$", {"is_audio": True, "is_output": True})
    assert player.ask("connections", ours) == ["system:playback_1"]
    player.ask("connect", ours, "Player:ear")
    time.sleep(5)  # the recordings are decoded meanwhile, in real time; the play below is not
    player.play([(0.5, [0x90, key, 90]) for key in (60, 64, 67)], 8)
    second, loudest = RATE // PERIOD, player.ask("loudest")
    struck = next(n for n, level in enumerate(loudest) if level > 0.001)
    first, later = max(loudest[struck : struck + second]), max(loudest[struck + 5 * second :])
    print(f"\nJACK piano: loudest in the first second {first:.3f}, after five {later:.3f}")
    assert 0.002 < first < later < 0.98, "it is heard, and starts quiet"
    running.send_signal(signal.SIGTERM)
    assert running.wait(10) == 0
    time.sleep(0.2)
    last = [level for level in player.ask("loudest") if level > 0][-1]
    assert last < first / 4, "it fades, and does not click"


def test_controls_are_learned_by_moving_them_and_kept(bridge, sinistra, tmp_path):
    setup = tmp_path / "night.toml"
    words = [w for action in ("busy", "tap", "panic", "entry") for w in ("--learn", action)]
    player, running = bridge(*words, "--save", setup)
    # A dial; a pedal that first comes up; a pad; bank select, then a program.
    moves = ["b01540", "b04200", "b0427f", "99245a", "892400", "b00001", "c004"]
    for move in moves:
        player.play([(0, bytes.fromhex(move))], 0.2)
        time.sleep(0.6)  # what is learned next is asked for in between
    running.send_signal(signal.SIGINT)
    assert running.wait(10) == 0
    listed = sinistra("bridge", "--setup", setup, "--list")
    expected = ["control 21 on channel 1", "control 66 on channel 1", "key 36 on channel 10", "any program on channel 1"]
    mapped = [" ".join(line.split()) for line in listed.stdout.splitlines()[1:5]]
    assert mapped == [f"{c} {a}" for c, a in zip(expected, ["busy", "tap", "panic", "entry"])]
    again = sinistra("bridge", "--save", setup, "--system", "jack")
    assert again.returncode == 2 and "there already" in again.stderr


@pytest.mark.parametrize("bridge", [["floods"]], ids=["floods"], indirect=True)
def test_a_full_output_loses_no_end_of_a_note(bridge, tmp_path):
    player, running = bridge("--tempo", "240", "--pattern", "roots-on-the-beat", "--json")
    keys = (60, 64, 67)
    player.play([(0, [0x90, key, 90]) for key in keys], 1.1)
    before = len(player.heard)
    player.ask("flood", True)
    player.play([(0.4, [0x80, key, 0]) for key in keys], 1)
    flooded = player.ask("flood", False)
    # The player's own messages come first, and whole: so many as there were.
    flood = [m for _, m in player.heard[before:] if len(m) == 2000]
    assert len(flood) > flooded > 100
    player.play([], 0.2)
    down = {key for _, key in player.sounding()}
    print(f"\nJACK flooded for {flooded} periods, {len(flood)} long messages")
    assert not down & set(keys), "the player's chord ended"
    assert len(down) <= 1, "of the left hand at most the note that it plays now"
    running.send_signal(signal.SIGTERM)
    assert running.wait(10) == 0
    time.sleep(0.3)
    farewell = b"\xb0\x7b\x00"
    assert farewell in [m for _, m in player.heard[before:]], "on the channel that was used"
    assert not player.sounding()


def test_a_key_named_twice_and_ended_once_leaves_no_left_hand(bridge):
    player, _ = bridge("--tempo", "120")
    keys = (60, 64, 67)
    twice = [(0, [0x90, key, 90]) for key in keys] + [(0.3, [0x90, 60, 90])]
    player.play(twice + [(1, [0x80, key, 0]) for key in keys], 20)
    late = [m for at, m in player.heard if at > player.now - 4 * RATE and m[0] == 0x90 and m[2]]
    assert not late and not player.sounding()


def test_two_thousand_messages_in_a_period_all_go_through(bridge):
    player, _ = bridge("--left", "rests")
    many = [(0.1, [0xB0, n % 64, n // 64]) for n in range(2000)]
    ends = [(0.1, [0x80, key, 0]) for key in range(50, 60)]
    player.play([(0, [0x90, key, 90]) for key in range(50, 60)] + many + ends, 1)
    sent, heard = [m for _, m in player.sent], [m for _, m in player.heard]
    assert len(sent) == 2020 and heard == sent
    assert not player.sounding()


def held(messages):
    """Pedals that are down and benders that are not in the middle."""
    state = {}
    for _, m in messages:
        if m[0] & 0xF0 == 0xB0 and m[1] in (64, 66, 67):
            state[m[0] & 15, m[1]] = m[2] >= 64
        elif m[0] & 0xF0 == 0xE0:
            state[m[0] & 15, "bend"] = (m[1], m[2]) != (0, 64)
    return {what for what, on in state.items() if on}


def test_after_a_kill_and_a_new_start_nothing_is_held(bridge):
    player, running = bridge("--tempo", "120")
    down = ["903c5a", "90405a", "90435a", "b0407f", "b0427f", "b0437f", "e07f7f", "b5407f"]
    player.play([(0, bytes.fromhex(message)) for message in down], 1)
    assert player.sounding() and len(held(player.heard)) == 5
    running.kill()
    running.wait()
    player.forget()
    player, again = bridge("--tempo", "120")  # asserts the whole of the silence
    # What is held at a clean end is let go of as well.
    player.play([(0, bytes.fromhex(message)) for message in down], 1)
    again.send_signal(signal.SIGTERM)
    assert again.wait(10) == 0
    time.sleep(0.3)
    assert not player.sounding() and not held(player.heard)


def test_a_ring_of_cables_is_cut_and_named(bridge, tmp_path):
    player, _ = bridge("--left", "rests")
    player.ask("echo", True)
    player.play([(0, [0x90, key, 90]) for key in (60, 64, 67)], 4)
    assert 10 < len(player.heard) < 100
    player.play([(0, [0x80, key, 0]) for key in (60, 64, 67)], 1)
    time.sleep(0.3)
    assert "comes back from" in (tmp_path / "said.txt").read_text()
    assert not player.sounding()


def test_what_keeps_the_left_hand_silent_is_said_in_words(bridge, tmp_path):
    said = lambda: (tmp_path / "said.txt").read_text()
    player, _ = bridge("--clock", "midi")
    clock = [(n * 0.02, b"\xf8") for n in range(50)]
    # A key one below the usual split, under a chord above it; then the clock's cable is pulled.
    player.play([(0, b"\xfa"), *clock, *[(0.1, [0x90, key, 90]) for key in (59, 64, 67, 72)]], 1.2)
    time.sleep(0.3)
    assert "B3 lies below the split (C4): it counts as your own left hand" in said()
    player.play([], 2)
    time.sleep(0.3)
    assert said().count("MIDI clock stopped coming, though its sender said no stop") == 1


def test_events_are_lines_of_json_and_quiet_is_quiet(bridge, tmp_path):
    player, running = bridge("--json")
    player.play([(0, [0x90, key, 90]) for key in (60, 64, 67)], 2)
    running.send_signal(signal.SIGHUP)
    assert running.wait(10) == 0
    events = [json.loads(line)["event"] for line in (tmp_path / "said.txt").read_text().splitlines()]
    assert {"said", "started", "chord", "note"} <= set(events)
    command = [os.environ["SINISTRA"], "bridge", "--system", "jack", "--quiet", "--for", "1"]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")


def test_the_thread_that_carries_notes_makes_no_call_but_jacks_own_wait(bridge, tmp_path):
    """For a minute of music, under strace. A lock that is waited for, or handed
    on, is a futex private to the process (futex(2), FUTEX_PRIVATE_FLAG); the two
    that JACK's graph turns on lie in memory that it shares with its clients."""
    player, running = bridge("--tempo", "120", "--pattern", "everything-mixed")
    trace = tmp_path / "trace.txt"
    watching = subprocess.Popen(["strace", "-f", "-o", trace, "-p", str(running.pid)], stderr=subprocess.DEVNULL)
    for _ in range(100):
        if trace.exists() and "FUTEX_WAIT, " in trace.read_text():
            break
        time.sleep(0.1)
    chords = [(2 * bar, 1.8, key + bar % 5) for bar in range(30) for key in (60, 64, 67)]
    on = [(at, [0x90, key, 90]) for at, _, key in chords]
    off = [(at + long, [0x80, key, 64]) for at, long, key in chords]
    player.play(sorted(on + off, key=lambda event: event[0]), 61)
    watching.terminate()
    watching.wait()
    calls = [line.split(None, 1) for line in trace.read_text().splitlines() if " resumed>" not in line]
    [carries] = {thread for thread, call in calls if call.startswith("futex(") and "_PRIVATE" not in call}
    made = [call for thread, call in calls if thread == carries]
    others = [call for call in made if not call.startswith("futex(") or "_PRIVATE" in call]
    left = [m for _, m in player.heard if m[0] == 0x90 and m[1] < 60 and m[2]]
    print(f"\nJACK, a minute: {len(made)} calls of the carrying thread, {len(left)} notes of the left hand")
    assert not others
    assert len(made) > 61 * RATE // PERIOD and len(left) > 100


def test_a_lost_clock_and_a_hand_below_the_split_are_told_in_words(bridge, tmp_path):
    player, _ = bridge("--clock", "midi")
    clocks = [(0, [0xFA])] + [(n / 48, [0xF8]) for n in range(96)]
    player.play(clocks + [(1, [0x90, 59, 90]), (1.4, [0x80, 59, 0])], 6)
    for words in ("MIDI clock stopped coming", "B3 lies below the split (C4)"):
        for _ in range(50):
            if words in (said := (tmp_path / "said.txt").read_text()):
                break
            time.sleep(0.1)
        assert words in said


def test_a_control_chooses_left_hand_and_style(bridge, tmp_path):
    words = ["--map", 'do = "pattern", programs = true', "--map", 'do = "style", control = 22']
    player, _ = bridge(*words)
    player.play([(0, [0xC0, 17]), (0.5, [0xB0, 22, 127]), (1, [0xC0, 120])], 2)
    for words in ("the left hand: Alberti bass", "the left hand: Free hand: rock", "the library has no left hand 121"):
        for _ in range(50):
            if words in (said := (tmp_path / "said.txt").read_text()):
                break
            time.sleep(0.1)
        assert words in said


def test_an_intro_is_led_to_once_and_then_the_chart(bridge, tmp_path):
    chart, night = tmp_path / "song.txt", tmp_path / "night.toml"
    chart.write_text("title: Song\nkey: C\nmetre: 4/4\n\n|: C | Ab | :|\n")
    night.write_text('[[entry]]\nname = "One"\nchart = "song.txt"\nintro = "| F | Bb |"\ntempo = 120.0\n')
    player, running = bridge("--setup", night, "--json")
    chords = [(65, 69, 72), (65, 70, 74), (64, 67, 72), (63, 68, 72), (64, 67, 72), (63, 68, 72)]
    plan = []
    for bar, keys in enumerate(chords):
        plan += [(2 * bar, [0x90, key, 90]) for key in keys]
        plan += [(2 * bar + 1.99, [0x80, key, 0]) for key in keys]
    player.play(plan, 2 * len(chords))
    running.send_signal(signal.SIGTERM)
    assert running.wait(10) == 0
    lines = [json.loads(line) for line in (tmp_path / "said.txt").read_text().splitlines()]
    led = [line["next"] for line in lines if line["event"] == "chord" and line["next"]]
    led = [chord for n, chord in enumerate(led) if not n or chord != led[n - 1]]
    assert led[:5] == ["B♭", "C", "A♭", "C", "A♭"] and led.count("B♭") == 1, led
