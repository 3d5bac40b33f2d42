"""Moves of liquid: contents and cost of a sequence of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.heel.leg_cost import LegCost, Split
from passage.planning.heel.model import SEA, Floats, HeelProblem

#: Least saving for which a transfer is ordered [l]; breaks ties towards fewer transfers.
TIE_L = 1e-3


@dataclass(frozen=True)
class Move:
    """Liquid moved before a point (0-based); tank indices, :data:`SEA` for the sea."""

    point: int
    source: int
    target: int
    amount_m3: float


def moved_by(problem: HeelProblem, moves: tuple[Move, ...]) -> Floats:
    """``(n, k)`` put into each tank by the moves up to and including those before each point."""
    moved = np.zeros((problem.n_points, len(problem.tanks)))
    for move in moves:
        if move.source != SEA:
            moved[move.point :, move.source] -= move.amount_m3
        if move.target != SEA:
            moved[move.point :, move.target] += move.amount_m3
    return moved


def is_ballast(problem: HeelProblem) -> Floats:
    """``(k,)`` 1 for tanks whose content can come from or go to the sea."""
    out = np.zeros(len(problem.tanks))
    for source, target in problem.pairs:
        if source == SEA:
            out[target] = 1.0
        elif target == SEA:
            out[source] = 1.0
    return out


def carry_l(problem: HeelProblem, moved_m3: Floats) -> Floats:
    """``(n,)`` litres for displacement taken on (negative: given up)."""
    density = problem.tank_arrays.density_t_m3
    return problem.carry_l_per_t * (moved_m3 @ (density * is_ballast(problem)))


def carry_weighed_l(problem: HeelProblem, moved_m3: Floats) -> Floats:
    """``(n,)`` the same as used by the decision: weight taken on counts, weight given up not.

    Ballast is discharged to take heel off, never to save its carriage.
    """
    return np.maximum(carry_l(problem, moved_m3), 0.0)


def price_moves(problem: HeelProblem, moves: tuple[Move, ...]) -> float:
    """Litres for setting up and pumping."""
    pumped = sum(move.amount_m3 for move in moves)
    return problem.transfer_fixed_l * len(moves) + problem.pump_l_per_m3 * pumped


def price_sequence(
    problem: HeelProblem, cost: LegCost, moves: tuple[Move, ...]
) -> tuple[float, Split]:
    """Cost of a sequence as used by the decision, with the best fin use at every point."""
    moved = moved_by(problem, moves)
    split = cost.best_split(problem.moment_t_m + moved @ problem.tank_moment_per_m3)
    total = split.cost_l.sum() + carry_weighed_l(problem, moved).sum()
    return float(total) + price_moves(problem, moves), split
