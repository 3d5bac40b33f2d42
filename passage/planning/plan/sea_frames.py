"""Sea around the routes and position of the yacht at a few times, for the map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast import Area, box_around
from passage.inputs.route import Route
from passage.units import HOUR_S, wrap_180

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.compare.compare import Comparison

Array = npt.NDArray[np.float64]

#: Margin around the routes. [deg]
MAP_MARGIN_DEG = 1.8
#: Cells along the longer side of the map; more would make the page larger but not clearer.
_MOST_CELLS = 44


#: Least width of the map over its height. [dimensionless]
_MAP_SHAPE = 1.25
#: Part of the margin above and below the routes that the map does not show. [deg]
_UNSEEN_DEG = 2.4


def map_area(
    lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, margin_deg: float = MAP_MARGIN_DEG
) -> Area:
    """Box around positions that fills a map wider than high, so that no sea is left blank."""
    box = box_around(lat_deg, lon_deg, margin_deg=margin_deg)
    width = (box.east_deg - box.west_deg) % 360.0
    high = box.north_deg - box.south_deg - _UNSEEN_DEG
    middle = np.radians(min(abs(0.5 * (box.north_deg + box.south_deg)), 80.0))
    more = 0.5 * (_MAP_SHAPE * high / float(np.cos(middle)) - width)
    if width == 0.0 or more <= 0.0 or width + 2.0 * more >= 350.0:
        return box
    west, east = wrap_180(np.array([box.west_deg - more, box.east_deg + more])).tolist()
    return Area(box.south_deg, box.north_deg, west, east)


@dataclass(frozen=True, eq=False)
class SeaAt:
    """Wave height and wind (lat, lon) at one time, and the yacht's position on each route.

    Wind is towards east (u) and north (v), None where not known; positions are latitude and
    longitude [deg], NaN where she is not at sea.
    """

    time_s: float
    lat_deg: Array
    lon_deg: Array
    height_m: Array
    wind_u_m_s: Array | None
    wind_v_m_s: Array | None
    yacht: tuple[tuple[float, float], ...]


def sea_frames(
    forecast: Forecast,
    routes: Sequence[Route],
    times_s: Sequence[float],
    ends_s: Sequence[Array],
) -> tuple[SeaAt, ...]:
    """Sea at given times; ``ends_s`` has departure and arrivals of each route, (legs + 1,). [s]"""
    lat_all = np.array([x for r in routes for leg in r.legs for x in _lats(leg)])
    lon_all = np.array([x for r in routes for leg in r.legs for x in _lons(leg)])
    box = map_area(lat_all, lon_all)
    width = (box.east_deg - box.west_deg) % 360.0
    step = max(width, box.north_deg - box.south_deg) / _MOST_CELLS
    lat = np.arange(box.south_deg, box.north_deg + 0.5 * step, step)
    lon = wrap_180(box.west_deg + np.arange(0.0, width + 0.5 * step, step))
    frames = []
    for time_s in times_s:
        sky = forecast.sample(lat[:, None], lon[None, :], time_s)
        known = np.any(np.isfinite(sky.wind_u_m_s))
        frames.append(
            SeaAt(
                float(time_s),
                lat,
                lon,
                np.asarray(sky.total_height_m, dtype=float),
                np.asarray(sky.wind_u_m_s, dtype=float) if known else None,
                np.asarray(sky.wind_v_m_s, dtype=float) if known else None,
                tuple(_where(r, e, time_s) for r, e in zip(routes, ends_s, strict=True)),
            )
        )
    return tuple(frames)


def _lats(leg) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    return leg.lat_from_deg, leg.lat_to_deg


def _lons(leg) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    return leg.lon_from_deg, leg.lon_to_deg


def _where(route: Route, ends_s: Array, time_s: float) -> tuple[float, float]:
    """Position on straight lines between waypoints; NaN when she is not at sea. [deg]"""
    if not np.all(np.isfinite(ends_s)) or not ends_s[0] <= time_s <= ends_s[-1]:
        return (np.nan, np.nan)
    first = route.legs[0]
    lat = np.array([first.lat_from_deg, *(leg.lat_to_deg for leg in route.legs)])
    lon = np.array([first.lon_from_deg, *(leg.lon_to_deg for leg in route.legs)])
    lon = np.unwrap(lon, period=360.0)
    return float(np.interp(time_s, ends_s, lat)), float(wrap_180(np.interp(time_s, ends_s, lon)))


def even_times(from_s: float, to_s: float, count: int) -> list[float]:
    """Whole hours from departure to arrival, nearly even and without repeats. [s]"""
    if not np.isfinite(to_s):
        to_s = from_s + 24.0 * HOUR_S
    times = np.linspace(from_s, to_s, count)
    return list(dict.fromkeys(float(np.round(t / HOUR_S) * HOUR_S) for t in times))


def sea_at_times(
    found: Comparison, forecast: Forecast, count: int, chosen: int | None
) -> tuple[SeaAt, ...]:
    """Sea from departure to arrival of the leading combination.

    On the other routes the yacht leaves at the same time, and at the same speed if that is one
    of the combinations.
    """
    lead = leading(found, chosen)
    cell, at = found.cell_of(lead), int(found.at[lead])
    ends = []
    for index in range(len(found.routes)):
        mine = [c for c in found.cells if c.route == index]
        same = [c for c in mine if c.speed_text == cell.speed_text and c.fins == cell.fins]
        other = cell if index == cell.route else (same or mine)[0]
        ends.append(np.r_[other.departure_s[at], other.end_s[at]])
    last = max((e[-1] for e in ends if np.isfinite(e[-1])), default=np.nan)
    times = even_times(float(found.departure_s[lead]), float(last), count)
    return sea_frames(forecast, found.routes, times, ends)


def leading(found: Comparison, chosen: int | None = None) -> int:
    """Index of the page's main combination: the chosen, else the balanced, else the first."""
    if chosen is not None:
        return chosen
    for name in ("balanced", "nearest the limits", "least fuel"):
        if name in found.names:
            return found.names[name]
    return 0
