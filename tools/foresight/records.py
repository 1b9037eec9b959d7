"""The features that the program itself computes, read for training."""

import json
import os
import subprocess
import tempfile

import numpy as np

HEADER, SPANS, SHARED, ROOT, TIME = 10, 24, 60, 90, 63
WIDTH = HEADER + SPANS + SHARED + 12 * ROOT + SPANS * TIME


def compute(program, model, songs):
    """Records of `songs` (variants), by the program with the odds of `model`."""
    with tempfile.TemporaryDirectory() as folder:
        tables, out = os.path.join(folder, "model.json"), os.path.join(folder, "out.bin")
        with open(tables, "w") as file:
            json.dump(model, file)
        lines = "\n".join(json.dumps(song) for song in songs)
        subprocess.run([program, tables, out], input=lines.encode(), check=True)
        return np.fromfile(out, np.int16).reshape(-1, WIDTH)


class Roots:
    """The next root: twelve candidates, the present one left out."""

    widths = (ROOT, SHARED)

    def __init__(self, records, weight=None):
        records_ok = records[:, 2] != records[:, 3]
        self.records = records[records_ok, : HEADER + SPANS + SHARED + 12 * ROOT]
        self.n = len(self.records)
        self.weight = np.ones(self.n, np.float32) if weight is None else weight[records_ok]

    def batch(self, picked):
        rows = self.records[picked]
        n = len(rows)
        a = HEADER + SPANS
        shared = rows[:, a : a + SHARED].astype(np.float32) / 2048
        own = rows[:, a + SHARED :].astype(np.float32) / 2048
        mask = np.ones((n, 12), bool)
        mask[np.arange(n), rows[:, 2]] = False
        return own.reshape(n, 12, ROOT), shared, mask, rows[:, 3].astype(int), self.weight[picked]


class Times:
    """The time of the next change, where no gap follows."""

    widths = (TIME, SHARED)

    def __init__(self, records, train=True):
        keep = records[:, 4] == 0
        if train:
            keep &= records[:, 7] >= 0
        self.records = records[keep]
        self.n = len(self.records)
        self.weight = np.ones(self.n, np.float32)

    def batch(self, picked):
        rows = self.records[picked]
        n = len(rows)
        a = HEADER + SPANS
        shared = rows[:, a : a + SHARED].astype(np.float32) / 2048
        own = rows[:, a + SHARED + 12 * ROOT :].astype(np.float32) / 2048
        spans = rows[:, HEADER : HEADER + SPANS]
        # Asked `held` after the struck chord; what lies before has not come.
        held = rows[:, 5] + rows[:, 9]
        mask = (np.arange(SPANS)[None] < rows[:, 8:9]) & (
            (spans > (held - 60)[:, None]) | (rows[:, 5:6] == 0)
        )
        label = np.maximum(rows[:, 7], 0).astype(int)
        mask[np.arange(n), label] = True
        return own.reshape(n, SPANS, TIME), shared, mask, label, self.weight[picked]
