"""Makes a route found on a grid smooth: waypoints are moved freely while the price falls.

Waypoints are shifted across and along their course; all shifts of a round are priced at
once along their whole tracks. A shift that breaks a limit raises the price steeply, and a
line with a leg through closed water is never taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.coastline import distance_to_land_nm
from passage.inputs.route import Route, Track, Waypoint, build_route
from passage.inputs.route.geometry import great_circle_inverse, great_circle_points
from passage.planning.suggest.cost import plan_choices
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.march import march
from passage.planning.voyage.threads import cores, in_threads
from passage.units import HOUR_S, deg_to_rad, knots_to_m_s, m_to_nm, wrap_180

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.closed import Closed
    from passage.planning.suggest.search import SearchOptions
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]

#: Legs up to this are rhumb lines, longer ones great circles. [nm]
RHUMB_NM = 60.0
#: On open water there is at most one waypoint in this distance. [nm]
SPACING_NM = 20.0
#: Further from land than this is open water. [nm]
OPEN_NM = 10.0
#: A smaller change of course does not need a waypoint. [deg]
LEAST_TURN_DEG = 5.0
#: A larger change of course turns her back, which only closed water is a reason for. [deg]
BACK_DEG = 90.0
#: Most that leaving out all such waypoints may cost, as a share of the price.
_TIDY_COST = 2e-4
#: The price rises by this factor of the share by which a limit is exceeded.
_PENALTY = 25.0
#: Share kept clear of limits, since a plan cuts the track slightly differently.
_ROOM = 0.002
#: Most rounds for each size of shift, and the sizes as shares of a cell.
_ROUNDS = 4
_SIZES = (0.6, 0.25, 0.1, 0.04)
#: A round that gains a smaller share than this is the last of its size.
_GAIN = 2e-5
#: Most that a waypoint is moved at once, in sizes of shift.
_STRIDE = 6.0


@dataclass(frozen=True, eq=False)
class Smoother:
    """Prices lines of waypoints on one forecast, for one departure and speed."""

    yacht: Yacht
    forecast: Forecast
    options: SearchOptions
    closed: Closed
    latest_s: float
    minutes: float = 20.0
    room: float = _ROOM

    @property
    def unlimited(self) -> bool:
        """Whether no limit or budget enters the price."""
        return self.options.roll_limit_deg is None and self.options.budget is None

    def prices(self, lat: Array, lon: Array) -> Array:
        """Price of lines ``(lines, waypoints)``; infinite where closed or not covered."""
        return self.prices_and_excess(lat, lon)[0]

    def prices_and_excess(self, lat: Array, lon: Array) -> Array:
        """Price of lines, price without limits, and the share over each limit: row by row.

        A share is negative where there is room to the limit, which is kept clear by `_ROOM`.
        """
        # All lines of a batch are cut alike, whichever thread computes them.
        most = np.max(self._lengths(lat, lon), axis=0)
        parts = np.array_split(np.arange(lat.shape[0]), min(cores(), max(1, lat.shape[0] // 2)))
        found = in_threads(parts, lambda rows: self._prices(lat[rows], lon[rows], most))
        return np.concatenate(found, axis=-1)

    def prices_each(self, lines: Sequence[tuple[Array, Array]]) -> Array:
        """Price of lines whose legs differ; each is cut as a plan of it would be.

        Cut by the longest leg of all of them a piece may come so near to a port that the
        forecast has no sea there.
        """

        def one(line: tuple[Array, Array]) -> float:
            lat, lon = line[0][None], line[1][None]
            return float(self._prices(lat, lon, self._lengths(lat, lon)[0])[0, 0])

        return np.array(in_threads(lines, one))

    def _prices(self, lat: Array, lon: Array, most: Array) -> Array:
        """As `prices_and_excess` for some lines; ``most`` is the largest length of each leg. [m]"""
        options, speed = self.options, float(knots_to_m_s(self.options.speed_kn))
        length_m = self._lengths(lat, lon)
        counts = np.maximum(1, np.ceil(most / speed / 60.0 / self.minutes)).astype(int)
        leg = np.repeat(np.arange(counts.size), counts)
        share = np.concatenate([(np.arange(n) + 0.5) / n for n in counts])
        points = great_circle_points(
            lat[:, leg], lon[:, leg], lat[:, leg + 1], lon[:, leg + 1],
            np.broadcast_to(share, (lat.shape[0], leg.size)),
        )  # fmt: skip
        pieces = length_m[:, leg] / counts[leg]
        track = Track(
            leg, points.lat_deg, points.lon_deg, np.asarray(deg_to_rad(points.course_deg)), pieces,
            np.zeros(pieces.shape), np.full(leg.size, options.speed_kn), lat, lon, (),
        )  # fmt: skip
        way = march(track, self.forecast, options.departure_s, speed)
        choices = plan_choices(self.yacht, options.fins, options.heel, options.wave_method)
        values = evaluate(self.yacht, way, choices, fuel_only=True).values
        word = "active" if options.fins == "active" else "centred"
        roll = values[f"roll_{word}_significant_deg"]
        fuel, rough = np.sum(values["fuel_l"], -1), np.sum(roll * way.hours, -1)
        # A thousandth of the litres settles ties between lines of equal roll.
        price = fuel if options.objective == "fuel" else rough + 1e-3 * fuel
        excess = [
            value / max(limit, 1e-9) - (1.0 - self.room)
            for value, limit in (
                (np.max(roll, -1), options.roll_limit_deg),
                (rough, options.budget),
                (np.sum(way.hours, -1), (self.latest_s - options.departure_s) / HOUR_S),
            )
            if limit is not None
        ]
        over = np.sum(np.maximum(excess, 0.0), axis=0)
        held = price * (1.0 + _PENALTY * over)
        held = np.where(np.isfinite(held) & ~self._shut(lat, lon), held, np.inf)
        return np.stack([held, price, *excess])

    def _lengths(self, lat: Array, lon: Array) -> Array:
        distance_m, _ = great_circle_inverse(lat[:, :-1], lon[:, :-1], lat[:, 1:], lon[:, 1:])
        return np.asarray(distance_m)

    def _shut(self, lat: Array, lon: Array) -> npt.NDArray[np.bool_]:
        """Lines with a closed leg, or that turn back; equal legs are tested once."""
        legs = np.stack([lat[:, :-1], lon[:, :-1], lat[:, 1:], lon[:, 1:]], axis=-1)
        unique, back = np.unique(legs.reshape(-1, 4), axis=0, return_inverse=True)
        shut = self.closed.edges(*(np.ascontiguousarray(x) for x in unique.T))
        found = np.asarray(np.any(shut[back.reshape(legs.shape[:2])], axis=-1))
        for row in np.flatnonzero(
            ~found & np.any(np.abs(_turns_deg(lat, lon)) > BACK_DEG, axis=-1)
        ):
            found[row] = bool(turns_back(self.closed, lat[row], lon[row]).size)
        return found


def smooth(smoother: Smoother, route: Route, cell_nm: float, *, fine: bool = False) -> Route:
    """Move, add and leave out waypoints of a route while that makes it cheaper.

    The ends stay. ``fine`` starts from more waypoints: better where the sea makes the best
    route curve, slower to find a corner to be rounded. The result may exceed limits
    slightly: the caller must judge it.
    """
    lat, lon = _thinned(smoother, route, cell_nm, fine=fine)
    while (back := turns_back(smoother.closed, lat, lon)).size:
        sharpest = back[np.argmax(np.abs(_turns_deg(lat, lon))[back - 1])]
        lat, lon = np.delete(lat, sharpest), np.delete(lon, sharpest)
    if lat.size == 2:
        lat, lon = _split(lat, lon)
    price = float(smoother.prices(lat[None], lon[None])[0])
    if not np.isfinite(price):
        return route
    for number, size in enumerate(_SIZES):
        start, open_ = price, True
        for _ in range(_ROUNDS):
            before = price
            lat, lon, price, free = _shifted(smoother, lat, lon, price, size * cell_nm)
            open_ &= free
            if not price < before * (1.0 - _GAIN):
                break
        # Where a shift gained nothing, finer ones can gain only beside closed water.
        if number and open_ and not price < start * (1.0 - _GAIN):
            break
    lat, lon, price = _tidied(smoother, lat, lon, price)
    return line_route(smoother, route, lat, lon)


def places_of(route: Route) -> tuple[Array, Array]:
    """Latitude and longitude of the waypoints. [deg]"""
    lat, lon = np.array([(point.lat_deg, point.lon_deg) for point in route.waypoints]).T
    return lat, lon


def leg_kind(length_nm: float) -> Literal["rhumb", "great circle"]:
    """What a leg of this length is."""
    return "rhumb" if length_nm <= RHUMB_NM else "great circle"


def line_route(smoother: Smoother, route: Route, lat: Array, lon: Array) -> Route:
    """The waypoints as a route, with ends and name taken from another route."""
    start, end = route.waypoints[0], route.waypoints[-1]
    length_nm = np.asarray(m_to_nm(smoother._lengths(lat[None], lon[None])[0]))
    points = [Waypoint(name=start.name, lat_deg=start.lat_deg, lon_deg=start.lon_deg)]
    for i in range(1, lat.size):
        last = i == lat.size - 1
        points.append(
            Waypoint(
                name=end.name if last else f"{i}",
                lat_deg=end.lat_deg if last else round(float(lat[i]), 5),
                lon_deg=end.lon_deg if last else round(float(wrap_180(lon[i])), 5),
                kind=leg_kind(float(length_nm[i - 1])),
                speed_kn=smoother.options.speed_kn,
            )
        )
    return build_route(str(route.path or "suggested route"), route.name, points, notes=route.notes)


def _thinned(
    smoother: Smoother, route: Route, cell_nm: float, *, fine: bool
) -> tuple[Array, Array]:
    """Waypoints of a route, without those within a third of a cell of the line, long legs split."""
    lat = np.array([point.lat_deg for point in route.waypoints])
    lon = np.array([point.lon_deg for point in route.waypoints])
    keep = [0]
    while keep[-1] < lat.size - 1:
        here = keep[-1]
        for end in range(lat.size - 1, here, -1):
            if end == here + 1:
                break
            ends = [np.array([x]) for x in (lat[here], lon[here], lat[end], lon[end])]
            between = slice(here + 1, end)
            off = _off_line_nm(lat[here], lon[here], lat[end], lon[end], lat[between], lon[between])
            if np.max(off) < cell_nm / 3.0 and not smoother.closed.edges(*ends)[0]:
                break
        keep.append(end)
    lat, lon = lat[keep], lon[keep]
    # Longest leg allowed: this many times the spacing, or this share of the route.
    times, share = (2.0, 0.125) if fine else (4.0, 0.2)
    while True:
        length_nm = np.asarray(m_to_nm(smoother._lengths(lat[None], lon[None])[0]))
        long = int(np.argmax(length_nm))
        if length_nm[long] <= max(times * SPACING_NM, share * length_nm.sum()):
            return lat, lon
        lat, lon = _split(lat, lon, long)


def _split(lat: Array, lon: Array, leg: int = 0) -> tuple[Array, Array]:
    middle = great_circle_points(lat[leg], lon[leg], lat[leg + 1], lon[leg + 1], np.array([0.5]))
    return (np.insert(lat, leg + 1, middle.lat_deg[0]), np.insert(lon, leg + 1, middle.lon_deg[0]))


def _off_line_nm(
    lat1: float, lon1: float, lat2: float, lon2: float, lat: Array, lon: Array
) -> Array:
    """Distance of places from a line, on a plane. [nm]"""
    scale = float(np.cos(deg_to_rad(0.5 * (lat1 + lat2))))
    x, y = 60.0 * scale * np.asarray(wrap_180(lon - lon1)), 60.0 * (lat - lat1)
    ex, ey = 60.0 * scale * float(wrap_180(lon2 - lon1)), 60.0 * (lat2 - lat1)
    return np.asarray(np.abs(x * ey - y * ex) / max(float(np.hypot(ex, ey)), 1e-9))


def most_apart_nm(route: Route, other: Route) -> float:
    """Largest distance of a waypoint of one route from the line of the other, on planes. [nm]"""
    places = [np.array([(p.lat_deg, p.lon_deg) for p in one.waypoints]).T for one in (route, other)]
    (lat, lon), (lats, lons) = places
    legs = [_from_leg_nm(lats[i : i + 2], lons[i : i + 2], lat, lon) for i in range(lats.size - 1)]
    return float(np.max(np.min(legs, axis=0)))


def _from_leg_nm(ends_lat: Array, ends_lon: Array, lat: Array, lon: Array) -> Array:
    """Distance of places from a leg, ends included, on a plane. [nm]"""
    scale = float(np.cos(deg_to_rad(ends_lat.mean())))
    x, y = 60.0 * scale * np.asarray(wrap_180(lon - ends_lon[0])), 60.0 * (lat - ends_lat[0])
    ex = 60.0 * scale * float(wrap_180(ends_lon[1] - ends_lon[0]))
    ey = 60.0 * float(ends_lat[1] - ends_lat[0])
    share = np.clip((x * ex + y * ey) / max(ex * ex + ey * ey, 1e-12), 0.0, 1.0)
    return np.asarray(np.hypot(x - share * ex, y - share * ey))


def _courses(lat: Array, lon: Array) -> Array:
    """Course of each leg on a plane, clockwise from north; lines along the last axis. [rad]"""
    scale = np.cos(deg_to_rad(0.5 * (lat[..., 1:] + lat[..., :-1])))
    return np.arctan2(np.asarray(wrap_180(np.diff(lon))) * scale, np.diff(lat))


def _turns_deg(lat: Array, lon: Array) -> Array:
    """Change of course at each inner waypoint, + to starboard. [deg]"""
    return np.asarray(wrap_180(np.degrees(np.diff(_courses(lat, lon)))))


def turns_back(closed: Closed, lat: Array, lon: Array) -> npt.NDArray[np.int_]:
    """Inner waypoints of a line at which she turns back with open water past them.

    Such a way only passes time. Where the line without the waypoint is closed, the turn is
    needed.
    """
    sharp = 1 + np.flatnonzero(np.abs(_turns_deg(lat, lon)) > BACK_DEG)
    if sharp.size == 0:
        return sharp
    return sharp[~closed.edges(lat[sharp - 1], lon[sharp - 1], lat[sharp + 1], lon[sharp + 1])]


def _shifted(
    smoother: Smoother, lat: Array, lon: Array, price: float, size_nm: float
) -> tuple[Array, Array, float, bool]:
    """One round: shift each inner waypoint to either side across and along its course.

    The last value is True where no shift tried was closed.
    """
    free = smoother.unlimited
    inner = np.arange(1, lat.size - 1)
    course = _courses(lat, lon)
    middle = np.angle(np.exp(1j * course[:-1]) + np.exp(1j * course[1:]))
    for across in (True, False):
        angle = middle + 0.5 * np.pi * across
        north = size_nm / 60.0 * np.cos(angle)
        east = size_nm / 60.0 * np.sin(angle) / np.cos(deg_to_rad(lat[inner]))
        tries = np.zeros((2 * inner.size, inner.size))
        tries[np.arange(inner.size), np.arange(inner.size)] = 1.0
        tries[inner.size + np.arange(inner.size), np.arange(inner.size)] = -1.0

        def at(
            steps: Array, north: Array = north, east: Array = east, lat: Array = lat,
            lon: Array = lon,
        ) -> tuple[Array, Array]:  # fmt: skip
            lats, lons = np.tile(lat, (steps.shape[0], 1)), np.tile(lon, (steps.shape[0], 1))
            lats[:, inner] += steps * north
            lons[:, inner] += steps * east
            return lats, lons

        found = smoother.prices(*at(tries))
        free &= bool(np.all(np.isfinite(found)))
        plus, minus = found[: inner.size], found[inner.size :]
        with np.errstate(invalid="ignore", divide="ignore"):
            best = 0.5 * (minus - plus) / (plus - 2.0 * price + minus)
            bowl = np.isfinite(best) & (plus + minus > 2.0 * price)
        step = np.where(plus < minus, 1.0, -1.0) * (np.minimum(plus, minus) < price)
        step = np.where(bowl, np.clip(np.nan_to_num(best), -1.0, 1.0), step)
        one = int(np.argmin(found))
        bent = 0.5 * step
        if across:
            bent = _together(smoother, lat, lon, price, plus, minus, size_nm)
        sets = np.stack([bent, 0.5 * bent, step, 0.5 * step, tries[one]])
        second = smoother.prices(*at(sets))
        pick = int(np.argmin(second))
        if second[pick] < price:
            lats, lons = at(sets[pick : pick + 1])
            lat, lon, price = lats[0], lons[0], float(second[pick])
    return lat, lon, price, free


def _together(
    smoother: Smoother, lat: Array, lon: Array, price: float, plus: Array, minus: Array,
    size_nm: float,
) -> Array:  # fmt: skip
    """One Newton step: shifts of all inner waypoints across the course at once, in sizes.

    Slope and curvature at each waypoint are measured. A waypoint moved across also turns the
    legs to its neighbours; that part of the curvature is the price of a mile divided by the
    length of the leg.
    """
    length_nm = np.asarray(m_to_nm(smoother._lengths(lat[None], lon[None])[0]))
    stiff = price / length_nm.sum() / length_nm * size_nm**2
    least = stiff[:-1] + stiff[1:]
    with np.errstate(invalid="ignore"):
        slope, bend = 0.5 * (plus - minus), plus - 2.0 * price + minus
    fine = np.isfinite(slope) & np.isfinite(bend)
    bend = np.where(fine, np.maximum(bend, least), least)
    matrix = np.diag(bend) - np.diag(stiff[1:-1], 1) - np.diag(stiff[1:-1], -1)
    # A waypoint that cannot be moved to either side stays.
    matrix[~fine] = 0.0
    matrix[~fine, ~fine] = 1.0
    return np.clip(np.linalg.solve(matrix, -np.where(fine, slope, 0.0)), -_STRIDE, _STRIDE)


def _tidied(smoother: Smoother, lat: Array, lon: Array, price: float) -> tuple[Array, Array, float]:
    """Leave out waypoints with little turn or too close together, while it costs almost nothing."""
    most = price * (1.0 + _TIDY_COST)
    while lat.size > 2:
        turn = np.abs(_turns_deg(lat, lon))
        length_nm = np.asarray(m_to_nm(smoother._lengths(lat[None], lon[None])[0]))
        close = np.minimum(length_nm[:-1], length_nm[1:]) < SPACING_NM
        open_ = distance_to_land_nm(lat[1:-1], lon[1:-1]) > OPEN_NM
        inner = 1 + np.flatnonzero((turn < LEAST_TURN_DEG) | (close & open_) | (turn > 60.0))
        if inner.size == 0:
            break
        fewer = [np.delete(np.arange(lat.size), i) for i in inner]
        found = smoother.prices_each([(lat[rows], lon[rows]) for rows in fewer])
        pick = int(np.argmin(found))
        if not found[pick] <= most:
            break
        lat, lon, price = lat[fewer[pick]], lon[fewer[pick]], float(found[pick])
    return lat, lon, price
