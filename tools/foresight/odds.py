"""Chord-to-chord odds: counts once a song, smoothed from short to long context."""

import json
import os

import numpy as np

COARSE = [0, 1, 1, 0, 2, 2, 2]


def signatures(songs, path):
    """The key signature (major tonic) at each root change, by song name."""
    import gzip

    names = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

    def tonic(key):
        minor = key.endswith("m") or ":min" in key
        letters = key.split(":")[0].rstrip("m")
        pc = names[letters[0]] + letters.count("#") - letters[1:].count("b")
        return (pc + (3 if minor else 0)) % 12

    keys = {}
    for line in gzip.open(path, "rt"):
        entry = json.loads(line)
        keys[entry["song"]] = [(beat, tonic(key)) for beat, key in entry["keys"]]

    def at(song, onset):
        found = keys[song][0][1]
        for beat, key in keys[song]:
            if beat <= onset + 1e-6:
                found = key
        return found

    return {s["song"]: [at(s["song"], c[0]) for c in s["chords"]] for s in songs}


def count(songs, keys):
    """Tables of counts, candidate last (semitones above the present root)."""
    tables = {
        "after_one": np.zeros((7, 12)),
        "after_two": np.zeros((12, 3, 7, 12)),
        "after_three": np.zeros((12, 12, 3, 12)),
        "in_key": np.zeros((12, 7, 12)),
        "in_key_two": np.zeros((12, 12, 3, 12)),
    }
    degrees = np.full((12, 7), 0.5)
    for song in songs:
        seen = set()
        chords, key = song["chords"], keys[song["song"]]
        for i, (_, root, triad, _gap, _) in enumerate(chords):
            degrees[(root - key[i]) % 12, triad] += 1
            if i + 1 == len(chords) or chords[i + 1][1] == root:
                continue
            to = (chords[i + 1][1] - root) % 12
            degree = (root - key[i]) % 12
            cells = [("after_one", (triad,)), ("in_key", (degree, triad))]
            if i >= 1:
                before = chords[i - 1]
                moved = (root - before[1]) % 12
                cells.append(("after_two", (moved, COARSE[before[2]], triad)))
                from_degree = (before[1] - key[i]) % 12
                cells.append(("in_key_two", (from_degree, degree, COARSE[triad])))
            if i >= 2:
                first = (chords[i - 1][1] - chords[i - 2][1]) % 12
                cells.append(("after_three", (first, moved, COARSE[triad])))
            for name, cell in cells:
                # A loop counts once, however often the song goes round it.
                if (name, cell, to) not in seen:
                    seen.add((name, cell, to))
                    tables[name][cell][to] += 1
    return tables, degrees


def smooth(counts, lower):
    """Witten-Bell: as many doubts as there are different successors."""
    kinds = np.count_nonzero(counts, axis=-1, keepdims=True)
    total = counts.sum(-1, keepdims=True)
    return (counts + np.maximum(kinds, 1) * lower) / (total + np.maximum(kinds, 1))


def fit(songs, keys):
    """The tables as the program reads them."""
    tables, degrees = count(songs, keys)
    flat = np.full(12, 1 / 11)
    flat[0] = 0
    one_all = smooth(tables["after_one"].sum(0), flat)
    one = smooth(tables["after_one"], one_all)
    two = smooth(tables["after_two"], one[None, None])
    # Over the coarse triad of the present chord, for the longer contexts.
    coarse = np.stack(
        [tables["after_one"][[t for t in range(7) if COARSE[t] == c]].sum(0) for c in range(3)]
    )
    coarse = smooth(coarse, one_all)
    pair = np.stack(
        [
            tables["after_two"][:, :, [t for t in range(7) if COARSE[t] == c]].sum((1, 2))
            for c in range(3)
        ],
        axis=1,
    )
    pair = smooth(pair, coarse[None])
    three = smooth(tables["after_three"], pair[None])
    in_key = smooth(tables["in_key"], one[None])
    key_coarse = np.stack(
        [tables["in_key"][:, [t for t in range(7) if COARSE[t] == c]].sum(1) for c in range(3)],
        axis=1,
    )
    key_coarse = smooth(key_coarse, coarse[None])
    in_key_two = smooth(tables["in_key_two"], key_coarse[None])

    def bytes_of(odds):
        with np.errstate(divide="ignore"):
            value = np.round(-np.log(odds) * 32)
        return np.where(odds > 0, np.minimum(value, 254), 255).astype(int).ravel().tolist()

    return {
        "degrees": np.round(np.log(degrees / degrees.sum()), 3).ravel().tolist(),
        "after_one": bytes_of(one),
        "after_two": bytes_of(two),
        "after_three": bytes_of(three),
        "in_key": bytes_of(in_key),
        "in_key_two": bytes_of(in_key_two),
    }
