"""Matching of the wave systems of neighbouring cells and hours.

Files number their swells afresh in every cell, so that swell 1 of one cell may be swell 2 of
the next, and one cell may call a sea wind sea where the next calls it swell. Before cells are
interpolated, the systems of the corners around a point are matched by direction and period,
weighted by energy. Their names and numbers then have no effect unless all corners agree.

A cell is a row of fields: for each system its energy, energy x peak period, energy x cosine
and sine of its direction, and any further fields.
"""

from __future__ import annotations

import numpy as np

from passage.physics.compiled import compile_loop

#: Systems farther apart than this in direction [rad], or by this share of the period, count as
#: different where another match is possible (assumption).
APART_RAD = 0.5
APART_PERIOD = 0.2
#: Weight of a difference in energy, beside direction and period, where a wind sea and a swell
#: may exchange names: twice the energy is a quarter of the distance at which systems count as
#: different (assumption).
PER_ENERGY = 0.5
#: A wind sea and a swell exchange names only if the mean squared distance within groups falls
#: below this share of its value before (assumption).
NEARER = 0.5
#: Energy below which a system counts as absent; avoids a division by zero [m2].
TINY_M2 = 1e-30
_PER_DIRECTION = 1.0 / APART_RAD**2
_PER_PERIOD = 1.0 / APART_PERIOD**2


@compile_loop
def _name_groups(sums, named, order):  # type: ignore[no-untyped-def]
    """Choose the group that is the wind sea and make it the first, see :func:`match_rows`."""
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
        # Most of it is called swell: an empty group becomes the wind sea, if there is one.
        for g in range(n):
            if sums[g, 0] <= 0.0:
                best = g
    if best > 0:
        for c in range(order.shape[0]):
            order[c, 0], order[c, best] = order[c, best], order[c, 0]


@compile_loop
def match_rows(flat, rows, first, wind, order):  # type: ignore[no-untyped-def]
    """Match the systems of some rows, one row after the other.

    Each row's systems join the groups of the earlier rows so that the spread within groups
    grows least; a system of energy b at distance d from a group of energy a costs
    ``a b / (a + b) (d^2 - 1)``. Pairs of systems are exchanged until no exchange gains; with
    two systems that is the optimum. A wind sea is exchanged with a swell only if both are then
    far nearer to their groups, in energy too.

    If such an exchange mixed the two names, the wind sea is the steepest of the groups that
    contain a system called wind sea. If there is only one such group and less than half of its
    energy is called wind sea, an empty group is the wind sea instead, if there is one.

    Parameters
    ----------
    flat : ndarray of float32, (cells, fields)
        Cells; energies in [m2], periods in [s].
    rows : ndarray of int, (corners,)
        Rows to match; systems without energy may join any group.
    first : ndarray of int, (systems,)
        First field of each system to match; the wind sea before the swells.
    wind : bool
        Whether the first of them is a wind sea.
    order : ndarray of int, (corners, systems)
        Filled in: the system of each corner that belongs to each group.

    Returns
    -------
    bool
        Whether any system changed its position.
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
                        # Mean energy of the group's members.
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
                        # The mean distance must fall well too, if there is one to compare
                        # with: two similar systems that trade energy keep their names.
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

    Fills ``order`` (boxes, corners, systems), and ``mixed`` (boxes,) with whether any system
    of a box changed its position; both dimensionless. Rows past the end mean the last row.
    """
    rows = np.zeros(steps.size, np.int64)
    for m in range(base.size):
        for c in range(steps.size):
            rows[c] = min(base[m] + steps[c], flat.shape[0] - 1)
        mixed[m] = match_rows(flat, rows, first, wind, order[m])
