"""A folder or a pattern of forecast files: which are of use, and why the others are not."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from passage.errors import ForecastError, Problem
from passage.files import is_collection, is_store, members
from passage.inputs.forecast.opener import detect_format
from passage.inputs.forecast.piece import Recognised
from passage.units import utc_text

#: Files read in one folder; more than any passage needs is the wrong folder.
MOST_FILES = 500


def expand(path: Path) -> list[Path]:
    """Forecast files in a folder, or those that match a pattern, by name; others are left out.

    Raises
    ------
    ForecastError
        There is none, or far too many.
    """
    listed = members(path)
    listed = [one for one in listed if one.is_file() or (one.is_dir() and is_store(one))]
    if len(listed) > MOST_FILES:
        raise _fail(path, f"holds {len(listed)} files", "Name a folder of one passage's forecasts.")
    kept = [one for one in listed if _is_forecast(one)]
    if not kept:
        what = "has no forecast file in it" if path.is_dir() else "matches no forecast file"
        raise _fail(path, what, "Forecast files are NetCDF, GRIB or Zarr.")
    return kept


def _is_forecast(path: Path) -> bool:
    try:
        detect_format(path)
    except ForecastError:
        return False
    return True


def _fail(path: Path, what: str, fix: str) -> ForecastError:
    return ForecastError(str(Problem(file=str(path), what=what, fix=fix)))


def expanded(paths: Iterable[Path]) -> tuple[list[Path], set[Path]]:
    """All files in order, and those of them that were not named one by one."""
    files: dict[Path, None] = {}
    gathered: set[Path] = set()
    for path in paths:
        if is_collection(path):
            found = expand(path)
            gathered |= set(found) - set(files)
            files |= dict.fromkeys(found)
        else:
            files[path] = None
            gathered.discard(path)
    return list(files), gathered


def serving(
    files: list[Recognised],
    gathered: set[Path],
    box: tuple[float, float, float, float] | None,
    span: tuple[float | None, float | None],
) -> tuple[list[Recognised], list[str]]:
    """Files of use for a passage, and why each gathered one that is left out is not.

    ``box`` is south, north, west and east [deg]; ``span`` first and last time [s]. Files
    that were named one by one always stay: what is wrong with them is reported elsewhere.
    """
    kept, notes = [], []
    for found in files:
        why = ""
        if found.file.path in gathered:
            why = _why_not(found, box, span)
        if why:
            notes.append(f"{found.file.path.name} is left out: {why}")
        else:
            kept.append(found)
    return kept, notes


def _why_not(
    found: Recognised,
    box: tuple[float, float, float, float] | None,
    span: tuple[float | None, float | None],
) -> str:
    if not found.pieces:
        return "none of its variables is recognised as waves, wind, current or depth"
    if found.problems:
        return str(found.problems[0].what)
    times = [t.time_s for t in found.times if t.time_s.size]
    if times:
        first, last = min(float(t[0]) for t in times), max(float(t[-1]) for t in times)
        start, end = span
        if (end is not None and first > end) or (start is not None and last < start):
            return f"it runs {utc_text(first)} to {utc_text(last)}, not during the passage"
    if box is not None and not any(_touches(piece.grid, box) for piece in found.pieces):
        return "it covers another area"
    return ""


def _touches(grid: object, box: tuple[float, float, float, float]) -> bool:
    """Whether a grid and a box have a place in common; longitudes may wrap."""
    south, north, west, east = box
    lat, lon = grid.lat_deg, grid.lon_deg  # type: ignore[attr-defined]
    if lat[0] > north or lat[-1] < south:
        return False
    width = (east - west) % 360.0
    start = (west - float(lon[0])) % 360.0
    return bool(start <= float(lon[-1]) - float(lon[0]) or start + width >= 360.0)
