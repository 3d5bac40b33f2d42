"""Bulk reading of years of data: only the cells a track touches, each chunk once.

Recognition, units and checks are those of a forecast (``inputs/forecast``); only the
order of reading differs. A forecast is read by boxes
around a few hours; here the cells along the tracks are picked out of each chunk as it
comes, and kept with their hours side by side, ``(cell, hour, field)``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, PassageError, Problem, join_problems
from passage.inputs.forecast import Forecast
from passage.inputs.forecast.group import Group
from passage.inputs.forecast.join import join
from passage.inputs.forecast.opening import recognise_files
from passage.inputs.forecast.sampler import Axis
from passage.inputs.forecast.series import Series, Window
from passage.physics.tables.cell_sampling import CellRuns

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Integers = npt.NDArray[np.int64]

#: Values of one variable read at a time.
SLAB_VALUES = 4_000_000
#: What the NetCDF library may keep of the chunks of all files together, and of how many
#: variables a file: forty years of files, each with its own share, would fill the memory.
CHUNK_CACHE_BYTES, CACHED_VARIABLES = 128 * 1024**2, 16


def open_hindcast(paths: Sequence[Path], names: Mapping[str, str] | None = None) -> Forecast:
    """Open files as one forecast without reading any field.

    Raises
    ------
    ForecastError
        As ``open_forecast``; whether the data cover anything shows later.
    """
    share = CHUNK_CACHE_BYTES // (CACHED_VARIABLES * max(len(paths), 1))
    files = recognise_files(paths, names, chunk_cache_bytes=share)
    try:
        return Forecast(files, join(files))
    except PassageError:
        for file in files:
            file.file.close()
        raise


@dataclass(frozen=True, eq=False)
class Corners:
    """Cells around places: grid indices ``(places, 4)``, weights, and whether inside."""

    row: Integers
    column: Integers
    weight: Singles
    inside: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class CellSet:
    """The cells that several tracks touch: grid indices ``(cells,)``, ascending."""

    row: Integers
    column: Integers
    columns: int

    @property
    def size(self) -> int:
        """Number of cells."""
        return int(self.row.size)

    def place(self, corners: Corners) -> npt.NDArray[np.int32]:
        """Numbers of the corners in this set."""
        key = self.row * self.columns + self.column
        wanted = corners.row * self.columns + corners.column
        return np.searchsorted(key, wanted).astype(np.int32)


def corners_of(group: Group, lat_deg: Floats, lon_deg: Floats) -> Corners:
    """Corners and weights of places on a group's grid, bilinear.

    A corner that weighs nothing is replaced by one that does, so that a masked cell
    beyond the edge cannot matter.
    """
    frame = group.frame
    east = frame.east_of_west_edge(lon_deg)
    inside = frame.inside(lat_deg, east)
    j, fj = Axis(frame.lat_deg).locate(lat_deg)
    k, fk = Axis(frame.lon_deg).locate(east)
    row = np.stack([j, j, j + 1, j + 1], axis=1)
    column = np.stack([k, k + 1, k, k + 1], axis=1)
    weight = np.stack([(1 - fj) * (1 - fk), (1 - fj) * fk, fj * (1 - fk), fj * fk], axis=1)
    column %= group.grid.lon_deg.size
    heaviest = np.argmax(weight, axis=1)[:, None]
    nothing = weight == 0.0
    row = np.where(nothing, np.take_along_axis(row, heaviest, 1), row)
    column = np.where(nothing, np.take_along_axis(column, heaviest, 1), column)
    return Corners(row, column, weight.astype(np.float32), inside)


def cells_of(group: Group, corners: Sequence[Corners]) -> CellSet:
    """The cells that all these corners need, once each; places outside need none."""
    columns = group.grid.lon_deg.size
    keys = [(c.row * columns + c.column)[c.inside].reshape(-1) for c in corners]
    key = np.unique(np.concatenate(keys)) if keys else np.zeros(0, np.int64)
    if key.size == 0:
        # Nothing lies inside: one cell is read in its place, and every place is "outside".
        key = np.zeros(1, np.int64)
    return CellSet(key // columns, key % columns, columns)


def hours_between(group: Group, from_s: float, to_s: float) -> tuple[int, int]:
    """Index range of the hours needed to interpolate between two times."""
    time = group.time_s
    a = int(np.clip(np.searchsorted(time, from_s, side="right") - 1, 0, max(time.size - 2, 0)))
    b = int(np.searchsorted(time, to_s, side="left")) + 1
    return a, max(min(b, time.size), min(a + 2, time.size))


def read_cells(group: Group, cells: CellSet, hours: tuple[int, int]) -> Singles:
    """Fields of cells over hours, ``(cells, hours, fields)``.

    Raises
    ------
    ForecastError
        A chunk that cannot be read, or impossible values.
    """
    out = np.empty((cells.size, hours[1] - hours[0], group.n_fields), np.float32)
    problems: list[Problem] = []
    for window, pick in _windows(group, cells, hours):
        raw = {
            name: _read(group, series, window, problems) for name, series in group.series.items()
        }
        with np.errstate(invalid="ignore"):
            fields = group.build(raw)
        rows = cells.row[pick] - window.lat[0]
        columns = cells.column[pick] - window.lon[0]
        first = window.time[0] - hours[0]
        count = window.time[1] - window.time[0]
        out[pick, first : first + count] = np.moveaxis(fields[:, rows, columns], 0, 1)
    if problems:
        seen = {(p.file, p.what.split(" is ")[0]): p for p in reversed(problems)}
        raise ForecastError(join_problems(reversed(seen.values())))
    return out


def cell_runs(
    group: Group, cells: CellSet, data: Singles, hours: tuple[int, int], corners: Corners
) -> CellRuns:
    """What was read, with the places of one track."""
    time = group.time_s
    gap = group.frame.gap[hours[0] : max(hours[1] - 1, hours[0])]
    reach = group.hold_s if time.size == 1 else 0.0
    place = cells.place(corners)
    place[~corners.inside] = 0
    return CellRuns(
        data=data,
        time_s=np.ascontiguousarray(time[hours[0] : hours[1]]),
        gap=np.ascontiguousarray(gap),
        corner=np.ascontiguousarray(place),
        weight=np.ascontiguousarray(corners.weight),
        inside=corners.inside,
        first_s=float(time[0]) - reach,
        last_s=float(time[-1]) + reach,
        alike=group.alike.first,
        width=group.alike.width,
        wind=group.alike.wind,
    )


def file_chunks(group: Group) -> tuple[int, int, int] | None:
    """Chunk of the files over time, latitude, longitude; None where there is none."""
    piece = next(iter(group.series.values())).pieces[0]
    variable = piece.dataset.variables[piece.variable]
    encoding = variable.encoding
    chunks = encoding.get("chunksizes") or encoding.get("chunks")
    if not chunks:
        preferred = encoding.get("preferred_chunks")
        chunks = preferred and [preferred.get(d, variable.sizes[d]) for d in variable.dims]
    if not chunks:
        return None
    by_dim = dict(zip(variable.dims, chunks, strict=True))
    times = piece.times.dims if piece.times is not None else ()
    along = by_dim.get(times[0], 1) if len(times) == 1 else 1
    return int(along), int(by_dim[piece.lat_dim]), int(by_dim[piece.lon_dim])


def _windows(
    group: Group, cells: CellSet, hours: tuple[int, int]
) -> Iterator[tuple[Window, Integers]]:
    """Windows to read with the cells in each; along the chunks, so that each is read once."""
    chunks = file_chunks(group) or (1, 10**9, 10**9)
    rows, columns = group.grid.lat_deg.size, cells.columns
    # Files may run from north to south: chunks are counted in their order.
    piece = next(iter(group.series.values())).pieces[0]
    lat_chunk = np.asarray(piece.grid.lat_order)[cells.row] // min(chunks[1], rows)
    lon_chunk = np.asarray(piece.grid.lon_order)[cells.column] // min(chunks[2], columns)
    tile = lat_chunk * (columns + 1) + lon_chunk
    for one in np.unique(tile):
        pick = np.flatnonzero(tile == one)
        lat = (int(cells.row[pick].min()), int(cells.row[pick].max()) + 1)
        lon = (int(cells.column[pick].min()), int(cells.column[pick].max()) + 1)
        area = (lat[1] - lat[0]) * (lon[1] - lon[0])
        most = max(1, SLAB_VALUES // area)
        step = max(chunks[0], most // chunks[0] * chunks[0])
        start = hours[0]
        while start < hours[1]:
            # End on a chunk's edge.
            stop = min((start // step + 1) * step, hours[1])
            yield Window((start, stop), lat, lon), pick
            start = stop


def _read(group: Group, series: Series, window: Window, problems: list[Problem]) -> Any:
    if not group.time_s.size or not series.time_s.size:
        return series.read(window, 0, problems)
    wanted = np.searchsorted(series.time_s, group.time_s[slice(*window.time)])
    first, last = int(wanted[0]), int(wanted[-1]) + 1
    part = Window((first, last), window.lat, window.lon)
    values = series.read(part, 0, problems)
    return values if wanted.size == last - first else values[wanted - first]
