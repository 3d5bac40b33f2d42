"""Waypoints as a person would sail them, or the reason why one lies closer or turns less."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.coastline import distance_to_land_nm
from passage.inputs.route import Route, build_route
from passage.inputs.route.geometry import great_circle_inverse, great_circle_points
from passage.planning.suggest.judge import PRICE_UNITS, Judged
from passage.planning.suggest.smooth import (
    BACK_DEG,
    LEAST_TURN_DEG,
    OPEN_NM,
    SPACING_NM,
    Smoother,
    _courses,
    _turns_deg,
    leg_kind,
    line_route,
    places_of,
)
from passage.units import m_to_nm, wrap_180

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Judge = Callable[[Route], Judged]

#: What leaving out waypoints may cost in all, as a share of the price.
MOST_COST = 5e-4
#: How far waypoints are moved aside where the line between them touches what is closed. [nm]
_ASIDE_NM = (0.3, 1.0, 2.5)
#: Of the ways with a waypoint less the cheapest so many are held against the limits.
_TRIED = 3


def _lengths_nm(lat: Array, lon: Array) -> Array:
    distance_m, _ = great_circle_inverse(lat[:-1], lon[:-1], lat[1:], lon[1:])
    return np.asarray(m_to_nm(distance_m))


def too_close(lat: Array, lon: Array) -> Bools:
    """Inner waypoints on open water with less than `SPACING_NM` to the one before or after."""
    length_nm = _lengths_nm(lat, lon)
    close = np.minimum(length_nm[:-1], length_nm[1:]) < SPACING_NM
    return np.asarray(close & (distance_to_land_nm(lat[1:-1], lon[1:-1]) > OPEN_NM))


def zigzag(lat: Array, lon: Array) -> Bools:
    """Inner waypoints that turn her by less than `LEAST_TURN_DEG`, a neighbour the other way."""
    turn = _turns_deg(lat, lon)
    against = turn[1:] * turn[:-1] < 0.0
    beside = np.r_[False, against] | np.r_[against, False]
    return np.asarray(beside & (np.abs(turn) < LEAST_TURN_DEG))


def fewer_waypoints(one: Judged, smoother: Smoother, judged: Judge) -> Judged:
    """The way without waypoints that lie too close or turn her little, as its limits allow.

    Each is left out, or two are made one halfway between them, while that costs less than
    `MOST_COST` in all and breaks nothing that the way keeps. Where the line would touch what
    is closed, a neighbour is moved a little to either side.
    """
    most = one.price(smoother.options.objective) * (1.0 + MOST_COST)
    while True:
        lat, lon = places_of(one.route)
        tries = _with_one_less(lat, lon)
        less = _best_of(tries, one, smoother, judged, most)
        if less is None and tries:
            moved = [way for each in tries for way in _moved(*each)]
            less = _best_of(moved, one, smoother, judged, most)
        if less is None:
            return one
        one = less


def _best_of(
    tries: list[tuple[Array, Array]], one: Judged, smoother: Smoother, judged: Judge, most: float
) -> Judged | None:
    """The cheapest of these lines that breaks nothing that a way keeps, at most this price."""
    if not tries:
        return None
    prices = smoother.prices_each(tries)
    for index in np.argsort(prices)[:_TRIED]:
        if not np.isfinite(prices[index]):
            return None
        made = judged(line_route(smoother, one.route, *tries[index]))
        cheap = made.price(smoother.options.objective) <= most
        if cheap and not made.faults and set(made.over) <= set(one.over):
            return made
    return None


def _with_one_less(lat: Array, lon: Array) -> list[tuple[Array, Array]]:
    """The line without each waypoint that lies too close or turns little, or with two made one."""
    if lat.size <= 2:
        return []
    close = too_close(lat, lon)
    # A leg too short has two ends; either may go.
    short = _lengths_nm(lat, lon) < SPACING_NM
    mine = 1 + np.flatnonzero(close | (np.abs(_turns_deg(lat, lon)) < LEAST_TURN_DEG))
    made = [(np.delete(lat, i), np.delete(lon, i)) for i in mine]
    for i in range(1, lat.size - 2):
        if short[i] and close[i - 1] and close[i]:
            halfway = great_circle_points(lat[i], lon[i], lat[i + 1], lon[i + 1], np.array([0.5]))
            lats, lons = np.delete(lat, i), np.delete(lon, i)
            lats[i], lons[i] = halfway.lat_deg[0], wrap_180(halfway.lon_deg[0])
            made.append((lats, lons))
    return made


def _moved(lat: Array, lon: Array) -> list[tuple[Array, Array]]:
    """The line with all inner waypoints moved to one side of it, by a little or by more."""
    if lat.size <= 2:
        return []
    course = _courses(lat, lon)
    across = np.angle(np.exp(1j * course[:-1]) + np.exp(1j * course[1:])) + 0.5 * np.pi
    made = []
    for shift_nm in (*_ASIDE_NM, *(-x for x in _ASIDE_NM)):
        lats, lons = lat.copy(), lon.copy()
        lats[1:-1] += shift_nm / 60.0 * np.cos(across)
        lons[1:-1] += shift_nm / 60.0 * np.sin(across) / np.cos(np.radians(lat[1:-1]))
        made.append((lats, np.asarray(wrap_180(lons))))
    return made


def waypoint_reasons(one: Judged, objective: str, judged: Judge) -> tuple[str, ...]:
    """Why the waypoints that are left lie closer, or turn her less, than one would expect."""
    route = one.route
    lat, lon = places_of(route)
    if lat.size <= 2:
        return ()
    length_nm, close, turn = _lengths_nm(lat, lon), too_close(lat, lon), _turns_deg(lat, lon)
    names = [point.name for point in route.waypoints]
    found = [
        f"Waypoint {names[i]} turns her by {abs(turn[i - 1]):.0f} deg: the line past it is closed."
        for i in np.flatnonzero(np.abs(turn) > BACK_DEG) + 1
    ]
    for i in np.flatnonzero(close | (np.abs(turn) < LEAST_TURN_DEG)) + 1:
        if close[i - 1]:
            other = i - 1 if length_nm[i - 1] <= length_nm[i] else i + 1
            if other < i and other > 0 and close[other - 1]:
                # Of a pair it was given with the first.
                continue
            words = f"lies {min(length_nm[i - 1 : i + 1]):.1f} nm from {names[other]}"
        else:
            words = f"turns her by {abs(turn[i - 1]):.1f} deg only"
        found.append(f"Waypoint {names[i]} {words}: {_reason(one, int(i), objective, judged)}.")
    return tuple(found)


def _reason(one: Judged, i: int, objective: str, judged: Judge) -> str:
    """What would be wrong without a waypoint."""
    legs = one.route.legs
    if legs[i - 1].speed_kn != legs[i].speed_kn:
        return "the speed changes there"
    without = judged(_without(one.route, i))
    if without.faults:
        return f"without it, {without.faults[0]}"
    over = [limit for limit in without.over if limit not in one.over]
    if over:
        return f"without it she would be over a limit: {over[0]}"
    more, unit = without.price(objective) - one.price(objective), PRICE_UNITS[objective]
    return f"without it the way takes {more:.1f} {unit} more"


def _without(route: Route, i: int) -> Route:
    """The route without a waypoint; the others keep their names."""
    points = [point for k, point in enumerate(route.waypoints) if k != i]
    before, after = points[i - 1], points[i]
    ends = (np.array([before.lat_deg, after.lat_deg]), np.array([before.lon_deg, after.lon_deg]))
    kind = leg_kind(float(_lengths_nm(*ends)[0]))
    points[i] = replace(after, kind=kind)
    return build_route(str(route.path or "suggested route"), route.name, points, notes=route.notes)
