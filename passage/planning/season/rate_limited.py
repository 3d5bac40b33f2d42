"""Points where the tables are not accurate enough are solved in full, as in a plan.

Where the fins are at their rate limit most of the time, their lag is far from that of the
tables, and the result depends on it strongly. Such points are few; they are sampled again
and solved in full.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.systems import decode_waves
from passage.inputs.forecast.waves import WavePlan
from passage.physics.tables import interpolate
from passage.physics.tables.cell_sampling import OK, CellRuns, sample_runs
from passage.physics.waves.dispersion import encounter_angle
from passage.planning.voyage.rolling import solve, working_fins
from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]

#: Lag, as a multiple of the actuator's own, above which a point is solved in full.
RATE_LIMITED_LAG = 1.03
_LAG = interpolate.PAIR_OUT.index("lag")
#: Results of the full solver in the order of ``interpolate.PAIR_OUT``.
_NAMES = (
    "command_rms_rad", "fin_rms_rad", "fin_mean_rad", "incidence_rms_rad", "lift_mean_rad",
    "lift_rms_rad", "fin_rate_rms_rad_s", "travel_rad_s", "limit_gain", "effective_lag_s",
    "lift_gain", "inflow_gain", "beyond_stall_rms_rad",
)  # fmt: skip
#: Points solved at a time: 128 frequencies each.
_CHUNK = 4096


def rate_limited_points(
    fins: Array, own_lag_s: Array, works: npt.NDArray[np.bool_]
) -> npt.NDArray[np.intp]:
    """Indices of the points that need the full solver.

    Parameters
    ----------
    fins : ndarray, (13, P, pairs)
        Fin responses, in the order of ``interpolate.PAIR_OUT``.
    own_lag_s : ndarray, (pairs,)
        Lag without the rate limit. [s]
    works : ndarray of bool, (P,)
        True where the fins are active under way.
    """
    slow = np.any(fins[_LAG] > RATE_LIMITED_LAG * own_lag_s, axis=-1)
    return np.flatnonzero(slow & works)


def solve_in_full(
    yacht: Yacht,
    plan: WavePlan,
    waves: CellRuns,
    speed_m_s: float,
    place: npt.NDArray[np.intp],
    time_s: Array,
    heading_rad: Array,
    offset_rad: Array,
    codes: npt.NDArray[np.int8],
) -> tuple[Array, Array]:
    """Roll ``(P, 6)`` and fin answers ``(13, P, pairs)`` at points ``(P,)``.

    ``place`` is the track's segment of each point; ``offset_rad`` (P, pairs).
    """
    rolls, answers = [], []
    for at in range(0, place.size, _CHUNK):
        part = slice(at, at + _CHUNK)
        here = replace(
            waves,
            corner=np.ascontiguousarray(waves.corner[place[part]]),
            weight=np.ascontiguousarray(waves.weight[place[part]]),
            inside=waves.inside[place[part]],
        )
        fields, code = sample_runs(here, time_s[None, part])
        sea = decode_waves(plan, fields[0], code[0] == OK)
        mu, _ = encounter_angle(sea.from_rad, heading_rad[part, None])
        stw = np.full(mu.shape[:1], speed_m_s)
        excitation = yacht.roll_tables.variance(
            stw, sea.height_m, sea.peak_period_s, mu, sea.gamma, sea.spread_rad
        )
        working = working_fins(yacht, stw, offset_rad[part], codes[part])
        found = solve(yacht, stw, excitation, np.zeros(stw.shape), working)
        rolls.append(
            np.stack(
                [
                    found.roll_rms_rad**2,
                    found.rate_rms_rad_s**2,
                    found.acceleration_rms_rad_s2**2,
                    -found.mean_heel_rad,
                    found.damping_ratio_total,
                    found.iterations.astype(float),
                ],
                axis=-1,
            )
        )
        answers.append(np.stack([getattr(found, name) for name in _NAMES]))
    return np.concatenate(rolls), np.concatenate(answers, axis=1)
