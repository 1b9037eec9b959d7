"""Learns core/models/naming-signs.model.

    python tools/hear/train_naming.py DATA

A log-linear scorer of the twelve candidate roots from the set of pitch
classes, the lowest one, the key and the chord before. Trained on all chord
items (POP909-CL), and on the same with tones taken away, so that one- and
two-note hints have weights too. Five-fold check by song on standard error.
"""
import sys
from itertools import combinations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import data
import model
import scorer
from train_key_stream import stream_keys

PAIRS = list(combinations(range(12), 2))
# A kind of the standard, complete (hear/naming/vocabulary.rs, Tier::Plain).
PLAIN = [[0, 4, 7], [0, 3, 7], [0, 4, 8], [0, 3, 6], [0, 4, 7, 10], [0, 4, 7, 11], [0, 3, 7, 10],
         [0, 3, 6, 9], [0, 4, 8, 10], [0, 3, 6, 10], [0, 3, 7, 11], [0, 4, 7, 9], [0, 3, 7, 9],
         [0, 2, 4, 7, 10], [0, 2, 4, 7, 11], [0, 2, 3, 7, 10], [0, 2, 7], [0, 5, 7], [0, 7]]
EXTENDED = [[0, 2, 4, 7], [0, 2, 3, 7], [0, 5, 7, 10], [0, 2, 5, 7, 10], [0, 2, 4, 7, 9], [0, 4, 5, 7],
            [0, 3, 5, 7], [0, 3, 5, 7, 10]]
NO_FIFTH = [[0, 4, 10], [0, 3, 10], [0, 4, 11], [0, 2, 4, 10], [0, 2, 3, 10], [0, 2, 4, 11]]


def around(v):
    """(n, 12) -> (n, candidate, semitones above the candidate)."""
    return v[:, (np.arange(12)[:, None] + np.arange(12)) % 12]


def exact(sets):
    """(n, 12) roots on which a set is exact in its best tier, and the tier."""
    tiers = {}
    for tier, kinds in ((3, NO_FIFTH), (2, EXTENDED), (1, PLAIN)):
        for tones in kinds:
            tiers[sum(1 << t for t in tones)] = tier
    out, best = np.zeros(sets.shape, bool), np.zeros(len(sets), int)
    seen = around(sets) @ (1 << np.arange(12))
    for i, row in enumerate(seen.astype(int)):
        t = np.array([tiers.get(x, 9) for x in row])
        if t.min() < 9:
            best[i] = t.min()
            out[i] = t == t.min()
    return out, best


def features(sets, low, keys, before, before_minor, exact_roots, tier):
    one = np.eye(12)
    tone = around(sets)
    pair = np.stack([tone[:, :, i] * tone[:, :, j] for i, j in PAIRS], 2)
    # around() gives "key's tonic as semitones above the candidate"; the
    # weights count degrees: the candidate above the tonic.
    tonic = np.where((keys >= 0)[:, None], one[keys % 12], 0)
    degree = around(tonic)[:, :, (-np.arange(12)) % 12]
    minor = (keys >= 12)[:, None, None]
    last = np.where((before >= 0)[:, None], one[before], 0)
    step = around(last)[:, :, (-np.arange(12)) % 12]
    no_fifth = (exact_roots & (tier == 3)[:, None])[:, :, None]
    return np.concatenate([tone, pair, around(one[low]), degree * ~minor, degree * minor,
                           step * (before_minor == 0)[:, None, None],
                           step * (before_minor == 1)[:, None, None], no_fifth], 2).astype(np.float32)


def main():
    items = data.read(sys.argv[1], "chord-items.jsonl.gz")
    n = len(items)
    song = [r["song"] for r in items]
    fold = data.folds(song)
    y = np.array([r["root_pc"] for r in items])
    minor = np.array([r["quality"].startswith(data.MINOR_QUALITIES) for r in items]).astype(int)
    subset = np.array([r["subset"] for r in items])
    sets = np.zeros((n, 12))
    for i, r in enumerate(items):
        sets[i, [p % 12 for p in r["pitches_rh"]]] = 1
    low = np.array([r["pitches_rh"][0] % 12 for r in items])
    first = np.array([i == 0 or song[i] != song[i - 1] for i in range(n)])
    keys = stream_keys(sets, first)
    exact_roots, tier = exact(sets)
    rng = np.random.RandomState(1)

    def before_of(root, quality):
        before = np.r_[-1, root[:-1]]
        before[first] = -1
        return before, np.r_[0, quality[:-1]]

    def decide(p):
        allowed = np.where((tier == 0)[:, None] | (tier == 3)[:, None], True, exact_roots)
        return np.where(allowed, p, 0).argmax(1)

    def hints(ix, before, before_minor):
        """The same items with one or two tones left, now and then after the same chord."""
        few, lows = np.zeros((len(ix), 12)), np.zeros(len(ix), int)
        for row, i in enumerate(ix):
            tones = [p % 12 for p in items[i]["pitches_rh"]]
            kept = sorted(rng.choice(len(tones), rng.randint(1, 3), replace=False))
            few[row, [tones[k] for k in kept]] = 1
            lows[row] = tones[kept[0]]
        same = rng.rand(len(ix)) < 0.4
        b = np.where(same, y[ix], before[ix])
        q = np.where(same, minor[ix], before_minor[ix])
        e, t = exact(few)
        return features(few, lows, keys[ix], b, q, e, t)

    def fit(ix, before, before_minor):
        known = features(sets[ix], low[ix], keys[ix], before[ix], before_minor[ix], exact_roots[ix], tier[ix])
        # A third of the time no key, a third no chord before.
        k = np.where(rng.rand(len(ix)) < 0.33, -1, keys[ix])
        b = np.where(rng.rand(len(ix)) < 0.33, -1, before[ix])
        bare = features(sets[ix], low[ix], k, b, before_minor[ix], exact_roots[ix], tier[ix])
        x = np.concatenate([known, bare, hints(ix, before, before_minor)])
        w = np.repeat([1.0, 0.4, 0.3], len(ix))
        return scorer.train(x, np.tile(y[ix], 3), w, epochs=8, decay=3e-3)

    root = y
    for turn in range(3):
        before, before_minor = before_of(root, minor)
        if turn == 2:
            break
        x = features(sets, low, keys, before, before_minor, exact_roots, tier)
        p = np.zeros((n, 12))
        for f in range(5):
            p[fold == f] = scorer.predict(fit(np.where(fold != f)[0], before, before_minor), x[fold == f])
        root = decide(p)
        right = root == y
        print(f"turn {turn}: all {right.mean():.4f}", {s: round(right[subset == s].mean(), 4) for s in set(subset)},
              {int(t): (round(right[tier == t].mean(), 3), int((tier == t).sum())) for t in range(4)}, file=sys.stderr)
    u = fit(np.arange(n), before, before_minor)["u"]
    at, arrays = 0, {}
    for name, shape in (("tone", 12), ("pair", 66), ("lowest", 12), ("degree", (2, 12)), ("step", (2, 12)), ("no_fifth", 1)):
        size = int(np.prod(shape))
        # Four places are what songs can tell.
        arrays[name] = ("f32", np.round(u[at : at + size], 4).reshape(shape))
        at += size
    by = ", ".join(f"{s} {100 * right[subset == s].mean():.2f}" for s in ("clean", "partial", "noisy"))
    held_out = f"five-fold by song: the right root of all chord items {100 * right.mean():.2f} % ({by})"
    model.write("naming-signs", arrays, 1, [Path(sys.argv[1]) / "chord-items.jsonl.gz"], held_out)


if __name__ == "__main__":
    main()
