"""Routes as a table: ``name,lat,lon,leg,speed_kn,stay_h``, a waypoint a line."""

from __future__ import annotations

import csv
import difflib
import io
import math
from typing import Literal

from passage.errors import Problem
from passage.inputs.route.model import (
    MAX_SPEED_KN,
    MAX_STAY_H,
    MAX_WAYPOINTS,
    Route,
    Waypoint,
    build_route,
)
from passage.inputs.route.positions import parse_latitude, parse_longitude
from passage.inputs.route.text import clean_name, parse_kind, parse_number

COLUMNS = ("name", "lat", "lon", "leg", "speed_kn", "stay_h")
_REQUIRED = COLUMNS[:3]
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}


def parse_csv(text: str, *, file: str, name: str) -> Route:
    """A route from the text of a table.

    Comma, semicolon and tab are told apart by the header line. Lines that begin
    with ``#`` are remarks. Numbers take a decimal point, whatever the separator.

    Raises
    ------
    RouteError
        With every problem of the file, each with its line.
    """
    problems: list[Problem] = []
    notes: list[str] = []
    rows = _rows(text, file, problems, notes)
    if not rows:
        if not problems:
            problems.append(
                Problem(
                    file=file,
                    what="is empty",
                    fix=f"Give a header {','.join(COLUMNS)} and a waypoint a line.",
                )
            )
        return build_route(file, name, [], problems=problems)
    header_line, header = rows[0]
    columns = _columns(header, header_line, file, problems, notes)
    if problems:
        return build_route(file, name, [], problems=problems)
    points: list[Waypoint] = []
    for line, cells in rows[1 : MAX_WAYPOINTS + 2]:
        if len(cells) > len(header):
            problems.append(
                Problem(
                    file=file,
                    place=str(line),
                    what=f"has {len(cells)} cells where the header has {len(header)}",
                    fix="A decimal comma splits a number in two: use a decimal point.",
                )
            )
            continue
        values = {key: cells[at].strip() if at < len(cells) else "" for key, at in columns.items()}
        point = _waypoint(values, line, len(points) + 1, file, problems)
        points.append(point)
    if points and (rows[1][1] and any(_of(rows[1][1], columns, k) for k in COLUMNS[3:5])):
        notes.append("leg and speed on the first waypoint describe no leg and are not used")
    return build_route(file, name, points, notes=tuple(notes), problems=problems)


def _of(cells: list[str], columns: dict[str, int], key: str) -> str:
    at = columns.get(key, len(cells))
    return cells[at].strip() if at < len(cells) else ""


def _rows(
    text: str, file: str, problems: list[Problem], notes: list[str]
) -> list[tuple[int, list[str]]]:
    """Lines that hold something, with their numbers in the file."""
    lines = text.splitlines(keepends=True)
    # Blanked, not dropped, so that line numbers stay those of the file.
    lines = ["\n" if line.lstrip().startswith("#") else line for line in lines]
    first = next((line for line in lines if line.strip()), "")
    counts = {sign: first.count(sign) for sign in _SEPARATORS}
    separator = max(counts, key=lambda sign: counts[sign])
    if sum(1 for count in counts.values() if count) > 1:
        problems.append(
            Problem(
                file=file,
                place="1",
                what="the header mixes commas, semicolons or tabs",
                fix=f"Separate the columns by commas: {','.join(COLUMNS)}.",
            )
        )
        return []
    if counts[separator] and separator != ",":
        notes.append(f"columns are separated by {_SEPARATORS[separator]}s")
    reader = csv.reader(io.StringIO("".join(lines), newline=""), delimiter=separator, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, cells))
    except csv.Error as err:
        problems.append(
            Problem(
                file=file,
                place=str(reader.line_num),
                what=f"is not a table: {err}",
                fix="Look for a quotation mark that is not closed.",
            )
        )
    return rows


def _columns(
    header: list[str], line: int, file: str, problems: list[Problem], notes: list[str]
) -> dict[str, int]:
    place = str(line)
    columns: dict[str, int] = {}
    for at, cell in enumerate(header):
        key = cell.strip().lower()
        if key in columns:
            problems.append(Problem(file=file, place=place, what=f"column {key} twice"))
        elif key in COLUMNS:
            columns[key] = at
        elif near := difflib.get_close_matches(key, COLUMNS, n=1, cutoff=0.6):
            problems.append(
                Problem(
                    file=file,
                    place=place,
                    what=f"column {cell.strip()!r} is not known",
                    fix=f"Did you mean {near[0]}?",
                )
            )
        elif key:
            notes.append(f"column {cell.strip()!r} of {file} is not used")
    missing = [key for key in _REQUIRED if key not in columns]
    if missing:
        problems.append(
            Problem(
                file=file,
                place=place,
                what=f"the header lacks {', '.join(missing)}",
                fix=f"The first line is {','.join(COLUMNS)}; the last three are optional.",
            )
        )
    return columns


def _waypoint(
    values: dict[str, str], line: int, number: int, file: str, problems: list[Problem]
) -> Waypoint:
    place = str(line)
    found: dict[str, float] = {"lat": math.nan, "lon": math.nan, "stay_h": 0.0}
    kind: Literal["rhumb", "great circle"] = "rhumb"
    speed_kn: float | None = None
    for key, parse in (("lat", parse_latitude), ("lon", parse_longitude)):
        try:
            found[key] = parse(values[key])
        except ValueError as err:
            problems.append(Problem(file=file, place=place, what=str(err)))
    try:
        kind = parse_kind(values.get("leg", ""))
    except ValueError as err:
        problems.append(Problem(file=file, place=place, what=str(err)))
    try:
        if values.get("speed_kn"):
            speed_kn = parse_number(
                values["speed_kn"], "speed_kn", "kn", low=0.0, high=MAX_SPEED_KN, open_low=True
            )
    except ValueError as err:
        problems.append(Problem(file=file, place=place, what=str(err)))
    try:
        if values.get("stay_h"):
            found["stay_h"] = parse_number(
                values["stay_h"], "stay_h", "h", low=0.0, high=MAX_STAY_H
            )
    except ValueError as err:
        problems.append(Problem(file=file, place=place, what=str(err)))
    return Waypoint(
        name=clean_name(values["name"], f"WP{number}"),
        lat_deg=found["lat"],
        lon_deg=found["lon"],
        kind=kind,
        speed_kn=speed_kn,
        stay_h=found["stay_h"],
        place=place,
    )


def format_csv(route: Route) -> str:
    """The table of a route, with every digit needed to read it back unchanged."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for index, point in enumerate(route.waypoints):
        writer.writerow(
            (
                point.name,
                repr(point.lat_deg),
                repr(point.lon_deg),
                point.kind if index else "",
                "" if point.speed_kn is None else repr(point.speed_kn),
                repr(point.stay_h) if point.stay_h else "",
            )
        )
    return out.getvalue()
