"""Roll at many points of one speed, from rows of responses: packing for the compiled loops."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from passage.physics.roll.fin_gains import each_pair, gains
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.roll.steadiness import stable
from passage.physics.tables.centred import centred_loop
from passage.physics.tables.interpolate import (
    ACTIVE,
    CENTRED,
    PAIR_IN,
    PAIR_OUT,
    ROLL_OUT,
)
from passage.physics.tables.levels import RollLevels
from passage.physics.tables.working_loop import working_loop

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]
Codes = NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class TabulatedRoll:
    """Roll at one speed: ``levels`` and everything derived from them."""

    levels: RollLevels

    @cached_property
    def axes(self) -> tuple[float, float, float, float, float]:
        """Shift of D [rad/s], first ``1/(D + shift)`` and its step; number and step of x."""
        levels = self.levels
        inverse = 1.0 / (levels.damping + levels.shift)
        x = levels.x
        return (
            levels.shift,
            float(inverse[0]),
            float((inverse[-1] - inverse[0]) / (inverse.size - 1)),
            float(x.size),
            float(x[-1] / (x.size - 1)),
        )

    @cached_property
    def inflow(self) -> float:
        """Sum over all pairs of moment ratio x inflow time. [s]"""
        fins = self.levels.fins
        return float(
            np.sum(each_pair(fins.moment_ratio, fins) * each_pair(fins.inflow_time_s, fins))
        )

    @cached_property
    def speed(self) -> tuple[float, ...]:
        """Numbers of this speed, packed in the order of ``interpolate.SPEED_IN``."""
        levels = self.levels
        return (
            levels.natural_frequency_rad_s,
            levels.hull_damping,
            levels.quadratic_per_rad,
            levels.ratio,
            max(levels.rest_damping, 1e-30),
            float(np.sum(each_pair(levels.fins.rest_moment_rad, levels.fins))),
            levels.by_damping,
        )

    @cached_property
    def pairs(self) -> FloatArray:
        """Numbers of the pairs, packed in the order of ``interpolate.PAIR_IN``."""
        fins = self.levels.fins
        lag = np.maximum(each_pair(fins.lag_s, fins), SHORTEST_LAG_S)
        rows = (fins.moment_ratio, fins.inflow_time_s, fins.angle_limit_rad, fins.rate_limit_rad_s)
        packed = [each_pair(row, fins) for row in rows]
        delay = each_pair(fins.delay_s, fins)
        fall = each_pair(fins.post_stall_slope, fins)
        return np.stack([*packed, lag, *gains(fins), self.levels.weight, delay, fall])

    @property
    def lag_s(self) -> FloatArray:
        """Lag of each pair without its rate limit. [s]"""
        return np.asarray(self.pairs[PAIR_IN.index("lag")])

    @cached_property
    def flat_gains(self) -> Singles:
        """Tables of the effect of limits, (pairs, COMMANDS x OFFSETS x COLUMNS)."""
        return self.levels.table.data.reshape(self.levels.pairs, -1)

    @cached_property
    def stable(self) -> bool:
        """Whether the loop of hull, fins and lag is stable in small motion."""
        moment, inflow, _, _, lag, k1, k2, k3, _, delay, _ = (
            np.ascontiguousarray(r) for r in self.pairs
        )
        slow = 2.0 * max(self.levels.hull_damping, 1e-6 * self.speed[0])
        return bool(stable(self.speed[0], 0.5 * slow, moment, inflow, k1, k2, k3, lag, delay))

    def centred(self, rows: Singles) -> FloatArray:
        """Roll with the fins centred, ``(P, 6)`` in the order of ``ROLL_OUT``."""
        out = np.empty((rows.shape[0], len(ROLL_OUT)))
        centred_loop(rows, self.axes, self.speed, self.inflow, out)
        return out

    def working(
        self,
        rows: Singles,
        offset_rad: FloatArray,
        use: Codes,
        centred: FloatArray,
        derivative_column: int,
    ) -> tuple[FloatArray, FloatArray]:
        """Roll with the use of the fins at each point.

        Parameters
        ----------
        rows : ndarray of float32, (P, any)
            Rows of ``response_rows`` at this speed.
        offset_rad : ndarray, (P, pairs)
            Offset of each pair. [rad]
        use : ndarray of int8, (P,)
            ``interpolate.CENTRED``, ``ACTIVE`` or ``AT_REST``.
        centred : ndarray, (P, 6)
            Result of :meth:`centred`, kept where fins do not work.
        derivative_column : int
            Column of the rows where the derivatives begin.

        Returns
        -------
        roll : ndarray, (P, 6)
            In the order of ``ROLL_OUT``; ``held_heel`` is the heel that the offset holds.
        fins : ndarray, (13, P, pairs)
            In the order of ``PAIR_OUT``.
        """
        out = centred.copy()
        fins = np.empty((len(PAIR_OUT), rows.shape[0], self.levels.pairs))
        idle = np.flatnonzero(use == CENTRED)
        still = each_pair(self.levels.fins.inflow_time_s, self.levels.fins)
        still = still * np.sqrt(out[idle, 1])[:, None]
        ones = ("gain", "lift_gain", "inflow_gain")
        for i, name in enumerate(PAIR_OUT):
            fins[i, idle] = still if name in ("incidence", "lift") else float(name in ones)
        fins[PAIR_OUT.index("lag"), idle] = self.lag_s
        offset = np.ascontiguousarray(offset_rad, float)
        working_loop(
            rows, self.axes, self.speed, self.pairs, self.flat_gains, self.levels.stiffness,
            derivative_column, offset, use, self.stable, out, fins,
        )  # fmt: skip
        if not self.stable:
            out[use == ACTIVE] = np.nan
            fins[:, use == ACTIVE] = np.nan
        return out, fins
