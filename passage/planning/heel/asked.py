"""The best sequence for a slightly changed problem, found fast, and how good it is.

The floor of `bound` is computed first. Where the present moves cost little more than the
floor, nothing can be better and no search is made. Otherwise a few sequences are tried,
the floor's own among them, and, if doubt remains and there is time, the full search.
"""

from __future__ import annotations

import time
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from passage.errors import PassageError
from passage.planning.heel.bound import shortest_path, stretch_bounds
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import SEA, Floats, HeelProblem, stability
from passage.planning.heel.moves import Move, carry_l, moved_by, price_sequence
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.search import best_within_limit
from passage.planning.heel.sequence import Sequence
from passage.planning.heel.single import best_single
from passage.planning.heel.stages import StageCosts, Stages

#: The advice holds if keeping to it costs no more than this over the new best.
HOLDS_L = 1.0
HOLDS_SHARE = 0.02
#: Amounts tried for each transfer of the advice when they are chosen again.
_AMOUNTS = 13
#: The cheapest of those, which are checked against every rule.
_TRIED = 5
#: Tank moments at which the floor's curves are computed.
_GRID = 241
#: Least and most seconds of one full search.
_SEARCH_S = (0.2, 4.0)


def near_l(litres: float) -> float:
    """Most litres that count as equal to ``litres``."""
    return litres + max(HOLDS_L, HOLDS_SHARE * abs(litres))


Verdict = Literal["holds", "other amounts", "other advice"]


def verdict_of(best_l: float, kept_l: float | None, adjusted_l: float | None) -> Verdict:
    """Whether moves hold beside the best sequence, hold with other amounts, or not."""
    near = near_l(best_l)
    if kept_l is not None and kept_l <= near:
        return "holds"
    if adjusted_l is not None and adjusted_l <= near:
        return "other amounts"
    return "other advice"


@dataclass(frozen=True)
class Answered:
    """The best sequence found for a changed problem.

    Litres include the charge for heel over the limit. ``kept_l`` is for the present moves,
    ``adjusted_l`` for the same transfers with their amounts adjusted; ``None`` where a rule
    forbids them. No sequence costs less than ``floor_l``.
    """

    moves: tuple[Move, ...]
    best_l: float
    best_charge_l: float
    kept_l: float | None
    kept_charge_l: float
    adjusted_l: float | None
    floor_l: float

    @property
    def verdict(self) -> Verdict:
        """Whether the present moves hold, hold with other amounts, or not."""
        return verdict_of(self.best_l, self.kept_l, self.adjusted_l)

    @property
    def open_l(self) -> float:
        """Most that a sequence not found could still save; 0 where that is little."""
        return 0.0 if self.best_l <= near_l(self.floor_l) else self.best_l - self.floor_l


class Asked:
    """One changed problem. All that does not depend on the present moves is computed once."""

    def __init__(self, problem: HeelProblem) -> None:
        self.problem = problem
        self._searched: Sequence | None = None
        # Moves only reduce stiffness (free surface), so the limit is widest with none made.
        self.cost = LegCost.of(replace(problem, limit_stiffness_t_m=problem.stiffness_t_m))

    def weighed(self, moves: tuple[Move, ...]) -> tuple[float, float]:
        """Price with the charge for heel over the limit, and that charge."""
        stiffness = stability(self.problem, moved_by(self.problem, moves))[1]
        cost = self.cost.judged_at(self.problem, stiffness)
        total, split = price_sequence(self.problem, cost, moves)
        return total, float((split.over_limit_t_m * cost.over_l_per_t_m).sum())

    def answer(self, kept: tuple[Move, ...], until: float = 0.0) -> Answered:
        """The best found; a full search only before ``until`` (process time). [s]"""
        problem = self.problem
        allowed = not broken_rules(problem, kept)
        kept_l, kept_charge = self.weighed(kept) if allowed else (None, 0.0)
        floor_l = self._floor[0]
        if kept_l is not None and kept_l <= near_l(floor_l):
            return Answered(kept, kept_l, kept_charge, kept_l, kept_charge, kept_l, floor_l)
        rows: list[tuple[float, float, tuple[Move, ...]]] = [(*self.weighed(()), ())]
        if kept_l is not None:
            rows.append((kept_l, kept_charge, kept))
        adjusted = self.adjusted(kept) if kept else None
        adjusted_l = None
        if adjusted is not None:
            rows.append((*self.weighed(adjusted), adjusted))
            adjusted_l = rows[-1][0]
        if min(row[0] for row in rows) > near_l(floor_l):
            for other in self._tried:
                if other:
                    rows.append((*self.weighed(other), other))
        left = until - time.thread_time()
        if min(row[0] for row in rows) > near_l(floor_l):
            if self._searched is None and left > _SEARCH_S[0]:
                with suppress(PassageError):
                    self._searched = best_within_limit(problem, seconds=min(left, _SEARCH_S[1]))
            if self._searched is not None:
                found = self._searched
                rows.append((*self.weighed(found.moves), found.moves))
                floor_l = max(floor_l, found.floor_l)
        best_l, charge, moves = min(rows, key=lambda row: row[0])
        return Answered(
            moves, best_l, charge, kept_l, kept_charge, adjusted_l, min(floor_l, best_l)
        )

    def flips(self, kept: tuple[Move, ...]) -> bool:
        """Whether other transfers are better than these, whatever their amounts."""
        return self.answer(kept).verdict == "other advice"

    def adjusted(self, moves: tuple[Move, ...]) -> tuple[Move, ...] | None:
        """The same transfers with better amounts; None if they cannot be made."""
        problem = self.problem
        if any(
            move.point >= problem.n_points or (move.source, move.target) not in problem.pairs
            for move in moves
        ):
            return None
        best: tuple[Move, ...] | None = None if broken_rules(problem, moves) else moves
        best_l = np.inf if best is None else self.weighed(moves)[0]
        now = moves
        for spread in (1.0, 0.2):
            for at, move in enumerate(now):
                factors = np.linspace(max(1.0 - spread, 0.0), 1.0 + spread, _AMOUNTS)
                amounts = np.maximum(now[at].amount_m3 * factors, problem.smallest_transfer_m3)
                amounts = np.unique(amounts)
                for amount in amounts[np.argsort(self._about_l(now, at, amounts))][:_TRIED]:
                    other = (*now[:at], replace(move, amount_m3=float(amount)), *now[at + 1 :])
                    litres = self.weighed(other)[0]
                    if litres < best_l - 1e-6 and not broken_rules(problem, other):
                        best, best_l = other, litres
                        break
                now = best or now
        return best

    def _about_l(self, moves: tuple[Move, ...], at: int, amounts: Floats) -> Floats:
        """Approximate litres with each of ``amounts`` for one of the moves, GM unchanged."""
        problem, move = self.problem, moves[at]
        moved = moved_by(problem, moves)
        cost = self.cost.judged_at(problem, stability(problem, moved)[1])
        each = moved_by(problem, (replace(move, amount_m3=1.0),))
        more = amounts - move.amount_m3
        weight = problem.tank_moment_per_m3
        moment = problem.moment_t_m + moved @ weight + more[:, None] * (each @ weight)
        litres = cost.least_l(moment).sum(axis=-1) + problem.pump_l_per_m3 * more
        carried = carry_l(problem, moved) + more[:, None] * carry_l(problem, each)
        return np.asarray(litres + np.maximum(carried, 0.0).sum(axis=-1))

    @cached_property
    def _tried(self) -> tuple[tuple[Move, ...] | None, ...]:
        """Sequences besides the present one that are tried before a full search."""
        wished = self._floor[1]
        return best_single(self.problem), self.adjusted(wished) if wished else None

    @cached_property
    def _floor(self) -> tuple[float, tuple[Move, ...]]:
        """The least any sequence can cost, and moves that come near to that solution."""
        problem = self.problem
        stages = Stages.of_problem(problem)
        weight = problem.tank_moment_per_m3
        if not problem.pairs:
            return float(self.cost.least_l(problem.moment_t_m).sum()), ()
        low, high = stages.low_m3 * weight, stages.high_m3 * weight
        reach = (
            float(np.minimum(low, high).sum(axis=1).min()),
            float(np.maximum(low, high).sum(axis=1).max()),
        )
        costs = StageCosts(problem, self.cost, stages, (reach[0], max(reach[1], reach[0] + 0.01)))
        bounds = stretch_bounds(costs, *costs.reach, points=_GRID)
        floor_l, stretches = shortest_path(bounds, problem.transfer_fixed_l, stages.allowed)
        moves: list[Move] = []
        before = 0.0
        for first, _, moment in stretches:
            if abs(moment - before) > 1e-6:
                moves += self._toward(stages, first, moment - before)
            before = moment
        return floor_l, tuple(moves)

    def _toward(self, stages: Stages, stage: int, moment_t_m: float) -> list[Move]:
        """The transfer of this moment between the pair of tanks farthest apart."""
        problem = self.problem
        weight = problem.tank_moment_per_m3
        rows = []
        for source, target in problem.pairs:
            lever = (0.0 if target == SEA else weight[target]) - (
                0.0 if source == SEA else weight[source]
            )
            if lever * moment_t_m > 0.0 and SEA not in (source, target):
                rows.append((abs(lever), source, target))
        if not rows:
            return []
        lever, source, target = max(rows)
        amount = max(abs(moment_t_m) / lever, problem.smallest_transfer_m3)
        return [Move(int(stages.first[stage]), source, target, amount)]
