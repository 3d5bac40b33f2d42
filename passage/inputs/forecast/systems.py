"""From interpolated linear fields back to wave systems at points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.conditions import Floats
from passage.inputs.forecast.waves import WavePlan, usual_spread
from passage.physics.waves.peakedness import GAMMA_SWELL, gamma_at_place, peak_by_steepness
from passage.physics.waves.spectrum import COS2_WIDTH_RAD

#: Circular widths outside these have no cos-2s shape that could be computed [rad].
SPREAD_RANGE_RAD = (0.05, 1.40)
#: Period given to a flat calm, whose height is 0 [s].
CALM_PERIOD_S = 5.0
#: Energy (height squared) below which a system is absent [m2].
_NO_ENERGY = 1e-9


@dataclass(frozen=True, eq=False)
class PointWaves:
    """Wave part of the conditions at ``n`` points, arrays ``(n, systems)``."""

    height_m: Floats
    peak_period_s: Floats
    from_rad: Floats
    gamma: Floats
    spread_rad: Floats
    total_height_m: Floats


def decode_waves(
    plan: WavePlan, fields: npt.NDArray[np.float32], known: npt.NDArray[np.bool_]
) -> PointWaves:
    """Heights, periods, directions, shapes from interpolated linear fields.

    Parameters
    ----------
    plan : WavePlan
        What the fields are.
    fields : ndarray, shape (n, plan.n_fields)
        Interpolated.
    known : ndarray of bool, shape (n,)
        Where there is data; NaN elsewhere.
    """
    n, width = len(plan.systems), plan.fields_per_system
    part = fields[:, 2:].reshape(fields.shape[0], n, width)
    energy = part[..., 0]
    there = (energy > _NO_ENERGY) & known[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        period = np.where(there, part[..., 1] / energy, np.nan).astype(float)
        direction = np.arctan2(part[..., 3], part[..., 2])
        place = (part[..., 4] / energy).astype(float)
        spread = part[..., 5] / energy if width == 6 else None
    height = np.sqrt(np.where(there, energy, np.nan).astype(float))
    # Adding a turn in single precision can round up to a whole turn: that is north.
    turn = direction.astype(float)
    turn = np.where(turn < 0.0, turn + 2.0 * np.pi, turn)
    from_rad = np.where(there, np.where(turn >= 2.0 * np.pi, 0.0, turn), np.nan)
    total = np.sqrt(np.where(known, fields[:, 1], np.nan).astype(float))
    gamma = np.empty_like(height)
    width_rad = np.empty_like(height)
    for i, system in enumerate(plan.systems):
        gamma[:, i] = GAMMA_SWELL if system.is_swell else gamma_at_place(place[:, i])
        width_rad[:, i] = usual_spread(system.name)
        if spread is not None:
            width_rad[:, i] = np.clip(spread[:, i], *SPREAD_RANGE_RAD)
    width_rad[~there] = np.nan
    gamma[~there] = np.nan
    calm = known & ~there.any(axis=1)
    for array, value in (
        (height, 0.0), (period, CALM_PERIOD_S), (from_rad, 0.0), (gamma, 1.0),
        (width_rad, COS2_WIDTH_RAD),
    ):  # fmt: skip
        array[calm, 0] = value
    return PointWaves(height, period, from_rad, gamma, width_rad, total)


def total_waves(
    height_m: Floats, energy_period_s: Floats, from_rad: Floats, spread_rad: Floats
) -> PointWaves:
    """The total sea of full spectra as one system, for what needs one number."""
    with np.errstate(invalid="ignore"):
        calm = height_m <= 0.0
    period = np.where(calm, CALM_PERIOD_S, energy_period_s)
    peak, place = peak_by_steepness("energy", height_m, period)
    gamma = np.where(calm, 1.0, gamma_at_place(place))
    peak = np.where(calm, CALM_PERIOD_S, peak)
    direction = np.where(calm, 0.0, from_rad)
    width = np.where(calm, COS2_WIDTH_RAD, np.clip(spread_rad, *SPREAD_RANGE_RAD))
    return PointWaves(
        height_m[:, None], peak[:, None], direction[:, None], gamma[:, None],
        width[:, None], height_m.astype(float),
    )  # fmt: skip
