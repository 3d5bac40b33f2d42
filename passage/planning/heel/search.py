"""The best sequence, with the owner's heel limit judged at her actual stiffness.

Within one search the limit is a fixed moment at each point, which keeps the search exact
and fast. But moves change the stiffness (slack tanks), and so the moment that the limit
allows. The search is first made with the stiffness of nothing moved. If its answer keeps
the limit at its own stiffness, nothing can be better, since moves only reduce stiffness
by free surface. If not, the search is repeated at the stiffness of the answer.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import HeelProblem, stability
from passage.planning.heel.moves import Move, moved_by, price_sequence
from passage.planning.heel.sequence import GAP_L, GAP_SHARE, Sequence, best_sequence

#: Most searches; the last judges the limit at the lowest possible stiffness.
ROUNDS = 4


def real_price_l(problem: HeelProblem, moves: tuple[Move, ...]) -> float:
    """Litres of a sequence with the best fin use, including the charge for the limit."""
    stiffness = stability(problem, moved_by(problem, moves))[1]
    cost = LegCost.of(problem).judged_at(problem, stiffness)
    return price_sequence(problem, cost, moves)[0]


def best_within_limit(
    problem: HeelProblem, *, most_transfers: int | None = None, seconds: float = 20.0
) -> Sequence:
    """Cheapest sequence, with price and limit at the stiffness that it leads to.

    Parameters and result as for `sequence.best_sequence`; ``proven`` compares with the
    floor of the first search, whose limit is the widest.
    """
    until = time.monotonic() + seconds
    judged = problem.stiffness_t_m
    floor_l = None
    found: list[tuple[float, Sequence]] = []
    for attempt in range(ROUNDS):
        last = attempt == ROUNDS - 1
        at = replace(problem, limit_stiffness_t_m=None if last else judged)
        left = max(until - time.monotonic(), 0.25 * seconds / ROUNDS)
        sequence = best_sequence(at, most_transfers=most_transfers, seconds=left)
        if floor_l is None:
            floor_l = sequence.floor_l
        cost_l = real_price_l(problem, sequence.moves)
        found.append((cost_l, sequence))
        if cost_l <= sequence.cost_l + max(GAP_L, GAP_SHARE * abs(sequence.cost_l)):
            break
        judged = np.minimum(judged, stability(problem, moved_by(problem, sequence.moves))[1])
    nothing = real_price_l(problem, ())
    cost_l, best = min(found, key=lambda one: one[0])
    if nothing <= cost_l + GAP_L:
        cost_l = nothing
        best = replace(best, moves=(), moved_m3=np.zeros_like(best.moved_m3))
    assert floor_l is not None
    floor_l = min(floor_l, cost_l)
    proven = cost_l - floor_l <= max(GAP_L, GAP_SHARE * abs(cost_l))
    timed_out = any(one.timed_out for _, one in found)
    return replace(best, cost_l=cost_l, floor_l=floor_l, proven=proven, timed_out=timed_out)
