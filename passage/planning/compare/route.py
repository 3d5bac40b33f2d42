"""The chosen combination as a route file with its schedule."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from passage.errors import OutputError
from passage.files import write_text
from passage.inputs.route.csv_file import format_csv
from passage.inputs.route.exchange_write import format_exchange
from passage.inputs.route.geojson_file import format_geojson
from passage.inputs.route.gpx_file import format_gpx
from passage.inputs.route.model import Route
from passage.planning.compare.compare import Comparison
from passage.units import HOUR_S

#: Format by suffix of the file's name.
FORMATS = {".rtz": "IEC 61174 route exchange", ".gpx": "GPX", ".geojson": "GeoJSON", ".csv": "CSV"}


def scheduled(found: Comparison, index: int) -> tuple[Route, Route]:
    """The route with its ordered speeds, and the same route with the times of the plan."""
    cell = found.cell_of(index)
    route, at = found.routes[cell.route], int(found.at[index])
    speeds: list[float | None] = [cell.speed_kn] * len(route.legs)
    if cell.leg_speeds_kn is not None:
        speeds = list(cell.leg_speeds_kn)
    none: list[float | None] = [None] * len(route.legs)
    ordered = route.with_schedule(none, none, speeds)
    end = cell.end_s[at]
    start = np.r_[cell.departure_s[at], end[:-1]]
    through_water = [
        None if leg.kind == "stay" else round(float(value), 3)
        for leg, value in zip(route.legs, cell.legs["speed_through_water_kn"][at], strict=True)
    ]
    return ordered, ordered.with_schedule(list(start), list(end), through_water)


def write_chosen_route(found: Comparison, index: int, path: Path, *, force: bool = False) -> None:
    """Write the route in the format of the file's suffix.

    The schedule is that of the plan; a CSV has no columns for it.

    Raises
    ------
    OutputError
        The suffix is not known, or the file cannot be written.
    """
    ordered, planned = scheduled(found, index)
    write_text(path, route_text(ordered, path, planned), force=force)


def route_text(route: Route, path: Path, planned: Route | None = None) -> str:
    """Text of a route file in the format of the path's suffix."""
    timed = planned or route
    ending = path.suffix.lower()
    if ending in (".rtz", ".xml"):
        return format_exchange(route, planned)
    if ending == ".gpx":
        return format_gpx(timed)
    if ending in (".geojson", ".json"):
        return format_geojson(timed)
    if ending == ".csv":
        return format_csv(timed)
    known = ", ".join(f"{end} ({name})" for end, name in FORMATS.items())
    raise OutputError(f"{path}: the end of the name says the format: {known}.")


def departures(from_s: float, to_s: float, every_h: float) -> tuple[float, ...]:
    """Departures from first to last, the last one included where the step fits. [s]"""
    step = every_h * HOUR_S
    count = int(np.floor((to_s - from_s) / step + 1e-9)) + 1
    return tuple(from_s + step * i for i in range(count))
