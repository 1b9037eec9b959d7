"""Learns core/models/naming.model: what each set of pitch classes mostly is.

    python tools/hear/train_sets.py DATA

`naming-signs.model` adds up signs, each for itself. Here four tables say what signs
mean together, on top of it: a set and the degree of the root in the key, a set
and its lowest tone, a set and the step from the chord before, the degree and
that step. Trained on
all chord items (POP909-CL), whatever is exactly a complete chord too: it may be
the upper part of another; clean ones that are not exactly one complete chord
count for more. The history is our own, as when names are asked for one by one.
Five-fold check by song on standard error (the signs themselves know all songs).
"""
import re
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import data
import model
from scorer import softmax
from train_key_stream import stream_keys
from train_naming import around, exact, features

SIGNS = model.read("naming-signs")[0]
NAMES = ("tone", "pair", "lowest", "degree", "step", "no_fifth")
NONE = 24  # no key, no chord before
SUBSETS = ("clean", "partial", "noisy")
CLEAN, DECAY, EPOCHS, LEAST, RATE, TURNS = 3.0, 1e-4, 6, 5, 0.02, 3
# Tables are in whole steps of this many nats.
STEP = 1 / 32


class Songs:
    def __init__(self, folder):
        items = data.read(folder, "chord-items.jsonl.gz")
        self.n = n = len(items)
        song = [item["song"] for item in items]
        self.fold = data.folds(song)
        self.root = np.array([item["root_pc"] for item in items])
        self.subset = np.array([item["subset"] for item in items])
        self.first = np.array([i == 0 or song[i] != song[i - 1] for i in range(n)])
        sets = np.zeros((n, 12))
        for i, item in enumerate(items):
            sets[i, [pitch % 12 for pitch in item["pitches_rh"]]] = 1
        low = np.array([item["pitches_rh"][0] % 12 for item in items])
        keys = stream_keys(sets, self.first)
        self.exact, tier = exact(sets)
        self.complete = tier == 1
        classes = np.arange(12)[None]
        self.sets = sets
        self.seen = (around(sets) @ (1 << np.arange(12))).astype(int)
        self.low = (low[:, None] - classes) % 12
        degree = (classes - keys[:, None]) % 12 + 12 * (keys >= 12)[:, None]
        self.degree = np.where((keys < 0)[:, None], NONE, degree)
        nobody, zero = -np.ones(n, int), np.zeros(n, int)
        u = np.concatenate([SIGNS[name].ravel() for name in NAMES])
        self.alone = features(sets, low, keys, nobody, zero, self.exact, tier) @ u
        unclear = ~self.complete | (self.exact.sum(1) > 1)
        self.weight = np.where((self.subset == "clean") & unclear, CLEAN, 1.0)

    def steps(self, root):
        """The step from the chord before, whose third is the one that was heard."""
        before = np.r_[-1, root[:-1]]
        heard = lambda above: self.sets[np.arange(self.n), (root + above) % 12] > 0
        minor = np.r_[0, (heard(3) & ~heard(4)).astype(int)[:-1]]
        step = (np.arange(12)[None] - before[:, None]) % 12 + 12 * minor[:, None]
        return np.where(self.first[:, None], NONE, step)


def fit(songs, step, train):
    """The four tables; a key of a table is a pair of numbers as one."""
    base = songs.alone + np.r_[SIGNS["step"].ravel(), 0.0][step]
    no_key, nobody = songs.degree == NONE, step == NONE
    pairs = [
        (songs.seen * 25 + songs.degree, no_key),
        (songs.seen * 12 + songs.low, np.zeros_like(no_key)),
        (songs.degree * 25 + step, no_key | nobody),
        (songs.seen * 25 + step, nobody),
    ]
    kinds, places = [], []
    for pair, unknown in pairs:
        kind, count = np.unique(pair[train][~unknown[train]], return_counts=True)
        kind = kind[count >= LEAST]
        at = np.clip(np.searchsorted(kind, pair), 0, len(kind) - 1)
        kinds.append(kind)
        places.append(np.where((kind[at] == pair) & ~unknown, at, len(kind)))
    value = [np.zeros(len(kind) + 1) for kind in kinds]
    first, second = [np.zeros_like(v) for v in value], [np.zeros_like(v) for v in value]
    draw, batch, t = np.random.RandomState(0), 256, 0
    total = EPOCHS * (len(train) // batch)
    for _ in range(EPOCHS):
        order = draw.permutation(train)
        for a in range(0, len(train) - batch + 1, batch):
            ix = order[a : a + batch]
            score = base[ix] + sum(v[p[ix]] for v, p in zip(value, places))
            back = softmax(score)
            back[np.arange(batch), songs.root[ix]] -= 1
            back *= songs.weight[ix][:, None] / batch
            t += 1
            rate = RATE * min(1, t / 50) * 0.5 * (1 + np.cos(np.pi * t / total))
            for k, place in enumerate(places):
                slope = np.bincount(place[ix].ravel(), back.ravel(), len(value[k]))
                slope[-1] = 0
                slope += DECAY * value[k]
                first[k] += 0.1 * (slope - first[k])
                second[k] += 0.01 * (slope**2 - second[k])
                value[k] -= rate * (first[k] / (1 - 0.9**t)) / (np.sqrt(second[k] / (1 - 0.99**t)) + 1e-8)
    value = [np.round(v / STEP) for v in value]
    score = base + STEP * sum(v[p] for v, p in zip(value, places))
    return list(zip(kinds, value)), softmax(score)


def name(songs, odds):
    """What is exactly a complete chord is that chord."""
    return np.where(songs.complete[:, None] & ~songs.exact, 0, odds).argmax(1)


def error(said, right):
    """Expected calibration error over ten bins of equal width."""
    place = np.minimum((said * 10).astype(int), 9)
    bins = [place == n for n in range(10) if (place == n).any()]
    return sum(b.mean() * abs(said[b].mean() - right[b].mean()) for b in bins)


def report(name, songs, root, odds):
    right = root == songs.root
    said = ", ".join(f"{s} {100 * right[songs.subset == s].mean():.2f}" for s in SUBSETS)
    said = f"{name}: the right root of all chord items {100 * right.mean():.2f} % ({said})"
    said += f"; certainty of it: calibration error {error(odds[np.arange(songs.n), root], right):.3f}"
    print(said, file=sys.stderr)
    return said


def main():
    songs, said = Songs(sys.argv[1]), []
    for on, parts in (("five-fold by song", range(5)), ("the same songs", [None])):
        root = songs.root
        for _ in range(TURNS):
            step, odds = songs.steps(root), np.zeros((songs.n, 12))
            for k in parts:
                train = np.arange(songs.n) if k is None else np.where(songs.fold != k)[0]
                asked = slice(None) if k is None else songs.fold == k
                tables, found = fit(songs, step, train)
                odds[asked] = found[asked]
            root = name(songs, odds)
        said.append(report(on, songs, root, odds))
    write(tables, sys.argv[1], said[0])


def write(tables, folder, held_out):
    (pairs, degrees), (lows, lowest), (steps, together), (goes, going) = tables
    seen = np.unique(np.r_[pairs // 25, lows // 12, goes // 25])
    row = {s: i for i, s in enumerate(seen)}
    degree, go = np.zeros((len(seen), 24), int), np.zeros((len(seen), 24), int)
    low, both = np.zeros((len(seen), 12), int), np.zeros((24, 24), int)
    for pair, value in zip(pairs, degrees):
        degree[row[pair // 25], pair % 25] = value
    for pair, value in zip(goes, going):
        go[row[pair // 25], pair % 25] = value
    for pair, value in zip(lows, lowest):
        low[row[pair // 12], pair % 12] = value
    for pair, value in zip(steps, together):
        both[pair // 25, pair % 25] = value
    arrays = {
        "seen": ("u16", seen),
        "degree": ("i8", np.clip(degree, -128, 127)),
        "lowest": ("i8", np.clip(low, -128, 127)),
        "step": ("i8", np.clip(go, -128, 127)),
        "together": ("i8", np.clip(both, -128, 127)),
    }
    items = Path(folder) / "chord-items.jsonl.gz"
    model.write("naming", arrays, 0, [items], held_out)


if __name__ == "__main__":
    main()
