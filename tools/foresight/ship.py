"""Writes the tables and weights as a model: core/models/foresight.model."""
import os
import sys

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
import model as models

# Each table's shape; the last axis is the candidate root.
TABLES = {
    "after_one": (7, 12),
    "after_two": (12, 3, 7, 12),
    "after_three": (12, 12, 3, 12),
    "in_key": (12, 7, 12),
    "in_key_two": (12, 12, 3, 12),
}


def four_digits(values):
    """More say nothing, and would make files that differ by the machine."""
    return np.array([float(f"{v:.4g}") for v in values])


def write(model, data, held_out):
    arrays = {"degrees": ("f32", four_digits(model["degrees"]).reshape(12, 7))}
    for name, shape in TABLES.items():
        arrays[name] = ("u8", np.reshape(model[name], shape))
    for net in ("roots", "times"):
        hidden = len(model[net]["bias"])
        for part in ("direct", "own", "shared", "bias", "out"):
            values = four_digits(model[net][part])
            shape = (-1, hidden) if part in ("own", "shared") else (-1,)
            arrays[f"{net}_{part}"] = ("f32", values.reshape(shape))
    models.write("foresight", arrays, 0, [data], held_out)
