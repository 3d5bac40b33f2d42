"""GPX 1.1 routes (``rte``), read and written.

GPX has no kinds of leg, speeds or stays; files written here carry them in
``extensions`` of our own namespace, which other programs skip.

References
----------
GPX 1.1 schema, http://www.topografix.com/GPX/1/1 (element names from memory).
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from passage.inputs.route.build import build_route
from passage.inputs.route.fields import Collector, waypoint_from_text
from passage.inputs.route.model import Route
from passage.inputs.route.text import clean_name, decimal_text, format_time
from passage.inputs.route.xml_tree import Node

GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
OWN_NAMESPACE = "urn:passage:route:1"
_OWN_KEYS = ("leg", "speed_kn", "stay_h", "eta", "etd")


def parse_gpx(root: Node, *, file: str, name: str, wanted: str = "") -> Route:
    """A route from the tree of a GPX file.

    Parameters
    ----------
    wanted : str
        Name of the route, or of the track, to take; without it the file's one route.

    Raises
    ------
    RouteError
        No route or several, none of the wanted name, or points that cannot be read.
    """
    into = Collector(file)
    routes = [node for node in root.all("rte") if node.all("rtept")]
    points = []
    chosen: list[tuple[Node, list[Node]]] = [(node, node.all("rtept")) for node in routes]
    if wanted:
        chosen = _of_name(root, chosen, wanted, into)
    elif not routes:
        _complain_no_route(root, into)
    elif len(routes) > 1:
        names = ", ".join(_name(node) for node in routes)
        into.complain(
            f"holds {len(routes)} routes ({names})",
            str(routes[1].line),
            f"Name one after the file name: {file}#{_name(routes[0])}; or save them as separate "
            "files.",
        )
        chosen = []
    for node, nodes in chosen:
        name = clean_name(node.words("name"), name)
        for number, point in enumerate(nodes, start=1):
            cells = {
                "name": point.words("name"),
                "lat": point.attributes.get("lat", ""),
                "lon": point.attributes.get("lon", ""),
                **_own_cells(point),
            }
            place = str(point.line)
            points.append(waypoint_from_text(cells, number=number, place=place, into=into))
    return build_route(file, name, points, notes=tuple(into.notes), problems=into.problems)


def _name(node: Node) -> str:
    return clean_name(node.words("name"), "without a name")


def _of_name(
    root: Node, routes: list[tuple[Node, list[Node]]], wanted: str, into: Collector
) -> list[tuple[Node, list[Node]]]:
    """The one route of a name with its points, else the one track; none, with a complaint."""
    tracks = [
        (track, [point for part in track.all("trkseg") for point in part.all("trkpt")])
        for track in root.all("trk")
    ]
    for kind, found in (("routes", routes), ("tracks", tracks)):
        named = [one for one in found if _name(one[0]).casefold() == wanted.casefold()]
        if len(named) > 1:
            into.complain(
                f"holds {len(named)} {kind} named {wanted}", str(named[1][0].line),
                "Rename one, or save them as separate files.",
            )  # fmt: skip
            return []
        if named and kind == "tracks":
            into.note(f"the points of track {wanted} are taken as waypoints")
        if named:
            return named
    names = ", ".join(dict.fromkeys(_name(node) for node, _ in [*routes, *tracks])) or "nothing"
    into.complain(f"has no route or track named {wanted}", fix=f"It holds {names}.")
    return []


def _own_cells(node: Node) -> dict[str, str]:
    extensions = node.first("extensions")
    if extensions is None:
        return {}
    return {
        child.tag: child.text.strip()
        for child in extensions.children
        if child.namespace == OWN_NAMESPACE and child.tag in _OWN_KEYS
    }


def _complain_no_route(root: Node, into: Collector) -> None:
    if root.all("trk"):
        into.complain(
            "holds a track (trk), where she has been, but no route (rte)",
            str(root.all("trk")[0].line),
            "Draw the route in the chart program and export it as a route. A track that was "
            f"drawn, not recorded, is taken by its name: {into.file}#{_name(root.all('trk')[0])}.",
        )
    elif root.all("wpt"):
        into.complain(
            "holds single waypoints (wpt) but no route (rte)",
            str(root.all("wpt")[0].line),
            "Join them to a route in the chart program and export that.",
        )
    else:
        into.complain("holds no route (rte)", fix="Export the route as GPX 1.1.")


def format_gpx(route: Route) -> str:
    """GPX 1.1 text of a route, with every digit needed to read it back unchanged."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx version="1.1" creator="passage" xmlns={quoteattr(GPX_NAMESPACE)}'
        f" xmlns:passage={quoteattr(OWN_NAMESPACE)}>",
        "  <rte>",
        f"    <name>{escape(route.name)}</name>",
    ]
    for index, point in enumerate(route.waypoints):
        own = {
            "leg": point.kind if index else "",
            "speed_kn": "" if point.speed_kn is None else decimal_text(point.speed_kn),
            "stay_h": decimal_text(point.stay_h) if point.stay_h else "",
            "eta": "" if point.eta_s is None else format_time(point.eta_s),
            "etd": "" if point.etd_s is None else format_time(point.etd_s),
        }
        position = f'lat="{decimal_text(point.lat_deg)}" lon="{decimal_text(point.lon_deg)}"'
        lines.append(f"    <rtept {position}>")
        lines.append(f"      <name>{escape(point.name)}</name>")
        if any(own.values()):
            lines.append("      <extensions>")
            lines.extend(
                f"        <passage:{key}>{escape(text)}</passage:{key}>"
                for key, text in own.items()
                if text
            )
            lines.append("      </extensions>")
        lines.append("    </rtept>")
    lines += ["  </rte>", "</gpx>", ""]
    return "\n".join(lines)
