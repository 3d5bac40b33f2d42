"""Which wave systems of neighbouring cells and hours are one and the same.

Files number their swells anew in every cell, so that number 1 here may be number 2 next
door, and call a sea wind sea here and swell there. Before cells are interpolated, the
systems of the corners around a point are matched by direction and period, weighted by
energy. Which name or number they bear then has no effect, unless all corners agree on it.

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
#: How far apart in energy, beside direction and period, counts before a wind sea and a swell
#: change their names: at twice the energy a quarter of what keeps two apart (assumption).
PER_ENERGY = 0.5
#: Mean squared distance to what is now near, as a share of that before, below which a wind sea
#: and a swell change their names (assumption).
NEARER = 0.5
#: Energy that is none, kept from a division [m2].
TINY_M2 = 1e-30
_PER_DIRECTION = 1.0 / APART_RAD**2
_PER_PERIOD = 1.0 / APART_PERIOD**2


@compile_loop
def _name_groups(sums, named, order):  # type: ignore[no-untyped-def]
    """Put the wind sea in the place of the wind sea, see :func:`match_rows`."""
    n = sums.shape[0]
    best, steepest, candidates = 0, -1.0, 0
    for g in range(n):
        if named[g] > 0.0:
            candidates += 1
            # Height over the square of the period, squared.
            steep = sums[g, 0] ** 5 / sums[g, 1] ** 4
            if steep > steepest:
                best, steepest = g, steep
    if candidates == 1 and named[best] < 0.5 * sums[best, 0]:
        # Mostly a swell: it goes where nothing is, if there is such a place.
        for g in range(n):
            if sums[g, 0] <= 0.0:
                best = g
    if best > 0:
        for c in range(order.shape[0]):
            order[c, 0], order[c, best] = order[c, best], order[c, 0]


@compile_loop
def match_rows(flat, rows, first, wind, order):  # type: ignore[no-untyped-def]
    """Match the systems of some rows, one row after the other.

    Each row's systems go to the groups made so far so that the spread within groups grows
    least: ``a b / (a + b) (d^2 - 1)`` for energies a and b a distance d apart. Systems change
    places two by two until none gains, which is the best of all ways for two of them. The
    wind sea changes places with a swell only to join what is far more like it, in energy
    too, never to get away from what is not.

    Where groups hold systems of both names, the steepest of those that are called wind sea
    somewhere is the wind sea; one that no other contends with, by what most of it is called.

    Parameters
    ----------
    flat : ndarray of float32, (cells, fields)
        Cells; energies in [m2], periods in [s].
    rows : ndarray of int, (corners,)
        Rows to match; those without energy go anywhere.
    first : ndarray of int, (systems,)
        First field of each system that may change places; the wind sea before the swells.
    wind : bool
        Whether the first of them is a wind sea.
    order : ndarray of int, (corners, systems)
        Filled: which system of a corner belongs to each group.

    Returns
    -------
    bool
        Whether any system changed its place.
    """
    n = first.size
    sums = np.zeros((n, 4))
    named = np.zeros(n)
    members = np.zeros(n)
    cost, near, both = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n))
    groups, systems = np.zeros((n, 4)), np.zeros((n, 4))
    mixed = renamed = False
    for c in range(rows.size):
        r = rows[c]
        for g in range(n):
            order[c, g] = g
            # Energy, and means weighted by it.
            share = 1.0 / max(sums[g, 0], TINY_M2)
            groups[g, 0] = sums[g, 0]
            for q in range(1, 4):
                groups[g, q] = sums[g, q] * share
            share = 1.0 / max(float(flat[r, first[g]]), TINY_M2)
            systems[g, 0] = flat[r, first[g]]
            for q in range(1, 4):
                systems[g, q] = flat[r, first[g] + q] * share
        for g in range(n):
            for s in range(n):
                cost[g, s] = near[g, s] = both[g, s] = 0.0
                a, b = groups[g, 0], systems[s, 0]
                if a > TINY_M2 and b > TINY_M2:
                    one, two = groups[g, 1], systems[s, 1]
                    east = groups[g, 2] - systems[s, 2]
                    north = groups[g, 3] - systems[s, 3]
                    far = (east * east + north * north) * _PER_DIRECTION
                    far += (one - two) ** 2 / (one * two) * _PER_PERIOD
                    both[g, s] = a * b / (a + b)
                    cost[g, s] = both[g, s] * (far - 1.0)
                    if wind and far < 1.0:
                        # The mean of the group's members, of which there are that many.
                        mean = a / members[g]
                        far += (mean - b) ** 2 / (mean * b) * PER_ENERGY
                        near[g, s] = both[g, s] * (min(far, 1.0) - 1.0)
        for _ in range(n):
            moved = False
            for g in range(n - 1):
                for h in range(g + 1, n):
                    i, j = order[c, g], order[c, h]
                    if wind and (g == 0 or i == 0 or j == 0):
                        now, then = near[g, i] + near[h, j], near[g, j] + near[h, i]
                        # On the mean they must be far nearer too, if there is anything to be
                        # near now: two that are alike and trade energy keep their names.
                        all_now, all_then = both[g, i] + both[h, j], both[g, j] + both[h, i]
                        if (all_then + then) * all_now > NEARER * (all_now + now) * all_then:
                            continue
                    else:
                        now, then = cost[g, i] + cost[h, j], cost[g, j] + cost[h, i]
                    if then < now - 1e-6 * (abs(now) + abs(then)):
                        order[c, g], order[c, h] = j, i
                        moved = True
            if not moved:
                break
        for g in range(n):
            s = order[c, g]
            mixed |= s != g
            renamed |= wind and s != g and (s == 0 or g == 0)
            if s == 0:
                named[g] += flat[r, first[0]]
            if flat[r, first[s]] > TINY_M2:
                members[g] += 1.0
            for q in range(4):
                sums[g, q] += flat[r, first[s] + q]
    if renamed:
        _name_groups(sums, named, order)
    return mixed


@compile_loop
def match_cells(flat, base, steps, first, wind, order, mixed):  # type: ignore[no-untyped-def]
    """Match the corners ``base + steps`` of many boxes of cells, see :func:`match_rows`.

    Fills ``order`` (boxes, corners, systems) and ``mixed`` (boxes,), whether any system of a
    box changed its place; both dimensionless. Rows past the end count as the last.
    """
    rows = np.zeros(steps.size, np.int64)
    for m in range(base.size):
        for c in range(steps.size):
            rows[c] = min(base[m] + steps[c], flat.shape[0] - 1)
        mixed[m] = match_rows(flat, rows, first, wind, order[m])
