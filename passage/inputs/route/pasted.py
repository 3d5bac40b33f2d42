"""A list of waypoints pasted from a chart program: a name and two positions a line, no header.

Positions carry their letters (N, S, E, W), so that neither can be taken for the other or
for part of the name. They are separated by tabs, semicolons, a comma with a blank, or two
blanks; one blank is enough where degrees and minutes are joined by a sign, or where the name
has no figures that could be degrees.
"""

from __future__ import annotations

import re

from passage.inputs.route.build import build_route
from passage.inputs.route.fields import Collector, waypoint_from_text
from passage.inputs.route.model import MAX_WAYPOINTS, Route, Waypoint

_BETWEEN = re.compile(r"\t|;|,\s|\s{2,}")
_LETTER_AT_END = {"lat": re.compile(r"^[NS]\s*\d|\d\W*[NS]$", re.IGNORECASE),
                  "lon": re.compile(r"^[EW]\s*\d|\d\W*[EW]$", re.IGNORECASE)}  # fmt: skip
_MINUTES = r"\d{1,3}\s*[°º˚:-]\s*\d[\d.,]*\s*(?:['′’:-]\s*(?:\d[\d.,]*\s*[\"″”]?)?)?"
#: Two positions on one line, latitude first, degrees joined to minutes by a sign.
_JOINED = re.compile(
    rf"^(?P<before>.*?)(?P<lat>(?<!\S)[NS]\s*{_MINUTES}|(?<!\S){_MINUTES}\s*[NS])[\s,]+"
    rf"(?P<lon>[EW]\s*{_MINUTES}|{_MINUTES}\s*[EW])(?!\S)(?P<after>.*)$",
    re.IGNORECASE,
)


_SPACED_MINUTES = r"\d{1,3}[°º˚]?\s+\d{1,2}(?:[.,]\d+)?['′’]?\s*"
#: The same with a blank between degrees and minutes: the first figure of the line is latitude.
_SPACED = re.compile(
    rf"^(?P<before>\D*)(?<!\S)(?P<lat>{_SPACED_MINUTES}[NS])[\s,]+"
    rf"(?P<lon>{_SPACED_MINUTES}[EW])(?!\S)(?P<after>\D*)$",
    re.IGNORECASE,
)


def is_pasted(text: str) -> bool:
    """Whether the first or second line of a text holds two positions and no header does."""
    lines = [line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#"][:2]
    if not lines:
        return False
    if _cells(lines[0]) is not None:
        return True
    # A header with separators is that of a table, whose columns would be lost here.
    plain = not any(c.isdigit() or c in ",;\t" for c in lines[0])
    return plain and len(lines) > 1 and _cells(lines[1]) is not None


def _cells(line: str) -> dict[str, str] | None:
    """Name, latitude and longitude of a line; None unless each is there once."""
    cells = [cell.strip() for cell in _BETWEEN.split(line.strip()) if cell.strip()]
    places = {key: [c for c in cells if shape.search(c)] for key, shape in _LETTER_AT_END.items()}
    if len(places["lat"]) == len(places["lon"]) == 1 and places["lat"] != places["lon"]:
        lat, lon = places["lat"][0], places["lon"][0]
        if _alone(lat) and _alone(lon):
            at = max(cells.index(lat), cells.index(lon))
            return _named(cells[:at], cells[at + 1 :], lat, lon)
    found = _JOINED.match(line.strip()) or _SPACED.match(line.strip())
    if found is None:
        return None
    return _named([found["before"]], [found["after"]], found["lat"], found["lon"])


def _named(before: list[str], after: list[str], lat: str, lon: str) -> dict[str, str] | None:
    """The cells of a line; None where figures follow, which are not part of a name."""
    if any(c.isdigit() for cell in after for c in cell):
        return None
    name = " ".join(" ".join(c for c in [*before, *after] if c not in (lat, lon)).split())
    return {"name": name.strip(" ,;"), "lat": lat, "lon": lon}


def _alone(cell: str) -> bool:
    """Whether a cell holds a position and no name before or behind it."""
    return sum(c.isalpha() for c in cell) == 1


def parse_pasted(text: str, *, file: str, name: str) -> Route:
    """A route from such a list.

    Raises
    ------
    RouteError
        With every line that cannot be read.
    """
    into = Collector(file)
    into.note("read as a pasted list of positions, without a header")
    points: list[Waypoint] = []
    first = True
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip()[0] == "#":
            continue
        cells = _cells(line)
        heading, first = first, False
        if cells is None and heading:
            continue  # words above the columns
        if cells is None:
            into.complain(
                "is not a name and two positions with their letters",
                str(number),
                "Write lines such as: Off Ushant  48-35.0N  005-40.0W. With speeds or more, use a "
                "table with a header.",
            )
            continue
        points.append(
            waypoint_from_text(cells, number=len(points) + 1, place=str(number), into=into)
        )
        if len(points) > MAX_WAYPOINTS:
            break
    return build_route(file, name, points, notes=tuple(into.notes), problems=into.problems)
