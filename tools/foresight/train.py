"""Trains the tables and weights of foresight.

    python tools/foresight/train.py DATA/chord-sequences.jsonl.gz            the shipped tables
    python tools/foresight/train.py DATA/chord-sequences.jsonl.gz --folds DIR  five-fold models

Needs Python 3, numpy and cargo. The songs are POP909-CL (Yao et al., "BACHI",
2025; MIT licence), after POP909 (Wang et al., ISMIR 2020; MIT licence).

The features come from the program itself (`core/examples/foresight_features.rs`),
so that there is one definition of them. The odds of a training song are made
from other songs than itself, as the odds of a new song will be.
"""

import argparse
import json
import os
import subprocess

# Small matrices: one thread is faster than several that wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

import net
import odds
import records
import ship
import songs as songbook

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
FOLDS = 5
# Shares of misnamed chords that training hears.
WRONG = (0.03, 0.22)
# They teach a little more doubt than a well-heard song deserves: its odds come
# out truest, five-fold, when the scores are made larger by so much.
SHARPER = 1.015


def build():
    command = ["cargo", "build", "--release", "-p", "sinistra-core", "--example"]
    subprocess.run(command + ["foresight_features"], cwd=ROOT, check=True)
    target = os.environ.get("CARGO_TARGET_DIR", os.path.join(ROOT, "target"))
    return os.path.join(target, "release", "examples", "foresight_features")


def folds_of(songs, seed=0):
    return np.random.RandomState(seed).permutation(len(songs)) % FOLDS


def heard_as(songs, seed):
    """What training hears of each song: as it is, twice, so that a well-heard
    song is foreseen with the certainty it deserves; asked while chords hold;
    four times with misnamed chords, from nearly none to every fifth; with
    shuffled roots, so that the song's own memory is learned to be worth more
    than the odds."""
    draw = np.random.RandomState(seed)
    out = []
    for song in songs:
        pick = lambda: int(draw.randint(1 << 30))
        out.extend([songbook.variant(song)] * 2)
        out.append(songbook.variant(song, held=True, seed=pick()))
        misnamed = lambda: dict(
            held=bool(draw.rand() < 0.3),
            wrong=float(draw.uniform(*WRONG)),
            always=bool(draw.rand() < 0.2),
        )
        for _ in range(4):
            out.append(songbook.variant(song, **misnamed(), seed=pick()))
        if draw.rand() < 0.35:
            held = bool(draw.rand() < 0.3)
            out.append(songbook.variant(song, held=held, shuffled=True, seed=pick()))
        if draw.rand() < 0.2:
            out.append(songbook.variant(song, **misnamed(), shuffled=True, seed=pick()))
    return out


def training_records(program, songs, keys, seed):
    parts, fold = [], folds_of(songs, seed + 1)
    for k in range(FOLDS):
        model = odds.fit([s for s, f in zip(songs, fold) if f != k], keys)
        inside = [s for s, f in zip(songs, fold) if f == k]
        parts.append(records.compute(program, model, heard_as(inside, seed + k)))
    return np.concatenate(parts)


def fit(program, songs, keys, options, seed=0):
    rows = training_records(program, songs, keys, seed)
    print(f" {len(songs)} songs, {len(rows)} moments", flush=True)
    log = lambda text: print(text, flush=True) if options.verbose else None
    roots, times = (
        net.train(data, hidden, options.epochs, drop=options.drop, log=log)
        for data, hidden in (
            (records.Roots(rows), options.hidden),
            # Half of the moments are enough for the time.
            (records.Times(rows[::2]), options.hidden_time),
        )
    )
    net.sharpen(roots, SHARPER)
    flat = lambda n: {k: np.round(v.astype(float), 4).ravel().tolist() for k, v in n.items()}
    return {**odds.fit(songs, keys), "roots": flat(roots), "times": flat(times)}, (roots, times)


def figures(program, model, nets, songs, **how):
    """Quick look; the full figures come from `foresight_figures`."""
    rows = records.compute(program, model, [songbook.variant(s, seed=i, **how) for i, s in enumerate(songs)])
    wrong_now = (rows[:, 2] == rows[:, 3]).sum()
    r, t = records.Roots(rows), records.Times(rows, train=False)
    p, q = net.odds(nets[0], r), net.odds(nets[1], t)
    y, first = r.records[:, 3], r.records[:, 1] < 15
    right, sure = p.argmax(1) == y, p.max(1) >= 0.8
    bits = -np.log2(np.maximum(p[np.arange(len(y)), y], 1e-6))
    spans = t.records[:, 10 : 10 + records.SPANS]
    said = spans[np.arange(t.n), q.argmax(1)]
    when = np.abs(said - t.records[:, 6]) <= 250
    return dict(
        n=len(y) + int(wrong_now),
        right=right.sum(),
        first_n=first.sum(),
        first=right[first].sum(),
        sure=sure.sum(),
        sure_right=(right & sure).sum(),
        bits=bits.sum(),
        when_n=t.n,
        when=when.sum(),
    )


def show(name, parts):
    total = {k: sum(float(p[k]) for p in parts) for k in parts[0]}
    n = total["n"]
    rest = (total["right"] - total["first"]) / (n - total["first_n"])
    print(
        f"{name:12} root {100 * total['right'] / n:.2f} (first 16 {100 * total['first'] / max(total['first_n'], 1):.1f},"
        f" rest {100 * rest:.1f}), sure {100 * total['sure'] / n:.1f} right {100 * total['sure_right'] / max(total['sure'], 1):.1f},"
        f" {total['bits'] / n:.3f} bits; time {100 * total['when'] / total['when_n']:.2f}",
        flush=True,
    )


HEARD = {
    "as it is": {},
    "held": {"held": True},
    "5 % wrong": {"wrong": 0.05},
    "15 % wrong": {"wrong": 0.15},
    "15 % always": {"wrong": 0.15, "always": True},
    "shuffled": {"shuffled": True},
}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("data")
    parser.add_argument("--held-out", default="not measured", help="figures for the header")
    parser.add_argument("--folds", help="write five-fold models into this folder")
    parser.add_argument("--only", type=int, nargs="*", default=range(FOLDS), help="these folds")
    parser.add_argument("--hidden", type=int, default=24)
    parser.add_argument("--hidden-time", type=int, default=12)
    parser.add_argument("--epochs", type=int, default=7)
    parser.add_argument("--drop", type=float, default=0.0)
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    program = build()
    songs = songbook.read(options.data)
    keys = odds.signatures(songs, options.data)
    if not options.folds:
        model, _ = fit(program, songs, keys, options)
        ship.write(model, options.data, options.held_out)
        return
    os.makedirs(options.folds, exist_ok=True)
    fold = folds_of(songs)
    listing = {s["song"]: int(f) for s, f in zip(songs, fold)}
    with open(os.path.join(options.folds, "folds.json"), "w") as file:
        json.dump(listing, file)
    parts = {name: [] for name in HEARD}
    for k in options.only:
        train = [s for s, f in zip(songs, fold) if f != k]
        test = [s for s, f in zip(songs, fold) if f == k]
        model, nets = fit(program, train, keys, options, seed=100 * (k + 1))
        with open(os.path.join(options.folds, f"fold{k}.json"), "w") as file:
            json.dump(model, file)
        for name, how in HEARD.items():
            parts[name].append(figures(program, model, nets, test, **how))
            show(f"{k}: {name}", parts[name][-1:])
    for name, part in parts.items():
        show(name, part)


if __name__ == "__main__":
    main()
