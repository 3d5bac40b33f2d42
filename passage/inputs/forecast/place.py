"""Where a recognised variable lies: levels, partitions, members, and its unit."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from passage.inputs.forecast.axes import PARTITION_NAMES, is_member_dim, member_labels
from passage.inputs.forecast.axes import attribute as _text
from passage.inputs.forecast.mapping import Mapping
from passage.inputs.forecast.names import MAX_SWELLS, Meaning
from passage.inputs.forecast.piece import Piece, Recognised
from passage.inputs.forecast.quantity import expected_unit, factor_to_ours, is_radians

_LEVEL_STANDARD = ("height", "depth", "air_pressure", "altitude")
_LEVEL_NAMES = ("depth", "height", "level", "lev", "z", "heightAboveGround", "depthu",
                "depthv", "elevation_level", "isobaricInhPa", "deptht")  # fmt: skip
#: Deepest level that still counts as the surface current [m].
SURFACE_CURRENT_M = 10.0


def place(piece: Piece, variable: Any, mapping: Mapping, result: Recognised) -> None:
    """Assign the remaining dimensions and the unit; keep the piece if it can be used."""
    name, meaning = piece.variable, piece.meaning
    scale = variable.encoding.get("scale_factor")
    if scale is not None and float(scale) == 0.0:
        result.problem(
            f"variable '{name}' has scale_factor 0: every value would be the same",
            "The packing is damaged; fetch the file again.",
        )
        return
    level = _wrong_level(meaning, piece.dataset, variable)
    if level:
        result.unused.append((name, level))
        return
    fixed: dict[str, int] = {}
    member_dim, partition_dim, frequency_dim, direction_dim = "", "", "", ""
    time_dims = piece.times.dims if piece.times else ()
    for dim in map(str, variable.dims):
        size = variable.sizes[dim]
        if dim in (piece.lat_dim, piece.lon_dim) or dim in time_dims:
            continue
        if dim.lower() in [p.lower() for p in PARTITION_NAMES]:
            partition_dim = dim
        elif is_member_dim(dim, piece.dataset):
            member_dim = dim
        elif meaning.quantity == "spectrum" and dim.lower().startswith(("freq", "f")):
            frequency_dim = dim
        elif meaning.quantity == "spectrum" and dim.lower().startswith(("dir", "th")):
            direction_dim = dim
        elif size == 1:
            fixed[dim] = 0
        elif (index := _surface_level(meaning, piece.dataset, dim)) is not None:
            fixed[dim] = index
        else:
            result.unused.append((name, f"has dimension {dim} of {size}, which is not understood"))
            return
    times = piece.times
    if times is not None and times.dims and not set(times.dims) <= set(variable.dims):
        if set(times.dims) & set(variable.dims):
            result.problem(f"variable '{name}' has only some of the time dimensions")
            return
        times = None if meaning.system == "depth" else times
        if times is not None:
            result.problem(f"variable '{name}' has no time dimension", "Fetch it again.")
            return
    if times is None and meaning.system != "depth":
        result.problem(f"variable '{name}' has no time", "Give a file with a time axis.")
        return
    unit = _unit(piece, variable, mapping, result)
    if unit is None:
        return
    text, factor = unit
    piece = replace(
        piece, unit=text, factor=factor, fixed=fixed, member_dim=member_dim,
        valid=valid_range(variable),
        n_members=variable.sizes[member_dim] if member_dim else 1, times=times,
        member_labels=member_labels(piece.dataset, member_dim),
    )  # fmt: skip
    if meaning.quantity == "spectrum":
        _place_spectrum(piece, variable, frequency_dim, direction_dim, result)
    elif partition_dim or _partition_number(piece.dataset) is not None:
        _place_partitions(piece, partition_dim, result)
    else:
        result.pieces.append(piece)


def valid_range(variable: Any) -> tuple[float, float]:
    """Least and largest value that the file calls valid, in its own unit.

    ``valid_range``, or ``valid_min`` and ``valid_max``. On packed variables they are
    packed too where they are whole numbers, as the convention has it.
    """
    attrs = variable.attrs
    both = np.asarray(attrs.get("valid_range", ()), float).reshape(-1)
    low, high = both if both.size == 2 else (-np.inf, np.inf)
    given = attrs.get("valid_range")
    for key, at in (("valid_min", 0), ("valid_max", 1)):
        if key in attrs:
            given = attrs[key]
            value = float(np.asarray(given, float).reshape(-1)[0])
            low, high = (value, high) if at == 0 else (low, value)
    if given is None:
        return -np.inf, np.inf
    scale = variable.encoding.get("scale_factor")
    if scale is not None and np.asarray(given).dtype.kind in "iu":
        offset = float(variable.encoding.get("add_offset") or 0.0)
        ends = float(scale) * low + offset, float(scale) * high + offset
        low, high = min(ends), max(ends)
    return float(low), float(high)


def _place_spectrum(
    piece: Piece, variable: Any, frequency_dim: str, direction_dim: str, out: Recognised
) -> None:
    if not (frequency_dim and direction_dim):
        out.unused.append((piece.variable, "is not a spectrum over frequency and direction"))
        return
    axis = piece.dataset.variables.get(direction_dim)
    kind = piece.meaning.kind
    if axis is not None:
        standard = _text(axis, "standard_name")
        if standard.endswith("from_direction"):
            kind = "from"
        elif standard.endswith("to_direction"):
            kind = "to"
        elif piece.how == "standard_name":
            out.problem(
                f"variable '{piece.variable}': its direction axis '{direction_dim}' does "
                'not say "from" or "to"',
                "Give the axis a standard_name, or map the variable: "
                f'{piece.variable} = "spectrum_from" (or "spectrum_to").',
            )
            out.unknown_convention = True
            return
    long_name = _text(variable, "long_name").lower()
    log10 = (
        piece.variable in ("d2fd", "2dfd")
        or "log10" in piece.unit.lower()
        or "log10" in long_name
        or _text(variable, "GRIB_shortName") == "2dfd"
    )
    out.pieces.append(
        replace(
            piece,
            meaning=Meaning("spectrum", "spectrum", kind),
            log10=log10,
            frequency_dim=frequency_dim,
            direction_dim=direction_dim,
        )
    )


def _partition_number(dataset: Any) -> int | None:
    """Partition of a dataset that holds a single one as a scalar coordinate."""
    for name in PARTITION_NAMES:
        variable = dataset.variables.get(name)
        if variable is not None and variable.ndim == 0:
            return int(float(variable.values))
    return None


def _place_partitions(piece: Piece, dim: str, out: Recognised) -> None:
    if piece.meaning.system != "swell":
        out.unused.append((piece.variable, "has partitions, and its name does not say swell"))
        return
    if not dim:
        number = _partition_number(piece.dataset)
        numbers: list[tuple[int | None, int | None]] = [(None, number)]
    else:
        axis = piece.dataset.variables.get(dim)
        size = piece.dataset.sizes[dim]
        values = np.arange(1, size + 1) if axis is None else np.asarray(axis.values)
        numbers = [(i, int(v)) for i, v in enumerate(values)]
    for index, number in numbers:
        if number is None or not 1 <= number <= MAX_SWELLS:
            out.unused.append((piece.variable, f"swell partition {number} is not read"))
            continue
        meaning = replace(piece.meaning, system=f"swell_{number}")
        fixed = dict(piece.fixed)
        if index is not None:
            fixed[dim] = index
        how = f"{piece.how}, partition {number}"
        out.pieces.append(replace(piece, meaning=meaning, fixed=fixed, how=how))


def _is_level(dim: str, dataset: Any) -> bool:
    axis = dataset.variables.get(dim)
    standard = _text(axis, "standard_name") if axis is not None else ""
    return standard in _LEVEL_STANDARD or dim in _LEVEL_NAMES


def _surface_level(meaning: Meaning, dataset: Any, dim: str) -> int | None:
    """Index of the level to use along a vertical dimension, or None."""
    axis = dataset.variables.get(dim)
    if not _is_level(dim, dataset) or axis is None:
        return None
    values = np.abs(np.asarray(axis.values, dtype=float))
    if meaning.system == "current":
        best = int(np.argmin(values))
        return best if values[best] <= SURFACE_CURRENT_M else None
    if meaning.system == "wind":
        at_10 = np.flatnonzero(np.isclose(values, 10.0))
        return int(at_10[0]) if at_10.size else None
    return None


def _wrong_level(meaning: Meaning, dataset: Any, variable: Any) -> str:
    """Why a wind or current of one fixed level is not the one wanted, or nothing."""
    if meaning.system not in ("wind", "current"):
        return ""
    for name in ("heightAboveGround", "height", "isobaricInhPa", "depth", "level"):
        axis = dataset.variables.get(name)
        if axis is None or axis.size != 1 or not _is_level(name, dataset):
            continue
        if axis.ndim == 1 and name not in variable.dims:
            continue
        value = abs(float(np.asarray(axis.values).reshape(-1)[0]))
        if name == "isobaricInhPa":
            return f"is at {value:g} hPa, not at the surface"
        if meaning.system == "wind" and not math.isclose(value, 10.0):
            return f"is at {value:g} m, not at 10 m"
        if meaning.system == "current" and value > SURFACE_CURRENT_M:
            return f"is at {value:g} m depth, not at the surface"
    return ""


def _unit(
    piece: Piece, variable: Any, mapping: Mapping, result: Recognised
) -> tuple[str, float] | None:
    name, meaning = piece.variable, piece.meaning
    mapped = mapping.names.get(name)
    text = (mapped.unit if mapped else "") or _text(variable, "units")
    wanted = expected_unit(meaning.quantity)
    factor = factor_to_ours(meaning.quantity, text) if text else None
    if factor is not None:
        if meaning.quantity == "spread" and is_radians(text):
            text = "radian"
        return text, factor
    shown = f"has unit '{text}'" if text else "has no unit"
    if meaning.quantity == "spread":
        result.unused.append((name, f"{shown}; a spread must be in degree or radian"))
        return None
    result.problem(
        f"variable '{name}' ({meaning.words}) {shown}, and none is guessed",
        f'Set its units attribute (for example "{wanted}"), or map it: '
        f'{name} = "{meaning.name}, {wanted}" under [names] in a --map file.',
    )
    result.unknown_convention = True
    return None
