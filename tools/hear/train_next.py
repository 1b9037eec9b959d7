"""Learns what comes next, end to end: core/models/next.model.

    cargo build --release -p sinistra-tests --example song_figures
    for n in "" "--player 1" "--player 2" "--player 3"; do
        target/release/examples/song_figures DATA everything-mixed --learned WORK $n --rows WORK/next-${n##* }.rows
    done
    python tools/hear/train_next.py WORK WORK/next-*.rows
    python tools/hear/train_next.py --write DATA WORK

The first rows are real right hands, those of a number made-up players of whole
chords. Learned in the folds of `train_ear.py` (WORK/0 …) and from all songs
(WORK/all); the check by song goes to standard
error, and with the weights into WORK/all, from where `--write` takes both.
"""
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import model
import scorer

HEAD, OWN, SHARED, HIDDEN = 7, 8, 8, 16
SAID = SHARED + 6
NEAR = 1 / 8  # of a beat
MADE_UP_WEIGHT = 0.25


def load(paths):
    parts, made_up = [], []
    for path in paths:
        rows = np.fromfile(path, "<f4").reshape(-1, HEAD + 12 * OWN + SHARED)
        parts.append(rows)
        made_up.append(np.full(len(rows), not Path(path).stem.endswith("-")))
    return np.concatenate(parts), np.concatenate(made_up)


def nats(odds):
    return np.log(odds + 0.01) / 2 + 1.5


def candidates(rows):
    own = rows[:, HEAD : HEAD + 12 * OWN].reshape(-1, OWN, 12).transpose(0, 2, 1)
    shared = np.repeat(rows[:, None, HEAD + 12 * OWN :], 12, 1)
    return np.concatenate([own, shared], 2)


def of_said(x, odds, said):
    """`Signs::of_said`; the other candidate is nothing."""
    n = np.arange(len(x))
    second = odds.copy()
    second[n, said] = 0
    own = np.stack([nats(odds[n, said]), second.max(1), x[n, said, 2], x[n, said, 0], x[n, said, 6], x[n, said, 7]], 1)
    row = np.concatenate([x[:, 0, OWN:], own], 1)
    return np.stack([row, np.zeros_like(row)], 1)


def holds(x):
    """The root that the ear says holds; 12 for none."""
    held = x[:, :, 4]
    return np.where(held.max(1) > 0.5, held.argmax(1), 12)


def said_of(x, odds):
    odds = np.concatenate([odds, np.zeros((len(odds), 1))], 1)
    odds[np.arange(len(odds)), holds(x)] = -1
    return odds[:, :12].argmax(1)


def fit(x, rows, weight, seed=0):
    how = dict(hidden=HIDDEN, epochs=4, rate=0.01, decay=1e-3, batch=1024)
    next_ = scorer.train(x, rows[:, 3].astype(int), weight, seed=seed, **how)
    odds = scorer.predict(next_, x)
    said = said_of(x, odds)
    came = (said == rows[:, 3]) & (np.abs(rows[:, 6] - rows[:, 4]) <= NEAR)
    together = scorer.train(of_said(x, odds, said), 1 - came.astype(int), weight, seed=seed, **how)
    return next_, together


def flat(next_, together):
    """As `read_next` of song_figures reads them."""
    own = [next_["u"][:OWN], next_["W"][:OWN].ravel(), next_["W"][OWN:].ravel(), next_["b"], next_["w"]]
    both = [together["u"], together["W"].ravel(), together["b"], together["w"]]
    return np.concatenate(own + both).astype("<f4")


def calibration(said, true):
    bins = np.minimum((said * 10).astype(int), 9)
    return sum(abs(said[bins == b].sum() - true[bins == b].sum()) for b in range(10)) / len(said)


def x_said(rows):
    """The root that foresight alone has first."""
    return rows[:, HEAD + 5 * 12 : HEAD + 6 * 12].argmax(1)


def report(name, odds, said, joint, rows):
    n = np.arange(len(odds))
    right = said == rows[:, 3]
    came = right & (np.abs(rows[:, 6] - rows[:, 4]) <= NEAR)
    sure = odds[n, said]
    bits = -np.log(np.maximum(odds[n, rows[:, 3].astype(int)], 1e-6)).mean()
    parts = [f"{len(odds)} moments, next root {right.mean():.3f} (foresight's {(x_said(rows) == rows[:, 3]).mean():.3f})"]
    parts.append(f"nats {bits:.3f}, calibration {calibration(sure, right):.4f}")
    for at in (0.7, 0.8):
        parts.append(f"said {at}: {(sure >= at).mean():.3f} of all, {right[sure >= at].mean():.3f} true")
    parts.append(f"timed: {came.mean():.3f}, calibration {calibration(joint, came):.4f}")
    for at in (0.5, 0.7, 0.8):
        parts.append(f"said {at}: {(joint >= at).mean():.3f} of all, {came[joint >= at].mean():.3f} true")
    bins = np.minimum((sure * 10).astype(int), 9)
    parts.append(" ".join(f"{100 * sure[bins == b].mean():.0f}→{100 * right[bins == b].mean():.0f}" for b in range(10) if (bins == b).any()))
    print(f"{name}: " + "; ".join(parts), file=sys.stderr, flush=True)
    return "; ".join(parts[:3])


def learn(work, paths):
    rows, made_up = load(paths)
    x = candidates(rows)
    songs = dict(line.split() for line in (work / "songs.txt").read_text().splitlines())
    fold = np.array([songs.get(f"{int(s):03}", "all") for s in rows[:, 0]])
    weight = np.where(made_up, MADE_UP_WEIGHT, 1.0)
    odds, joint, said = np.zeros((len(x), 12)), np.zeros(len(x)), np.zeros(len(x), int)
    for f in [*sorted(set(fold) - {"all"}), "all"]:
        known = fold != f
        next_, together = fit(x[known], rows[known], weight[known])
        flat(next_, together).tofile(work / f / "next.f32")
        if f == "all":
            break
        mine = fold == f
        odds[mine] = scorer.predict(next_, x[mine])
        said[mine] = said_of(x[mine], odds[mine])
        joint[mine] = scorer.predict(together, of_said(x[mine], odds[mine], said[mine]))[:, 0]
    for name, which in (("real hands", ~made_up), ("whole chords", made_up)):
        if which.any():
            held_out = report(name, odds[which], said[which], joint[which], rows[which])
            if name == "real hands":
                (work / "all" / "next.txt").write_text(held_out)


def write(data, work):
    row, at, arrays = np.fromfile(work / "all" / "next.f32", "<f4"), 0, {}
    for name, own, shared in (("next", OWN, SHARED), ("together", SAID, 0)):
        for field, shape in (
            ("direct", [own]), ("own", [own, HIDDEN]), ("shared", [shared, HIDDEN]), ("bias", [HIDDEN]), ("out", [HIDDEN]),
        ):
            size = int(np.prod(shape))
            arrays[f"{name}_{field}"] = ("f32", row[at : at + size].reshape(shape))
            at += size
    held_out = "four folds by song: " + (work / "all" / "next.txt").read_text()
    model.write("next", arrays, 0, [data / "chord-sequences.jsonl.gz"], held_out)


if __name__ == "__main__":
    if sys.argv[1] == "--write":
        write(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        learn(Path(sys.argv[1]), sys.argv[2:])
