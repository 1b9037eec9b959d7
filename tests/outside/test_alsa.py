"""The bridge on the real ALSA sequencer, in a small virtual machine.

`aplaymidi` and `arecordmidi` (alsa-utils) play and record, raw MIDI ports are
snd-virmidi's. One boot serves all tests. Times are emulated: only what an
emulated machine can promise is asserted, the rest is printed (pytest -s).
"""

import gzip
import io
import os
import shutil
from pathlib import Path

import alsa_vm
import mido
import pytest


# One message of every kind of MIDI 1.0 that a sequencer port carries, running
# status, a real-time byte inside a message, exclusive messages long and short.
KINDS = bytes.fromhex(
    "903C40 3E41 3E00 803C40"  # running status; note on with velocity 0
    "A13C11 B20112 B24000 C305 D416 E57F3F E50040"
    "F07E7F0601F7"  # identity request
    "F24B01 F305 F6"
    "90F83C40 F8803C00"  # clock inside a message
    "FA FB FC FE"
    "B07900 B07B00 B67F00"  # channel mode messages
) + b"\xf0\x7d" + bytes(range(128)) * 3 + b"\xf7"


def midi_file(messages):
    """The bytes of a MIDI file of one track, ticks of a 480th of a quarter note."""
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(mido.MidiTrack(messages))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def chord_song():
    """C for two bars, F for two, at 120; a chord's keys struck over 20 ms."""
    track = [mido.MetaMessage("set_tempo", tempo=500000)]
    for keys in ([60, 64, 67], [60, 65, 69]):
        for n, key in enumerate(keys):
            track.append(mido.Message("note_on", note=key, velocity=80, time=5 * (n > 0)))
        for n, key in enumerate(keys):
            track.append(mido.Message("note_off", note=key, velocity=0, time=0 if n else 3820))
    return midi_file(track)


def a_minute():
    """Thirty chords of nearly two seconds."""
    track = []
    for n in range(30):
        keys = [key + n % 5 for key in (60, 64, 67)]
        for kind, wait in [("note_on", 120 if n else 0), ("note_off", 1800)]:
            for m, key in enumerate(keys):
                track.append(mido.Message(kind, note=key, velocity=80, time=0 if m else wait))
    return midi_file(track)


def many_notes():
    """Two thousand messages, five ms apart."""
    track = []
    for n in range(1000):
        track.append(mido.Message("note_on", note=30 + n % 60, velocity=80, time=5))
        track.append(mido.Message("note_off", note=30 + n % 60, velocity=0, time=5))
    return midi_file(track)


SCRIPT = r"""
await() { n=0; while ! eval "$1" 2>/dev/null; do usleep 100000; n=$((n+1)); [ $n -gt 200 ] && echo "NEVER $1" && break; done; }
said() { await "grep -q '$2' $1"; }
# Of what these send no other byte is like a key of the left hand's, 24 to 59.
plays() { await "od -An -v -tx1 $1 | grep -q ' \(1[89a-f]\|2.\|3[0-9ab]\)'"; }

# Every kind of message, raw in, raw out.
cat /dev/snd/midiC1D0 > kinds.out & C=$!
sinistra bridge --from 'VirMIDI 0-0' --to 'VirMIDI 1-0' --left rests > kinds.txt & B=$!
said kinds.txt 'sends to'; said kinds.txt 'hears'
cat kinds.bin > /dev/snd/midiC0D0
usleep 1500000
kill -TERM $B; wait $B; echo "TERM exit $?" >> kinds.txt
kill $C
give kinds.out; give kinds.txt

# The left hand on the grid.
sinistra bridge --from virtual --to virtual --tempo 120 --pattern roots-on-the-beat --log song.log > song.txt & B=$!
said song.txt 'hears'
arecordmidi -p 'Sinistra out' -b 120 -t 960 song.out.mid & R=$!
usleep 500000
aplaymidi -p 'Sinistra in' -d 1 song.mid
kill -INT $R; wait $R
aplaymidi -p 'Sinistra in' many.mid
kill -INT $B; wait $B; echo "INT exit $?" >> song.txt
give song.out.mid; give song.txt; give song.log
bare_through 14 > bare.txt & B=$!
usleep 500000
aplaymidi -p 'Bare in' many.mid
wait $B
give bare.txt

# What its threads ask of the system in a minute of music.
sinistra bridge --from virtual --to virtual --tempo 120 --pattern everything-mixed > watched.txt & B=$!
said watched.txt 'hears'
for thread in /proc/$B/task/*; do echo "${thread##*/} $(cat $thread/comm)"; done > threads.txt
strace -f -o calls.txt -p $B 2> strace.txt & S=$!
said strace.txt 'attached'
arecordmidi -p 'Sinistra out' -b 120 -t 960 watched.mid & R=$!
aplaymidi -p 'Sinistra in' -d 1 minute.mid
kill -INT $R; wait $R
kill -INT $S; wait $S
kill -TERM $B; wait $B
gzip calls.txt
give watched.mid; give threads.txt; give calls.txt.gz

# The keyboard is unplugged in the middle of a chord, and comes back.
cat /dev/snd/midiC1D0 > unplug.out & C=$!
sinistra bridge --from 'VirMIDI 0-0' --to 'VirMIDI 1-0' > unplug.txt & B=$!
said unplug.txt 'sends to'; said unplug.txt 'hears'
printf '\220\074\100\220\100\100\220\103\100\260\100\177' > /dev/snd/midiC0D0
usleep 1200000
echo snd_virmidi.0 > /sys/bus/platform/drivers/snd_virmidi/unbind
said unplug.txt 'unplugged'
usleep 300000
cp unplug.out unplug.middle
echo snd_virmidi.0 > /sys/bus/platform/drivers/snd_virmidi/bind
await '[ $(grep -c hears unplug.txt) -ge 2 ]'
printf '\220\110\100\200\110\100' > /dev/snd/midiC0D0
usleep 500000
# The module goes and comes back.
kill $C
echo snd_virmidi.1 > /sys/bus/platform/drivers/snd_virmidi/unbind
said unplug.txt 'is gone'
echo snd_virmidi.1 > /sys/bus/platform/drivers/snd_virmidi/bind
await '[ $(grep -c "sends to" unplug.txt) -ge 2 ]'
cat /dev/snd/midiC1D0 > again.out & C=$!
usleep 300000
printf '\220\112\100\200\112\100' > /dev/snd/midiC0D0
usleep 700000
kill -TERM $B; wait $B
kill $C
give unplug.middle; give unplug.out; give again.out; give unplug.txt

# A dial, then a pedal, are learned by being moved, and are kept.
sinistra bridge --from 'VirMIDI 0-0' --to 'VirMIDI 1-0' --learn busy --learn tap --save night.toml > learn.txt & B=$!
said learn.txt 'sends to'; said learn.txt 'hears'; said learn.txt 'shall do: busy'
usleep 300000
printf '\260\025\100' > /dev/snd/midiC0D0
said learn.txt 'shall do: tap'
usleep 300000
printf '\260\100\000\260\100\177' > /dev/snd/midiC0D0
said learn.txt 'now does: tap'
kill -TERM $B; wait $B
sinistra bridge --setup night.toml --list > list.txt
give learn.txt; give list.txt

# The keyboard says all notes off, and reset, in the middle of a chord.
for what in '\260\173\000' '\377'; do
  cat /dev/snd/midiC1D0 > off.out & C=$!
  sinistra bridge --from 'VirMIDI 0-0' --to 'VirMIDI 1-0' --pattern everything-mixed > off.txt & B=$!
  said off.txt 'sends to'; said off.txt 'hears'
  printf '\220\074\100\220\100\100\220\103\100' > /dev/snd/midiC0D0
  plays off.out
  usleep 1200000
  grep VmRSS /proc/$B/status
  had=$(wc -c < off.out)
  printf "$what" > /dev/snd/midiC0D0
  case $what in
    # It goes through at once; what it ends, ends with the next period.
    *377*) await 'od -An -v -tx1 off.out | tr -d "\n" | grep -q "ff [0-9a-f]"';;
    *) await '[ $(wc -c < off.out) -gt $had ]';;
  esac
  usleep 500000
  cp off.out off.first; usleep 3000000; cp off.out off.later
  kill -TERM $B; wait $B
  kill $C
  case $what in *173*) name=notes;; *) name=reset;; esac
  mv off.first first.$name; mv off.later later.$name; give first.$name; give later.$name
done

# Ended by each signal while a chord and the left hand sound.
for signal in TERM HUP INT; do
  cat /dev/snd/midiC1D0 > end.$signal & C=$!
  sinistra bridge --from 'VirMIDI 0-0' --to 'VirMIDI 1-0' > end.txt & B=$!
  said end.txt 'sends to'; said end.txt 'hears'
  printf '\220\074\100\220\100\100\220\103\100\260\100\177' > /dev/snd/midiC0D0
  plays end.$signal
  usleep 1200000
  kill -$signal $B; wait $B; echo "$signal exit $?"
  usleep 200000
  kill $C
  give end.$signal
done
"""


LENGTHS = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
COMMON = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}


def messages(data):
    """Whole messages in a raw stream, running status written out, real-time
    bytes apart (MIDI 1.0; mido's own parser knows no running status)."""
    found, status, message = [], None, []
    for byte in data:
        if byte >= 0xF8:
            found.append([byte])
        elif byte == 0xF7 and message[:1] == [0xF0]:
            found.append(message + [byte])
            message = []
        elif byte >= 0x80:
            status, message = (byte if byte < 0xF0 else None), [byte]
            if COMMON.get(byte) == 0:
                found.append(message)
                message = []
        elif message or status:
            message = (message or [status]) + [byte]
            if message[0] != 0xF0:
                first = message[0]
                wanted = COMMON[first] if first >= 0xF0 else LENGTHS[first & 0xF0]
                if len(message) == wanted + 1:
                    found.append(message)
                    message = []
    return found


def sounding(data):
    """Keys that are on, and pedals that are down, after the stream."""
    down = set()
    for message in messages(data):
        status, channel = message[0] & 0xF0, message[0] & 0x0F
        if status == 0x90 and message[2]:
            down.add(("key", channel, message[1]))
        elif status in (0x80, 0x90):
            down.discard(("key", channel, message[1]))
        elif status == 0xB0 and message[1] == 64:
            (down.add if message[2] >= 64 else down.discard)(("pedal", channel))
    return down


@pytest.fixture(scope="module")
def machine():
    lacks = alsa_vm.missing()
    if lacks and "CI" not in os.environ:
        pytest.skip(lacks)
    assert not lacks
    binary = Path(os.environ["SINISTRA"])
    bare = binary.parent / "examples" / "bare_through"
    programs = {"sinistra": binary, "bare_through": bare, "strace": shutil.which("strace")}
    files = {"kinds.bin": KINDS, "song.mid": chord_song(), "minute.mid": a_minute(), "many.mid": many_notes()}
    return alsa_vm.run(alsa_vm.cache(), programs, files, SCRIPT, seconds=480)


def test_every_kind_of_message_goes_through_bit_for_bit(machine):
    _, files = machine
    sent, came = messages(KINDS), messages(files["kinds.out"])
    # First what the module was told when it was connected, if it listened.
    greeting = [[64, 0], [66, 0], [67, 0], [69, 0], [0, 64], [123, 0]]
    while came and came[0][1:] in greeting and came[0] != sent[0]:
        came.pop(0)
    # A clock inside a message may come before or after it.
    without = [m for m in sent if m != [0xF8]]
    assert [m for m in came if m != [0xF8]][: len(without)] == without
    assert came.count([0xF8]) == 2
    assert b"TERM exit 0" in files["kinds.txt"]


def test_the_left_hand_is_on_the_grid(machine):
    _, files = machine
    song = mido.MidiFile(file=io.BytesIO(files["song.out.mid"]))
    at, starts, right = 0, [], []
    for message in mido.merge_tracks(song.tracks):
        at += message.time
        if message.type == "note_on" and message.velocity:
            (right if message.note >= 60 else starts).append((at, message.note))
    assert len(right) == 6
    assert len(starts) >= 14, starts
    # Roots: C for eight beats, then F.
    assert {note % 12 for _, note in starts[1:7]} == {0}
    assert {note % 12 for _, note in starts[9:15]} == {5}
    # The grid is that of the first chord; 960 ticks are 500 ms.
    first = right[0][0]
    late = sorted(((tick - first + 480) % 960 - 480) * 500 / 960 for tick, _ in starts[1:16])
    print(f"\nleft hand late in the emulated machine, ms: {[round(ms, 1) for ms in late]}")
    # What the first chord waits in a slow emulation all of them wait.
    middle = late[len(late) // 2]
    off = sorted(abs(ms - middle) for ms in late)
    assert abs(middle) < 60 and off[len(off) // 2] < 10


def test_through_is_as_quick_as_a_bare_pass_through(machine):
    _, files = machine
    log = files["song.log"].decode()
    print("\n" + files["bare.txt"].decode() + log)
    assert "through: 20" in log  # two thousand and some


def test_no_thread_that_carries_notes_waits_for_another(machine):
    """A lock that is waited for, or handed on, is a futex (futex(2))."""
    _, given = machine
    names = dict(line.split(None, 1) for line in given["threads.txt"].decode().splitlines())
    calls = [line.split(None, 1) for line in gzip.decompress(given["calls.txt.gz"]).decode().splitlines()]
    # midir's own thread, which hears the keyboard, bears the program's name, as the first.
    first = min(names, key=int)
    hears = {thread for thread, name in names.items() if name == names[first] and thread != first}
    carries = {thread for thread, name in names.items() if name == "stage"}
    for what, threads in [("hears", hears), ("carries", carries)]:
        made = [call for thread, call in calls if thread in threads and not call.startswith("<")]
        # Where strace came in, and the first message, at which it asks for its priority.
        made = [call for call in made if not call.startswith(("restart_syscall", "sched_"))]
        kinds = {call.split("(")[0] for call in made}
        print(f"\nALSA, a minute: {len(made)} calls of the thread that {what}: {', '.join(sorted(kinds))}")
        assert len(made) > 60 and kinds <= {"clock_gettime", "poll", "ppoll", "read", "write", "ioctl"}
    left = [m for m in mido.MidiFile(file=io.BytesIO(given["watched.mid"])) if m.type == "note_on" and m.note < 60]
    # The emulated machine, watched, is often later than a stage may be, and skips.
    assert len(left) > 20


def test_unplugging_ends_notes_and_plugging_in_goes_on(machine):
    _, files = machine
    middle = files["unplug.middle"]
    right = {key for _, channel, *key in sounding(middle) if key and key[0] >= 60}
    assert not right, "the player's chord ended"
    assert ("pedal", 0) not in sounding(middle)
    assert [0x90, 0x48, 0x40] in messages(files["unplug.out"])
    assert [0x90, 0x4A, 0x40] in messages(files["again.out"])
    assert not sounding(files["again.out"])


def test_controls_are_learned_by_moving_them(machine):
    _, files = machine
    said, listed = files["learn.txt"].decode(), files["list.txt"].decode()
    assert "control 21 on channel 1 now does: busy" in said
    assert [" ".join(line.split()) for line in listed.splitlines()[1:3]] == [
        "control 21 on channel 1 busy",
        "control 64 on channel 1 tap",
    ]


@pytest.mark.parametrize("what", ["notes", "reset"])
def test_all_notes_off_and_reset_from_the_keyboard(machine, what):
    said, files = machine
    first, later = messages(files[f"first.{what}"]), messages(files[f"later.{what}"])
    strikes = lambda played: [m[1] for m in played if m[0] == 0x90 and m[2] and m[1] < 60]
    assert strikes(first), "the left hand played"
    if what == "reset":
        # Silent at once, and until the right hand strikes again.
        end = first.index([0xFF])
        assert not strikes(first[end:]) and strikes(later) == strikes(first)
        assert first[end + 1 :] and all(m[0] == 0x80 for m in first[end + 1 :])
    else:
        # As if the keys were lifted: the left hand holds over for its bars.
        assert [0xB0, 123, 0] in first
    assert not {key for _, channel, *key in sounding(files[f"later.{what}"]) for key in key if key < 60}
    print("\nmemory while playing:", [line.split()[1] for line in said.splitlines() if "VmRSS" in line], "kB")


@pytest.mark.parametrize("signal", ["TERM", "HUP", "INT"])
def test_no_note_stays_on_when_it_is_ended(machine, signal):
    said, files = machine
    data = files[f"end.{signal}"]
    assert any(m[0] == 0x90 and m[1] < 60 for m in messages(data)), "the left hand played"
    assert not sounding(data)
    assert f"{signal} exit 0" in said
