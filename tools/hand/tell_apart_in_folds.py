#!/usr/bin/env python3
"""`tell_apart.py` with a left hand that has not learned from the song it plays to: six books, each without a sixth of the songs.

    python tools/hand/tell_apart_in_folds.py DATA TELL_APART PROGRAM [--table] [--labels] [option of the program ...]

DATA is a folder with `pop909-cl` and `chord-sequences.jsonl.gz`, TELL_APART the path of `tell_apart.py`, PROGRAM the example `harmonise_with`
(cargo build --release -p sinistra-tests --example harmonise_with). `--labels` gives it the chords that people heard as a
chart: what the hand would get if the ear never erred. Needs: mido numpy scikit-learn.
"""
import concurrent.futures, importlib.util, os, subprocess, sys, tempfile
from pathlib import Path

import numpy as np

FOLDS = 6


def main():
    data, judge, program, *options = sys.argv[1:]
    table, labels = "--table" in options, "--labels" in options
    options = [option for option in options if option not in ("--table", "--labels")]
    spec = importlib.util.spec_from_file_location("tell_apart", judge)
    tell = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tell)
    learn = os.path.join(os.path.dirname(os.path.abspath(__file__)), "learn_bars.py")
    folder = os.path.join(data, "pop909-cl")
    names = sorted(name[:-4] for name in os.listdir(folder) if name.endswith(".mid"))
    songs = {s: h for s in names if (h := tell.hands(os.path.join(folder, s + ".mid")))}
    with tempfile.TemporaryDirectory() as work:
        books = []
        for fold in range(FOLDS):
            part = os.path.join(work, str(fold))
            os.mkdir(part)
            without = sorted(songs)[fold::FOLDS]
            subprocess.run([sys.executable, learn, data, part, "--without", *without], check=True, capture_output=True)
            books.append(os.path.join(part, "left-hand-bars.model"))
        book = {s: books[i % FOLDS] for i, s in enumerate(sorted(songs))}
        chart = lambda s: ["--labels", data, s] if labels else []
        play = lambda s: tell.ours(os.path.join(folder, s + ".mid"), program, ["--book", book[s], *chart(s), *options])
        with concurrent.futures.ThreadPoolExecutor(2) as pool:
            made = dict(zip(sorted(songs), pool.map(play, sorted(songs))))
    one, figures = {s: i for i, s in enumerate(sorted(songs))}, []
    for what, line, loud in (("line", True, False), ("texture", False, False), ("texture and loudness", False, True)):
        theirs = {s: tell.windows(*h, loud) for s, h in songs.items()}
        mine = {s: tell.windows(made[s], songs[s][1], songs[s][2], loud) for s in songs}
        area, windows = tell.auc(theirs, mine, one, line)
        print("%-20s AUC %.3f of %d windows" % (what, area, windows), flush=True)
        figures.append(f"{what} {area:.3f}")
    told = "six folds by song, told apart from the pianists at an area under the curve of: " + ", ".join(figures)
    Path(__file__).resolve().parents[2].joinpath("target", "left-hand-bars.txt").write_text(told)
    a, b = (np.array([w for side in d.values() for w in side]) for d in (theirs, mine))
    inside = 0
    for i, name in enumerate(tell.NAMES + tell.LOUD):
        low, high = np.percentile(a[:, i], [10, 90])
        inside += low <= b[:, i].mean() <= high
        ranks = np.searchsorted(np.sort(a[:, i]), b[:, i], "left") + np.searchsorted(np.sort(a[:, i]), b[:, i], "right")
        alone = float(np.mean(ranks)) / (2 * len(a))  # the AUC of this number alone
        if table and abs(alone - 0.5) > 0.05 or not low <= b[:, i].mean() <= high:
            print("%-46s theirs %7.2f [%7.2f %7.2f] ours %7.2f  alone %.2f" % (name, a[:, i].mean(), low, high, b[:, i].mean(), alone))
    print(f"{inside} of {len(tell.NAMES + tell.LOUD)} means lie within the pianists' 10 to 90 %")


if __name__ == "__main__":
    main()
