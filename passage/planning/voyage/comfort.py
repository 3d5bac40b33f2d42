"""Comfort at the places on board, and the worst of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.motions.comfort import (
    MSDV_HOURS,
    PERSON_CG_HEIGHT_M,
    interruptions_range_per_min,
    motion_sickness_incidence_percent,
    sickness_percent_from_dose,
)
from passage.physics.motions.lateral import lateral_acceleration_at
from passage.physics.motions.places import (
    lateral_acceleration_rms,
    vertical_acceleration_rms,
    weighted_acceleration_rms,
)
from passage.physics.roll.response import RollResponse
from passage.units import G_M_S2, HOUR_S

if TYPE_CHECKING:
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]


def comfort_at_points(
    yacht: Yacht,
    roll: RollResponse,
    sea: Array,
    excitation: Array,
    hours: Array,
    gm_ratio: npt.ArrayLike = 1.0,
) -> dict[str, Array]:
    """Accelerations, motion sickness and holding on at the worst place, of shape ``P``.

    For accelerations the worst place is found point by point. For sickness each place has its
    own dose of the last six hours, and the highest is returned; it is NaN while an unknown
    point is within those hours. ``gm_ratio`` is the present fluid GM over that of the vessel
    file.
    """
    motions = yacht.motions
    m0, m2, m4 = (
        roll.roll_rms_rad**2,
        roll.rate_rms_rad_s**2,
        roll.acceleration_rms_rad_s2**2,
    )
    sway = sea[..., motions.channel("sway_acceleration")]
    slope = np.sum(excitation, axis=-1)
    axis = yacht.vessel.roll.axis_above_waterline_m
    felt: dict[str, list[Array]] = {}

    natural = yacht.natural_frequency_rad_s * np.sqrt(np.asarray(gm_ratio, dtype=float))
    phases = motions.lateral_sea(sea)

    def across_at(x_m: float, height_m: float) -> Array:
        if phases is not None:
            return lateral_acceleration_at(
                x_m,
                height_m,
                m0,
                m2,
                m4,
                sea=phases,
                slope_variance=slope,
                natural_frequency_rad_s=natural,
                damping_ratio=roll.damping_ratio_total,
            )
        return lateral_acceleration_rms(
            m0,
            m2,
            m4,
            height_m,
            sway,
            slope_variance=slope,
            natural_frequency_rad_s=natural,
        )

    def add(name: str, values: Array) -> None:
        felt.setdefault(name, []).append(values)

    channels = zip(
        motions.channels("vertical_acceleration"),
        motions.channels("weighted_acceleration"),
        motions.channels("vertical_velocity"),
        strict=True,
    )
    placed = zip(yacht.places, channels, strict=True)
    for at, (place, (plain, weighted, velocity)) in enumerate(placed):
        up = vertical_acceleration_rms(sea[..., plain], place.y_m, m4)
        across = across_at(place.x_m, place.z_m - axis)
        add("vertical_acceleration_rms_g", up / G_M_S2)
        add("lateral_acceleration_rms_g", across / G_M_S2)
        rms = weighted_acceleration_rms(sea[..., weighted], place.y_m, m2, m4)
        dose = dose_with(yacht.before, at, rms, hours)
        add("motion_sickness_percent", sickness_percent_from_dose(dose))
        # Mean frequency of the acceleration: acceleration over velocity.
        speed = np.sqrt(sea[..., velocity] + place.y_m**2 * m2)
        frequency = up / np.where(speed > 0.0, speed, np.inf)
        add("motion_sickness_index_percent", motion_sickness_incidence_percent(up, frequency))
        period = 2.0 * np.pi * np.sqrt(m0 / np.where(m2 > 0.0, m2, np.inf))
        # For a standing person the acceleration at his centre of gravity counts.
        standing = across_at(place.x_m, place.z_m + PERSON_CG_HEIGHT_M - axis)
        low, high = interruptions_range_per_min(standing, np.where(period > 0.0, period, np.inf))
        add("interruptions_low_per_minute", np.where(np.isnan(m0), np.nan, low))
        add("interruptions_high_per_minute", np.where(np.isnan(m0), np.nan, high))
    if not felt:
        nothing = np.full(m0.shape, np.nan)
        return dict.fromkeys(COMFORT_NAMES, nothing)
    return {name: np.maximum.reduce(values) for name, values in felt.items()}


#: Names of the results of ``comfort_at_points``; all NaN for a vessel file without places.
COMFORT_NAMES: tuple[str, ...] = (
    "vertical_acceleration_rms_g",
    "lateral_acceleration_rms_g",
    "motion_sickness_percent",
    "motion_sickness_index_percent",
    "interruptions_low_per_minute",
    "interruptions_high_per_minute",
)


@dataclass(frozen=True, eq=False)
class Before:
    """Motion in the hours before the first segment of a track.

    ``weighted_rms_m_s2`` is the Wf-weighted acceleration at each place, ``(places, m)``, and
    ``hours`` the durations of its m segments, in order. An unknown segment counts as nothing
    and is for the caller to report.
    """

    weighted_rms_m_s2: Array
    hours: Array


def weighted_at_places(yacht: Yacht, roll: RollResponse, sea: Array) -> Array:
    """Wf-weighted vertical acceleration at each place, ``(places,) + P``. [m/s2]"""
    m2, m4 = roll.rate_rms_rad_s**2, roll.acceleration_rms_rad_s2**2
    channels = yacht.motions.channels("weighted_acceleration")
    return np.stack(
        [
            weighted_acceleration_rms(sea[..., channel], place.y_m, m2, m4)
            for place, channel in zip(yacht.places, channels, strict=True)
        ]
    )


def dose_with(before: Before | None, place: int, rms_m_s2: Array, hours: Array) -> Array:
    """`recent_dose` along a track, with the motion before its first segment. [m/s^1.5]"""
    if before is None:
        return recent_dose(rms_m_s2, hours)
    earlier = before.hours.size
    shape = (*rms_m_s2.shape[:-1], earlier)
    rms = np.broadcast_to(np.nan_to_num(before.weighted_rms_m_s2[place]), shape)
    then = np.broadcast_to(before.hours, shape)
    hours = np.broadcast_to(np.asarray(hours, dtype=float), rms_m_s2.shape)
    both = np.concatenate([rms, rms_m_s2], axis=-1), np.concatenate([then, hours], axis=-1)
    return recent_dose(*both)[..., earlier:]


def recent_dose(weighted_rms_m_s2: Array, hours: Array) -> Array:
    """Motion sickness dose of the last six hours, at the end of every segment. [m/s^1.5]

    Parameters
    ----------
    weighted_rms_m_s2, hours : ndarray, shape ``L + (n,)``
        Wf-weighted acceleration [m/s2] and duration [h] of the segments, in order.

    Notes
    -----
    The relation of ISO 2631-1 is for exposures up to six hours; a dose over a day at sea would
    be outside its range and make everybody sick. Of a segment that is partly older than six
    hours, only the newer part counts. Up to six hours after departure this is the dose since
    departure.
    """
    window = MSDV_HOURS[1]
    hours = np.broadcast_to(np.asarray(hours, dtype=float), weighted_rms_m_s2.shape)
    end = np.cumsum(hours, axis=-1)
    # Beginning of the six hours, and the first segment within them, to 1e-9 h for rounding.
    # Cumulative sums, because a track may have thousands of segments.
    opens = end - window
    first = np.empty(end.shape, dtype=np.intp)
    for row in np.ndindex(end.shape[:-1]):
        first[row] = np.searchsorted(end[row], opens[row] + 1e-9, side="right")
    first = np.minimum(first, np.arange(end.shape[-1]))
    unknown = np.isnan(weighted_rms_m_s2)
    squares = np.where(unknown, 0.0, weighted_rms_m_s2) ** 2

    def since_first(values: Array) -> Array:
        before = np.cumsum(values, axis=-1) - values
        return before + values - np.take_along_axis(before, first, axis=-1)

    total = since_first(squares * hours)
    begins = np.take_along_axis(end - hours, first, axis=-1)
    total -= np.take_along_axis(squares, first, axis=-1) * np.maximum(opens - begins, 0.0)
    # An unknown segment matters only while it is within the window.
    total = np.where(since_first((unknown & (hours > 0.0)).astype(float)) > 0.0, np.nan, total)
    return np.sqrt(np.maximum(total, 0.0) * HOUR_S)
