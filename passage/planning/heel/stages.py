"""Points grouped into stages, between which liquid may be moved.

Within a stage the tanks are left alone, so its cost depends on one number: the moment X
that moves have given the tanks. It is the sum over its points. Where active fins have a
fixed cost that curve is not convex; in the search the largest convex curve below it then
replaces it, so that every bound stays valid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from passage.planning.heel.leg_cost import LegCost, hull_below
from passage.planning.heel.model import (
    Flags,
    Floats,
    HeelProblem,
    Indices,
    moved_bounds_m3,
)

#: Moments at which a curve that is not convex is computed.
_GRID = 481
#: Most kinks of one stage's curve that are added to those.
_KINKS = 600
#: Rows of moments priced at a time.
_ROWS = 16
_TINY = 1e-9


@dataclass(frozen=True)
class Stages:
    """Data of each stage; arrays ``(s,)``, or ``(s, k)`` over tanks.

    ``low_m3`` and ``high_m3``: least and most that moves may have put into each tank;
    ``start_m3`` and ``end_m3``: contents at its start and end with nothing moved;
    ``carry_l_per_t``: price of a tonne of ballast over the stage.
    """

    first: Indices
    of: Indices
    allowed: Flags
    hours: Floats
    low_m3: Floats
    high_m3: Floats
    start_m3: Floats
    end_m3: Floats
    carry_l_per_t: Floats

    @classmethod
    def of_problem(cls, problem: HeelProblem) -> Stages:
        """The stages of a problem."""
        first = problem.stage_starts
        count = np.diff(np.r_[first, problem.n_points])
        low, high = moved_bounds_m3(problem)
        start = problem.content_start_m3
        last = first + count - 1
        return cls(
            first=first,
            of=np.repeat(np.arange(len(first)), count),
            allowed=problem.transfer_allowed[first],
            hours=problem.transfer_hours[first],
            # The bounds must hold at every point of the stage.
            low_m3=np.maximum.reduceat(low, first, axis=0),
            high_m3=np.minimum.reduceat(high, first, axis=0),
            start_m3=start[first],
            end_m3=(start - problem.burn_m3)[last],
            carry_l_per_t=np.add.reduceat(problem.carry_l_per_t, first),
        )

    @property
    def count(self) -> int:
        """Number of stages."""
        return len(self.first)


@dataclass(frozen=True)
class _Envelope:
    """Vertices of the largest convex curve below a stage's cost."""

    x_t_m: Floats
    cost_l: Floats
    #: Whether the cost itself is convex between a vertex and the next.
    exact: Flags


class StageCosts:
    """Least litres of each stage against the moment that moves have given the tanks."""

    def __init__(
        self, problem: HeelProblem, cost: LegCost, stages: Stages, reach_t_m: tuple[float, float]
    ) -> None:
        self.problem, self.cost, self.stages, self.reach = problem, cost, stages, reach_t_m

    @cached_property
    def convex(self) -> bool:
        """Whether every stage's curve is convex by itself."""
        return not np.any(self.cost.hold_l > 0.0)

    def true(self, tank_moment: Floats) -> tuple[Floats, Floats]:
        """Cost and slope of each stage at tank moments ``(..., s)``."""
        x = np.asarray(tank_moment, dtype=float)
        if x.ndim > 1 and len(x) > _ROWS:
            # A few rows at a time stay in the processor's cache.
            parts = [self.true(x[at : at + _ROWS]) for at in range(0, len(x), _ROWS)]
            return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        split = self.cost.best_split(self.problem.moment_t_m + x[..., self.stages.of])
        first = self.stages.first
        return (
            np.add.reduceat(split.cost_l, first, axis=-1),
            np.add.reduceat(split.slope_l_per_t_m, first, axis=-1),
        )

    def least_l(self, tank_moment: Floats) -> Floats:
        """Cost of each stage only, at tank moments ``(..., s)``."""
        x = np.asarray(tank_moment, dtype=float)
        if x.ndim > 1 and len(x) > _ROWS:
            parts = [self.least_l(x[at : at + _ROWS]) for at in range(0, len(x), _ROWS)]
            return np.concatenate(parts)
        moment = self.problem.moment_t_m + x[..., self.stages.of]
        return np.asarray(np.add.reduceat(self.cost.least_l(moment), self.stages.first, axis=-1))

    def below(self, tank_moment: Floats) -> tuple[Floats, Floats]:
        """A convex curve nowhere above the cost, and its slope, at ``(..., s)``."""
        x = np.asarray(tank_moment, dtype=float)
        value, slope = self.true(x)
        if self.convex:
            return value, slope
        for stage, curve in self._envelopes.items():
            here = np.clip(x[..., stage], curve.x_t_m[0], curve.x_t_m[-1])
            cell = np.clip(
                np.searchsorted(curve.x_t_m, here, side="right") - 1, 0, len(curve.x_t_m) - 2
            )
            left, right = curve.x_t_m[cell], curve.x_t_m[cell + 1]
            rise = (curve.cost_l[cell + 1] - curve.cost_l[cell]) / (right - left)
            chord = curve.cost_l[cell] + rise * (here - left)
            exact = curve.exact[cell] & (chord >= value[..., stage] - _TINY)
            value[..., stage] = np.where(exact, value[..., stage], chord)
            slope[..., stage] = np.where(exact, slope[..., stage], rise)
        return value, slope

    @cached_property
    def _envelopes(self) -> dict[int, _Envelope]:
        hold = np.add.reduceat((self.cost.hold_l > 0.0).astype(int), self.stages.first)
        return {int(stage): self._envelope(int(stage)) for stage in np.flatnonzero(hold)}

    def _envelope(self, stage: int) -> _Envelope:
        here = np.flatnonzero(self.stages.of == stage)
        cost, moment = self.cost.at(here), self.problem.moment_t_m[here]
        low, high = self.reach
        # The curve has kinks at zero heel, at the limit, and where the fins hold their most.
        bends = np.concatenate(
            [
                sign * size - moment
                for sign in (1.0, -1.0)
                for size in (
                    np.zeros(len(here)),
                    np.minimum(cost.limit_t_m, 1e6),
                    np.minimum(cost.limit_t_m, 1e6) + cost.fin_max,
                )
            ]
        )
        bends = bends[(bends > low) & (bends < high)]
        step = max((high - low) / _KINKS, 1e-6)
        _, keep = np.unique(np.round(bends / step), return_index=True)
        x = np.unique(np.r_[np.linspace(low, high, _GRID), bends[keep]])
        x = x[np.r_[True, np.diff(x) > 1e-7]]
        value = cost.least_l(moment + x[:, None]).sum(axis=-1)
        at = np.array(hull_below(x, value))
        return _Envelope(x[at], value[at], np.diff(at) == 1)
