"""Opening files as one forecast."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, NoCoverage, Problem
from passage.inputs.forecast.forecast import Forecast
from passage.inputs.forecast.gather import expanded, serving
from passage.inputs.forecast.group import Group
from passage.inputs.forecast.idle import idle_notes
from passage.inputs.forecast.join import Joined, join
from passage.inputs.forecast.mapping import parse_names
from passage.inputs.forecast.members import settle_members
from passage.inputs.forecast.opener import (
    CHUNK_CACHE_BYTES,
    OpenFile,
    harmless_together,
    open_file,
)
from passage.inputs.forecast.piece import Recognised
from passage.inputs.forecast.recognise import recognise
from passage.inputs.forecast.runs import newest_runs
from passage.units import utc_text

#: Above this many files, handles are closed and opened again as needed, which xarray does.
MANY_FILES = 64
#: What to do where a file holds one hour only.
ALL_HOURS = "Give all hours of the run, or --single-time HOURS to use it that far off."

Paths = str | os.PathLike[str] | Iterable[str | os.PathLike[str]]


@dataclass(frozen=True)
class Area:
    """A box in degrees; ``west_deg`` greater than ``east_deg`` crosses 180."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float


def box_around(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, *, margin_deg: float = 0.0) -> Area:
    """Smallest box that holds positions, across the antimeridian if that is shorter.

    ``margin_deg`` is added on every side (more in longitude towards the poles, so that
    it is the same distance). [deg]
    """
    lat = np.asarray(lat_deg, float).reshape(-1)
    lon = np.sort(np.mod(np.asarray(lon_deg, float).reshape(-1), 360.0))
    south, north = lat.min() - margin_deg, lat.max() + margin_deg
    # The box starts after the widest empty stretch of the circle.
    empty = np.diff(np.append(lon, lon[0] + 360.0))
    widest = int(np.argmax(empty))
    west = lon[(widest + 1) % lon.size]
    width = 360.0 - empty[widest]
    top = min(max(abs(south), abs(north)), 85.0)
    side = margin_deg / float(np.cos(np.radians(top)))
    if width + 2 * side >= 360.0:
        return Area(max(south, -90.0), min(north, 90.0), -180.0, 180.0)
    start = (west - side + 180.0) % 360.0 - 180.0
    end = (west + width + side + 180.0) % 360.0 - 180.0
    return Area(max(south, -90.0), min(north, 90.0), float(start), float(end))


def recognise_files(
    paths: Paths,
    names: Mapping[str, str] | None = None,
    *,
    chunk_cache_bytes: int = CHUNK_CACHE_BYTES,
) -> list[Recognised]:
    """Open files and say what they hold, without reading their fields.

    ``chunk_cache_bytes`` as in ``opener.open_file``.

    Raises
    ------
    ForecastError
        Files that cannot be opened, all of them at once.
    """
    if isinstance(paths, (str, os.PathLike)):
        paths = [paths]
    mapping = parse_names(names)
    listed = list(dict.fromkeys(Path(p) for p in paths))
    if not listed:
        raise ForecastError("no forecast file is given. Name at least one.")
    opened: list[OpenFile] = []
    messages: list[str] = []
    tried, many = harmless_together(listed), len(listed) > MANY_FILES
    with ExitStack() as failing:
        for path in listed:
            try:
                file = open_file(path, chunk_cache_bytes=chunk_cache_bytes, tried=tried, many=many)
                opened.append(file)
                failing.callback(opened[-1].close)
            except ForecastError as err:
                messages.append(str(err))
        if messages:
            raise ForecastError("\n".join(messages))
        found = [recognise(file, mapping) for file in opened]
        failing.pop_all()
    return found


def open_forecast(
    paths: Paths,
    *,
    area: Area | None = None,
    time_from_s: float | None = None,
    time_to_s: float | None = None,
    names: Mapping[str, str] | None = None,
    nearest_sea_cell_km: float | None = None,
    hold_single_step_s: float = 0.0,
    memory_mb: float | None = None,
    newest_run: bool = True,
    passage_s: tuple[float, float] | None = None,
) -> Forecast:
    """Open forecast files as one forecast.

    Parameters
    ----------
    paths : path or iterable of paths
        NetCDF, GRIB or Zarr; waves, wind, current and depth in any split, or a folder
        or pattern of such files, of which those of area and time are used. Wind,
        current or depth given by several files that do not join: the last one wins.
    area, time_from_s, time_to_s : optional
        What will be sampled. It is read at once if it takes under 128 MB, so that its
        faults show now; other points can still be sampled, and are read then.
    names : mapping of str to str, optional
        What variables are, by the user: ``{"file variable": "our name"}`` or
        ``"our name, unit"``.
    nearest_sea_cell_km : float, optional
        Give points beside land the nearest sea cell within this distance. [km]
    hold_single_step_s : float
        How far from a single time step its values may be used; 0: at that time only
        (to half a second). [s]
    memory_mb : float, optional
        Memory that each of waves, wind, current and depth may take instead of 128 MB.
        Years of hours sampled all at once need enough to hold them. [MB]
    newest_run : bool
        Hours given by two runs of one producer on one grid come from the newer, which a
        note says; False: they are refused.
    passage_s : tuple of float, optional
        When the passage begins and ends, for messages: ``time_from_s`` and ``time_to_s``
        include a margin. [s]

    Raises
    ------
    ForecastError
        Everything wrong with the files (exit code 4); ``UnknownConvention`` when a
        unit, direction or grid would have to be guessed; ``NoCoverage`` when the
        files have nothing in the area or the hours asked for.
    """
    if isinstance(paths, (str, os.PathLike)):
        paths = [paths]
    listed, gathered = expanded([Path(p) for p in paths])
    files = recognise_files(listed, names)
    with ExitStack() as failing:
        for file in files:
            failing.callback(file.file.close)
        words: list[str] = []
        if gathered:
            box = (
                None
                if area is None
                else (area.south_deg, area.north_deg, area.west_deg, area.east_deg)
            )
            every = files
            files, words = serving(every, gathered, box, (time_from_s, time_to_s))
            for file in every:
                if file not in files:
                    file.file.close()
            if not files:
                raise NoCoverage("\n".join(["no file of the folder serves the passage:", *words]))
            words.append(f"forecast files used: {', '.join(f.file.path.name for f in files)}")
        if newest_run:
            had = [file for file in files if file.pieces]
            words += newest_runs(files)
            for file in had:
                if not file.pieces:
                    # A newer run gives all its hours.
                    file.file.close()
                    files = [one for one in files if one is not file]
        joined = join(files, hold_single_step_s)
        joined.notes[:0] = words
        if memory_mb is not None:
            for group in joined.groups.values():
                group.most_bytes = int(memory_mb * 1024**2)
        forecast = Forecast(files, joined, nearest_sea_cell_km, settle_members(joined.groups))
        _preload(forecast, joined, area, time_from_s, time_to_s, passage_s)
        failing.pop_all()
    return forecast


def _preload(
    forecast: Forecast,
    joined: Joined,
    area: Area | None,
    time_from_s: float | None,
    time_to_s: float | None,
    passage_s: tuple[float, float] | None,
) -> None:
    box = None
    if area is not None:
        box = (area.south_deg, area.north_deg, area.west_deg, area.east_deg)
    reaching = []
    for name, group in joined.groups.items():
        covered = group.set_hint(box, time_from_s, time_to_s)
        if not covered and name not in ("waves", "spectrum"):
            joined.notes.append(_no_reach_text(name, group))
            continue
        if not covered and group is (joined.groups.get("waves") or group):
            raise NoCoverage(_no_cover_text(group, area, passage_s or (time_from_s, time_to_s)))
        reaching.append(group)
        if covered and not group.preload():
            forecast.fully_read = False
    joined.notes += idle_notes(reaching, passage_s or (time_from_s, time_to_s))


def _no_reach_text(name: str, group: Group) -> str:
    """A flow or depth that reaches nothing of the passage: whose, and what it holds."""
    lat, lon = group.frame.lat_deg, group.frame.lon_deg
    held = _box_text(lat[0], lat[-1], lon[0], lon[-1])
    if group.time_s.size:
        held = f"{utc_text(group.time_s[0])} to {utc_text(group.time_s[-1])}, {held}"
    names = ", ".join(dict.fromkeys(Path(file).name for file in _files_of(group)))
    return f"{names}: its {name} ({held}) reaches nothing of the passage: not used"


def _files_of(group: Group) -> list[str]:
    return list(dict.fromkeys(p.file for one in group.series.values() for p in one.pieces))


def _no_cover_text(
    group: Group,
    area: Area | None,
    asked_s: tuple[float | None, float | None],
) -> str:
    """Whether it is the place or the time that is missing, and what to do."""
    frame, time = group.frame, group.time_s
    lat, lon = frame.lat_deg, frame.lon_deg
    # Of the files only those that give the waves: the others may hold every hour.
    file = ", ".join(_files_of(group))
    box = None
    if area is not None:
        box = (area.south_deg, area.north_deg, area.west_deg, area.east_deg)
    if group.set_hint(box, None, None):
        asked = " to ".join(utc_text(t) for t in asked_s if t is not None)
        if time.size == 1:
            what = f"holds {utc_text(time[0])} only, and the passage runs {asked}"
            fix = ALL_HOURS
        else:
            what = (
                f"runs {utc_text(time[0])} to {utc_text(time[-1])}, and the passage runs {asked}: "
                "they have no hour in common"
            )
            fix = "Leave within those hours, or give a forecast of the days of the passage."
        return str(Problem(file=file, what=what, fix=fix))
    what = f"covers {_box_text(lat[0], lat[-1], lon[0], lon[-1])}"
    if area is not None:
        asked = _box_text(area.south_deg, area.north_deg, area.west_deg, area.east_deg)
        what += f"; the passage lies outside it, in {asked}"
    return str(Problem(file=file, what=what, fix="Give a forecast of that place."))


def _box_text(south: float, north: float, west: float, east: float) -> str:
    """``43.00 to 52.00 N, 13.00 W to 1.00 E``."""
    ends = [
        _end_text(low, high, letters) for low, high, letters in (
            (south, north, "NS"), ((west + 180.0) % 360.0 - 180.0,
                                   (east + 180.0) % 360.0 - 180.0, "EW"))
    ]  # fmt: skip
    return ", ".join(ends)


def _end_text(low: float, high: float, letters: str) -> str:
    sides = [letters[0] if value >= 0.0 else letters[1] for value in (low, high)]
    first = f"{abs(low):.2f}" + ("" if sides[0] == sides[1] else f" {sides[0]}")
    return f"{first} to {abs(high):.2f} {sides[1]}"
