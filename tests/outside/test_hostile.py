"""Files and options that mean harm, or no sense: each ends with one message and exit
code 0 or 2, never in a panic, in at most 2 s of the processor and 200 MB."""

import os
import random
import struct
import subprocess
import sys
import zipfile

SECONDS, MEGABYTES = 2.0, 200


def charts(rng):
    heads = ["", "key: H\n", "metre: 0/4\n", "metre: 4/0\n", "metre: 255/1\n", "tempo: NaN\n", "tempo: 1e999\n",
             "swing: -1\n", "pick-up: 99\n", "title: " + "x" * 100_000 + "\n", "key: C\nkey: D\n", "[\n", "[]\n"]
    bodies = ["", "|", "||||", "| |", "| C", "|: C |: F :| G :|", ":| C |", "| C :| x0", "| C :| x99", "|1. C |2. D |",
              "| " + "C " * 5_000 + "|", "| C " * 5_000, "| C " * 1_200 + "|", "|: " + "C | " * 599 + "C :| x2", "| 3/4 C | 4/4 F " * 600 + "|", "|: C :| x99 " * 300, "| %", "| . |", "| C" + "b9" * 3_000 + " |",
              "| C/" + "/" * 1_000 + " |", "\x00\x01\x02", "| C\u202e |", "| " + "(" * 10_000, "| 4/4 3/4 C |", "| 1-99. C |",
              "| N.C. |", "| C . . . . . . |", "\ufeff| C |", "| \U0001d12a |", "#" * 10_000, "|" * 100_000]
    for head in heads[:6]:
        for body in bodies:
            yield "txt", (head + body).encode()
    for head in heads:
        yield "txt", (head + "| C | F | G | C |").encode()
    for _ in range(40):
        yield "txt", bytes(rng.randrange(256) for _ in range(rng.randrange(400)))


def patterns(rng):
    good = 'name = "x"\n[[bar]]\nmetre = "4/4"\ncount = "1 2 3 4"\nplay = "root root root root"\n'
    yield good[:-20].encode()
    yield b"name = 1"
    yield (good + good.split("\n", 1)[1] * 2_000).encode()
    yield good.replace("1 2 3 4", "1 " * 3_000).encode()
    yield good.replace("4/4", "0/0").encode()
    yield good.replace("root", "r" * 10_000).encode()
    yield ("a = " + "[" * 20_000).encode()
    for _ in range(40):
        text = bytearray(good.encode())
        for _ in range(rng.randrange(1, 6)):
            text[rng.randrange(len(text))] = rng.randrange(256)
        yield bytes(text)


def midi(rng):
    head = b"MThd" + struct.pack(">IHHH", 6, 1, 1, 480)
    notes = b"".join(b"\x00\x90\x3c\x40\x83\x60\x80\x3c\x40" for _ in range(20)) + b"\x00\xff\x2f\x00"
    good = head + b"MTrk" + struct.pack(">I", len(notes)) + notes
    yield b""
    yield b"MThd"
    yield head
    yield head + b"MTrk" + struct.pack(">I", 0xFFFFFFFF) + notes
    yield b"MThd" + struct.pack(">IHHH", 6, 1, 65_535, 480) + b"MTrk\x00\x00\x00\x00" * 65_535
    yield b"MThd" + struct.pack(">IHHH", 6, 1, 1, 0) + good[14:]
    yield b"MThd" + struct.pack(">IHHH", 6, 1, 1, 0xE728) + good[14:]
    yield head + b"MTrk" + struct.pack(">I", 8_000_000) + b"\x00\x90\x3c\x40" * 2_000_000
    for n in range(80):
        spoiled = bytearray(good)
        for _ in range(rng.randrange(1, 8)):
            spoiled[rng.randrange(len(spoiled))] = rng.randrange(256)
        yield bytes(spoiled[: rng.randrange(len(spoiled))] if n % 3 == 0 else spoiled)


def musicxml(rng):
    good = (
        '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name/>'
        '</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>4</divisions><time>'
        "<beats>4</beats><beat-type>4</beat-type></time></attributes><harmony><root><root-step>C</root-step></root>"
        "<kind>major</kind></harmony><note><rest/><duration>16</duration></note></measure></part></score-partwise>"
    )
    for old, new in [("<beats>4", "<beats>0"), ("<beats>4", "<beats>-3"), ("<beats>4", "<beats>99999999999"),
                     ("<divisions>4", "<divisions>0"), ("<divisions>4", "<divisions>1e308"), ("16</dur", "-16</dur"),
                     ("16</dur", "NaN</dur"), (">C<", ">H<"), ("major", "m" * 100_000), ('number="1"', 'number="0"'),
                     ("</measure>", "</measure>" + '<measure number="2"/>' * 30_000), ("<part-name/>", "<a>" * 50_000),
                     ("score-partwise", "score-timewise"), ("<?xml", "<?xml?><?xml")]:
        yield good.replace(old, new).encode()
    bomb = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "ha" * 10}">' for n in range(12))
    yield good.replace("<score-partwise", f"<!DOCTYPE s [{bomb}]><score-partwise", 1).replace("<part-name/>", "<part-name>&a11;</part-name>").encode()
    for _ in range(40):
        spoiled = bytearray(good.encode())
        for _ in range(rng.randrange(1, 8)):
            spoiled[rng.randrange(len(spoiled))] = rng.randrange(256)
        yield bytes(spoiled)


def lessons():
    good = 'title = "x"\naim = "a."\npattern = "fifths"\nexamples = ["four-bar-loop"]\ntempo = 60\nclean = "c."\n'
    for old, new in [("60", "0"), ("60", "nan"), ("60", "1e400"), ('["four-bar-loop"]', "[]"), ("four-bar-loop", "x in H"),
                     ('"fifths"', "3"), ("aim", "goal"), ('"x"', '"' + "x" * 70_000 + '"'), ("fifths", "/dev/zero"),
                     ("four-bar-loop", "/dev/zero")]:
        yield good.replace(old, new).encode()


OPTIONS = ["NaN", "inf", "-1", "0", "1e9", "99999999999999999999", "", " ", "\u0663", "H9", "C99", "../..", "/dev/full", "x" * 5_000]
NAMED = ["--busy", "--swing", "--length", "--lowest", "--highest", "--reach", "--seed", "--split", "--key", "--tempo",
         "--repeat", "--pattern"]


def commands(folder):
    rng = random.Random(1)
    count = 0

    def kept(data, end):
        nonlocal count
        count += 1
        path = folder / f"{count}.{end}"
        path.write_bytes(data)
        return str(path)

    for end, data in charts(rng):
        yield ["perform", kept(data, end), "--sheet", str(folder / "out.svg"), "--force"]
    for data in patterns(rng):
        yield ["perform", "four-bar-loop", "--pattern", kept(data, "toml"), "--midi", str(folder / "out.mid"), "--force"]
    for data in midi(rng):
        yield ["harmonise", kept(data, "mid"), "-o", str(folder / "out.mid"), "--force"]
    for data in midi(rng):
        yield ["practise", "four-bar-loop", "--take", kept(data, "mid")]
    for data in musicxml(rng):
        yield ["perform", kept(data, "musicxml"), "--sheet", str(folder / "out.pdf"), "--force"]
    for data in lessons():
        yield ["lessons", kept(data, "toml"), "--sheet", str(folder / "out.pdf"), "--force"]
    with zipfile.ZipFile(folder / "bomb.mxl", "w", zipfile.ZIP_DEFLATED) as bomb:
        bomb.writestr("META-INF/container.xml", '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>')
        # In pieces: what this process once held would be counted to those it starts.
        with bomb.open("a.xml", "w") as inside:
            for _ in range(256):
                inside.write(b" " * (1 << 20))
    yield ["perform", str(folder / "bomb.mxl"), "--midi", str(folder / "out.mid"), "--force"]
    for name in NAMED:
        for value in OPTIONS:
            yield ["perform", "four-bar-loop", f"{name}={value}", "--midi", str(folder / "out.mid"), "--force"]
    for value in OPTIONS:
        yield ["practise", "four-bar-loop", "--take", "/dev/zero", f"--bars={value}"]
        yield ["perform", value or "-", "--midi", str(folder / "out.mid"), "--force"]
        yield ["lessons", value or "-"]


# From a small process: the system counts to a child what its parent had when it left it.
WATCH = """
import os, subprocess, sys
nothing = subprocess.DEVNULL
process = subprocess.Popen(sys.argv[1:], stdout=nothing, stdin=nothing)
_, status, used = os.wait4(process.pid, 0)
process.returncode = os.waitstatus_to_exitcode(status)
print(process.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""


def ended(binary, words):
    """Exit code, seconds of the processor, megabytes at the most, and what was said."""
    done = subprocess.run([sys.executable, "-c", WATCH, binary, *words], capture_output=True)
    code, seconds, megabytes = done.stdout.split()[-3:]
    return int(code), float(seconds), float(megabytes), done.stderr.decode(errors="replace")


def test_nothing_does_harm(tmp_path):
    binary = os.environ["SINISTRA"]
    bad, count, worst = [], 0, (0.0, 0.0)
    for words in commands(tmp_path):
        code, seconds, megabytes, said = ended(binary, words)
        count += 1
        worst = (max(worst[0], seconds), max(worst[1], megabytes))
        shown = " ".join(word[:60] for word in words)
        if code not in (0, 2) or "panicked" in said:
            bad.append(f"exit {code}: {shown}: {said[:200]}")
        if seconds > SECONDS:
            bad.append(f"{seconds:.1f} s: {shown}")
        if megabytes > MEGABYTES:
            bad.append(f"{megabytes:.0f} MB: {shown}")
    print(f"{count} inputs, at most {worst[0]:.2f} s and {worst[1]:.0f} MB")
    assert count >= 400 and not bad, "\n".join(bad)
