"""Moves the waypoints of a route along a limit or budget that holds its price up.

Against a limit, shifts of one waypoint at a time get stuck: each either breaks the limit or
costs more. Here all waypoints move together, so that the limit is just kept while the price
falls (a reduced Newton step, then a step back on to the limit).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Route
from passage.planning.suggest.judge import Judged
from passage.planning.suggest.smooth import Smoother, _courses, line_route, places_of
from passage.units import deg_to_rad

if TYPE_CHECKING:
    from passage.planning.suggest.case import Case

Array = npt.NDArray[np.float64]

#: Ends the name of a candidate moved along the limits asked for.
ALONG = "along the limit"
#: Sizes of the shifts that measure slopes, as shares of a cell.
_SIZES = (0.25, 0.08, 0.03)
#: Most rounds for each size; a round that gains a smaller share than this is the last.
_ROUNDS, _GAIN = 6, 5e-5
#: Lengths of step tried, as multiples of the Newton step.
_LENGTHS = np.array([0.1, 0.3, 0.6, 1.0, 1.6, 2.5, 4.0])
#: Most that a waypoint is moved at once, in sizes of shift.
_STRIDE = 8.0
#: A limit with less room than this share takes part.
_ACTIVE = -0.02
#: Room left to a limit once the route is held against it as a plan is.
_SNUG = 2e-4
#: Times the limit is set anew by what the plan finds along the track.
_AIMED = 3
#: Roll counts as at least this, so that a flat calm divides by no zero.
_STILL = 1e-9


def slid(case: Case, one: Judged, aim: str) -> Judged:
    """The route moved along the limits of its search; itself where that gains nothing.

    Limits are those that a plan finds along the track: the smoother's own differ a little,
    since it cuts the track otherwise, and are set to make up for that.
    """
    options = case.options
    if options.budget is None and options.roll_limit_deg is None:
        return one
    if any(leg.kind == "stay" for leg in one.route.legs) or len(one.route.waypoints) < 3:
        return one
    smoother = replace(case.smoother(), room=_SNUG)
    best, route = one, one.route
    for _ in range(_AIMED):
        route = slide(smoother, route, case.cell_nm)
        made = case.judged(replace(route, name=aim))
        if made.key(options.objective) < best.key(options.objective):
            best = made
        aimed = smoother.options
        if options.budget is not None and aimed.budget is not None:
            share = options.budget * (1.0 - _SNUG) / max(made.roll_hours, _STILL)
            aimed = replace(aimed, budget=aimed.budget * share)
        if options.roll_limit_deg is not None and aimed.roll_limit_deg is not None:
            share = options.roll_limit_deg * (1.0 - _SNUG) / max(made.worst_roll_deg, _STILL)
            # Only closer: the worst of one place says nothing of room elsewhere.
            aimed = replace(aimed, roll_limit_deg=aimed.roll_limit_deg * min(share, 1.0))
        if not made.faults and made is not best:
            break
        smoother = replace(smoother, options=aimed)
    return best


def slide(smoother: Smoother, route: Route, cell_nm: float) -> Route:
    """Move the inner waypoints together while the price falls and the limits are kept."""
    lat, lon = places_of(route)
    if lat.size < 3:
        return route
    now = smoother.prices_and_excess(lat[None], lon[None])[:, 0]
    if not np.isfinite(now[0]):
        return route
    for size in _SIZES:
        for _ in range(_ROUNDS):
            before = now[0]
            lat, lon, now = _round(smoother, lat, lon, now, size * cell_nm)
            if not now[0] < before * (1.0 - _GAIN):
                break
    return line_route(smoother, route, lat, lon)


def _round(
    smoother: Smoother, lat: Array, lon: Array, now: Array, size_nm: float
) -> tuple[Array, Array, Array]:
    """One step of all waypoints; the line unchanged where none is cheaper."""
    inner = np.arange(1, lat.size - 1)
    course = _courses(lat, lon)
    along = np.angle(np.exp(1j * course[:-1]) + np.exp(1j * course[1:]))
    angle = np.concatenate([along, along + 0.5 * np.pi])
    which = np.concatenate([inner, inner])
    north = size_nm / 60.0 * np.cos(angle)
    east = size_nm / 60.0 * np.sin(angle) / np.cos(deg_to_rad(lat[which]))

    def at(steps: Array) -> tuple[Array, Array]:
        lats, lons = np.tile(lat, (len(steps), 1)), np.tile(lon, (len(steps), 1))
        for half in (slice(None, inner.size), slice(inner.size, None)):
            lats[:, inner] += steps[:, half] * north[half]
            lons[:, inner] += steps[:, half] * east[half]
        return lats, lons

    unit = np.eye(which.size)
    tries = smoother.prices_and_excess(*at(np.concatenate([unit, -unit])))
    free = np.isfinite(tries[0, : which.size] + tries[0, which.size :])
    if not free.any():
        return lat, lon, now
    plus, minus = tries[1:, : which.size][:, free], tries[1:, which.size :][:, free]
    slope, bend = 0.5 * (plus - minus), plus - 2.0 * now[1:, None] + minus
    active = np.flatnonzero(now[2:] > _ACTIVE) + 1
    move = _newton(slope, bend, active, now[1:])
    sets = np.zeros((2 * _LENGTHS.size, which.size))
    for row, part in zip((0, _LENGTHS.size), move, strict=True):
        sets[row : row + _LENGTHS.size, free] = _LENGTHS[:, None] * part
    sets = np.clip(sets, -_STRIDE, _STRIDE)
    first = smoother.prices_and_excess(*at(sets))
    # Back on to the limits, by what was found there.
    again = sets.copy()
    for row in range(len(sets)):
        over = first[1 + active, row]
        if active.size and np.all(np.isfinite(over)):
            again[row, free] -= np.linalg.pinv(slope[active]) @ over
    again = np.clip(again, -_STRIDE, _STRIDE)
    second = smoother.prices_and_excess(*at(again))
    steps, found = np.concatenate([sets, again]), np.concatenate([first, second], axis=1)
    pick = int(np.argmin(found[0]))
    if not found[0, pick] < now[0]:
        return lat, lon, now
    lats, lons = at(steps[pick : pick + 1])
    return lats[0], lons[0], found[:, pick]


def _newton(
    slope: Array, bend: Array, active: npt.NDArray[np.int_], now: Array
) -> tuple[Array, Array]:
    """Steps that lower the price: along the active limits with them kept, and regardless of them.

    Row 0 of ``slope`` and ``bend`` is the price, the others the shares over the limits.
    """
    price, rows = slope[0], slope[active]
    most = max(float(np.max(np.abs(price))), 1e-12)
    if active.size == 0:
        step = -price / np.maximum(bend[0], 0.1 * most)
        return step, step
    # Price of each limit at the optimum, by least squares; one that helps nothing is left.
    worth = np.maximum(-np.linalg.pinv(rows.T) @ price, 0.0)
    curve = np.maximum(bend[0] + worth @ bend[active], 0.1 * most)
    inverse = 1.0 / curve
    gram = (rows * inverse) @ rows.T
    gram += 1e-12 * np.trace(gram) * np.eye(active.size) + 1e-300 * np.eye(active.size)
    pull = np.linalg.solve(gram, now[active] - (rows * inverse) @ price)
    return -inverse * (price + rows.T @ pull), -inverse * price
