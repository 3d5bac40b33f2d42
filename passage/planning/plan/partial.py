"""Values of a partly covered passage, and how far they may represent the whole.

Values of a partly covered leg are means over its covered part. Sums are extended at the rate
of the covered part where enough of the leg is known. ``known_percent`` is given with such
numbers, and they are never used to judge a limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.harbour import MOST_NM, end_distance_nm
from passage.inputs.forecast.nearest import cover_km
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import route_ends
from passage.variables import BY_NAME, COVERAGE

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Track
    from passage.planning.voyage.prepare import Passage

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: Share of the time that must be known before a sum is extended over the rest
#: (assumption). [%]
LEAST_KNOWN_PERCENT = 80.0
#: Parts of the fuel.
FUEL_PARTS = (
    "fuel_still_water_l",
    "fuel_waves_l",
    "fuel_wind_l",
    "fuel_fins_active_l",
    "fuel_fins_offset_l",
    "fuel_list_l",
    "fuel_hotel_l",
)
#: Largest distance at which a sea cell is suggested as a remedy. [km]
REMEDY_KM = 60.0


def _weight(way: March) -> Array:
    return np.asarray(np.nan_to_num(way.hours, nan=0.0), dtype=float)


def known_percent(way: March, evaluation: Evaluation, where: npt.NDArray[np.bool_]) -> float:
    """Share of the hours of some points whose fuel is known; 0 without any hours. [%]"""
    hours = np.asarray(way.hours, float)[where]
    if not np.all(np.isfinite(hours)) or not np.sum(hours) > 0.0:
        return 0.0
    known = np.isfinite(np.asarray(evaluation.values["fuel_l"])[where])
    # Divide first, so that the share of everything is exactly 100.
    return float(100.0 * (np.sum(hours[known]) / np.sum(hours)))


def fill_partial_legs(
    legs: Sequence[dict[str, Any]],
    leg_index: npt.NDArray[np.int_],
    way: March,
    evaluation: Evaluation,
) -> None:
    """Give every leg its ``known_percent``, and partly known legs the values of that part.

    Parameters
    ----------
    legs : sequence of dict
        Rows of :func:`legtable.leg_table`, filled in place.
    leg_index : ndarray of int, (n,)
        Leg of each point, from 0.
    way, evaluation : March, Evaluation
        March and evaluation of shape ``(n,)``.
    """
    hours = _weight(way)
    known = np.isfinite(np.asarray(evaluation.values["fuel_l"]))
    for i, leg in enumerate(legs):
        here = leg_index == i
        share = known_percent(way, evaluation, here)
        leg["known_percent"] = share
        part = here & known
        if share >= 100.0 or not np.any(part):
            continue
        for name, values in evaluation.values.items():
            variable = BY_NAME.get(name)
            value = leg.get(name)
            if variable is None or not isinstance(value, float):
                continue
            # A fuel part that is known everywhere is extended like the others, so that the
            # parts add up to the fuel.
            extends = name in FUEL_PARTS and share >= LEAST_KNOWN_PERCENT
            if value == value and not extends:
                continue
            points = np.asarray(values, float)
            if variable.how == "mean":
                leg[name] = float(np.average(points[part], weights=hours[part]))
            elif variable.how == "sum" and share >= LEAST_KNOWN_PERCENT:
                leg[name] = float(np.sum(points[part]) * 100.0 / share)
        sick = np.asarray(evaluation.values["motion_sickness_percent"], float)[here]
        if np.any(np.isfinite(sick)):
            leg["motion_sickness_percent"] = float(np.nanmax(sick))


def extended_sum(
    name: str, legs: Sequence[dict[str, Any]], way: March, evaluation: Evaluation
) -> float | None:
    """Sum over the passage: of all legs, or extended from the known part, or None."""
    values = [leg[name] for leg in legs]
    complete = all(value is not None and value == value for value in values)
    share = known_percent(way, evaluation, np.ones(np.shape(way.hours), bool))
    if name in FUEL_PARTS and share >= LEAST_KNOWN_PERCENT:
        # Like the fuel itself: by leg where each is known well enough, else over the passage.
        complete = all(leg["fuel_l"] is not None and leg["fuel_l"] == leg["fuel_l"] for leg in legs)
    if complete:
        return float(sum(values))
    points = evaluation.values.get(name)
    if points is None or share < LEAST_KNOWN_PERCENT:
        return None
    known = np.isfinite(np.asarray(evaluation.values["fuel_l"]))
    if name not in FUEL_PARTS:
        known = np.ones(known.shape, bool)
    return float(np.nansum(np.asarray(points, float)[known]) * 100.0 / share)


def extended_totals(covered: Array, known_h: Array, hours: Array) -> tuple[Array, Array]:
    """Sums over many passages, extended as in a plan, and the known shares.

    Parameters
    ----------
    covered : ndarray, L + (legs,)
        Sum over the covered part of each leg.
    known_h, hours : ndarray, L + (legs,)
        Covered hours of each leg, and all its hours. [h]

    Returns
    -------
    total : ndarray, L
        Sum over the passage; NaN where less than ``LEAST_KNOWN_PERCENT`` is known.
    known_percent : ndarray, L
        Share of the hours that is known; NaN where the hours are not. [%]
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(hours > 0.0, 100.0 * (known_h / hours), np.where(hours == 0.0, 100.0, 0.0))
        by_leg = np.sum(np.where(share < 100.0, covered * 100.0 / share, covered), axis=-1)
        whole = 100.0 * (np.sum(known_h, axis=-1) / np.sum(hours, axis=-1))
        at_once = np.sum(covered, axis=-1) * 100.0 / whole
    each = np.all(share >= LEAST_KNOWN_PERCENT, axis=-1)
    total = np.where(each, by_leg, at_once)
    return np.where(whole >= LEAST_KNOWN_PERCENT, total, np.nan), whole


def masked_reach_km(forecast: Forecast, track: Track, way: March) -> float | None:
    """Distance at which ``--nearest-sea-cell`` would cover every masked point. [km]

    ``way`` has the shape ``(n,)`` or ``(departures, n)``; a point counts once, at its first
    masked time. None where nothing is masked, or beyond ``REMEDY_KM``.
    """
    return reach_of_masked_km(
        forecast, track.lat_deg, track.lon_deg, way.conditions.coverage, way.time_s
    )


def reach_of_masked_km(
    forecast: Forecast, lat_deg: Array, lon_deg: Array, coverage: Codes, time_s: Array
) -> float | None:
    """As `masked_reach_km`, for points ``(n,)`` and codes and times ``(n,)`` or
    ``(departures, n)``. [km]"""
    masked = coverage == COVERAGE.index("masked")
    groups = getattr(forecast, "groups", None)
    if not groups or not np.any(masked):
        return None
    masked = masked.reshape(-1, masked.shape[-1])
    at = np.flatnonzero(masked.any(axis=0))
    row = np.argmax(masked[:, at], axis=0)
    times = np.broadcast_to(time_s, coverage.shape).reshape(masked.shape)
    group = groups.get("waves") or groups["spectrum"]
    return cover_km(group, lat_deg[at], lon_deg[at], times[row, at], REMEDY_KM)


def harbour_reach_nm(
    passage: Passage, masked: npt.NDArray[np.bool_], here: npt.NDArray[np.bool_]
) -> float | None:
    """Distance from the ends of the route that includes all masked points of a leg. [nm]

    In whole miles; None beyond the largest that ``--harbour`` takes. ``masked`` is over the
    points of the leg, ``here`` selects these from the points of the track.
    """
    track = passage.track
    ends = route_ends([passage.route])
    away = end_distance_nm(ends, track.lat_deg[here][masked], track.lon_deg[here][masked])
    most = float(np.ceil(np.max(away, initial=0.0)))
    return most if 0.0 < most <= MOST_NM else None


def remedy_words(reach_km: float | None) -> str:
    """`` --nearest-sea-cell 15 would cover it.``; empty for None."""
    return "" if reach_km is None else f" --nearest-sea-cell {reach_km:g} would cover it."
