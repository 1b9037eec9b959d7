"""Our left-hand fingering beside that of PyPI's `pianoplayer`.

    python fingering_by_pianoplayer.py SHEET.musicxml ...

Prints, for each sheet, how many left-hand notes get the same finger, and for
both how many steps lie beyond the practical span of Parncutt et al. (1997).
Why the two differ is told in fingering.md beside this file.
"""

import contextlib
import io
import pathlib
import sys
import tempfile
import unicodedata

from lxml import etree
from pianoplayer.core import run_annotate

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# The first bars only: its search is slow.
BARS = 8
# Music Perception 14(4), 1997, Table 1: least and most practical span.
PRACTICAL = {
    (1, 2): (-5, 10), (1, 3): (-4, 12), (1, 4): (-3, 14), (1, 5): (-1, 15), (2, 3): (1, 5),
    (2, 4): (1, 7), (2, 5): (2, 10), (3, 4): (1, 4), (3, 5): (1, 7), (4, 5): (1, 5),
}


def left_hand(path):
    """(key, finger or None) of every struck left-hand note, in order."""
    notes = []
    for note in etree.parse(str(path)).iter("note"):
        if note.findtext("staff") != "2" or note.find("pitch") is None:
            continue
        if any(tie.get("type") == "stop" for tie in note.findall("tie")):
            continue
        pitch = note.find("pitch")
        key = 12 * (int(pitch.findtext("octave")) + 1) + STEPS[pitch.findtext("step")]
        key += int(pitch.findtext("alter") or 0)
        finger = note.findtext("notations/technical/fingering") or ""
        digits = [unicodedata.digit(c) for c in finger if c.isdigit()]  # also circled ones
        notes.append((key, digits[0] if digits else None, note.find("chord") is not None))
    return notes


def without_fingers(path):
    """The same sheet with no fingering of ours in it."""
    document = etree.parse(str(path))
    for technical in list(document.iter("technical")):
        technical.getparent().remove(technical)
    return etree.tostring(document)


def moves(notes):
    """Steps from stroke to stroke that no span of the fingers used covers."""
    beyond = 0
    single = [(key, finger) for key, finger, _ in notes if finger]
    for (a, f), (b, g) in zip(single, single[1:]):
        if f == g:
            beyond += a != b
        else:
            low, high = PRACTICAL[min(f, g), max(f, g)]
            span = (b - a) if f > g else (a - b)
            beyond += not low <= span <= high
    return beyond


def main():
    for path in map(pathlib.Path, sys.argv[1:]):
        ours = left_hand(path)
        with tempfile.TemporaryDirectory() as folder:
            out = pathlib.Path(folder) / "out.musicxml"
            bare = pathlib.Path(folder) / "bare.musicxml"
            bare.write_bytes(without_fingers(path))
            with contextlib.redirect_stdout(io.StringIO()):
                run_annotate(
                    str(bare), outputfile=str(out), n_measures=BARS, depth=5, quiet=True, left_only=True
                )
            theirs = left_hand(out)
        pairs = [(a, b) for a, b in zip(ours, theirs) if a[1] and b[1] and a[0] == b[0]]
        same = sum(a[1] == b[1] for a, b in pairs)
        print(f"{path.stem}: {same} of {len(pairs)} fingers alike; beyond the span: ours {moves(ours)}, theirs {moves(theirs)}")


if __name__ == "__main__":
    main()
