"""All 4,095 sets of pitch classes, named here and by music21.

music21's `Chord.root()` stacks thirds: it knows no key, no context, and no
chord that is not a stack of thirds (a sixth is an inverted seventh to it, a
suspension a stack with holes). What is compared is therefore the root:
always the same on major and minor triads;
elsewhere counted and printed.
"""

import collections
import json
import multiprocessing

from music21 import chord

# A set that is one of these on some root, complete, has that root for both.
CERTAIN = {
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10),
    "major-seventh": (0, 4, 7, 11),
    "minor-seventh": (0, 3, 7, 10),
    "half-diminished": (0, 3, 6, 10),
    "major-minor": (0, 3, 7, 11),
    "dominant-ninth": (0, 2, 4, 7, 10),
    "major-ninth": (0, 2, 4, 7, 11),
    "minor-ninth": (0, 2, 3, 7, 10),
}


def sets():
    for bits in range(1, 4096):
        yield [pc for pc in range(12) if bits >> pc & 1]


def librarys(pcs):
    return chord.Chord([60 + pc for pc in pcs]).root().pitchClass


def named(sinistra, lines):
    text = "".join(" ".join(str(60 + pc) for pc in pcs) + "\n" for pcs in lines)
    done = sinistra("name", "--json", "--each-alone", text=text)
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_every_set_has_a_name_and_the_certain_ones_are_the_librarys(sinistra):
    lines = list(sets())
    ours = named(sinistra, lines)
    assert len(ours) == 4095
    counts = collections.Counter()
    with multiprocessing.Pool() as pool:  # music21 takes its time
        roots = pool.map(librarys, lines, chunksize=64)
    for pcs, name, theirs in zip(lines, ours, roots):
        kind = next(
            (k for k, tones in CERTAIN.items() if any(sorted((t + r) % 12 for t in tones) == pcs for r in range(12))),
            None,
        )
        same = theirs == name["root_pc"]
        counts[kind or f"{len(pcs)} other", same] += 1
        # Keys have no spelling: where thirds may be read as other intervals (the
        # diminished ones, the sevenths that are sixths) music21 goes by its guess.
        if kind in ("major", "minor"):
            assert same, (pcs, name, theirs)
            assert name["kind"] == kind, (pcs, name)
        assert 0 <= name["certainty"] <= 1
        assert len({name["symbol"], *name["alternatives"]}) == 1 + len(name["alternatives"])
    for (what, same), count in sorted(counts.items(), key=str):
        print(f"{what:>20} {'same' if same else 'other'} root: {count}")


def test_every_kind_on_every_root_in_every_inversion(sinistra):
    lines, asked = [], []
    for kind, tones in CERTAIN.items():
        for root in range(12):
            for turn in range(len(tones)):
                lines.append([root + t + (12 if i < turn else 0) for i, t in enumerate(tones)])
                asked.append((kind, root))
    for (kind, root), line, name in zip(asked, lines, named(sinistra, lines)):
        same_sound = sorted({pc % 12 for pc in line}) == sorted((root + t) % 12 for t in CERTAIN[kind])
        # The same tones are a sixth on another root.
        equal = {"minor-seventh": ("major-sixth", 3), "half-diminished": ("minor-sixth", 3)}.get(kind, (kind, 0))
        right = [(kind, root), (equal[0], (root + equal[1]) % 12)]
        assert same_sound and (name["kind"], name["root_pc"]) in right, (kind, root, line, name)
