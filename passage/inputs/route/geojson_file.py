"""GeoJSON lines as routes, read and written.

Positions are longitude first. A line cut at the antimeridian (RFC 7946, 3.1.9) is
joined again. Leg kinds, speeds, stays and times are in the property ``waypoints``, one
entry per vertex.

References
----------
RFC 7946, The GeoJSON Format, 2016, sections 3.1.1, 3.1.9 and 4.
"""

from __future__ import annotations

import json
import math
from itertools import pairwise
from typing import Any

from passage.errors import Problem, RouteError
from passage.inputs.route.build import build_route
from passage.inputs.route.fields import Collector, waypoint_from_text
from passage.inputs.route.model import MAX_WAYPOINTS, Route, Waypoint
from passage.inputs.route.positions import wrap_longitude
from passage.inputs.route.text import clean_name, decimal_text, format_time

_KEYS = ("name", "leg", "speed_kn", "stay_h", "eta", "etd")
#: How far a cut may lie from the line it cuts [deg], for tools that round.
_CUT_DEG = 0.05


def parse_geojson(text: str, *, file: str, name: str) -> Route:
    """A route from a LineString or MultiLineString, bare or in features.

    Raises
    ------
    RouteError
        Not JSON, no line or several, or positions that cannot be read.
    """
    into = Collector(file)
    data = _load(text, file)
    lines = _lines(data, into)
    points: list[Waypoint] = []
    if isinstance(data, dict) and not _is_wgs84(data.get("crs")):
        into.complain(
            "names a coordinate reference system of its own (crs)",
            fix="Export it in longitude and latitude on WGS84, as RFC 7946 requires.",
        )
    if not lines:
        into.complain("holds no LineString", fix="Draw the route as one line and export that.")
    elif len(lines) > 1:
        into.complain(f"holds {len(lines)} lines", fix="Keep the one that is the route.")
    else:
        geometry, properties = lines[0]
        vertices = _vertices(geometry, into)
        name = clean_name(_text(properties.get("name")), name)
        points = _waypoints(vertices, properties.get("waypoints"), into)
    return build_route(file, name, points, notes=tuple(into.notes), problems=into.problems)


def _load(text: str, file: str) -> Any:
    def refuse(constant: str) -> float:
        raise ValueError(f"holds {constant}, which is not a number in JSON")

    try:
        return json.loads(text, parse_constant=refuse)
    except json.JSONDecodeError as err:
        problem = Problem(
            file=file,
            place=str(err.lineno),
            what=f"is not JSON: {err.msg}",
            fix="The file may be cut short; export or fetch it again.",
        )
        raise RouteError(str(problem)) from err
    except (ValueError, RecursionError) as err:
        what = str(err) if isinstance(err, ValueError) else "is nested too deep"
        problem = Problem(file=file, what=what[:200], fix="Export the route again.")
        raise RouteError(str(problem)) from err


def _is_wgs84(crs: Any) -> bool:
    if crs is None:
        return True
    words = json.dumps(crs)
    return "CRS84" in words or "4326" in words


def _lines(data: Any, into: Collector) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Line geometries with the properties of their feature."""
    if not isinstance(data, dict):
        return []
    features = [data]
    if data.get("type") == "FeatureCollection":
        listed = data.get("features")
        features = [f for f in listed if isinstance(f, dict)] if isinstance(listed, list) else []
    found = []
    others = 0
    for feature in features:
        geometry: Any = feature
        properties: Any = {}
        if feature.get("type") == "Feature":
            geometry, properties = feature.get("geometry"), feature.get("properties")
        if isinstance(geometry, dict) and geometry.get("type") in (
            "LineString",
            "MultiLineString",
        ):
            found.append((geometry, properties if isinstance(properties, dict) else {}))
        else:
            others += 1
    if others and found:
        into.note(f"{others} features that are not lines are not used")
    return found


def _vertices(geometry: dict[str, Any], into: Collector) -> list[tuple[float, float]]:
    """Latitude and longitude of every vertex, pieces joined at the antimeridian."""
    coordinates = geometry.get("coordinates")
    parts = coordinates if geometry["type"] == "MultiLineString" else [coordinates]
    if not isinstance(parts, list) or not all(isinstance(p, list) and p for p in parts):
        into.complain("coordinates are not lists of positions", fix="Export it again.")
        return []
    pieces = []
    count = 0
    for part in parts:
        piece = []
        for at, position in enumerate(part[: MAX_WAYPOINTS + 2]):
            place = f"coordinates[{count + at}]"
            piece.append(_position(position, place, into))
        count += len(part)
        pieces.append(piece)
    if into.problems:
        return []
    joined = pieces[0]
    for piece in pieces[1:]:
        if not _meet_at_antimeridian(joined[-1], piece[0]):
            into.complain(
                f"holds {len(pieces)} pieces that do not meet",
                fix="Keep one line; pieces are joined only where the antimeridian cuts them.",
            )
            return []
        cut = joined[-1]
        if len(joined) > 1 and len(piece) > 1 and _is_on_line(joined[-2], cut, piece[1]):
            joined = joined[:-1] + piece[1:]
        else:
            joined = joined + piece[1:]
    return joined


def _position(position: Any, place: str, into: Collector) -> tuple[float, float]:
    if (
        not isinstance(position, list)
        or not 2 <= len(position) <= 4
        or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in position)
    ):
        into.complain("is not a position [longitude, latitude]", place, "Export it again.")
        return math.nan, math.nan
    try:
        lon, lat = float(position[0]), float(position[1])
    except OverflowError:
        lon = lat = math.inf
    if not abs(lat) <= 90.0:
        into.complain(
            f"latitude {lat:g} is beyond 90 degrees",
            place,
            "GeoJSON puts longitude first; the two may be swapped.",
        )
    elif not abs(lon) <= 360.0:
        into.complain(f"longitude {lon:g} is beyond 360 degrees", place, "Correct it.")
    return lat, lon


def _meet_at_antimeridian(end: tuple[float, float], start: tuple[float, float]) -> bool:
    return (
        math.isclose(abs(end[1]), 180.0, abs_tol=1e-6)
        and math.isclose(abs(start[1]), 180.0, abs_tol=1e-6)
        and math.isclose(end[0], start[0], abs_tol=1e-6)
    )


def _is_on_line(
    before: tuple[float, float], cut: tuple[float, float], after: tuple[float, float]
) -> bool:
    """Whether a vertex on the antimeridian is only there because the line was cut."""
    to_cut = abs(wrap_longitude(cut[1] - before[1]))
    to_after = abs(wrap_longitude(after[1] - before[1]))
    if to_after == 0.0:
        return False
    lat = before[0] + (after[0] - before[0]) * to_cut / to_after
    return abs(lat - cut[0]) < _CUT_DEG


def _text(value: Any) -> str:
    if isinstance(value, bool) or value is None:
        return ""
    if isinstance(value, int | float):
        return decimal_text(value) if abs(value) < 1e300 else "inf"
    return value if isinstance(value, str) else json.dumps(value)[:100]


def _waypoints(vertices: list[tuple[float, float]], listed: Any, into: Collector) -> list[Waypoint]:
    entries: list[Any] = listed if isinstance(listed, list) else [{} for _ in vertices]
    if not vertices:
        return []
    if len(entries) != len(vertices) or not all(isinstance(e, dict) for e in entries):
        into.complain(
            f"property waypoints does not hold one entry for each of {len(vertices)} vertices",
            fix="Remove the property, or give an entry per vertex.",
        )
        return []
    points = []
    for number, ((lat, lon), entry) in enumerate(zip(vertices, entries, strict=True), 1):
        cells = {key: _text(entry.get(key)) for key in _KEYS}
        cells["lat"] = decimal_text(lat)
        cells["lon"] = decimal_text(wrap_longitude(lon))
        place = f"waypoint {number}"
        points.append(waypoint_from_text(cells, number=number, place=place, into=into))
    return points


def format_geojson(route: Route) -> str:
    """GeoJSON text of a route: one feature, cut at the antimeridian where it crosses.

    Vertices are the waypoints; a map program draws straight lines between them,
    whatever the kind of the leg.
    """
    points = route.waypoints
    pieces: list[list[list[float]]] = [[[points[0].lon_deg, points[0].lat_deg]]]
    for before, point in pairwise(points):
        here = [point.lon_deg, point.lat_deg]
        if abs(point.lon_deg - before.lon_deg) > 180.0:
            edge = math.copysign(180.0, before.lon_deg)
            whole = abs(wrap_longitude(point.lon_deg - before.lon_deg))
            share = abs(edge - before.lon_deg) / whole if whole else 0.0
            lat = before.lat_deg + share * (point.lat_deg - before.lat_deg)
            pieces[-1].append([edge, lat])
            pieces.append([[-edge, lat]])
        pieces[-1].append(here)
    entries = [
        {
            key: value
            for key, value in (
                ("name", point.name),
                ("leg", point.kind if index else None),
                ("speed_kn", point.speed_kn),
                ("stay_h", point.stay_h or None),
                ("eta", None if point.eta_s is None else format_time(point.eta_s)),
                ("etd", None if point.etd_s is None else format_time(point.etd_s)),
            )
            if value is not None
        }
        for index, point in enumerate(points)
    ]
    geometry: dict[str, Any] = {"type": "LineString", "coordinates": pieces[0]}
    if len(pieces) > 1:
        geometry = {"type": "MultiLineString", "coordinates": pieces}
    feature = {
        "type": "Feature",
        "properties": {"name": route.name, "waypoints": entries},
        "geometry": geometry,
    }
    collection = {"type": "FeatureCollection", "features": [feature]}
    return json.dumps(collection, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
