"""The network of core/src/hear/ear/scorer.rs, and how it learns.

All folds and all members of an ensemble learn side by side: every array has the
learner as its first dimension. The members of a fold become one network, whose
hidden layer is theirs side by side.
"""
import numpy as np
import torch

MEMBER = 32  # units of a member's hidden layer
MEMBERS = 2
HIDDEN = MEMBER * MEMBERS
# Fields of `Weights` in their order.
FIELDS = ["direct", "inner", "global", "bias", "out", "tone_direct", "tone_out", "tone_bias"]

# Inputs forgotten at random while learning, so that none is leant on too much.
DROPPED = 0.25
DECAY = 8e-4
# How much the tones count beside the root.
TONES = 0.3
BATCH = 1024
DEVICE = "cuda" if torch.cuda.is_available() else "cpu"


class Net:
    """Inputs: `classes` and `steps` blocks of twelve, `scalars` of twelve, `globals_`."""

    def __init__(self, classes, steps, scalars, globals_):
        self.blocks, self.scalars, self.globals = classes + steps, scalars, globals_
        self.places = 12 * self.blocks
        self.row = self.places + 12 * scalars + globals_
        c, p = np.arange(12)[None, None, :], np.arange(12)[None, :, None]
        b = np.arange(self.blocks)[:, None, None]
        # The input that the class (or point) p of a block is to the candidate c.
        seen = (b * 12 + np.where(b < classes, p - c, c - p) % 12).reshape(self.places, 12)
        self.seen = torch.tensor(seen, device=DEVICE)

    def split(self, rows):
        scalars = rows[:, self.places : self.places + 12 * self.scalars]
        scalars = scalars.reshape(len(rows), self.scalars, 12).transpose(1, 2)
        return rows[:, : self.places], scalars, rows[:, self.row - self.globals :]

    def scores(self, p, blocks, scalars, g):
        """Nats for the root and for being a tone, each (learners, rows, 12)."""
        learners, n = len(p["b"]), len(blocks)
        w = p["W"][:, self.seen].reshape(learners, self.places, -1)
        z = torch.matmul(blocks, w).reshape(learners, n, 12, -1)
        z = z + torch.einsum("nck,lkh->lnch", scalars, p["W"][:, self.places :])
        z = z + torch.matmul(g, p["V"])[:, :, None, :] + p["b"][:, None, None, :]
        h = torch.relu(z)

        def answer(u, out):
            direct = torch.einsum("np,lpc->lnc", blocks, u[:, self.seen])
            direct = direct + torch.einsum("nck,lk->lnc", scalars, u[:, self.places :])
            return direct + torch.einsum("lnch,lh->lnc", h, out)

        return answer(p["u"], p["w"]), answer(p["tu"], p["tw"]) + p["tb"][:, None, None]

    def predict(self, p, rows, batch=8192):
        """Odds of roots and tones by each learner."""
        roots, tones = [], []
        with torch.no_grad():
            for a in range(0, len(rows), batch):
                r, t = self.scores(p, *self.split(rows[a : a + batch]))
                roots.append(r)
                tones.append(t)
        return torch.cat(roots, 1), torch.cat(tones, 1)

    def train(self, rows, root, tones, weight, seen_by, steps, rate=5e-3, seed=0):
        """`tones` (n, 12) 0 or 1, all 0 where they are not known; `seen_by`
        (learners, n): whether a learner may learn from a row."""
        gen = torch.Generator(device=DEVICE).manual_seed(seed)
        learners = len(seen_by) * MEMBERS
        f, h = self.places + self.scalars, MEMBER
        normal = lambda *shape: torch.randn(*shape, device=DEVICE, generator=gen)
        zeros = lambda *shape: torch.zeros(*shape, device=DEVICE)
        p = {
            "u": zeros(learners, f),
            "W": normal(learners, f, h) * (0.5 / f) ** 0.5,
            "V": normal(learners, self.globals, h) * (0.5 / self.globals) ** 0.5,
            "b": zeros(learners, h),
            "w": normal(learners, h) * 0.2,
            "tu": zeros(learners, f),
            "tw": normal(learners, h) * 0.2,
            "tb": zeros(learners),
        }
        for q in p.values():
            q.requires_grad_()
        adam = torch.optim.Adam(p.values(), lr=rate, betas=(0.9, 0.99), foreach=True)
        known = (tones.sum(1) > 0).float()
        seen_by = seen_by.repeat_interleave(MEMBERS, 0).float()
        kept = 1 - DROPPED
        for t in range(steps):
            for group in adam.param_groups:
                group["lr"] = rate * min(1, (t + 1) / 100) * 0.5 * (1 + np.cos(np.pi * t / steps))
            ix = torch.randint(len(rows), (BATCH,), device=DEVICE, generator=gen)
            blocks, scalars, g = self.split(rows[ix].float())
            mask = lambda shape: (torch.rand(shape, device=DEVICE, generator=gen) < kept).float() / kept
            blocks, g = blocks * mask(blocks.shape), g * mask(g.shape)
            scalars = scalars * mask((len(ix), 1, self.scalars))
            r, o = self.scores(p, blocks, scalars, g)
            w = weight[ix][None] * seen_by[:, ix]
            nats = -torch.log_softmax(r, -1).gather(2, root[ix][None, :, None].expand(learners, -1, 1))[..., 0]
            bce = torch.nn.functional.binary_cross_entropy_with_logits(o, tones[ix][None].expand_as(o), reduction="none")
            nats = nats + TONES * bce.sum(-1) * known[ix][None]
            loss = ((nats * w).sum(1) / w.sum(1)).sum() + DECAY * sum((q**2).sum() for q in p.values())
            adam.zero_grad()
            loss.backward()
            adam.step()
        return {k: q.detach() for k, q in p.items()}


def together(p, n):
    """The members of the n-th fold as one network."""
    a = n * MEMBERS
    part = {k: q[a : a + MEMBERS] for k, q in p.items()}
    side = lambda q: torch.cat(list(q), -1)
    return {
        "u": part["u"].mean(0),
        "W": side(part["W"]),
        "V": side(part["V"]),
        "b": side(part["b"]),
        "w": side(part["w"]) / MEMBERS,
        "tu": part["tu"].mean(0),
        "tw": side(part["tw"]) / MEMBERS,
        "tb": part["tb"].mean(0),
    }


def sharpened(p, by):
    """The roots' nats multiplied, so that the odds come true."""
    return {**p, "u": p["u"] * by, "w": p["w"] * by}


def flat(p):
    """All weights in a row, as `Weights::from_row` reads them."""
    order = ["u", "W", "V", "b", "w", "tu", "tw", "tb"]
    return np.concatenate([p[k].cpu().numpy().ravel() for k in order]).astype("<f4")
