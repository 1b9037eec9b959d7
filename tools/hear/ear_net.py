"""The network of core/src/hear/ear/scorer.rs, and how it learns."""
import jax
import jax.numpy as jnp
import numpy as np

HIDDEN = 32
# Fields of `Weights` in their order.
FIELDS = [("direct", "u"), ("inner", "W"), ("global", "V"), ("bias", "b"), ("out", "w")]

# Inputs forgotten at random while learning, so that none is leant on too much.
DROPPED = 0.25
DECAY = 8e-4
# Few rounds: every song comes as many right hands to the same chords.
EPOCHS = 2


class Net:
    """Inputs: `classes` and `steps` blocks of twelve, `scalars` of twelve, `globals_`."""

    def __init__(self, classes, steps, scalars, globals_):
        self.blocks, self.scalars, self.globals = classes + steps, scalars, globals_
        self.places = 12 * self.blocks
        self.row = self.places + 12 * scalars + globals_
        c, p = np.arange(12)[None, None, :], np.arange(12)[None, :, None]
        b = np.arange(self.blocks)[:, None, None]
        # The input that the class (or point) p of a block is to the candidate c.
        self.seen = (b * 12 + np.where(b < classes, p - c, c - p) % 12).reshape(self.places, 12)
        self.step = jax.jit(self._step)
        self.odds = jax.jit(lambda p, x: jax.nn.softmax(self.scores(p, *self.split(x))))

    def split(self, rows):
        scalars = rows[:, self.places : self.places + 12 * self.scalars]
        scalars = scalars.reshape(len(rows), self.scalars, 12).transpose(0, 2, 1)
        return rows[:, : self.places], scalars, rows[:, self.row - self.globals :]

    def scores(self, p, blocks, scalars, g):
        z = (blocks @ p["W"][self.seen].reshape(self.places, -1)).reshape(len(blocks), 12, HIDDEN)
        z = z + scalars @ p["W"][self.places :] + (g @ p["V"])[:, None, :] + p["b"]
        u = p["u"]
        return blocks @ u[self.seen] + scalars @ u[self.places :] + jax.nn.relu(z) @ p["w"]

    def predict(self, p, rows, batch=4096):
        return np.concatenate([np.asarray(self.odds(p, rows[a : a + batch])) for a in range(0, len(rows), batch)])

    def loss(self, p, x, y, w, key):
        blocks, scalars, g = self.split(x)
        keys = jax.random.split(key, 3)
        kept = 1 - DROPPED
        blocks = blocks * jax.random.bernoulli(keys[0], kept, blocks.shape) / kept
        g = g * jax.random.bernoulli(keys[1], kept, g.shape) / kept
        scalars = scalars * jax.random.bernoulli(keys[2], kept, (len(x), 1, self.scalars)) / kept
        right = jnp.take_along_axis(jax.nn.log_softmax(self.scores(p, blocks, scalars, g)), y[:, None], 1)[:, 0]
        return -(right * w).sum() / w.sum() + DECAY * sum((q**2).sum() for q in p.values())

    def _step(self, p, m, v, t, rate, x, y, w, key):
        grad = jax.grad(self.loss)(p, x, y, w, key)
        m = jax.tree.map(lambda a, b: 0.9 * a + 0.1 * b, m, grad)
        v = jax.tree.map(lambda a, b: 0.99 * a + 0.01 * b * b, v, grad)
        unit = lambda a, b: (a / (1 - 0.9**t)) / (jnp.sqrt(b / (1 - 0.99**t)) + 1e-8)
        return jax.tree.map(lambda q, a, b: q - rate * unit(a, b), p, m, v), m, v

    def train(self, rows, y, weight, epochs=EPOCHS, rate=5e-3, batch=512, seed=0):
        rng = np.random.RandomState(seed)
        f, h = self.places + self.scalars, HIDDEN
        p = {
            "u": np.zeros(f),
            "W": rng.randn(f, h) * np.sqrt(0.5 / f),
            "V": rng.randn(self.globals, h) * np.sqrt(0.5 / self.globals),
            "b": np.zeros(h),
            "w": rng.randn(h) * 0.2,
        }
        p = {k: jnp.array(q, jnp.float32) for k, q in p.items()}
        m = {k: jnp.zeros_like(q) for k, q in p.items()}
        v, key, t = dict(m), jax.random.PRNGKey(seed), 0
        steps = epochs * (len(rows) // batch)
        for _ in range(epochs):
            order = rng.permutation(len(rows))
            for a in range(0, len(rows) - batch + 1, batch):
                ix, t = order[a : a + batch], t + 1
                key, now = jax.random.split(key)
                slow = rate * min(1, t / 100) * 0.5 * (1 + np.cos(np.pi * t / steps))
                p, m, v = self.step(p, m, v, float(t), slow, rows[ix], y[ix], weight[ix], now)
        return p


def flat(p):
    """All weights in a row, as `Weights::from_row` reads them."""
    return np.concatenate([np.asarray(p[k]).ravel() for _, k in FIELDS]).astype("<f4")
