"""The route exchange format of IEC 61174 Annex S, versions 1.0, 1.1 and 1.2, read.

Waypoints follow each other in document order, whatever their numbers. A leg belongs
to the waypoint it ends at. What a leg leaves out is taken from the default
waypoint. Schedules name waypoints by number; values set by hand go before computed
ones.

References
----------
IEC 61174:2015 Annex S (schema 1.0, where the element is spelt ``sheduleElement`` and
wind is in m/s); schema 1.1 (``scheduleElement``, wind in knots, ``stay`` an xs:time);
IEC PAS 61174-1:2021 (schema 1.2, ``stay`` an xs:duration).
"""

from __future__ import annotations

import re

from passage.inputs.route.build import build_route
from passage.inputs.route.fields import Collector, waypoint_from_text
from passage.inputs.route.model import Route, Waypoint
from passage.inputs.route.text import clean_name, decimal_text, parse_stay
from passage.inputs.route.xml_tree import Node
from passage.units import HOUR_S, m_s_to_knots

VERSIONS = ("1.0", "1.1", "1.2")
_ELEMENTS = ("scheduleElement", "sheduleElement")
#: Departure less than this after arrival is rounding, not a stay [s].
_NO_STAY_S = 60.0


def parse_exchange(root: Node, *, file: str, name: str) -> Route:
    """A route from the tree of a route exchange file.

    Raises
    ------
    RouteError
        Another version, no waypoints, or values that cannot be read.
    """
    into = Collector(file)
    version = _version(root, into)
    info = root.first("routeInfo")
    if info is not None:
        name = clean_name(info.attributes.get("routeName", ""), name)
    listed = root.first("waypoints")
    nodes = listed.all("waypoint") if listed else []
    if not nodes:
        into.complain("holds no waypoints", str(root.line), "Export the route again.")
    default = listed.first("defaultWaypoint") if listed else None
    default_leg = default.first("leg") if default else None
    common = default_leg.attributes if default_leg else {}
    times = _schedule(root, version, [n.attributes.get("id", "") for n in nodes], into)
    points = []
    for number, node in enumerate(nodes, start=1):
        leg = node.first("leg")
        values = {**common, **(leg.attributes if leg else {})}
        entry = times.get(node.attributes.get("id", "").strip(), {})
        points.append(_waypoint(node, values, entry, number, into))
    if points and any("speedMin" in c or "speedMax" in c for c in _legs(nodes, common)):
        into.note("speed limits of the legs (speedMin, speedMax) are not used")
    return build_route(file, name, points, notes=tuple(into.notes), problems=into.problems)


def _legs(nodes: list[Node], common: dict[str, str]) -> list[dict[str, str]]:
    found = [leg.attributes for node in nodes for leg in node.all("leg")]
    return [common, *found]


def _version(root: Node, into: Collector) -> str:
    version = root.attributes.get("version", "").strip()
    spelled = re.search(r"/RTZ/([0-9]+)/([0-9]+)", root.namespace, re.IGNORECASE)
    named = f"{spelled.group(1)}.{spelled.group(2)}" if spelled else ""
    if not version:
        into.note(f"no version is given; read as {named or '1.0'}")
        version = named or "1.0"
    if version not in VERSIONS:
        into.complain(
            f"version = {version[:40]!r} is not one of {', '.join(VERSIONS)}",
            str(root.line),
            "Export the route as version 1.0, 1.1 or 1.2.",
        )
    elif named and named != version:
        into.note(f"version {version} with the namespace of {named}; read as {version}")
    return version


def _waypoint(
    node: Node, leg: dict[str, str], entry: dict[str, str], number: int, into: Collector
) -> Waypoint:
    place = str(node.line)
    position = node.first("position")
    if position is None:
        into.complain(f"waypoint {number} has no position", place, "Export it again.")
    where = position.attributes if position else {"lat": "0", "lon": "0"}
    geometry = leg.get("geometryType", "").strip()
    cells = {
        "name": node.attributes.get("name", ""),
        "lat": where.get("lat", ""),
        "lon": where.get("lon", ""),
        "leg": geometry,
        "eta": entry.get("eta", ""),
        "etd": entry.get("etd", ""),
    }
    speed = entry.get("speed", "").strip()
    # Zero is what some programs write for "not set".
    if speed and not re.fullmatch(r"0*\.?0*", speed):
        cells["speed_kn"] = speed
    stay_h = _stay_h(node, entry, place, into)
    if stay_h:
        cells["stay_h"] = decimal_text(stay_h)
    point = waypoint_from_text(cells, number=number, place=place, into=into)
    if not stay_h and point.eta_s is not None and point.etd_s is not None:
        stay_s = point.etd_s - point.eta_s
        if stay_s >= _NO_STAY_S:
            cells["stay_h"] = decimal_text(stay_s / HOUR_S)
            return waypoint_from_text(cells, number=number, place=place, into=into)
    return point


def _stay_h(node: Node, entry: dict[str, str], place: str, into: Collector) -> float:
    """Hours of stay: our own extension first, which may exceed a day."""
    for extensions in node.all("extensions"):
        for extension in extensions.all("extension"):
            own = extension.attributes
            if own.get("manufacturer") == "passage" and own.get("name") == "stay":
                return into.take(
                    lambda text: float(text) if text else 0.0,
                    own.get("hours", ""),
                    0.0,
                    place,
                )
    stay = entry.get("stay", "").strip()
    return into.take(parse_stay, stay, 0.0, place) if stay else 0.0


def _schedule(
    root: Node, version: str, ids: list[str], into: Collector
) -> dict[str, dict[str, str]]:
    """Attributes of the schedule by waypoint number, hand-set before computed."""
    listed = root.first("schedules")
    schedules = [
        node
        for node in (listed.all("schedule") if listed else [])
        if any(part.all(*_ELEMENTS) for part in node.all("manual", "calculated"))
    ]
    if not schedules:
        return {}
    chosen = schedules[0]
    if len(schedules) > 1:
        label = clean_name(chosen.attributes.get("name", ""), "without a name")
        into.note(f"{len(schedules)} schedules in the file; the first ({label}) is used")
    known = {key.strip() for key in ids}
    merged: dict[str, dict[str, str]] = {}
    speeds_by_hand = False
    wind_kn = 0.0
    for kind in ("calculated", "manual"):
        for part in chosen.all(kind):
            for node in part.all(*_ELEMENTS):
                key = node.attributes.get("waypointId", "").strip()
                if key not in known:
                    into.note(f"the schedule names waypoint {key[:20]!r}, which is not in the file")
                    continue
                values = {k: v for k, v in node.attributes.items() if v.strip()}
                wind_kn = max(wind_kn, _wind_kn(values.get("windSpeed", ""), version))
                speeds_by_hand |= kind == "manual" and "speed" in values
                merged.setdefault(key, {}).update(values)
    doubled = {key for key in merged if [k.strip() for k in ids].count(key) > 1}
    if doubled:
        into.note(
            "the schedule is not used: waypoint numbers "
            f"{', '.join(sorted(doubled))} occur twice in the file"
        )
        return {}
    if not speeds_by_hand and any("speed" in values for values in merged.values()):
        into.note("leg speeds are those of the file's computed schedule")
    if wind_kn > 0.0:
        into.note(
            f"wind in the file's schedule (up to {wind_kn:.0f} kn) is not used; the forecast is"
        )
    return merged


def _wind_kn(text: str, version: str) -> float:
    """Wind of a schedule in knots: m/s in version 1.0, knots since."""
    if not re.fullmatch(r"[0-9]{1,3}(\.[0-9]*)?", text.strip()):
        return 0.0
    value = float(text)
    return float(m_s_to_knots(value)) if version == "1.0" else value
