"""The training songs as root changes, and the noise that hearing makes."""

import gzip
import json

import numpy as np

TRIADS = {"maj": 0, "min": 1, "dim": 2, "aug": 3, "sus2": 4, "sus4": 5, "5": 6}

# Roots said instead of the true one, by plain hearing of the right hand
# (said minus true, semitones): a third or a fifth away far more often than not.
# Between two counts, so that neither ear is learned by heart.
CONFUSED = np.array([0, 1, 4, 8, 11, 11, 1, 12, 6, 11, 4, 1], float)
CONFUSED /= CONFUSED.sum()


def read(path):
    """Songs of `chord-sequences.jsonl.gz`; neighbours of one root told as one."""
    songs = []
    for line in gzip.open(path, "rt"):
        entry = json.loads(line)
        chords = []
        for onset, lasts, root, triad, _quality, _bass, gap in entry["chords"]:
            if chords and chords[-1][1] == root and not chords[-1][3]:
                chords[-1][3] = gap
                continue
            if chords and chords[-1][1] == root:
                continue
            chords.append([onset, root, TRIADS[triad], gap, root])
        songs.append({"song": entry["song"], "chords": chords})
    return songs


def variant(song, held=False, wrong=0.0, always=False, shuffled=False, seed=0):
    """The song as it might be heard: `wrong` of the chords misnamed at random
    (or that share of its chord types always misnamed); with its roots
    `shuffled`, so that only the song itself can tell what comes."""
    draw = np.random.RandomState(seed)
    chords = [list(chord) for chord in song["chords"]]
    if shuffled:
        order = draw.permutation(12)
        for chord in chords:
            chord[1] = chord[4] = int(order[chord[4]])
    if always:
        for root, triad in sorted({(c[1], c[2]) for c in chords}):
            if draw.rand() < wrong:
                by = int(draw.choice(12, p=CONFUSED))
                for chord in chords:
                    if (chord[4], chord[2]) == (root, triad):
                        chord[1] = (root + by) % 12
    elif wrong:
        for chord in chords:
            if draw.rand() < wrong:
                chord[1] = (chord[1] + int(draw.choice(12, p=CONFUSED))) % 12
    return {"held": held, "chords": chords}
