"""Learns where in the bar a song's chords change.

A log-linear choice of one of sixteen places, from what core/src/hear/ear/felt.rs
gathers. The right place is where most labelled changes of root or bass are, by
half bars, then by bars. Used by train_ear.py.
"""
import numpy as np

import data

PLACES, TELLS = 16, 5
AROUND = (np.arange(PLACES)[:, None] + np.arange(PLACES)) % PLACES


def right_places(folder):
    """Song number -> the sixteenth of the host's bar at which its own begins."""
    places = {}
    for song in data.read(folder, "chord-sequences.jsonl.gz"):
        changes, last = [], None
        for chord in song["chords"]:
            if (chord[2], chord[5]) != last:
                changes.append(int(round(chord[0] * 4)))
            last = (chord[2], chord[5])
        counts = np.bincount(np.array(changes) % 16, minlength=16)
        half = (counts[:8] + counts[8:]).argmax()
        places[int(song["song"])] = half if counts[half] >= counts[half + 8] else half + 8
    return places


def features(rows):
    told = rows[:, : PLACES * TELLS].reshape(-1, TELLS, PLACES)
    x = told[:, :, AROUND].transpose(0, 2, 1, 3).reshape(len(rows), PLACES, -1)
    return np.concatenate([x, x * rows[:, -1][:, None, None]], 2)


def train(rows, y, steps=500, rate=0.03):
    x = features(rows)
    p = [np.zeros(PLACES), np.zeros(x.shape[2])]
    m, v = [np.zeros_like(q) for q in p], [np.zeros_like(q) for q in p]
    for t in range(1, steps + 1):
        d = softmax(p[0] + x @ p[1])
        d[np.arange(len(y)), y] -= 1
        d /= len(y)
        for k, grad in enumerate([d.sum(0) + 0.01 * p[0], d.ravel() @ x.reshape(-1, x.shape[2]) + 0.04 * p[1]]):
            m[k] = 0.9 * m[k] + 0.1 * grad
            v[k] = 0.99 * v[k] + 0.01 * grad**2
            p[k] -= rate * (m[k] / (1 - 0.9**t)) / (np.sqrt(v[k] / (1 - 0.99**t)) + 1e-8)
    return np.concatenate(p).astype("<f4")


def predict(weights, rows):
    return softmax(weights[:PLACES] + features(rows) @ weights[PLACES:])


def softmax(z):
    e = np.exp(z - z.max(1, keepdims=True))
    return e / e.sum(1, keepdims=True)
