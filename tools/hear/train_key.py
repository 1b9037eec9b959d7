"""Learns core/models/key.model, the key profiles.

    python tools/hear/train_key.py DATA

How much of the time each degree sounds in the right hand (keys >= 60) of
POP909-CL, in major and in minor. Five-fold check by song: how often, beat by beat, the causal key has the right scale.
"""
import sys
from pathlib import Path

import mido
import numpy as np

import data

sys.path.append(str(Path(__file__).resolve().parents[1]))
import model

HALF_LIFE = 48.0  # beats


def right_hand(path):
    """(onset, end, pitch class) in beats of the keys >= 60 of track `piano`."""
    midi = mido.MidiFile(path)
    track = next(t for t in midi.tracks if t.name == "piano")
    at, on, notes = 0, {}, []
    for event in track:
        at += event.time
        if event.type not in ("note_on", "note_off") or event.note < 60:
            continue
        start = on.pop(event.note, None)
        if start is not None and at > start:
            notes.append((start / midi.ticks_per_beat, at / midi.ticks_per_beat, event.note % 12))
        if event.type == "note_on" and event.velocity:
            on[event.note] = at
    return sorted(notes)


def beats(notes, count):
    """Beats of sound per pitch class in each beat."""
    out = np.zeros((count, 12))
    for start, end, pc in notes:
        for b in range(int(start), min(int(np.ceil(end)), count)):
            out[b, pc] += min(end, b + 1) - max(start, b)
    return out


def profiles(songs):
    out = np.full((2, 12), 1.0)
    for sound, keys in songs:
        for row, k in zip(sound, keys):
            if k is not None:
                out[k[1]] += np.roll(row, -k[0])
    return out / out.sum(1, keepdims=True)


def right_scale(songs, profile, half_life):
    """Share of the beats at which the causal key has the right scale."""
    table = np.log([np.roll(profile[m], t) for m in (0, 1) for t in range(12)])
    right = total = same = 0
    for sound, keys in songs:
        past = np.zeros(12)
        for row, k in zip(sound, keys):
            past = past * 0.5 ** (1 / half_life) + row
            if k is None or past.sum() < 1:
                continue
            best = int((table @ past).argmax())
            tonic, minor = best % 12, best // 12
            right += (tonic + 3 * minor) % 12 == (k[0] + 3 * k[1]) % 12
            same += (tonic, minor) == k
            total += 1
    return right / total, same / total


def main():
    folder = Path(sys.argv[1])
    labels = {s["song"]: s["keys"] for s in data.read(folder, "chord-sequences.jsonl.gz")}
    names, songs = [], []
    for path in sorted((folder / "pop909-cl").glob("*.mid")):
        notes = right_hand(path)
        if path.stem not in labels or not notes:
            continue
        count = int(notes[-1][1]) + 1
        keys = [None] * count
        for at, text in labels[path.stem]:
            keys[int(at):] = [data.key(text)] * (count - int(at))
        names.append(path.stem)
        songs.append((beats(notes, count), keys))
    fold = data.folds(names)
    for half_life in (16, 32, HALF_LIFE, 96):
        scores = []
        for f in range(5):
            train = [s for s, g in zip(songs, fold) if g != f]
            test = [s for s, g in zip(songs, fold) if g == f]
            scores.append(right_scale(test, profiles(train), half_life))
        scale, right = 100 * np.mean(scores, 0)
        print(f"half-life {half_life}: right scale {scale:.1f} %, right key {right:.1f} %")
        if half_life == HALF_LIFE:
            held_out = f"five-fold by song: beat by beat the right scale {scale:.1f} %, the right key {right:.1f} %"
    learned_from = folder / "chord-sequences.jsonl.gz"
    model.write("key", {"profiles": ("f32", profiles(songs).round(4))}, 0, [learned_from], held_out)


if __name__ == "__main__":
    main()
