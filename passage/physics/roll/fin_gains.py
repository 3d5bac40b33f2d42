"""Effect of angle limit and stall on a fin pair, tabulated over command and offset.

The functions are those of the roll solver, called once for a grid. The inflow that
accompanies a command is that at the natural roll frequency; it matters only in the stall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passage.physics.fins.force import Fins
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.roll.solver import clip_statistics, stall_statistics
from passage.physics.roll.steadiness import turned_gains

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]

#: Columns of a table: share of time inside the limit; rms after the limit over rms before;
#: mean angle [rad]; gain of lift for the command and for the inflow; mean lift over lift slope
#: [rad]; change of its mean square by the stall [rad2]; mean square of the incidence beyond
#: the stall [rad2].
GAIN, SHARE, MEAN, LIFT_GAIN, INFLOW_GAIN, LIFT_MEAN, LOST, BEYOND = range(8)
COLUMNS = 8
COMMANDS, OFFSETS = 129, 65
#: Smallest rms for which the functions are called. [rad]
_SMALLEST = 1e-9


@dataclass(frozen=True, eq=False)
class FinGains:
    """Tables of all pairs ``(pairs, COMMANDS, OFFSETS, COLUMNS)``.

    COMMANDS runs evenly over ``u = c/(c + limit)`` from 0 to 1, c the rms of the command;
    OFFSETS evenly over offset/limit from 0 to 1. Means are for a positive offset.
    """

    data: Singles
    limit_rad: FloatArray


def each_pair(values: object, fins: Fins) -> FloatArray:
    """One value for each pair of ``fins``, from one for all or one for each.

    Shape (pairs,), in the unit of ``values``: rad, [s] or dimensionless.
    """
    pairs = np.atleast_1d(np.asarray(fins.moment_ratio, float)).size
    return np.array(np.broadcast_to(np.asarray(values, float), (pairs,)))


def gains(fins: Fins) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Gains on angle [dimensionless], rate [s] and acceleration [s2], each of shape (pairs,)."""
    return (
        each_pair(fins.angle_gain, fins),
        each_pair(fins.rate_gain_s, fins),
        each_pair(fins.acceleration_gain_s2, fins),
    )


def fin_gains(fins: Fins, natural_frequency_rad_s: float) -> FinGains:
    """Tables for pairs at one speed; every field of ``fins`` has one value for each pair.

    Natural frequency in [rad/s], angles in rad.
    """
    limit = each_pair(fins.angle_limit_rad, fins)
    pairs = limit.size
    data = np.zeros((pairs, COMMANDS, OFFSETS, COLUMNS), np.float32)
    w0 = float(natural_frequency_rad_s)
    k1, k2, k3 = gains(fins)
    lag = np.maximum(each_pair(fins.lag_s, fins), SHORTEST_LAG_S)
    flow = each_pair(fins.inflow_time_s, fins)
    delay = each_pair(fins.delay_s, fins)
    stall = each_pair(fins.stall_angle_rad, fins)
    more = 1.0 + each_pair(fins.post_stall_slope, fins)
    u = np.linspace(0.0, 1.0, COMMANDS)
    u[-1] = 0.5 * (u[-2] + 1.0)  # an infinite command has no statistics
    for i in range(pairs):
        c1 = k1[i] - w0**2 * k3[i]
        size = np.hypot(c1, w0 * k2[i])
        # Command and inflow of one radian of roll at the natural frequency.
        rate = w0 / size if size > 0.0 else 0.0
        follow = 1.0 / np.sqrt(1.0 + (w0 * lag[i]) ** 2)
        late1, late2 = turned_gains(c1, k2[i], w0, delay[i])
        tied = w0 * (late2 - late1 * lag[i]) * follow / size if size > 0.0 else 0.0
        for a in range(COMMANDS):
            std = max(limit[i] * u[a] / (1.0 - u[a]), _SMALLEST)
            for o, offset in enumerate(np.linspace(0.0, limit[i], OFFSETS)):
                gain, mean, clipped = clip_statistics(std, offset, limit[i])
                before = max(std * follow, _SMALLEST)
                streaming = flow[i] * rate * std
                part, excess, with_angle, size_, square = stall_statistics(
                    before, offset, limit[i], streaming, tied, stall[i]
                )
                slant = part
                if before > 1e-6:
                    slant = (with_angle - part * tied * before * streaming) / before**2
                lost = 0.0
                if np.isfinite(stall[i]):
                    lost = more[i] * (more[i] * square - 2.0 * (square + stall[i] * size_))
                data[i, a, o] = (
                    gain,
                    clipped / std,
                    mean,
                    gain - more[i] * slant,
                    1.0 - more[i] * part,
                    mean - more[i] * excess,
                    lost,
                    square,
                )
    return FinGains(data, limit)
