#!/usr/bin/env python3
"""Learns the book of bars: what pianists' left hands play, bar by bar, apart from the chords they played it to.

    python tools/hand/learn_bars.py DATA FOLDER [--without NNN ...]

DATA is a folder with `pop909-cl/NNN.mid` (track `piano`) and `chord-sequences.jsonl.gz` (the chords that people heard); FOLDER gets
`left-hand-bars.model`; the one that ships is in core/models. Songs in 4/4 with chords are read; those named after `--without` are left out (folds).
The held-out figures of the header are those that `tell_apart_in_folds.py` found last. Needs: mido numpy.

The book (`tools/model.py`), three arrays of bytes, four in a row, little-endian:
- `songs`: u16 its first bar; u8 quarter notes a minute / 2; u8 mean velocity of the right hand;
- `bars`: u16 its first note; u8 key of the bass that it is played around (MIDI number); u8 strokes of the right hand in it;
- `notes` (32 bits, from the lowest): 4 sixteenth of the bar; 6 key - 21; 3 what it is to the chord (0 bass or root, 1 third, 2 fifth, 3
  seventh, 4 ninth, 5 sixth, 6 fourth); 8 length in sixths of a sixteenth, from 1; 7 velocity beside what the right hand's loudness asks for
  (n - 64); 1 whether the chord changed since the note before (or with it).
A bar's notes end where the next bar's begin; an empty bar is a rest.
"""
import bisect, collections, glob, gzip, json, os, struct, sys
from pathlib import Path

import mido
import numpy as np

sys.path.append(str(Path(__file__).resolve().parents[1]))
import model

# What `tell_apart_in_folds.py` found.
FIGURES = Path(__file__).resolve().parents[2] / "target" / "left-hand-bars.txt"
SPLIT = 60
ROLE = {0: 0, 3: 1, 4: 1, 7: 2, 6: 2, 8: 2, 10: 3, 11: 3, 2: 4, 1: 4, 9: 5, 5: 6}


def notes(track):
    now, down, out = 0, {}, []
    for m in track:
        now += m.time
        if m.type == "note_on" and m.velocity:
            down[m.note] = (now, m.velocity)
        elif m.type in ("note_off", "note_on") and m.note in down:
            start, velocity = down.pop(m.note)
            out.append((start, now, m.note, velocity))
    return out


def song(path, chords):
    """(tempo, the right hand's mean velocity, bars) or None where it is not in 4/4."""
    midi = mido.MidiFile(path)
    if any((m.numerator, m.denominator) != (4, 4) for t in midi.tracks for m in t if m.type == "time_signature"):
        return None
    tempo = next((mido.tempo2bpm(m.tempo) for t in midi.tracks for m in t if m.type == "set_tempo"), 120)
    grid = 4 / midi.ticks_per_beat
    every = [(round(a * grid), max(0.25, (b - a) * grid), k, v) for t in midi.tracks if t.name == "piano" for a, b, k, v in notes(t)]
    left, right = [n for n in every if n[2] < SPLIT], [n for n in every if n[2] >= SPLIT]
    if not left or not right:
        return None
    starts = [c[0] * 4 for c in chords]
    chord = lambda t: chords[max(bisect.bisect_right(starts, t + 0.6) - 1, 0)]
    held = collections.defaultdict(list)
    for n in left:
        held[chord(n[0])[0]].append(n[2])
    home = {}
    for c in chords:
        keys = held.get(c[0], [])
        bass = [k for k in keys if k % 12 == c[5]] or [k for k in keys if k % 12 == c[2]]
        if keys:
            home[c[0]] = min(bass) if bass else min(keys) - (min(keys) - c[5]) % 12
    mean = float(np.mean([n[3] for n in right]))
    strokes = collections.defaultdict(list)
    for n in left:
        strokes[n[0]].append(n)
    by_bar = collections.defaultdict(list)
    for n in right:
        by_bar[n[0] // 16].append(n)
    first, last = min(n[0] for n in left) // 16, max(n[0] for n in left) // 16
    bars, before, register = [], None, None
    for b in range(first, last + 1):
        rows = []
        loud = np.mean([n[3] for n in by_bar[b]]) if by_bar[b] else mean
        asked = 8.5 + 0.77 * mean + 0.5 * (loud - mean)
        at_first = None
        for t in range(b * 16, b * 16 + 16):
            if t not in strokes:
                continue
            c = chord(t)
            register = home.get(c[0], register)
            at_first = at_first or register
            changed = before is not None and before != (c[2], c[5])
            before = (c[2], c[5])
            kept = sorted(strokes[t], key=lambda n: n[2])
            for _, length, key, velocity in kept[:3] + kept[3:][-1:]:
                role = 0 if key % 12 == c[5] else ROLE[(key - c[2]) % 12]
                held = int(np.clip(round(length * 6), 1, 255))
                push = int(np.clip(round(velocity - asked) + 64, 0, 127))
                rows.append((t - b * 16) | (key - 21) << 4 | role << 10 | held << 13 | push << 21 | changed << 28)
                changed = False
        bars.append((at_first or register or 45, min(255, len({n[0] for n in by_bar[b]})), rows))
    return tempo, mean, bars


def main():
    data, folder, *rest = sys.argv[1:]
    without = set(rest[1:]) if rest else set()
    labels = {}
    for line in gzip.open(os.path.join(data, "chord-sequences.jsonl.gz"), "rt"):
        read = json.loads(line)
        labels[read["song"]] = read["chords"]
    songs, bars, rows = b"", b"", b""
    counts = [0, 0, 0]
    for path in sorted(glob.glob(os.path.join(data, "pop909-cl", "*.mid"))):
        name = os.path.basename(path)[:-4]
        if name in without or name not in labels or not (found := song(path, labels[name])):
            continue
        tempo, mean, played = found
        songs += struct.pack("<HBB", counts[1], min(255, round(tempo / 2)), round(mean))
        counts[0] += 1
        for home, right, notes_of_bar in played:
            bars += struct.pack("<HBB", counts[2], home, right)
            counts[1] += 1
            counts[2] += len(notes_of_bar)
            rows += b"".join(struct.pack("<I", row) for row in notes_of_bar)
    held_out = FIGURES.read_text() if FIGURES.exists() else "not judged"
    four = lambda packed: ("u8", np.frombuffer(packed, np.uint8).reshape(-1, 4))
    arrays = {"songs": four(songs), "bars": four(bars), "notes": four(rows)}
    model.write("left-hand-bars", arrays, 0, [os.path.join(data, "chord-sequences.jsonl.gz")], held_out, folder=folder)
    print(f"{counts[0]} songs, {counts[1]} bars, {counts[2]} notes")


if __name__ == "__main__":
    main()
