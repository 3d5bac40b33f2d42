"""Comfort at many departures: the measures that statistics need, at the worst place.

The functions are those of ``voyage/comfort.py``, but the dose of the last six hours is
summed in one pass along each passage instead of over all pairs of segments.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.physics.compiled import compile_loop
from passage.physics.motions.comfort import (
    MSDV_HOURS,
    PERSON_CG_HEIGHT_M,
    interruptions_range_per_min,
    sickness_percent_from_dose,
)
from passage.physics.motions.lateral import LateralSea, lateral_acceleration_at
from passage.physics.motions.places import (
    lateral_acceleration_rms,
    vertical_acceleration_rms,
    weighted_acceleration_rms,
)
from passage.planning.voyage.yacht import Yacht
from passage.units import G_M_S2, HOUR_S

Array = npt.NDArray[np.float64]


def accelerations(
    yacht: Yacht,
    moments: tuple[Array, Array, Array],
    sea: Array,
    slope_variance: Array,
    damping_ratio: Array,
) -> tuple[dict[str, Array], list[Array]]:
    """Accelerations at the worst place, and the weighted one at each place.

    Parameters
    ----------
    yacht : Yacht
        Her places and limits.
    moments : tuple of ndarray, P
        Variance of roll [rad2], of its rate [rad2/s2] and its acceleration [rad2/s4].
    sea : ndarray, P + (channels,)
        Channels as in ``tables.SeasonTables``.
    slope_variance : ndarray, P
        Variance of the effective wave slope. [rad2]
    damping_ratio : ndarray, P
        Linear roll damping with the fins, as a share of critical.
    """
    m0, m2, m4 = moments
    count = len(yacht.places)
    sway = sea[..., 2 * count + 2]
    axis = yacht.vessel.roll.axis_above_waterline_m
    limits = yacht.vessel.limits
    holding_on = any(
        getattr(limit, "interruptions_per_minute", None) is not None
        for limit in (limits.underway, limits.at_rest)
    )
    if not count:
        nothing = np.full(m0.shape, np.nan)
        return {
            "vertical_acceleration_rms_g": nothing,
            "lateral_acceleration_rms_g": nothing,
            "interruptions_high_per_minute": nothing,
        }, [nothing]
    felt: dict[str, list[Array]] = {}
    weighted = []
    spots = {(place.x_m, place.z_m - axis) for place in yacht.places}
    if holding_on:
        spots |= {(x, height + PERSON_CG_HEIGHT_M) for x, height in spots}
    each = sorted(spots)
    x, height = (np.reshape(v, (-1,) + (1,) * m0.ndim) for v in zip(*each, strict=True))
    if yacht.motions.lateral is None:
        lateral = lateral_acceleration_rms(
            m0,
            m2,
            m4,
            height,
            sway,
            slope_variance=slope_variance,
            natural_frequency_rad_s=yacht.natural_frequency_rad_s,
        )
    else:
        lateral = lateral_acceleration_at(
            x,
            height,
            m0,
            m2,
            m4,
            sea=LateralSea.of(sway, list(np.moveaxis(sea[..., 2 * count + 4 :], -1, 0))),
            slope_variance=slope_variance,
            natural_frequency_rad_s=yacht.natural_frequency_rad_s,
            damping_ratio=damping_ratio,
        )
    lateral_at = dict(zip(each, lateral, strict=True))

    for i, place in enumerate(yacht.places):
        up = vertical_acceleration_rms(sea[..., i], place.y_m, m4)
        felt.setdefault("vertical_acceleration_rms_g", []).append(up / G_M_S2)
        across = lateral_at[place.x_m, place.z_m - axis]
        felt.setdefault("lateral_acceleration_rms_g", []).append(across / G_M_S2)
        if holding_on:
            period = 2.0 * np.pi * np.sqrt(m0 / np.where(m2 > 0.0, m2, np.inf))
            standing = lateral_at[place.x_m, place.z_m - axis + PERSON_CG_HEIGHT_M]
            _, high = interruptions_range_per_min(standing, np.where(period > 0.0, period, np.inf))
            high = np.where(np.isnan(m0), np.nan, high)
            felt.setdefault("interruptions_high_per_minute", []).append(high)
        at = sea[..., count + i]
        weighted.append(
            np.sqrt(at) if place.y_m == 0.0 else weighted_acceleration_rms(at, place.y_m, m2, m4)
        )
    return {name: np.maximum.reduce(values) for name, values in felt.items()}, weighted


def sickness_percent(weighted_rms_m_s2: list[Array], hours: Array) -> Array:
    """People sick by the end of every segment, at the worst place, (departures, n). [%]"""
    worst = None
    for rms in weighted_rms_m_s2:
        dose = np.empty(rms.shape)
        _dose_loop(np.ascontiguousarray(rms), np.ascontiguousarray(hours), MSDV_HOURS[1], dose)
        worst = dose if worst is None else np.maximum(worst, dose)
    assert worst is not None
    # Sickness increases with dose, so the largest dose gives the largest share.
    return sickness_percent_from_dose(worst)


@compile_loop
def _dose_loop(rms, hours, window, dose):  # type: ignore[no-untyped-def]
    """As ``recent_dose`` of ``voyage/comfort.py``, in one pass with a moving window."""
    for m in range(rms.shape[0]):
        tail = 0
        tail_start = 0.0
        end = 0.0
        total = 0.0
        unknown = 0
        for k in range(rms.shape[1]):
            step = hours[m, k]
            end += step
            square = rms[m, k] * rms[m, k]
            if np.isnan(square):
                unknown += 1
            else:
                total += step * square
            # Remove segments that ended before the window.
            while tail < k and tail_start + hours[m, tail] <= end - window:
                old = rms[m, tail] * rms[m, tail]
                if np.isnan(old):
                    unknown -= 1
                else:
                    total -= hours[m, tail] * old
                tail_start += hours[m, tail]
                tail += 1
            if unknown > 0 or np.isnan(end):
                dose[m, k] = np.nan
                continue
            part = total
            if tail_start < end - window:
                part -= (end - window - tail_start) * rms[m, tail] * rms[m, tail]
            dose[m, k] = np.sqrt(max(part, 0.0) * HOUR_S)
