"""Water closed to a searched route: near land, in no-go areas, over shallows."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import Problem, RouteError, join_problems, one_line
from passage.files import why_not_plain
from passage.inputs.bounds import why_too_deep
from passage.inputs.coast.coastline import distance_to_land_nm, legs_over_land
from passage.inputs.route import Leg, Route
from passage.inputs.route.along import points_on_legs
from passage.inputs.route.geometry import great_circle_inverse, great_circle_points
from passage.units import m_to_nm, wrap_180

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
#: Depth in metres at positions, NaN where it is not known.
Depths = Callable[[Array, Array], Array]

#: Lines are tested at points at most this far apart; half of it is added to the margin. [nm]
STEP_NM = 1.0
#: Near start and end the margin is at most this share of the distance to them.
END_SHARE = 0.5
#: Over this length a great circle is taken as straight in latitude and longitude; at 60
#: degrees the error is below 60 m. [nm]
PIECE_NM = 20.0
#: A leg may run over the coarse coastline's land for this far into or out of a port. [nm]
APPROACH_NM = 5.0
_LARGEST_BYTES = 50_000_000
#: Features that a remark names.
_NAMED = 6


@dataclass(frozen=True, eq=False)
class NoGo:
    """A closed area: rings of longitude and latitude, the first the outer one. [deg]

    ``file`` is the name of the file it came from.
    """

    name: str
    rings: tuple[Array, ...]
    file: str = ""


@dataclass(frozen=True, eq=False)
class Closed:
    """Tests whether places, and lines between them, are closed.

    ``margin_nm`` is kept from land. Near ``ends`` (latitude and longitude of start and end)
    it is at most half the distance to them, so that she can leave a port. With
    ``least_depth_m`` water that is shallower or of unknown depth is closed.
    """

    margin_nm: float
    ends: tuple[tuple[float, float], tuple[float, float]]
    no_go: tuple[NoGo, ...] = ()
    least_depth_m: float | None = None
    depths: Depths | None = None

    def nodes(self, lat_deg: Array, lon_deg: Array) -> Bools:
        """True where a place is closed."""
        return self._places(lat_deg, lon_deg, 0.0)

    def edges(self, lat1: Array, lon1: Array, lat2: Array, lon2: Array) -> Bools:
        """True where the great circle between two places runs through something closed."""
        length_m, _ = great_circle_inverse(lat1, lon1, lat2, lon2)
        length = np.asarray(m_to_nm(np.asarray(length_m)))
        shut = np.zeros(length.shape, dtype=bool)
        if self.no_go:
            shut |= self._through_areas(lat1, lon1, lat2, lon2, length)
        # A line is clear whose first end is further from land than margin plus length.
        far = distance_to_land_nm(lat1, lon1) > self.margin_nm + length + STEP_NM
        test = ~shut & (~far if self.least_depth_m is None else np.ones(far.shape, dtype=bool))
        rows = np.flatnonzero(test)
        counts = np.maximum(1, np.ceil(length[rows] / STEP_NM).astype(int))
        for count in np.unique(counts):
            some = rows[counts == count]
            share = (np.arange(count) + 0.5) / count
            points = great_circle_points(
                lat1[some, None], lon1[some, None], lat2[some, None], lon2[some, None], share
            )
            places = self._places(
                points.lat_deg.ravel(), points.lon_deg.ravel(), 0.5 * STEP_NM, areas=False
            )
            shut[some] = np.any(places.reshape(-1, count), axis=-1)
        return shut

    def _through_areas(
        self, lat1: Array, lon1: Array, lat2: Array, lon2: Array, length_nm: Array
    ) -> Bools:
        """Whether great circles touch an area; cut into pieces short enough to be straight."""
        shut = np.zeros(length_nm.shape, dtype=bool)
        counts = np.maximum(1, np.ceil(length_nm / PIECE_NM).astype(int))
        for count in np.unique(counts):
            some = np.flatnonzero(counts == count)
            lines = great_circle_points(
                lat1[some, None], lon1[some, None], lat2[some, None], lon2[some, None],
                np.linspace(0.0, 1.0, count + 1),
            )  # fmt: skip
            shut[some] = self._pieces_touch(lines.lat_deg, lines.lon_deg)
        return shut

    def _pieces_touch(self, lat: Array, lon: Array) -> Bools:
        """Whether chains of points ``(lines, n)`` touch an area."""
        ends = (lat[:, :-1], lon[:, :-1], lat[:, 1:], lon[:, 1:])
        shut = np.zeros(lat.shape[0], dtype=bool)
        for area in self.no_go:
            hit = crosses(area, *(x.ravel() for x in ends))
            shut |= np.any(hit.reshape(ends[0].shape), axis=-1)
        return shut

    def faults(self, route: Route, own: Collection[Leg] = ()) -> tuple[str, ...]:
        """Reasons why a route is closed, in words; empty for an open route.

        Legs over land are found exactly from the coastline; margin and depth are tested
        every mile along the legs, areas along their whole length. Legs in ``own`` need keep
        no margin: whoever drew them has seen the coast.
        """
        found = [
            crossing.text
            for crossing in legs_over_land(route)
            if not (crossing.only_at_ends and crossing.over_land_nm <= APPROACH_NM)
        ]
        for number, leg in enumerate(route.legs, 1):
            if leg.kind == "stay":
                continue
            count = max(1, math.ceil(float(m_to_nm(leg.distance_m)) / STEP_NM))
            ends = points_on_legs(
                [leg], np.zeros(count + 1, dtype=np.int64), np.linspace(0.0, 1.0, count + 1)
            )
            lat, lon = ends.lat_deg[None], ends.lon_deg[None]
            for area in self.no_go:
                if replace(self, no_go=(area,))._pieces_touch(lat, lon)[0]:
                    found.append(f"leg {number} ({leg.label}) touches the no-go area {area.name}")
            middle = points_on_legs(
                [leg], np.zeros(count, dtype=np.int64), (np.arange(count) + 0.5) / count
            )
            here = (middle.lat_deg, middle.lon_deg)
            no_depth = replace(self, least_depth_m=None)
            if leg not in own and np.any(no_depth._places(*here, 0.5 * STEP_NM, areas=False)):
                found.append(
                    f"leg {number} ({leg.label}) comes nearer to land than {self.margin_nm:g} nm"
                )
            if self.least_depth_m is not None and self.depths is not None:
                depth = self.depths(*here)
                if not np.all(depth >= self.least_depth_m):
                    found.append(
                        f"leg {number} ({leg.label}) runs over water shallower than "
                        f"{self.least_depth_m:g} m, or of unknown depth"
                    )
        return tuple(found)

    def _places(self, lat: Array, lon: Array, more_nm: float, *, areas: bool = True) -> Bools:
        to_ends = [
            np.asarray(
                m_to_nm(
                    great_circle_inverse(
                        np.full(lat.shape, end[0]), np.full(lat.shape, end[1]), lat, lon
                    )[0]
                )
            )
            for end in self.ends
        ]
        margin = np.minimum(self.margin_nm + more_nm, END_SHARE * np.minimum(*to_ends))
        distance = distance_to_land_nm(lat, lon)
        # A place on land is closed whatever the margin.
        shut = (distance < margin) | ((distance <= 0.0) & (np.minimum(*to_ends) > 0.05))
        if areas:
            for area in self.no_go:
                shut |= inside(area, lat, lon)
        if self.least_depth_m is not None and self.depths is not None:
            depth = self.depths(lat, lon)
            # NaN compares false: unknown depth is closed.
            shut |= ~(depth >= self.least_depth_m)
        return shut


def inside(area: NoGo, lat: Array, lon: Array) -> Bools:
    """Whether places are in an area, by the even-odd rule on longitude and latitude."""
    count = np.zeros(lat.shape, dtype=int)
    for ring in area.rings:
        middle = float(ring[:, 0].mean())
        x = wrap_180(lon - middle)
        x1, y1 = ring[:-1, 0] - middle, ring[:-1, 1]
        x2, y2 = ring[1:, 0] - middle, ring[1:, 1]
        for ax, ay, bx, by in zip(x1, y1, x2, y2, strict=True):
            spans = (ay > lat) != (by > lat)
            if ay != by:
                count += spans & (x < ax + (lat - ay) / (by - ay) * (bx - ax))
    return np.asarray(count % 2 == 1)


def crosses(area: NoGo, lat1: Array, lon1: Array, lat2: Array, lon2: Array) -> Bools:
    """Whether lines touch an area; they are short, so straight in longitude and latitude."""
    shut = inside(area, lat1, lon1) | inside(area, lat2, lon2)
    for ring in area.rings:
        middle = float(ring[:, 0].mean())
        ax, ay = wrap_180(lon1 - middle), lat1
        bx, by = ax + wrap_180(lon2 - lon1), lat2
        for (cx, cy), (dx, dy) in itertools.pairwise(ring):
            ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
            wx, wy = (cx - middle) - ax, cy - ay
            with np.errstate(divide="ignore", invalid="ignore"):
                bottom = ux * vy - uy * vx
                s = (wx * vy - wy * vx) / bottom
                t = (wx * uy - wy * ux) / bottom
                shut |= (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return shut


def areas_elsewhere(areas: Sequence[NoGo], lat_deg: Array, lon_deg: Array) -> tuple[str, ...]:
    """A remark for each file none of whose areas meets the box around these places. [deg]"""
    middle = float(lon_deg[0])
    south, north = float(lat_deg.min()), float(lat_deg.max())
    east_of = wrap_180(lon_deg - middle)
    west, east = float(east_of.min()), float(east_of.max())

    def near(area: NoGo) -> bool:
        lat = area.rings[0][:, 1]
        lon = area.rings[0][:, 0] - middle
        # The same area may be written a whole turn further east or west.
        turns = (lon - 360.0 * round(float(lon.mean()) / 360.0)) + np.array([[-360.0], [0], [360]])
        beside = (turns.max(axis=1) >= west) & (turns.min(axis=1) <= east)
        return bool(lat.max() >= south and lat.min() <= north and np.any(beside))

    files = dict.fromkeys(area.file for area in areas)
    here = {area.file for area in areas if near(area)}
    return tuple(
        f"No area of {file or 'those given'} comes within the water searched: check that longitude "
        "comes before latitude there."
        for file in files
        if file not in here
    )


def read_no_go(path: Path, say: Callable[[str], None] = lambda text: None) -> tuple[NoGo, ...]:
    """No-go areas from a GeoJSON file of polygons; ``say`` gets a remark on what is not used.

    Raises
    ------
    RouteError
        The file cannot be read, is not JSON, or has no polygon.
    """

    def refuse(what: str, fix: str = "Export the areas again as GeoJSON polygons.") -> RouteError:
        return RouteError(join_problems([Problem(file=str(path), what=what, fix=fix)]))

    if reason := why_not_plain(path):
        raise refuse(reason, "Give the name of a file.")
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise refuse("is larger than 50 MB", "Keep the areas near the route only.")
        text = path.read_text(encoding="utf-8-sig")
        if deep := why_too_deep(text):
            raise refuse(deep)
        data = json.loads(text)
    except OSError as err:
        raise refuse(f"cannot be read: {err.strerror}", "Check its name.") from err
    except (UnicodeDecodeError, ValueError, RecursionError) as err:
        raise refuse("is not JSON") from err
    found: list[NoGo] = []
    unused: list[str] = []
    for number, (geometry, name) in enumerate(_geometries(data), 1):
        kind = geometry.get("type")
        parts: Any = geometry.get("coordinates")
        polygons = {"Polygon": [parts], "MultiPolygon": parts}.get(str(kind))
        if polygons is None:
            unused.append(f"{one_line(str(kind))[:40]} {one_line(name)[:80] or number}")
            continue
        try:
            found += [
                NoGo(one_line(name)[:80] or f"area {number}", _rings(polygon), path.name)
                for polygon in polygons
            ]
        except (TypeError, ValueError, IndexError) as err:
            raise refuse(f"area {number}: {err}") from err
    if not found:
        raise refuse("holds no polygon")
    if unused:
        more = f" and {len(unused) - _NAMED} more" if len(unused) > _NAMED else ""
        say(
            f"Not kept clear of, because only polygons are: {', '.join(unused[:_NAMED])}{more} of "
            f"{path.name}. Draw them as polygons."
        )
    return tuple(found)


def _geometries(data: Any) -> list[tuple[dict[str, Any], str]]:
    if not isinstance(data, dict):
        return []
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    found = []
    for feature in features if isinstance(features, list) else []:
        if not isinstance(feature, dict):
            continue
        geometry: Any = feature
        name = ""
        if feature.get("type") == "Feature":
            geometry = feature.get("geometry")
            properties = feature.get("properties")
            name = str(properties.get("name") or "") if isinstance(properties, dict) else ""
        if isinstance(geometry, dict):
            found.append((geometry, name))
    return found


def _rings(polygon: Sequence[Any]) -> tuple[Array, ...]:
    rings = []
    for raw in polygon:
        ring = np.array([[float(p[0]), float(p[1])] for p in raw])
        if ring.shape[0] < 4 or not np.all(np.isfinite(ring)):
            raise ValueError("a ring needs four positions of finite numbers, the last the first")
        if np.any(np.abs(ring[:, 1]) > 90.0) or np.any(np.abs(ring[:, 0]) > 360.0):
            raise ValueError("a position is beyond 90 degrees of latitude or 360 of longitude")
        lon = np.unwrap(ring[:, 0], period=360.0)
        ring = np.column_stack([lon, ring[:, 1]])
        if np.any(ring[0] != ring[-1]):
            ring = np.vstack([ring, ring[:1]])
        rings.append(ring)
    if not rings:
        raise ValueError("has no ring")
    return tuple(rings)
