"""The best sequence of transfers over the whole passage, with proof.

A mixed-integer programme over amounts, tank contents and yes-or-no transfers. Stage costs
are convex curves of the tank moment, or are replaced by the largest convex curve below
them. They enter as tangents, which lie below them, so every bound that the solver proves
is a true one. Tangents are added at the last solution until the true cost of the best
sequence and the proven bound meet. The floor of `bound` is included as a shortest path,
which shortens the search.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from passage.planning.heel.bound import shortest_path
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import Flags, Floats, HeelProblem
from passage.planning.heel.moves import TIE_L, Move, moved_by, price_sequence
from passage.planning.heel.programme import Programme
from passage.planning.heel.stages import Stages

#: Gap at which a plan counts as proven [l], and as a share of its cost.
GAP_L = 0.01
GAP_SHARE = 1e-4
#: Less time than this is none. [s]
_NO_TIME_S = 0.1


@dataclass(frozen=True)
class Sequence:
    """A sequence of moves, its cost, and a bound on the optimum.

    ``cost_l`` is in litres and includes the charge for heel above the limit; ``floor_l`` is
    the proven bound; ``proven`` is True where the gap is within :data:`GAP_L` or
    :data:`GAP_SHARE`. ``timed_out`` is True where the time allowed ended the search; an
    unproven plan of a finished one is not mended by more.
    """

    moves: tuple[Move, ...]
    moved_m3: Floats
    cost_l: float
    floor_l: float
    proven: bool
    rounds: int
    timed_out: bool = False

    @property
    def gap_l(self) -> float:
        """Litres by which the best possible plan could still be cheaper."""
        return max(self.cost_l - self.floor_l, 0.0)


def best_sequence(
    problem: HeelProblem,
    *,
    most_transfers: int | None = None,
    seconds: float = 20.0,
) -> Sequence:
    """Cheapest sequence of moves and fin use, with the proven bound.

    Parameters
    ----------
    problem : HeelProblem
    most_transfers : int, optional
        Most transfers over the passage (1 for the best single one).
    seconds : float
        Time for the whole search; when it runs out the best found so far is returned with
        its gap, and ``proven`` is False.

    """
    until = time.monotonic() + seconds
    cost = LegCost.of(problem)
    search = _Search(problem, cost, Programme(problem, cost, most_transfers), until)
    search.first_guess()
    search.prove()
    return search.result()


def best_amounts(
    problem: HeelProblem, moves: tuple[Move, ...], *, seconds: float = 5.0
) -> tuple[Move, ...] | None:
    """The same transfers with the best amounts; None if they cannot be made.

    A pair opened before a leg stays opened and may carry any amount its tanks allow.
    """
    cost = LegCost.of(problem)
    programme = Programme(problem, cost, None)
    stages = programme.stages
    opened = np.zeros((stages.count, len(problem.pairs)))
    for move in moves:
        pair = (move.source, move.target)
        if pair not in problem.pairs or not problem.transfer_allowed[move.point]:
            return None
        opened[stages.of[move.point], problem.pairs.index(pair)] = 1.0
    search = _Search(problem, cost, programme, time.monotonic() + seconds)
    search.tangents()
    first = programme.solve(seconds, opened=opened.ravel())
    if first.x is None:
        return None
    search.started = False  # the passage with nothing moved is not wanted
    search.polish(first.x)
    return search.moves


class _Search:
    """Rounds of solving: a good sequence first, then the proof."""

    def __init__(
        self, problem: HeelProblem, cost: LegCost, programme: Programme, until: float
    ) -> None:
        self.problem, self.cost, self.programme = problem, cost, programme
        self.until = until
        self.moves: tuple[Move, ...] = ()
        self.cost_l = price_sequence(problem, cost, ())[0]
        self.floor_l, self.rounds, self.timed_out = -np.inf, 0, False
        # Nothing moved is always a valid plan: where the burn alone breaks a rule, moves
        # must only not make it worse.
        self.started = True

    @property
    def _ranked_l(self) -> float:
        return self.cost_l + TIE_L * len(self.moves)

    def _left(self) -> float:
        return max(self.until - time.monotonic(), _NO_TIME_S)

    def _note(self, x: Floats) -> tuple[Floats, float]:
        """Keep a solution if it is the cheapest; return its tank moments and true cost."""
        moves = self.programme.moves(x)
        true_l, _ = price_sequence(self.problem, self.cost, moves)
        ranked = true_l + TIE_L * len(moves)
        if not self.started or ranked < self._ranked_l - 1e-9:
            self.moves, self.cost_l, self.started = moves, true_l, True
        moved = moved_by(self.problem, moves)[self.programme.stages.first]
        return moved @ self.problem.tank_moment_per_m3, ranked

    def polish(self, x: Floats) -> None:
        """Find the exact amounts for the transfers a solution opens."""
        p = self.programme
        opened = np.round(x[p.at["open"] : p.at["open"] + p.n * p.a])
        for _ in range(10):
            tank_moment, ranked = self._note(x)
            p.add_tangents(tank_moment)
            again = p.solve(self._left(), opened=opened)
            if again.x is None or ranked - again.fun < GAP_L / 10.0:
                return
            x = again.x

    def tangents(self) -> Flags:
        """Add tangents where they matter; return stages near a transfer of the floor."""
        problem, p = self.problem, self.programme
        n = p.n
        _, stretches = shortest_path(p.bounds, problem.transfer_fixed_l, p.stages.allowed)
        wish = np.zeros(n)
        near = np.zeros(n, dtype=bool)
        for start, end, moment in stretches:
            wish[start:end] = moment
            near[max(start - 1, 0) : start + 2] = True
        scale = max(float(np.abs(problem.moment_t_m).max()), 1.0)
        middle = _middles(problem.moment_t_m, p.stages)
        for share in (0.0, 0.04, 0.1, 0.2, 0.35, 0.6, 1.0, 2.0, 4.0):
            for sign in (1.0, -1.0):
                # Around upright, and around the tank moments of the floor.
                p.add_tangents(sign * share * scale - middle)
                if share < 0.3:
                    p.add_tangents(wish + sign * share * scale)
        p.drop_equal_tangents()
        return near

    def first_guess(self) -> None:
        """Find a sequence with transfers near those of the floor."""
        p = self.programme
        near = self.tangents()
        if p.a:
            found = p.solve(0.3 * self._left(), near=near)
            if found.x is not None:
                self.polish(found.x)

    def prove(self) -> None:
        """Search all sequences that could still be cheaper."""
        p = self.programme
        for self.rounds in range(1, 13):
            p.cut_off(self._ranked_l + GAP_L)
            found = p.solve(self._left())
            if found.x is None:
                if found.status == 2:  # nothing cheaper is left
                    self.floor_l = self._ranked_l
                    return
                # Status 1 of the solver is a limit of time.
                self.timed_out = found.status == 1 or self._left() <= _NO_TIME_S
                if found.mip_dual_bound is not None:
                    self.floor_l = max(self.floor_l, float(found.mip_dual_bound))
                return
            # Plans above the cut-off were left out, so the bound cannot exceed it.
            bound = found.fun if found.mip_dual_bound is None else found.mip_dual_bound
            self.floor_l = max(self.floor_l, min(float(bound), self._ranked_l + GAP_L))
            self.polish(found.x)
            if _proven(self._ranked_l, self.floor_l):
                return
            if self._left() <= _NO_TIME_S:
                self.timed_out = True
                return

    def result(self) -> Sequence:
        """The best sequence with its floor."""
        floor_l = min(self.floor_l - TIE_L * len(self.moves), self.cost_l)
        return Sequence(
            moves=self.moves,
            moved_m3=moved_by(self.problem, self.moves),
            cost_l=self.cost_l,
            floor_l=floor_l,
            proven=_proven(self.cost_l, floor_l),
            rounds=self.rounds,
            timed_out=self.timed_out,
        )


def _middles(moment_t_m: Floats, stages: Stages) -> Floats:
    """Mean moment of each stage."""
    return np.add.reduceat(moment_t_m, stages.first) / np.bincount(stages.of)


def _proven(cost_l: float, floor_l: float) -> bool:
    return cost_l - floor_l <= max(GAP_L, GAP_SHARE * abs(cost_l))
