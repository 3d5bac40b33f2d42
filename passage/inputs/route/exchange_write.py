"""The route exchange format of IEC 61174 Annex S, version 1.1, written."""

from __future__ import annotations

import math
from xml.sax.saxutils import quoteattr

from passage.inputs.route.model import Route, Waypoint
from passage.inputs.route.text import decimal_text, format_time, parse_stay
from passage.units import HOUR_S

NAMESPACE = "http://www.cirm.org/RTZ/1/1"
_GEOMETRY = {"rhumb": "Loxodrome", "great circle": "Orthodrome"}


def format_exchange(route: Route, planned: Route | None = None, author: str = "") -> str:
    """Text of a route exchange file.

    Parameters
    ----------
    route
        Its speeds and stays go into the part of the schedule set by hand.
    planned
        The same route with the times and speeds of a plan (`Route.with_schedule`);
        these go into the computed part. None writes the times of ``route``.
    author
        For the route information, if wanted.
    """
    points = route.waypoints
    info = f"routeName={quoteattr(route.name)}"
    if author:
        info += f" routeAuthor={quoteattr(author)}"
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<route version="1.1" xmlns={quoteattr(NAMESPACE)}>',
        f"  <routeInfo {info}/>",
        "  <waypoints>",
    ]
    for number, point in enumerate(points, start=1):
        lines += _waypoint_lines(number, point)
    lines.append("  </waypoints>")
    by_hand = [_by_hand(point) for point in points]
    computed = [_computed(point) for point in (planned or route).waypoints]
    parts = [("manual", by_hand), ("calculated", computed)]
    if any(row for _, rows in parts for row in rows):
        lines += ["  <schedules>", f'    <schedule id="1" name={quoteattr(route.name)}>']
        for tag, rows in parts:
            if any(rows):
                lines.append(f"      <{tag}>")
                lines += [
                    f'        <scheduleElement waypointId="{number}" {row}/>'
                    for number, row in enumerate(rows, start=1)
                    if row
                ]
                lines.append(f"      </{tag}>")
        lines += ["    </schedule>", "  </schedules>"]
    lines += ["</route>", ""]
    return "\n".join(lines)


def _waypoint_lines(number: int, point: Waypoint) -> list[str]:
    position = f'lat="{decimal_text(point.lat_deg)}" lon="{decimal_text(point.lon_deg)}"'
    lines = [
        f'    <waypoint id="{number}" revision="0" name={quoteattr(point.name)}>',
        f"      <position {position}/>",
    ]
    if number > 1:
        lines.append(f'      <leg geometryType="{_GEOMETRY[point.kind]}"/>')
    if point.stay_h and not _fits_clock(point.stay_h):
        # The schema's stay is a time of day: under 24 hours, and in whole parts.
        lines += [
            "      <extensions>",
            '        <extension manufacturer="passage" name="stay" version="1.0" '
            f'hours="{decimal_text(point.stay_h)}"/>',
            "      </extensions>",
        ]
    lines.append("    </waypoint>")
    return lines


def _by_hand(point: Waypoint) -> str:
    row = []
    if point.stay_h and _fits_clock(point.stay_h):
        row.append(f'stay="{_clock(point.stay_h)}"')
    if point.speed_kn is not None:
        row.append(f'speed="{decimal_text(point.speed_kn)}"')
    return " ".join(row)


def _computed(point: Waypoint) -> str:
    row = []
    if point.etd_s is not None:
        row.append(f'etd="{format_time(point.etd_s)}"')
    if point.eta_s is not None:
        row.append(f'eta="{format_time(point.eta_s)}"')
    if row and point.speed_kn is not None:
        row.append(f'speed="{decimal_text(point.speed_kn)}"')
    return " ".join(row)


def _clock(hours: float) -> str:
    millis = round(hours * HOUR_S * 1000.0)
    minutes, rest = divmod(millis, 60_000)
    seconds = f"{rest // 1000:02d}" + (f".{rest % 1000:03d}" if rest % 1000 else "")
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds}"


def _fits_clock(hours: float) -> bool:
    """Whether hh:mm:ss gives the stay back unchanged."""
    if hours >= 24.0 or not math.isfinite(hours):
        return False
    text = _clock(hours)
    return not text.startswith("24") and parse_stay(text) == hours
