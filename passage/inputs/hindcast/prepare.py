"""Rewrite a hindcast once so that a place's whole run of hours lies together.

Archives hand out a field for each hour; a season wants a few cells for many years. The
variables that were recognised are copied as they are, names, attributes and packing
included, into chunks that are long in time and small in space. Values do not change.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, Problem
from passage.files import write_with
from passage.inputs.extras import trouble_with
from passage.inputs.forecast import Area, Forecast
from passage.inputs.forecast.piece import Piece
from passage.inputs.forecast.series import read_values
from passage.inputs.hindcast.hindcast import open_hindcast

MB = 1024.0**2
#: Cells of a chunk along latitude and longitude.
TILE = 4
#: Hours of a chunk at most: a year by the hour.
LONGEST = 8784

Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class _Out:
    """One variable to write: its pieces in order of time, and its packing if one fits all."""

    name: str
    pieces: tuple[Piece, ...]
    packing: Mapping[str, Any] | None


def prepare_hindcast(
    paths: Sequence[Path],
    output: Path,
    *,
    names: Mapping[str, str] | None = None,
    area: Area | None = None,
    memory_mb: float = 512.0,
    force: bool = False,
    progress: Progress = lambda done, total: None,
) -> None:
    """Write one file (``.nc``) or store (``.zarr``) with long chunks in time.

    Parameters
    ----------
    paths : sequence of Path
        Files that join as one forecast.
    output : Path
        ``.zarr`` for a Zarr store, else NetCDF-4.
    names : mapping, optional
        What variables are, by the user, as for ``open_forecast``.
    area : Area, optional
        Only this box, with a cell around it.
    memory_mb : float
        Memory for one variable while it is rewritten; sets the length of chunks in time.
    force : bool
        Replace what is there.

    Raises
    ------
    ForecastError
        Files that do not join, or a layout that is not (time, latitude, longitude).
    OutputError
        The output exists, or cannot be written.
    """
    with open_hindcast(paths, names) as hindcast:
        made = _variables(hindcast)
        if output.suffix == ".zarr":
            _zarr(made, output, area, memory_mb, force, progress)
        else:
            write_with(
                output, lambda path: _netcdf(made, path, area, memory_mb, progress), force=force
            )


def _variables(hindcast: Forecast) -> list[_Out]:
    found = []
    for group in hindcast.groups.values():
        for series in group.series.values():
            pieces = tuple(series.pieces)
            one = pieces[0]
            variable = one.dataset.variables[one.variable]
            plain = one.times is None or len(one.times.dims) == 1
            for dim in (one.lat_dim, one.lon_dim):
                if dim not in one.dataset.variables:
                    what = f"dimension '{dim}' of '{one.variable}' has no variable of its name"
                    fix = "Only files with such axes can be rewritten; use it as it is."
                    raise ForecastError(str(Problem(file=one.file, what=what, fix=fix)))
            if variable.ndim != 2 + (one.times is not None) or not plain or one.member_dim:
                what = f"variable '{one.variable}' is not (time, latitude, longitude)"
                fix = "Only hindcasts of that layout can be rewritten; use it as it is."
                raise ForecastError(str(Problem(file=one.file, what=what, fix=fix)))
            if any(p.variable != one.variable for p in pieces):
                what = f"variable '{one.variable}' has another name in {pieces[-1].file}"
                raise ForecastError(str(Problem(file=one.file, what=what, fix="Rename it.")))
            found.append(_Out(one.variable, pieces, _packing(pieces)))
    names = [out.name for out in found]
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        what = f"variables of different files share a name ({', '.join(sorted(twice))})"
        fix = "Prepare those files one by one."
        raise ForecastError(str(Problem(file=found[0].pieces[0].file, what=what, fix=fix)))
    return found


def _packing(pieces: Sequence[Piece]) -> Mapping[str, Any] | None:
    """Integer packing common to all pieces, else None: single precision is written."""
    keys = ("dtype", "scale_factor", "add_offset", "_FillValue")
    every = [{k: p.dataset.variables[p.variable].encoding.get(k) for k in keys} for p in pieces]
    first = every[0]
    if first["dtype"] is None or np.dtype(first["dtype"]).kind not in "iu":
        return None
    if any(one != first for one in every[1:]) or first["_FillValue"] is None:
        return None
    return first


def _box(piece: Piece, area: Area | None) -> tuple[slice, slice]:
    """Slices in the file that cover an area and a cell around it; all without one."""
    grid = piece.grid
    if area is None:
        return slice(None), slice(None)
    lat = np.flatnonzero((grid.lat_deg >= area.south_deg) & (grid.lat_deg <= area.north_deg))
    width = (area.east_deg - area.west_deg) % 360.0
    lon = np.flatnonzero(np.mod(grid.lon_deg - area.west_deg, 360.0) <= width)
    if lat.size == 0 or lon.size == 0:
        what = "has nothing in the area given"
        raise ForecastError(str(Problem(file=piece.file, what=what, fix="Widen --area.")))

    def around(picked: npt.NDArray[np.intp], order: npt.NDArray[np.int64]) -> slice:
        low, high = max(picked.min() - 1, 0), min(picked.max() + 2, order.size)
        stored = np.asarray(order)[low:high]
        return slice(int(stored.min()), int(stored.max()) + 1)

    if np.any(np.diff(lon) > 1):
        # The box lies across the edge of the file's grid: keep every longitude.
        return around(lat, np.asarray(grid.lat_order)), slice(None)
    return around(lat, np.asarray(grid.lat_order)), around(lon, np.asarray(grid.lon_order))


def _axes(out: _Out, area: Area | None) -> dict[str, Any]:
    """Coordinates of one variable: name -> (values, attributes)."""
    one = out.pieces[0]
    lat, lon = _box(one, area)
    axes: dict[str, Any] = {}
    for dim, part in ((one.lat_dim, lat), (one.lon_dim, lon)):
        variable = one.dataset.variables[dim]
        axes[dim] = (np.asarray(variable.values)[part], dict(variable.attrs))
    if one.times is not None:
        time = np.concatenate([p.times.time_s for p in out.pieces if p.times is not None])
        attributes = {
            "units": "seconds since 1970-01-01T00:00:00Z",
            "standard_name": "time",
            "calendar": "standard",
        }
        axes[one.times.dims[0]] = (time, attributes)
    return axes


def _dims(out: _Out) -> tuple[str, ...]:
    one = out.pieces[0]
    return (*(one.times.dims if one.times is not None else ()), one.lat_dim, one.lon_dim)


def _chunks(out: _Out, axes: Mapping[str, Any], memory_mb: float) -> tuple[int, ...]:
    dims = _dims(out)
    sizes = [axes[d][0].size for d in dims]
    space = tuple(min(TILE, n) for n in sizes[-2:])
    if len(dims) == 2:
        return space
    fits = int(memory_mb * MB / (4.0 * sizes[-1] * sizes[-2]))
    return (int(np.clip(fits, 1, min(sizes[0], LONGEST))), *space)


def _slabs(out: _Out, area: Area | None, step: int) -> Any:
    """Slabs ``(first, values)`` of full chunks in time, whatever the files' own ends."""
    one = out.pieces[0]
    box = _box(one, area)
    if one.times is None:
        yield 0, _read(one, slice(None), box)
        return
    held: list[npt.NDArray[Any]] = []
    count = first = 0
    for piece in out.pieces:
        assert piece.times is not None
        at, size = 0, piece.times.time_s.size
        while at < size:
            take = min(step - count, size - at)
            held.append(_read(piece, slice(at, at + take), box))
            at, count = at + take, count + take
            if count == step:
                yield first, np.concatenate(held)
                first, count, held = first + step, 0, []
    if held:
        yield first, np.concatenate(held)


def _read(piece: Piece, time: slice, box: tuple[slice, slice]) -> npt.NDArray[Any]:
    key: dict[str, Any] = dict(piece.fixed)
    key |= {piece.lat_dim: box[0], piece.lon_dim: box[1]}
    dims = [piece.lat_dim, piece.lon_dim]
    if piece.times is not None:
        key[piece.times.dims[0]] = time
        dims.insert(0, piece.times.dims[0])
    return read_values(piece, key, dims)


def _packed(values: npt.NDArray[Any], packing: Mapping[str, Any] | None) -> npt.NDArray[Any]:
    if packing is None:
        return values
    scale, offset = packing["scale_factor"] or 1.0, packing["add_offset"] or 0.0
    missing = np.isnan(values)
    number = np.rint((np.where(missing, offset, values).astype(float) - offset) / scale)
    return np.where(missing, packing["_FillValue"], number).astype(packing["dtype"])


def _netcdf(
    made: Sequence[_Out], path: Path, area: Area | None, memory_mb: float, progress: Progress
) -> None:
    import netCDF4

    with netCDF4.Dataset(path, "w", format="NETCDF4") as data:
        data.Conventions = "CF-1.11"
        # Axes are read back below as written, whatever valid range a source gives them.
        data.set_always_mask(False)
        data.set_auto_mask(False)
        for number, out in enumerate(made):
            axes = _axes(out, area)
            for name, (values, attributes) in axes.items():
                if name in data.variables:
                    _same_axis(out, name, values, data[name][:])
                    continue
                data.createDimension(name, values.size)
                axis = data.createVariable(name, values.dtype, (name,))
                axis.setncatts(attributes)
                axis[:] = values
            chunks = _chunks(out, axes, memory_mb)
            packing = out.packing
            variable = data.createVariable(
                out.name,
                "f4" if packing is None else packing["dtype"],
                _dims(out),
                zlib=True,
                complevel=1,
                shuffle=True,
                chunksizes=chunks,
                fill_value=np.float32(np.nan) if packing is None else packing["_FillValue"],
            )
            variable.setncatts(_attributes(out))
            variable.set_auto_maskandscale(False)
            for first, values in _slabs(out, area, chunks[0]):
                stored = _packed(values, packing)
                if len(chunks) == 2:
                    variable[:] = stored
                else:
                    variable[first : first + stored.shape[0]] = stored
            progress(number + 1, len(made))


def _attributes(out: _Out) -> dict[str, Any]:
    one = out.pieces[0]
    attributes = dict(one.dataset.variables[one.variable].attrs)
    if out.packing is not None:
        for key in ("scale_factor", "add_offset"):
            if out.packing[key] is not None:
                attributes[key] = out.packing[key]
    return attributes


def _same_axis(out: _Out, name: str, one: npt.NDArray[Any], two: npt.NDArray[Any]) -> None:
    if one.shape != two.shape or not np.allclose(one, two):
        what = f"{out.name} has another {name} axis than the variables before it"
        fix = "Prepare waves, wind and current one by one."
        raise ForecastError(str(Problem(file=out.pieces[0].file, what=what, fix=fix)))


def _zarr(
    made: Sequence[_Out],
    path: Path,
    area: Area | None,
    memory_mb: float,
    force: bool,
    progress: Progress,
) -> None:
    import shutil

    from passage.errors import OutputError

    if trouble := trouble_with("zarr", "season", 3):
        raise OutputError(f"{path}: writing Zarr: {trouble[0]}. {trouble[1]}")
    import zarr

    if path.exists():
        if not force:
            raise OutputError(f"{path}: exists already. Give --force to replace it.")
        if not any((path / mark).exists() for mark in (".zgroup", "zarr.json")):
            raise OutputError(f"{path}: is not a Zarr store. Give another name.")
    part = path.with_name(f".{path.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        root = zarr.open_group(str(part), mode="w", zarr_format=2)
        root.attrs["Conventions"] = "CF-1.11"
        known: dict[str, npt.NDArray[Any]] = {}
        for number, out in enumerate(made):
            axes = _axes(out, area)
            for name, (values, attributes) in axes.items():
                if name in known:
                    _same_axis(out, name, values, known[name])
                    continue
                known[name] = values
                # A fill value of 0, the store's own choice, would mask longitude 0.
                axis = root.create_array(name, shape=values.shape, dtype="f8", fill_value=np.nan)
                axis[:] = values.astype(float)
                axis.attrs.update({**_plain(attributes), "_ARRAY_DIMENSIONS": [name]})
            chunks = _chunks(out, axes, memory_mb)
            shape = tuple(axes[d][0].size for d in _dims(out))
            packing = out.packing
            array = root.create_array(
                out.name,
                shape=shape,
                chunks=chunks,
                dtype="f4" if packing is None else packing["dtype"],
                fill_value=np.nan if packing is None else packing["_FillValue"],
            )
            attributes = _plain(_attributes(out)) | {"_ARRAY_DIMENSIONS": list(_dims(out))}
            if packing is not None:
                attributes["_FillValue"] = int(packing["_FillValue"])
            array.attrs.update(attributes)
            for first, values in _slabs(out, area, chunks[0]):
                stored = _packed(values, packing)
                if len(chunks) == 2:
                    array[:] = stored
                else:
                    array[first : first + stored.shape[0]] = stored
            progress(number + 1, len(made))
        if path.exists():
            shutil.rmtree(path)
        part.replace(path)
    except OSError as err:
        raise OutputError(f"{path}: could not be written: {err.strerror or err}.") from err
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _plain(attributes: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: value.item() if isinstance(value, np.generic) else value
        for key, value in attributes.items()
        if not isinstance(value, np.ndarray)
    }
