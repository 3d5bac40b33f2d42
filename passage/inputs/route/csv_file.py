"""Routes as a table: ``name,lat,lon,leg,speed_kn,stay_h``, one line for each waypoint.

A further column ``transfer`` marks a waypoint for (yes) or against (no) moving liquid.
"""

from __future__ import annotations

import csv
import io

from passage.errors import did_you_mean
from passage.inputs.route.build import build_route
from passage.inputs.route.fields import Collector, waypoint_from_text
from passage.inputs.route.model import MAX_WAYPOINTS, Route, Waypoint
from passage.inputs.route.text import decimal_text

COLUMNS = ("name", "lat", "lon", "leg", "speed_kn", "stay_h")
_REQUIRED = COLUMNS[:3]
#: Read where it is there, written only where a waypoint is marked.
_MARK = "transfer"
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}


def parse_csv(text: str, *, file: str, name: str) -> Route:
    """A route from the text of a table.

    Comma, semicolon and tab are recognised by the header line. Lines that begin
    with ``#`` are remarks. Numbers take a decimal point, whatever the separator.

    Raises
    ------
    RouteError
        With every problem of the file, each with its line.
    """
    into = Collector(file)
    rows = _rows(text, into)
    if not rows and not into.problems:
        into.complain(
            "is empty", fix=f"Give a header {','.join(COLUMNS)} and one line for each waypoint."
        )
    columns = {} if into.problems else _columns(rows[0], into)
    points: list[Waypoint] = []
    if not into.problems:
        for line, cells in rows[1 : MAX_WAYPOINTS + 2]:
            if len(cells) > len(rows[0][1]):
                into.complain(
                    f"has {len(cells)} cells where the header has {len(rows[0][1])}",
                    str(line),
                    "A decimal comma splits a number in two: use a decimal point.",
                )
                continue
            values = {
                key: cells[at].strip() if at < len(cells) else "" for key, at in columns.items()
            }
            number = len(points) + 1
            points.append(waypoint_from_text(values, number=number, place=str(line), into=into))
            if number == 1 and (values.get("leg") or values.get("speed_kn")):
                into.note("leg and speed on the first waypoint describe no leg and are not used")
    return build_route(file, name, points, notes=tuple(into.notes), problems=into.problems)


def _rows(text: str, into: Collector) -> list[tuple[int, list[str]]]:
    """Lines that hold something, with their numbers in the file."""
    # Blanked, not dropped, so that line numbers stay those of the file.
    lines = [
        "\n" if line.lstrip().startswith("#") else line for line in io.StringIO(text, newline=None)
    ]
    at = next((at for at, line in enumerate(lines) if line.strip()), 0)
    first = lines[at] if lines else ""
    counts = {sign: first.count(sign) for sign in _SEPARATORS}
    separator = max(counts, key=lambda sign: counts[sign])
    if sum(1 for count in counts.values() if count) > 1:
        into.complain(
            "the header mixes commas, semicolons or tabs",
            str(at + 1),
            f"Separate the columns by commas: {','.join(COLUMNS)}.",
        )
        return []
    if counts[separator] and separator != ",":
        into.note(f"columns are separated by {_SEPARATORS[separator]}s")
    reader = csv.reader(lines, delimiter=separator, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, cells))
    except csv.Error as err:
        into.complain(
            f"is not a table: {err}",
            str(reader.line_num),
            "Look for a quotation mark that is not closed.",
        )
    return rows


def _columns(row: tuple[int, list[str]], into: Collector) -> dict[str, int]:
    place, header = str(row[0]), row[1]
    columns: dict[str, int] = {}
    for at, cell in enumerate(header):
        key = cell.strip().lower()
        if key in columns:
            into.complain(f"column {key} appears twice", place, "Remove one.")
        elif key in (*COLUMNS, _MARK):
            columns[key] = at
        elif hint := did_you_mean(key, (*COLUMNS, _MARK)):
            into.complain(f"column {cell.strip()!r} is not known", place, hint)
        elif key:
            into.note(f"column {cell.strip()!r} is not used")
    missing = [key for key in _REQUIRED if key not in columns]
    if missing:
        into.complain(
            f"the header lacks {', '.join(missing)}",
            place,
            f"The first line is {','.join(COLUMNS)}; the last three are optional.",
        )
    return columns


def format_csv(route: Route) -> str:
    """The table of a route, with every digit needed to read it back unchanged.

    A schedule is not kept: the table has no columns for times.
    """
    out = io.StringIO(newline="")
    plain = csv.writer(out, lineterminator="\n")
    quoted = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    points = route.waypoints
    marked = any(point.transfer is not None for point in points)
    plain.writerow((*COLUMNS, _MARK) if marked else COLUMNS)
    for index, point in enumerate(points):
        # A line that begins with # would be read as a remark.
        writer = quoted if point.name.startswith("#") else plain
        writer.writerow(
            (
                point.name,
                decimal_text(point.lat_deg),
                decimal_text(point.lon_deg),
                point.kind if index else "",
                "" if point.speed_kn is None else decimal_text(point.speed_kn),
                decimal_text(point.stay_h) if point.stay_h else "",
                *(({True: "yes", False: "no", None: ""}[point.transfer],) if marked else ()),
            )
        )
    return out.getvalue()
