"""Learns all that the ear knows: felt_weights.rs, hindsight_weights.rs, weights.rs.

    cargo build --release -p sinistra-core --example hearing
    python tools/hear/train_ear.py DATA target/release/examples/hearing WORK
    python tools/hear/train_ear.py --write WORK     # prints them into core/src/hear/ear

The example writes down what the ear itself gathered at every moment; what it
remembers of the song is its own judgement, so learning goes in turns: the bar
that is felt, the judgement of what is past (twice, the second time on a memory
that the first has made), the judgement of the moment. For the check, and so
that no song's memory was made by weights that know the song, each turn is
learned in folds by song as well. WORK/0 … are the folds' weights, WORK/all is
learned from every song; the check's figures go to standard error.
"""
import subprocess
import sys
from pathlib import Path

import numpy as np

import data
import train_felt
from ear_net import FIELDS, HIDDEN, Net, flat

FOLDS = 4
SPLIT = 60  # middle C: the right hand's lowest key
# A song whose right hand begins a little lower or higher is another right hand
# to the same chords: thirteen to learn from instead of one.
SPLITS = range(54, 67)
HEAD = 5  # song, beat, root, bass, beats since the labelled onset
NOW = Net(classes=17, steps=6, scalars=6, globals_=35)
PAST = Net(classes=20, steps=5, scalars=1, globals_=28)
BAR = train_felt.PLACES * train_felt.TELLS + 1


def dump(songs, fold, args, work, name, width, keep=lambda rows: slice(None), splits=(SPLIT,)):
    """Rows of every song, heard with the weights of its fold; the splits they are of."""
    parts, of = [], []
    for f in range(FOLDS):
        only = ",".join(str(int(s)) for s, k in zip(songs, fold) if k == f)
        for split in splits:
            command = [args[1], args[0], "--weights", work / str(f), "--dump", work]
            command += ["--only", only, "--split", str(split)]
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            rows = np.fromfile(work / f"{name}.rows", "<f4").reshape(-1, HEAD + width)
            parts.append(rows[keep(rows)])
            of.append(np.full(len(parts[-1]), split))
            for made in work.glob("*.rows"):
                made.unlink()
    return np.concatenate(parts), np.concatenate(of)


def thinned(share):
    """All the onsets and what comes soon after them, a part of the rest."""

    def keep(rows):
        onset = np.abs(rows[:, 4]) < 0.14
        return onset | (np.random.RandomState(0).rand(len(rows)) < share)

    return keep


def weights_of(rows):
    """The moment of the onset matters most; the rest of the chord less."""
    ago = rows[:, 4]
    return np.where(np.abs(ago) < 0.14, 3.0, np.where(ago < 1.1, 1.0, 0.5)).astype(np.float32)


def report(rows, odds, name):
    best, ago = odds.argmax(1), rows[:, 4]
    right = (best == rows[:, 2]) | (best == rows[:, 3])
    on_eighth = np.abs(rows[:, 1] * 2 - np.round(rows[:, 1] * 2)) < 1e-3
    moments = {"onset": 0.0, "half": 0.5, "beat": 1.0, "two": 2.0}
    parts = [f"{k} {right[on_eighth & (np.abs(ago - at) < 0.14)].mean():.4f}" for k, at in moments.items()]
    print(f"{name}: all {right.mean():.4f}", *parts, file=sys.stderr, flush=True)


def learn_net(net, dumped, fold_of, work, name):
    rows, split = dumped
    x, y, w = rows[:, HEAD:], rows[:, 2].astype(int), weights_of(rows)
    fold = np.array([fold_of[s] for s in rows[:, 0]])
    odds = np.zeros((len(rows), 12), np.float32)
    for f in range(FOLDS):
        p = net.train(x[fold != f], y[fold != f], w[fold != f])
        odds[fold == f] = net.predict(p, x[fold == f])
        flat(p).tofile(work / str(f) / f"{name}.f32")
    report(rows[split == SPLIT], odds[split == SPLIT], name)
    flat(net.train(x, y, w)).tofile(work / "all" / f"{name}.f32")


def learn_bar(rows, fold_of, places, work):
    y = np.array([places[int(s)] for s in rows[:, 0]])
    fold = np.array([fold_of[s] for s in rows[:, 0]])
    right = []
    for f in range(FOLDS):
        p = train_felt.train(rows[fold != f, HEAD:], y[fold != f])
        right.append(train_felt.predict(p, rows[fold == f, HEAD:]).argmax(1) % 8 == y[fold == f] % 8)
        p.tofile(work / str(f) / "bar.f32")
    print(f"half bar right {np.concatenate(right).mean():.4f}", file=sys.stderr, flush=True)
    train_felt.train(rows[:, HEAD:], y).tofile(work / "all" / "bar.f32")


def learn(args):
    work = Path(args[2])
    for name in [*map(str, range(FOLDS)), "all"]:
        (work / name).mkdir(parents=True, exist_ok=True)
    songs = sorted(int(path.stem) for path in Path(args[0], "pop909-cl").glob("*.mid"))
    known = train_felt.right_places(args[0])
    songs = [s for s in songs if s in known]
    fold = data.folds(songs, FOLDS)
    fold_of = dict(zip(map(float, songs), fold))
    (work / "songs.txt").write_text("".join(f"{s:03} {f}\n" for s, f in zip(songs, fold)))
    stages = args[3].split(",") if len(args) > 3 else ["bar", "past", "past", "now"]
    for stage in stages:
        if stage == "bar":
            learn_bar(dump(songs, fold, args, work, "bar", BAR)[0], fold_of, known, work)
        else:
            net = PAST if stage == "past" else NOW
            dumped = dump(songs, fold, args, work, stage, net.row, thinned(0.3), SPLITS)
            learn_net(net, dumped, fold_of, work, stage)


def source(doc, use, doc2, values):
    return f"""//! {doc}
//!
//! Learned from POP909-CL (Yao et al., 2025; MIT licence) by
//! `python tools/hear/train_ear.py`, which prints this file.

use super::{use};

/// {doc2}
#[rustfmt::skip]
#[allow(clippy::approx_constant)] // by chance
pub static WEIGHTS: Weights = Weights {{
{values}}};
"""


def write(work, to=Path("core/src/hear/ear")):
    for net, name, file, doc in (
        (NOW, "now", "weights.rs", "Weights of the scorer of the twelve roots."),
        (PAST, "past", "hindsight_weights.rs", "Weights of the judgement of what is past."),
    ):
        row, at, text = np.fromfile(work / "all" / f"{name}.f32", "<f4"), 0, ""
        inputs = net.places + net.scalars
        shapes = [(inputs,), (inputs, HIDDEN), (net.globals, HIDDEN), (HIDDEN,), (HIDDEN,)]
        for (field, _), shape in zip(FIELDS, shapes):
            values = row[at : at + int(np.prod(shape))].reshape(shape)
            at += values.size
            borrowed = "&" if field in ("direct", "inner", "global") else ""
            text += f"    {field}: {borrowed}{data.rust_values(values, 4)},\n"
        (to / file).write_text(source(doc, "scorer::Weights", "What the scorer has learned.", text))
    row = np.fromfile(work / "all" / "bar.f32", "<f4")
    told = row[16:].reshape(2, train_felt.TELLS, train_felt.PLACES)
    text = "".join(
        f"    {field}: {data.rust_values(values, 4)},\n"
        for field, values in (("bias", row[:16]), ("early", told[0]), ("known", told[1]))
    )
    doc = "Weights of the feeling for where the song's bars begin."
    (to / "felt_weights.rs").write_text(source(doc, "felt::Weights", "What was learned of bars.", text))


if __name__ == "__main__":
    if sys.argv[1] == "--write":
        write(Path(sys.argv[2]))
    else:
        learn(sys.argv[1:])
