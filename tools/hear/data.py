"""Reads the open data that hearing is trained on.

POP909-CL (Yao et al., "BACHI: Boundary-Aware Symbolic Chord Recognition",
2025; MIT licence) and chord items derived from it. The folder holds
`pop909-cl/NNN.mid`, `chord-items.jsonl.gz` and `chord-sequences.jsonl.gz`.
"""
import gzip
import json
from pathlib import Path

import numpy as np

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
MINOR_QUALITIES = ("min", "dim", "hdim")


def read(folder, name):
    """The records of a gzipped file of JSON lines."""
    with gzip.open(Path(folder) / name, "rt") as lines:
        return [json.loads(line) for line in lines]


def pitch_class(name):
    """'Gb' -> 6."""
    return (LETTERS[name[0]] + name.count("#") - name[1:].count("b")) % 12


def key(text):
    """'Gb:maj', 'Ebm' or 'Gb' -> (tonic 0..11, 1 if minor); None -> None."""
    if not text:
        return None
    tonic, _, mode = text.partition(":")
    minor = mode.startswith("min") or tonic.endswith("m")
    return pitch_class(tonic.rstrip("m")), int(minor)


def folds(songs, count=5):
    """A fold 0..count-1 for every record, by song, always the same."""
    names = sorted(set(songs))
    order = np.random.RandomState(0).permutation(len(names)) % count
    fold = dict(zip(names, order))
    return np.array([fold[song] for song in songs])
