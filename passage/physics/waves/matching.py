"""Which wave systems of neighbouring cells and hours are one and the same.

Files number their swells anew in every cell, so that number 1 here may be number 2 next
door. Before cells are interpolated, the systems of the corners around a point are matched
by direction and period, weighted by energy. Only systems of one spectral shape may change
places; which number they bear then has no effect.

A cell is a row of fields: per system energy, energy x peak period, energy x cosine and sine
of its direction, and whatever else goes with it.
"""

from __future__ import annotations

import numpy as np

from passage.physics.compiled import compile_loop

#: Systems this far apart in direction [rad], or by this share of the period, are no longer
#: taken for one where it can be avoided (assumption).
APART_RAD = 0.5
APART_PERIOD = 0.2
_PER_DIRECTION = 1.0 / APART_RAD**2
_PER_PERIOD = 1.0 / APART_PERIOD**2


@compile_loop
def match_rows(flat, rows, first, order):  # type: ignore[no-untyped-def]
    """Match the systems of some rows, one row after the other.

    Each row's systems go to the groups made so far so that the spread within groups grows
    least: ``a b / (a + b) (d^2 - 1)`` for energies a and b a distance d apart. Systems change
    places two by two until none gains, which is the best of all ways for two of them.

    Parameters
    ----------
    flat : ndarray of float32, (cells, fields)
        Cells; energies in [m2], periods in [s].
    rows : ndarray of int, (corners,)
        Rows to match; those without energy go anywhere.
    first : ndarray of int, (systems,)
        First field of each system that may change places.
    order : ndarray of int, (corners, systems)
        Filled: which system of a corner belongs to each group.

    Returns
    -------
    bool
        Whether any system changed its place.
    """
    n = first.size
    sums = np.zeros((n, 4))
    cost = np.zeros((n, n))
    mixed = False
    for c in range(rows.size):
        r = rows[c]
        for g in range(n):
            order[c, g] = g
            for s in range(n):
                a, b = sums[g, 0], float(flat[r, first[s]])
                cost[g, s] = 0.0
                if a > 0.0 and b > 0.0:
                    at = first[s]
                    one, two = sums[g, 1] / a, flat[r, at + 1] / b
                    east = sums[g, 2] / a - flat[r, at + 2] / b
                    north = sums[g, 3] / a - flat[r, at + 3] / b
                    far = (east * east + north * north) * _PER_DIRECTION
                    far += (one - two) ** 2 / (one * two) * _PER_PERIOD
                    cost[g, s] = a * b / (a + b) * (far - 1.0)
        for _ in range(n):
            moved = False
            for g in range(n - 1):
                for h in range(g + 1, n):
                    i, j = order[c, g], order[c, h]
                    now, then = cost[g, i] + cost[h, j], cost[g, j] + cost[h, i]
                    if then < now - 1e-6 * (abs(now) + abs(then)):
                        order[c, g], order[c, h] = j, i
                        moved = True
            if not moved:
                break
        for g in range(n):
            at = first[order[c, g]]
            mixed |= order[c, g] != g
            for q in range(4):
                sums[g, q] += flat[r, at + q]
    return mixed


@compile_loop
def match_cells(flat, base, steps, first, order, mixed):  # type: ignore[no-untyped-def]
    """Match the corners ``base + steps`` of many boxes of cells, see :func:`match_rows`.

    Fills ``order`` (boxes, corners, systems) and ``mixed`` (boxes,), whether any system of a
    box changed its place; both dimensionless. Rows past the end count as the last.
    """
    rows = np.zeros(steps.size, np.int64)
    for m in range(base.size):
        for c in range(steps.size):
            rows[c] = min(base[m] + steps[c], flat.shape[0] - 1)
        mixed[m] = match_rows(flat, rows, first, order[m])
