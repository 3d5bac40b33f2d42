"""A lower bound for every plan: the cost of the passage if tanks could not run out.

Without capacities, contents and GM only one number is left to decide: the moment X that
the moves so far have given the tanks. It changes only where a transfer is paid for.
Cutting the passage into stretches of constant X, and taking the cheapest X of each, is a
shortest path, solved exactly. No real sequence can be cheaper, so the result proves how
good a plan is; as a constraint it shortens the integer search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.heel.model import Flags, Floats
from passage.planning.heel.stages import StageCosts

#: Points of the moment grid on which costs are summed.
_GRID = 801


@dataclass(frozen=True)
class StretchBounds:
    """Least litres of each stretch of stages.

    ``free_l[s, e]`` is for stages ``s .. e-1`` with the best tank moment, the same in all;
    ``untouched_l[e]`` is for stages ``0 .. e-1`` with nothing moved. ``best_t_m[s, e]`` is,
    nearly, the tank moment of ``free_l``.
    """

    free_l: Floats
    untouched_l: Floats
    best_t_m: Floats


def stretch_bounds(
    costs: StageCosts, low_t_m: float, high_t_m: float, *, points: int = _GRID
) -> StretchBounds:
    """Least cost of every stretch, over tank moments from ``low`` to ``high``.

    The cost of a stretch is convex in X, so its least value is not below the crossing of
    the tangents at the two grid points around it: a true bound, unlike the least grid value.
    """
    n = costs.stages.count
    x = np.linspace(low_t_m, high_t_m, points)
    cost, rise = costs.below(np.repeat(x[:, None], n, axis=1))
    zero = np.zeros((len(x), 1))
    value = np.hstack([zero, np.cumsum(cost, axis=1)])
    slope = np.hstack([zero, np.cumsum(rise, axis=1)])
    free = np.full((n + 1, n + 1), np.inf)
    best = np.zeros((n + 1, n + 1))
    for start in range(n):
        v = value[:, start + 1 :] - value[:, [start]]
        d = slope[:, start + 1 :] - slope[:, [start]]
        # First grid point of each stretch with a slope that is not negative.
        rising = d >= 0.0
        right = np.where(rising.any(axis=0), rising.argmax(axis=0), len(x) - 1)
        left = np.maximum(right - 1, 0)
        column = np.arange(v.shape[1])
        v_l, v_r = v[left, column], v[right, column]
        d_l, d_r = d[left, column], d[right, column]
        # Outside the bracket the least value is at an end of the range.
        inside = (right > left) & (d_l < 0.0) & (d_r > 0.0)
        span = np.where(inside, d_r - d_l, 1.0)
        step = np.where(inside, (v_l - v_r + d_r * (x[right] - x[left])) / span, 0.0)
        crossing = v_l + d_l * step
        free[start, start + 1 :] = np.where(
            inside, np.minimum(crossing, np.minimum(v_l, v_r)), np.minimum(v_l, v_r)
        )
        best[start, start + 1 :] = np.where(
            inside, x[left] + step, np.where(v_l <= v_r, x[left], x[right])
        )
    untouched = costs.true(np.zeros(n))[0]
    return StretchBounds(
        free_l=free,
        untouched_l=np.concatenate([[0.0], np.cumsum(untouched)]),
        best_t_m=best,
    )


def shortest_path(
    bounds: StretchBounds, fixed_l: float, allowed: Flags
) -> tuple[float, list[tuple[int, int, float]]]:
    """Cheapest cutting into stretches, and its ``(first, end, tank moment)`` list.

    A stretch other than the untouched first one starts with a transfer, so it
    costs ``fixed_l`` and needs ``allowed[first]``.
    """
    n = len(bounds.untouched_l) - 1
    value = bounds.untouched_l.copy()
    before: list[tuple[int, float] | None] = [None] * (n + 1)
    for end in range(1, n + 1):
        for start in range(end):
            if not allowed[start]:
                continue
            reach = value[start] + fixed_l + bounds.free_l[start, end]
            if reach < value[end] - 1e-9:
                value[end] = reach
                before[end] = (start, float(bounds.best_t_m[start, end]))
    stretches: list[tuple[int, int, float]] = []
    end = n
    while end > 0:
        step = before[end]
        if step is None:
            stretches.append((0, end, 0.0))
            break
        stretches.append((step[0], end, step[1]))
        end = step[0]
    return float(value[n]), stretches[::-1]


def worth_keeping(
    bounds: StretchBounds, fixed_l: float, allowed: Flags, ceiling_l: float
) -> tuple[Flags, Flags]:
    """Stretches that a plan of ``ceiling_l`` or less could contain.

    Returns ``(n+1, n+1)`` for stretches ``s .. e-1`` that begin with a transfer, and
    ``(n+1,)`` for the untouched first ``e`` stages. Where the cheapest passage through a
    stretch costs more than a known plan, no better plan contains it.
    """
    n = len(bounds.untouched_l) - 1
    opened = np.where(allowed, fixed_l, np.inf)
    ahead = np.full(n + 1, np.inf)
    ahead[n] = 0.0
    for start in range(n - 1, -1, -1):
        ahead[start] = opened[start] + np.min(
            bounds.free_l[start, start + 1 :] + ahead[start + 1 :]
        )
    behind = bounds.untouched_l.copy()
    for end in range(1, n + 1):
        behind[end] = min(
            behind[end], np.min(behind[:end] + opened[:end] + bounds.free_l[:end, end])
        )
    through = (behind[:n] + opened)[:, None] + bounds.free_l[:n] + ahead[None, :]
    keep = np.zeros((n + 1, n + 1), dtype=bool)
    keep[:n] = through <= ceiling_l
    return keep, bounds.untouched_l + ahead <= ceiling_l
