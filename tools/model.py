"""Writes and reads the models that the program ships: core/models/NAME.model.

A header of text lines, then the arrays one after the other, little-endian, in
the order of their lines:

    Sinistra model, version 1
    name NAME
    array ARRAY KIND LENGTH [LENGTH …]     KIND: f32, i8, u8 or u16
    seed NUMBER
    data FILE sha256 HASH                  a line for each file learned from
    made YEAR-MONTH-DAY
    held-out FIGURES                       on songs that were not learned
    end

`core/src/learned.rs` reads it when the program is compiled.
"""

import datetime
import hashlib
from pathlib import Path

import numpy as np

FIRST = "Sinistra model, version 1"
KINDS = {"f32": "<f4", "i8": "i1", "u8": "u1", "u16": "<u2"}
FOLDER = Path(__file__).resolve().parents[1] / "core" / "models"


def write(name, arrays, seed, data, held_out, made=None, folder=FOLDER):
    """`arrays`: name -> (kind, values of any shape); `data`: the files learned from.

    A model whose numbers come out as they are stays as it is, with its date and figures.
    """
    lines, body = [FIRST, f"name {name}"], b""
    for array, (kind, values) in arrays.items():
        values = np.asarray(values)
        packed = values.astype(KINDS[kind])
        if kind != "f32" and not np.array_equal(packed, values):
            raise ValueError(f"{array}: values that {kind} cannot hold")
        if not np.isfinite(packed.astype(float)).all():
            raise ValueError(f"{array}: values that are no numbers")
        lines.append(f"array {array} {kind} {' '.join(map(str, values.shape))}")
        body += packed.tobytes()
    lines.append(f"seed {seed}")
    for path in map(Path, data):
        lines.append(f"data {path.name} sha256 {hashlib.sha256(path.read_bytes()).hexdigest()}")
    lines.append(f"made {made or datetime.date.today().isoformat()}")
    lines.append("held-out " + " ".join(held_out.split()))
    lines.append("end\n")
    path = Path(folder) / f"{name}.model"
    shape = lambda lines: [line for line in lines if not line.startswith(("made ", "held-out "))]
    if path.exists():
        head, rest = path.read_bytes().split(b"\nend\n", 1)
        if rest == body and shape([*head.decode().split("\n"), "end\n"]) == shape(lines):
            print(f"{path}: the same numbers, left as it is")
            return
    path.write_bytes("\n".join(lines).encode() + body)
    print(f"wrote {path}")


def read(name, folder=FOLDER):
    """The arrays of a model in their shapes, and the other lines of its header."""
    whole = (Path(folder) / f"{name}.model").read_bytes()
    head, body = whole.split(b"\nend\n", 1)
    arrays, rest, at = {}, [], 0
    for line in head.decode().split("\n"):
        words = line.split()
        if words[0] != "array":
            rest.append(line)
            continue
        kind, shape = np.dtype(KINDS[words[2]]), [int(n) for n in words[3:]]
        count = int(np.prod(shape))
        arrays[words[1]] = np.frombuffer(body, kind, count, at).reshape(shape)
        at += count * kind.itemsize
    if rest[0] != FIRST or at != len(body):
        raise ValueError(f"{name}: not a model")
    return arrays, rest
