"""Writes the tables as Rust source."""

NAMES = ["after_one", "after_two", "after_three", "in_key", "in_key_two"]

HEAD = """//! The shipped odds and weights.
//!
//! Written by `tools/foresight/train.py`; not to be edited. Learned from the
//! chord labels of POP909-CL (Yao et al., "BACHI: Boundary-Aware Symbolic Chord
//! Recognition", 2025; MIT licence), which correct those of POP909 (Wang et
//! al., ISMIR 2020; MIT licence).

#![allow(clippy::approx_constant)] // a weight may look like a third of pi

use super::model::Model;
use super::net::Net;
use super::odds::Odds;

"""


def lines(values, each):
    rows = []
    for start in range(0, len(values), each):
        rows.append("    " + ", ".join(values[start : start + each]) + ",\n")
    return "".join(rows)


def write(model, path):
    out = [HEAD]

    def array(name, values, kind):
        if kind == "u8":
            text = [str(v) for v in values]
            each = 24
        else:
            text = [f"{v:.4g}" if "." in f"{v:.4g}" or "e" in f"{v:.4g}" else f"{v:.4g}.0" for v in values]
            each = 12
        out.append(f"#[rustfmt::skip]\nstatic {name}: [{kind}; {len(values)}] = [\n{lines(text, each)}];\n\n")

    array("DEGREES", model["degrees"], "f32")
    for name in NAMES:
        array(name.upper(), model[name], "u8")
    parts = ["direct", "own", "shared", "bias", "out"]
    for net in ("roots", "times"):
        for part in parts:
            array(f"{net}_{part}".upper(), model[net][part], "f32")
    out.append("/// The shipped tables and weights.\npub static MODEL: Model = Model {\n    odds: Odds {\n        degrees: &DEGREES,\n")
    out.extend(f"        {name}: &{name.upper()},\n" for name in NAMES)
    out.append("    },\n")
    for net in ("roots", "times"):
        out.append(f"    {net}: Net {{\n")
        out.extend(f"        {part}: &{net.upper()}_{part.upper()},\n" for part in parts)
        out.append("    },\n")
    out.append("};\n")
    with open(path, "w") as file:
        file.write("".join(out))
