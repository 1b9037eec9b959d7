"""Root right of `sinistra name` on the chord items, song by song, no key given,
and whether it is as sure as it is right.

    python tools/hear/measure_name.py DATA path/to/sinistra
"""
import collections
import json
import subprocess
import sys

import numpy as np

import data
import train_sets


def main():
    items = data.read(sys.argv[1], "chord-items.jsonl.gz")
    text, last = "", None
    for item in items:
        # A blank line begins a new song.
        text += "\n" if last not in (None, item["song"]) else ""
        text += " ".join(map(str, item["pitches_rh"])) + "\n"
        last = item["song"]
    done = subprocess.run([sys.argv[2], "name", "--json"], input=text, text=True, capture_output=True, check=True)
    names = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(names) == len(items)
    counts = collections.Counter()
    for item, name in zip(items, names):
        for subset in ("all", item["subset"]):
            counts[subset, item["root_pc"] == name["root_pc"]] += 1
    for subset in ("all", "clean", "partial", "noisy"):
        right, wrong = counts[subset, True], counts[subset, False]
        print(f"{subset:>8}: {100 * right / (right + wrong):.2f} % of {right + wrong}")
    said = np.array([name["certainty"] for name in names])
    right = np.array([item["root_pc"] == name["root_pc"] for item, name in zip(items, names)])
    print(f"calibration error {train_sets.error(said, right):.3f}")


if __name__ == "__main__":
    main()
