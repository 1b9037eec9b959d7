"""Learns the weights of core/src/hear/ear/weights.rs.

    cargo run --release -p sinistra-core --example hearing -- DATA --teach --dump a.f32
    cargo run --release -p sinistra-core --example hearing -- DATA --dump b.f32   # and so on
    python tools/hear/train_ear.py a.f32 b.f32 … > core/src/hear/ear/weights.rs

The dumps hold what the ear itself gathered (ear/signs.rs) at every moment at
which it was asked, with the right root: once with the right chord told after
every question (--teach), then with the ear's own answers, with strokes moved
(--jitter 25) and with the left hand heard (--left). Five-fold check by song
on standard error; `--check` stops there.
"""
import sys

import numpy as np

import data

CLASSES, STEPS, SCALARS, GLOBALS = 16, 5, 14, 25
HEAD = 4  # song, beat, root, beats since the labelled onset
ROW = HEAD + 12 * (CLASSES + STEPS) + 12 * SCALARS + GLOBALS
INPUTS = 12 * (CLASSES + STEPS) + SCALARS
HIDDEN = 16
# Fields of scorer.rs `Weights` in their order.
FIELDS = [("direct", "u"), ("inner", "W"), ("global", "V"), ("bias", "b"), ("out", "w")]


def read(path):
    return np.fromfile(path, "<f4").reshape(-1, ROW)


def thinned(rows, seed=0):
    """All the onsets and what comes soon after them, a third of the rest."""
    ago = rows[:, 3]
    keep = (np.abs(ago) < 0.14) | (np.random.RandomState(seed).rand(len(rows)) < 0.3)
    return rows[keep]


# The input that the class (or point) p of a block is to the candidate c:
# classes are seen from the root upward, roots from the point.
PLACES = 12 * (CLASSES + STEPS)
_c, _p = np.arange(12)[None, None, :], np.arange(12)[None, :, None]
_b = np.arange(CLASSES + STEPS)[:, None, None]
SEEN = (_b * 12 + np.where(_b < CLASSES, _p - _c, _c - _p) % 12).reshape(PLACES, 12)
BY_INPUT = np.argsort(SEEN.ravel(), kind="stable")


def split(rows):
    """Blocks (n, PLACES), scalars (n, 12, SCALARS), globals (n, GLOBALS)."""
    blocks = np.ascontiguousarray(rows[:, HEAD : HEAD + PLACES])
    scalars = rows[:, HEAD + PLACES : HEAD + PLACES + 12 * SCALARS].reshape(-1, 12, SCALARS)
    return blocks, scalars, rows[:, -GLOBALS:]


def shared(gradient):
    """(PLACES, 12, k), a row an input and candidate, to (PLACES, k), a row an input."""
    flat = gradient.reshape(PLACES * 12, -1)
    return flat[BY_INPUT].reshape(PLACES, 12, -1).sum(1)


def weights_of(rows):
    """The moment of the onset matters most; the rest of the chord less."""
    ago = rows[:, 3]
    w = np.where(np.abs(ago) < 0.14, 3.0, np.where(ago < 1.1, 1.0, 0.5))
    return w.astype(np.float32)


def softmax(z):
    e = np.exp(z - z.max(1, keepdims=True))
    return e / e.sum(1, keepdims=True)


def forward(p, blocks, scalars, g):
    n = len(blocks)
    u, w = p["u"], p["W"]
    z = (blocks @ w[SEEN].reshape(PLACES, -1)).reshape(n, 12, HIDDEN)
    z += scalars @ w[PLACES:] + (g @ p["V"])[:, None, :] + p["b"]
    h = np.maximum(z, 0)
    return blocks @ u[SEEN] + scalars @ u[PLACES:] + h @ p["w"], z, h


def predict(p, rows, batch=4096):
    return np.concatenate(
        [softmax(forward(p, *split(rows[a : a + batch]))[0]) for a in range(0, len(rows), batch)]
    )


def train(rows, epochs=14, rate=5e-3, decay=4e-3, batch=512, seed=0):
    rng = np.random.RandomState(seed)
    n, f, h = len(rows), INPUTS, HIDDEN
    p = {
        "u": np.zeros(f),
        "W": rng.randn(f, h) * np.sqrt(0.5 / f),
        "V": rng.randn(GLOBALS, h) * np.sqrt(0.5 / GLOBALS),
        "b": np.zeros(h),
        "w": rng.randn(h) * 0.2,
    }
    p = {k: v.astype(np.float32) for k, v in p.items()}
    m = {k: np.zeros_like(v) for k, v in p.items()}
    v = {k: np.zeros_like(q) for k, q in p.items()}
    y, weight = rows[:, 2].astype(int), weights_of(rows)
    steps, t = epochs * (n // batch), 0
    for _ in range(epochs):
        order = rng.permutation(n)
        for a in range(0, n - batch + 1, batch):
            ix = order[a : a + batch]
            blocks, scalars, g = split(rows[ix])
            s, z, hid = forward(p, blocks, scalars, g)
            d = softmax(s)
            d[np.arange(batch), y[ix]] -= 1
            d *= (weight[ix] / weight[ix].sum())[:, None]
            dz = (d[:, :, None] * p["w"]) * (z > 0)
            flat = dz.reshape(-1, h)
            by_candidate = scalars.reshape(-1, SCALARS)
            grad = {
                "u": np.concatenate([shared(blocks.T @ d)[:, 0], d.ravel() @ by_candidate]),
                "W": np.concatenate([shared(blocks.T @ dz.reshape(batch, -1)), by_candidate.T @ flat]),
                "V": g.T @ dz.sum(1),
                "b": flat.sum(0),
                "w": d.ravel() @ hid.reshape(-1, h),
            }
            t += 1
            step = rate * min(1, t / 100) * 0.5 * (1 + np.cos(np.pi * t / steps))
            for k in p:
                m[k] = 0.9 * m[k] + 0.1 * grad[k]
                v[k] = 0.99 * v[k] + 0.01 * grad[k] ** 2
                unit = (m[k] / (1 - 0.9**t)) / (np.sqrt(v[k] / (1 - 0.99**t)) + 1e-8)
                p[k] -= (step * (unit + decay * p[k])).astype(np.float32)
    return p


def report(rows, p, name):
    right, ago = p.argmax(1) == rows[:, 2], rows[:, 3]
    on_eighth = np.abs(rows[:, 1] * 2 - np.round(rows[:, 1] * 2)) < 1e-3
    moments = {"onset": 0.0, "half": 0.5, "beat": 1.0}
    parts = [f"{k} {right[on_eighth & (np.abs(ago - at) < 0.14)].mean():.4f}" for k, at in moments.items()]
    print(f"{name}: all {right.mean():.4f}", *parts, file=sys.stderr)


def main():
    paths = [a for a in sys.argv[1:] if not a.startswith("--")]
    dumps = [thinned(read(path)) for path in paths]
    every = np.concatenate(dumps)
    fold_of = dict(zip(*(lambda s: (s, data.folds(s)))(sorted(set(every[:, 0])))))
    if "--nocheck" not in sys.argv:
        folds = range(1) if "--quick" in sys.argv else range(5)
        odds = [np.zeros((len(d), 12), np.float32) for d in dumps]
        keep = [np.isin([fold_of[s] for s in d[:, 0]], list(folds)) for d in dumps]
        for f in folds:
            p = train(every[np.array([fold_of[s] != f for s in every[:, 0]])])
            for d, o in zip(dumps, odds):
                test = np.array([fold_of[s] == f for s in d[:, 0]])
                o[test] = predict(p, d[test])
        for path, d, o, k in zip(paths, dumps, odds, keep):
            report(d[k], o[k], path)
    if "--check" in sys.argv:
        return
    p = train(every)
    if not every[:, HEAD + 12 * 14 : HEAD + 12 * 16].any():
        # No left hand was heard: what it says was not learned.
        p["u"][12 * 14 : 12 * 16] = 0
        p["W"][12 * 14 : 12 * 16] = 0
        p["V"][23] = 0
    if "--raw" in sys.argv:
        # For the example's --weights, without building anew.
        row = np.concatenate([p[k].ravel() for _, k in FIELDS]).astype("<f4")
        row.tofile(sys.stdout.buffer)
        return
    print("//! Weights of the scorer of the twelve roots.")
    print("//!")
    print("//! Learned from POP909-CL (Yao et al., 2025; MIT licence) by")
    print("//! `python tools/hear/train_ear.py`, which prints this file.\n")
    print("use super::scorer::Weights;\n")
    print("/// What the scorer has learned.")
    print("#[rustfmt::skip]\n#[allow(clippy::approx_constant)] // by chance\npub static WEIGHTS: Weights = Weights {")
    for name, k in FIELDS:
        print(f"    {name}: {data.rust_values(p[k], 4)},")
    print("};")


if __name__ == "__main__":
    main()
