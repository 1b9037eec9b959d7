"""A scorer of the twelve candidate roots with shared weights, in plain NumPy.

score(c) = u·x(c) + w·relu(W'x(c) + b); softmax over the candidates.
"""
import numpy as np


def softmax(z):
    e = np.exp(z - z.max(1, keepdims=True))
    return e / e.sum(1, keepdims=True)


def predict(p, x, batch=4096):
    out = [softmax(scores(p, x[a : a + batch])[0]) for a in range(0, len(x), batch)]
    return np.concatenate(out)


def scores(p, x):
    s = x @ p["u"]
    if "W" not in p:
        return s, None, None
    z = x @ p["W"] + p["b"]
    h = np.maximum(z, 0)
    return s + h @ p["w"], z, h


def train(x, y, weight=None, hidden=0, epochs=12, rate=0.01, decay=1e-3, batch=256, seed=0):
    """`x` (n, 12, features), `y` (n,) the right root; Adam, cosine schedule."""
    rng = np.random.RandomState(seed)
    n, _, f = x.shape
    weight = np.ones(n, np.float32) if weight is None else weight.astype(np.float32)
    p = {"u": np.zeros(f, np.float32)}
    if hidden:
        p["W"] = (rng.randn(f, hidden) * np.sqrt(1.5 / f)).astype(np.float32)
        p["b"] = np.zeros(hidden, np.float32)
        p["w"] = (rng.randn(hidden) * 0.1).astype(np.float32)
    m = {k: np.zeros_like(v) for k, v in p.items()}
    v = {k: np.zeros_like(q) for k, q in p.items()}
    steps, t = epochs * (n // batch), 0
    for _ in range(epochs):
        order = rng.permutation(n)
        for a in range(0, n - batch + 1, batch):
            ix = np.sort(order[a : a + batch])
            xb = x[ix].astype(np.float32)
            s, z, h = scores(p, xb)
            d = softmax(s).astype(np.float32)
            d[np.arange(batch), y[ix]] -= 1
            d *= (weight[ix] / weight[ix].sum())[:, None]
            flat, df = xb.reshape(-1, f), d.reshape(-1)
            g = {"u": df @ flat}
            if hidden:
                g["w"] = df @ h.reshape(-1, hidden)
                dz = (d[:, :, None] * p["w"] * (z > 0)).reshape(-1, hidden)
                g["W"], g["b"] = flat.T @ dz, dz.sum(0)
            t += 1
            step = rate * min(1, t / 50) * 0.5 * (1 + np.cos(np.pi * t / steps))
            for k in p:
                m[k] = 0.9 * m[k] + 0.1 * g[k]
                v[k] = 0.99 * v[k] + 0.01 * g[k] ** 2
                unit = (m[k] / (1 - 0.9**t)) / (np.sqrt(v[k] / (1 - 0.99**t)) + 1e-8)
                p[k] = (p[k] - step * (unit + decay * p[k])).astype(np.float32)
    return p
