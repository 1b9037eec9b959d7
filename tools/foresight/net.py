"""A small network that scores candidates: direct weights and one hidden layer
shared by all of them, trained with Adam on the odds of the right candidate."""

import numpy as np


def init(own, shared, hidden, seed=0):
    draw = np.random.RandomState(seed)
    return {
        "direct": np.zeros(own, np.float32),
        "own": (draw.randn(own, hidden) * np.sqrt(1.5 / own)).astype(np.float32),
        "shared": (draw.randn(shared, hidden) * np.sqrt(0.5 / shared)).astype(np.float32),
        "bias": np.zeros(hidden, np.float32),
        "out": (draw.randn(hidden) * 0.1).astype(np.float32),
    }


def forward(net, own, shared):
    n, candidates, width = own.shape
    hidden = (own.reshape(-1, width) @ net["own"]).reshape(n, candidates, -1)
    hidden += (shared @ net["shared"])[:, None, :] + net["bias"]
    np.maximum(hidden, 0, out=hidden)
    return own @ net["direct"] + hidden @ net["out"], hidden


def softmax(scores, mask):
    scores = np.where(mask, scores, -1e9)
    scores -= scores.max(1, keepdims=True)
    odds = np.exp(scores)
    return odds / odds.sum(1, keepdims=True)


def gradient(net, own, shared, mask, label, weight, drop):
    scores, hidden = forward(net, own, shared)
    if drop is not None:
        scores = own @ net["direct"] + (hidden * drop[:, None, :]) @ net["out"]
    odds = softmax(scores, mask)
    rows = np.arange(len(label))
    loss = -(weight * np.log(np.maximum(odds[rows, label], 1e-9))).sum() / weight.sum()
    back = odds * weight[:, None]
    back[rows, label] -= weight
    back = (back / weight.sum()).astype(np.float32)
    through = back[:, :, None] * net["out"] * (hidden > 0)
    kept = hidden
    if drop is not None:
        through *= drop[:, None, :]
        kept = hidden * drop[:, None, :]
    width = own.shape[2]
    flat = through.reshape(-1, through.shape[2])
    shared_back = through.sum(1)
    return loss, {
        "direct": own.reshape(-1, width).T @ back.ravel(),
        "own": own.reshape(-1, width).T @ flat,
        "shared": shared.T @ shared_back,
        "bias": shared_back.sum(0),
        "out": kept.reshape(-1, kept.shape[2]).T @ back.ravel(),
    }


def train(data, hidden, epochs, batch=512, rate=4e-3, decay=1e-3, drop=0.0, seed=0, log=None):
    """`data` has n and batch(indices) → own, shared, mask, label, weight."""
    own, shared = data.widths
    net = init(own, shared, hidden, seed)
    first = {k: np.zeros_like(v) for k, v in net.items()}
    second = {k: np.zeros_like(v) for k, v in net.items()}
    draw = np.random.RandomState(seed)
    steps, step = epochs * (data.n // batch), 0
    for epoch in range(epochs):
        order, total = draw.permutation(data.n), 0.0
        for start in range(0, data.n - batch + 1, batch):
            step += 1
            lr = rate * min(1, step / 50) * 0.5 * (1 + np.cos(np.pi * step / steps))
            keep = None
            if drop:
                keep = (draw.rand(batch, hidden) > drop).astype(np.float32) / (1 - drop)
            picked = np.sort(order[start : start + batch])
            loss, grads = gradient(net, *data.batch(picked), keep)
            total += loss
            for key, value in net.items():
                first[key] += 0.1 * (grads[key] - first[key])
                second[key] += 0.01 * (grads[key] ** 2 - second[key])
                move = (first[key] / (1 - 0.9**step)) / (
                    np.sqrt(second[key] / (1 - 0.99**step)) + 1e-8
                )
                value -= (lr * (move + decay * value)).astype(np.float32)
        if log:
            log(f"  epoch {epoch + 1}: {total / (data.n // batch) / np.log(2):.4f} bits")
    return net


def sharpen(net, by):
    """Makes every score `by` times as large: the odds part further."""
    net["direct"] *= by
    net["out"] *= by


def odds(net, data, size=4096):
    out = []
    for start in range(0, data.n, size):
        own, shared, mask, _, _ = data.batch(np.arange(start, min(data.n, start + size)))
        out.append(softmax(forward(net, own, shared)[0], mask))
    return np.concatenate(out)
