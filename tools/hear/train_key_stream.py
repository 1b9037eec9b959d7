"""The key as `sinistra name` follows it: from the lines so far, no durations."""
import re
from pathlib import Path

import numpy as np

PROFILES = Path(__file__).parents[2] / "core/src/hear/tonality/profiles.rs"
HALF_LIFE_LINES = 24.0
# The key changes only for one that fits better by this much, in nats.
STAY = 1.0


def profiles():
    """The two rows of profiles.rs."""
    rows = re.findall(r"\[f32; 12\] = \[(.*?)\]", PROFILES.read_text(), re.S)
    return np.array([[float(x) for x in row.replace("\n", "").split(",") if x.strip()] for row in rows])


def stream_keys(sets, first):
    """(n,) the key at each line, that line included; 12..23 are minor, -1 unknown."""
    p = profiles()
    table = np.log([np.roll(p[m], t) for m in (0, 1) for t in range(12)])
    out, past, now = np.full(len(sets), -1), np.zeros(12), -1
    for i, row in enumerate(sets):
        if first[i]:
            past, now = np.zeros(12), -1
        past = past * 0.5 ** (1 / HALF_LIFE_LINES) + row
        fit = table @ past
        best = int(fit.argmax())
        if now < 0 or fit[best] > fit[now] + STAY:
            now = best
        out[i] = now
    return out
