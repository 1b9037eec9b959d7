"""Learns all that the ear knows: core/models/ear.model.

    cargo build --release -p sinistra-tests --example hearing
    python tools/hear/train_ear.py DATA target/release/examples/hearing WORK
    python tools/hear/train_ear.py --write DATA WORK [FIGURES]   # for the header

The example writes down what the ear itself gathered at every moment; what it
remembers of the song is its own judgement, so learning goes in turns: the bar
that is felt, the judgement of what is past (twice, the second time on a memory
that the first has made), the judgement of the moment. For the check, and so
that no song's memory was made by weights that know the song, each turn is
learned in folds by song as well. WORK/0 … are the folds' weights, WORK/all is
learned from every song; the check's figures go to standard error. Wants PyTorch;
rows are gathered in ROWS (a folder in memory, the environment's).
"""
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import data
import model
import train_felt

FOLDS = 4
SPLIT = 60  # middle C: the right hand's lowest key
THIN = 30  # of a hundred questions between two changes
# A song whose right hand begins a little lower or higher is another right hand
# to the same chords; so is one played loosely, or with notes left out, and what
# a made-up player of whole chords plays to them (tests/src/hands.rs).
REAL = [["--split", str(split)] for split in range(54, 67)]
REAL += [["--split", str(split), "--jitter", "40", "--dropped", "12"] for split in (55, 57, 60, 62)]
MADE_UP = [["--player", str(n)] for n in range(6)]
MADE_UP += [["--player", str(n), "--jitter", "30", "--dropped", "10"] for n in range(6, 9)]
# A made-up hand beside a real one, by weight.
MADE_UP_WEIGHT = 0.5
HEAD = 6  # song, beat, root, bass, beats since the labelled onset, tones
SHAPES = {"now": (17, 6, 10, 37), "past": (20, 5, 1, 28)}
BAR = train_felt.PLACES * train_felt.TELLS + 1
STEPS = {"now": 5000, "past": 4000}


def dump(songs, fold, args, work, name, width, hands):
    """What rows are about, the rows, and the hands they are of: of every song,
    heard with the weights of its fold."""
    folder = Path(os.environ.get("ROWS", work))

    def gather(job):
        f, n = job
        only = ",".join(str(int(s)) for s, k in zip(songs, fold) if k == f)
        rows = folder / f"{f}-{n}"
        rows.mkdir(parents=True, exist_ok=True)
        command = [args[1], args[0], "--weights", work / str(f), "--dump", rows, "--only", only]
        command += ["--thin", str(THIN), "--rows", name] + hands[n]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        made = np.fromfile(rows / f"{name}.rows", "<f4").reshape(-1, HEAD + width)
        (rows / f"{name}.rows").unlink()
        return made[:, :HEAD].copy(), made[:, HEAD:].astype(np.float32 if name == "bar" else np.float16)

    jobs = [(f, n) for f in range(FOLDS) for n in range(len(hands))]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        parts = list(pool.map(gather, jobs))
    heads, rows = zip(*parts)
    of = [np.full(len(head), n) for head, (_, n) in zip(heads, jobs)]
    return np.concatenate(heads), np.concatenate(rows), np.concatenate(of)


def weights_of(ago):
    """The moment of the onset matters most; the rest of the chord less."""
    return np.where(np.abs(ago) < 0.14, 3.0, np.where(ago < 1.1, 1.0, 0.5)).astype(np.float32)


def report(head, odds, tones, name):
    best, ago = odds.argmax(1), head[:, 4]
    right = (best == head[:, 2]) | (best == head[:, 3])
    on_eighth = np.abs(head[:, 1] * 2 - np.round(head[:, 1] * 2)) < 2e-2
    moments = {"onset": 0.0, "half": 0.5, "beat": 1.0, "two": 2.0}
    at = {k: on_eighth & (np.abs(ago - t) < 0.14) for k, t in moments.items()}
    parts = [f"{k} {right[which].mean():.4f}" for k, which in at.items()]
    said, true = odds.max(1), best == head[:, 2]
    for k, which in [("all", np.ones(len(said), bool)), ("onset", at["onset"])]:
        parts.append(f"calibration {k} {calibration(said[which], true[which]):.4f}")
    bits = -np.log(np.maximum(odds[np.arange(len(odds)), head[:, 2].astype(int)], 1e-6))
    parts.append(f"nats onset {bits[at['onset']].mean():.4f} all {bits.mean():.4f}")
    mask = head[:, 5].astype(int)
    tone = (mask[:, None] >> np.arange(12) & 1)[at["onset"] & (mask > 0)]
    t = tones[at["onset"] & (mask > 0)]
    parts.append(f"likeliest tone at onset {tone[np.arange(len(t)), t.argmax(1)].mean():.4f} (said {t.max(1).mean():.4f})")
    r = odds[at["onset"] & (mask > 0)].argmax(1)
    parts.append(f"root is a tone {tone[np.arange(len(t)), r].mean():.4f}")
    print(f"{name}: all {right.mean():.4f}", *parts, file=sys.stderr, flush=True)


def calibration(said, true):
    """Expected calibration error in ten bins."""
    bins = np.minimum((said * 10).astype(int), 9)
    return sum(abs(said[bins == b].sum() - true[bins == b].sum()) for b in range(10)) / len(said)


def learn_net(name, dumped, fold_of, work):
    import torch

    from ear_net import DEVICE, MEMBERS, Net, flat, sharpened, together

    head, rows, hand = dumped
    net = Net(*SHAPES[name])
    fold = np.array([fold_of[s] for s in head[:, 0]])
    x = torch.tensor(rows, device=DEVICE)
    put = lambda v, kind: torch.tensor(v, device=DEVICE, dtype=kind)
    tones = (head[:, 5].astype(int)[:, None] >> np.arange(12) & 1).astype(np.float32)
    weight = weights_of(head[:, 4]) * np.where(hand < len(REAL), 1, MADE_UP_WEIGHT)
    seen_by = np.stack([fold != f for f in range(FOLDS)] + [fold >= 0])
    p = net.train(
        x, put(head[:, 2], torch.int64), put(tones, torch.float32), put(weight, torch.float32),
        put(seen_by, torch.float32), STEPS[name],
    )
    nats, said = np.zeros((len(x), 12), np.float32), np.zeros((len(x), 12), np.float32)
    for f in range(FOLDS):
        own = {k: q[f * MEMBERS : (f + 1) * MEMBERS] for k, q in p.items()}
        mine = torch.tensor(np.flatnonzero(fold == f), device=DEVICE)
        roots, likely = net.predict(own, x[mine].float())
        nats[fold == f] = roots.mean(0).cpu().numpy()
        said[fold == f] = torch.sigmoid(likely.mean(0)).cpu().numpy()
    plain = hand == REAL.index(["--split", str(SPLIT)])
    # Dropping inputs teaches doubt: how much sharper the nats come out truest on
    # unheard songs, the made-up players among them.
    y = head[:, 2].astype(int)
    sharper = lambda which: min(
        np.arange(0.8, 1.6, 0.02),
        key=lambda by: (-log_softmax(nats[which] * by)[np.arange(which.sum()), y[which]] * weight[which]).mean(),
    )
    by = [sharper((fold != f) & (np.arange(len(y)) % 7 == 0)) for f in range(FOLDS)]
    by.append(sharper(np.arange(len(y)) % 7 == 0))
    print(f"{name}: {len(y)} rows, sharper {by}", file=sys.stderr, flush=True)
    for f, to in enumerate([*map(str, range(FOLDS)), "all"]):
        flat(sharpened(together(p, f), by[f])).tofile(work / to / f"{name}.f32")
    odds = np.exp(log_softmax(nats * np.array(by)[fold][:, None]))
    report(head[plain], odds[plain], said[plain], name)
    made_up = hand >= len(REAL)
    report(head[made_up], odds[made_up], said[made_up], f"{name}, whole chords")


def log_softmax(z):
    z = z - z.max(1, keepdims=True)
    return z - np.log(np.exp(z).sum(1, keepdims=True))


def learn_bar(head, rows, fold_of, places, work):
    y = np.array([places[int(s)] for s in head[:, 0]])
    fold = np.array([fold_of[s] for s in head[:, 0]])
    with ThreadPoolExecutor(FOLDS + 1) as pool:
        train = lambda f: train_felt.train(rows[fold != f], y[fold != f])
        learned = list(pool.map(train, range(FOLDS + 1)))
    right = []
    for f, p in enumerate(learned):
        if f < FOLDS:
            right.append(train_felt.predict(p, rows[fold == f]).argmax(1) % 8 == y[fold == f] % 8)
        p.tofile(work / (str(f) if f < FOLDS else "all") / "bar.f32")
    print(f"half bar right {np.concatenate(right).mean():.4f}", file=sys.stderr, flush=True)


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
            plain = [["--split", str(SPLIT)]]
            head, rows, _ = dump(songs, fold, args, work, "bar", BAR, plain)
            learn_bar(head, rows, fold_of, known, work)
        else:
            classes, steps, scalars, globals_ = SHAPES[stage]
            width = 12 * (classes + steps + scalars) + globals_
            learn_net(stage, dump(songs, fold, args, work, stage, width, REAL + MADE_UP), fold_of, work)


def write(work, folder, held_out):
    from ear_net import FIELDS, HIDDEN

    arrays = {}
    for name in ("now", "past"):
        row, at = np.fromfile(work / "all" / f"{name}.f32", "<f4"), 0
        classes, steps, scalars, globals_ = SHAPES[name]
        inputs = 12 * (classes + steps) + scalars
        shapes = [(inputs,), (inputs, HIDDEN), (globals_, HIDDEN), (HIDDEN,), (HIDDEN,), (inputs,), (HIDDEN,), (1,)]
        for field, shape in zip(FIELDS, shapes):
            values = row[at : at + int(np.prod(shape))].reshape(shape)
            at += values.size
            arrays[f"{name}_{field}"] = ("f32", np.round(values.astype(float), 4))
    row = np.fromfile(work / "all" / "bar.f32", "<f4").astype(float)
    told = row[16:].reshape(2, train_felt.TELLS, train_felt.PLACES)
    for field, values in (("bias", row[:16]), ("early", told[0]), ("known", told[1])):
        arrays[f"bar_{field}"] = ("f32", np.round(values, 4))
    model.write("ear", arrays, 0, [Path(folder) / "chord-sequences.jsonl.gz"], held_out)


if __name__ == "__main__":
    if sys.argv[1] == "--write":
        held_out = " ".join(sys.argv[4:]) or "not measured"
        write(Path(sys.argv[3]), sys.argv[2], held_out)
    else:
        learn(sys.argv[1:])
