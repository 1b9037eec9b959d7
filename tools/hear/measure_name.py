"""Root right of `sinistra name` on the chord items, song by song, no key given.

    python tools/hear/measure_name.py DATA path/to/sinistra
"""
import collections
import json
import subprocess
import sys

import data


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


if __name__ == "__main__":
    main()
