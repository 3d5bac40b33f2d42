"""Gathering from spectral tables in plain numpy: what the compiled loop is held to."""

from __future__ import annotations

import numpy as np

BLOCK = 4096


def lagrange(u):
    """Cubic weights of four unit-spaced nodes at position u from the first."""
    return np.stack(
        [
            -(u - 1.0) * (u - 2.0) * (u - 3.0) / 6.0,
            u * (u - 2.0) * (u - 3.0) / 2.0,
            -u * (u - 1.0) * (u - 3.0) / 2.0,
            u * (u - 1.0) * (u - 2.0) / 6.0,
        ]
    )


def gather_direct(
    data, variance_scale, period_position, heading_position, slots, weights, rows, out
):
    """As ``passage.physics.waves.gather.gather``."""
    nt, nm = data.shape[1], data.shape[2]
    for start in range(0, rows.size, BLOCK):
        part = slice(start, start + BLOCK)
        for s in range(variance_scale.shape[1]):
            scale = variance_scale[part, s]
            x, y = period_position[part, s], heading_position[part, s]
            use = scale != 0.0
            use &= np.isfinite(scale + x + y)
            if not use.any():
                continue
            row = rows[part][use]
            scale, x, y = scale[use], x[use], y[use]
            i = np.clip(x.astype(np.intp) - 1, 0, nt - 4)
            wt = lagrange(x - i)
            j = np.minimum(y.astype(np.intp), nm - 2)
            wm = lagrange(y - j + 1.0)
            total = np.zeros((row.size, data.shape[3]))
            for k in range(slots.shape[2]):
                slot = slots[part, s, k][use]
                shape_weight = scale * weights[part, s, k][use]
                if not shape_weight.any():
                    continue
                for a in range(4):
                    for b in range(4):
                        n = np.abs(j - 1 + b)
                        n = np.where(n > nm - 1, 2 * (nm - 1) - n, n)
                        w = shape_weight * wt[a] * wm[b]
                        total += w[:, None] * data[slot, i + a, n]
            out[row] += total
