"""What each variable of a file is: system, quantity, kind, unit, convention, grid."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from passage.errors import Problem
from passage.inputs.forecast.axes import (
    PARTITION_NAMES,
    AxisError,
    Grid,
    Times,
    find_grid,
    find_times,
    is_member_dim,
)
from passage.inputs.forecast.mapping import Mapping
from passage.inputs.forecast.names import (
    NEEDS_CONVENTION,
    NOT_NEEDED,
    PEAK_BY_CENTRE,
    SHORT_NAME_WINS,
    SHORT_NAMES,
    STANDARD_NAMES,
    Meaning,
    closest_name,
    looks_like_wave_direction,
)
from passage.inputs.forecast.opener import OpenFile
from passage.inputs.forecast.quantity import expected_unit, factor_to_ours, is_radians

_LEVEL_STANDARD = ("height", "depth", "air_pressure", "altitude")
_LEVEL_NAMES = ("depth", "height", "level", "lev", "z", "heightAboveGround", "depthu",
                "depthv", "elevation_level", "isobaricInhPa", "deptht")  # fmt: skip
#: Deepest level that still counts as the surface current [m].
SURFACE_CURRENT_M = 10.0


@dataclass(frozen=True, eq=False)
class Piece:
    """One recognised variable of one file (or one partition of it)."""

    meaning: Meaning
    file: str
    variable: str
    unit: str
    factor: float
    dataset: Any
    lat_dim: str
    lon_dim: str
    grid: Grid
    times: Times | None
    fixed: dict[str, int] = field(default_factory=dict)
    member_dim: str = ""
    n_members: int = 1
    frequency_dim: str = ""
    direction_dim: str = ""
    log10: bool = False
    how: str = ""


@dataclass(eq=False)
class Recognised:
    """Everything found in one file."""

    file: OpenFile
    pieces: list[Piece] = field(default_factory=list)
    unused: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    #: Whether any problem is about a convention that we will not guess.
    unknown_convention: bool = False
    grids: list[Grid] = field(default_factory=list)
    times: list[Times] = field(default_factory=list)
    producer: str = ""
    run_s: float | None = None

    def problem(self, what: str, fix: str = "", place: str = "") -> None:
        """Keep one thing wrong with this file."""
        found = Problem(file=self.file.name, what=what, fix=fix, place=place)
        if found not in self.problems:
            self.problems.append(found)


def recognise(opened: OpenFile, mapping: Mapping | None = None) -> Recognised:
    """Say what every variable of an open file is; problems are kept, not raised."""
    result = Recognised(opened)
    mapping = mapping or Mapping({})
    for dataset in opened.datasets:
        _recognise_dataset(dataset, mapping, result)
    names = {str(n) for dataset in opened.datasets for n in dataset.variables}
    result.notes += [
        f"{opened.path.name}: the map names {n}, which is not in this file"
        for n in mapping.names
        if n not in names and len(mapping.names) > 0 and mapping.only_file
    ]
    return result


def _text(holder: Any, name: str) -> str:
    return str(holder.attrs.get(name, "")).strip()


def _recognise_dataset(dataset: Any, mapping: Mapping, result: Recognised) -> None:
    result.producer = result.producer or _producer(dataset)
    try:
        lat_dim, lon_dim, grid = find_grid(dataset)
        times = find_times(dataset)
    except AxisError as err:
        result.problem(err.what, err.fix)
        result.unknown_convention |= err.convention
        return
    result.grids.append(grid)
    if times is not None:
        result.times.append(times)
        result.run_s = times.run_s if times.run_s is not None else result.run_s
    before = len(result.pieces)
    doubtful: list[tuple[str, str]] = []
    for name, variable in dataset.variables.items():
        name = str(name)
        if not {lat_dim, lon_dim} <= set(map(str, variable.dims)):
            continue
        if variable.dtype.kind not in "iufb":
            continue
        meaning, how, reason = _meaning(name, variable, dataset, mapping)
        if meaning is None:
            if reason == "doubtful":
                doubtful.append((name, _text(variable, "long_name")))
            else:
                result.unused.append((name, reason))
            continue
        piece = Piece(
            meaning, result.file.name, name, "", 1.0, dataset, lat_dim, lon_dim, grid,
            times, how=how,
        )  # fmt: skip
        _place(piece, variable, mapping, result)
    _settle_doubtful(doubtful, result, result.pieces[before:])


def _producer(dataset: Any) -> str:
    for key in ("institution", "GRIB_centreDescription", "producer", "source", "title"):
        text = _text(dataset, key)
        if text:
            return " ".join(text.split())[:120]
    return ""


def _meaning(
    name: str, variable: Any, dataset: Any, mapping: Mapping
) -> tuple[Meaning | None, str, str]:
    """Meaning, how it was known, and the reason when there is none."""
    mapped = mapping.names.get(name)
    if mapped is not None:
        return mapped.meaning, "your map", ""
    standard_text = _text(variable, "standard_name")
    if " " in standard_text:
        return None, "", f"standard_name '{standard_text}' is not the value itself"
    standard = STANDARD_NAMES.get(standard_text)
    short = SHORT_NAMES.get(name) or SHORT_NAMES.get(_text(variable, "GRIB_shortName"))
    centre = _text(dataset, "GRIB_centre")
    if standard is not None and standard.quantity == "spectrum":
        return standard, "standard_name", ""
    if short is not None and name in PEAK_BY_CENTRE.get(centre, ()):
        return replace(short, kind="peak"), "short name, by centre", ""
    if standard is None and short is None:
        return _unknown(name, variable, dataset, standard_text)
    if standard is None:
        assert short is not None
        return short, "short name", ""
    if short is None:
        return standard, "standard_name", ""
    return _agree(name, standard, short)


def _agree(name: str, standard: Meaning, short: Meaning) -> tuple[Meaning, str, str]:
    """Join what the standard_name and a known short name say."""
    if name in SHORT_NAME_WINS:
        return short, "short name (its standard_name is known to be wrong)", ""
    same_quantity = standard.quantity == short.quantity
    if same_quantity and standard.quantity == "period" and standard.kind == "mean":
        finer = short.system if standard.system in ("swell", short.system) else ""
        if finer:
            return short, "standard_name and short name", ""
    if same_quantity and standard.system == "swell" and short.system != "swell":
        # The short name numbers the partition; the convention stays the file's word.
        return replace(standard, system=short.system), "standard_name and short name", ""
    return standard, "standard_name", ""


def _unknown(
    name: str, variable: Any, dataset: Any, standard: str
) -> tuple[Meaning | None, str, str]:
    if name in NEEDS_CONVENTION:
        told = _text(dataset, "Directional_convention").lower()
        if told == "nautical":
            kind = "peak_from" if name == "PDIR" else "from"
            return Meaning("total", "direction", kind), "Directional_convention", ""
        return None, "", "doubtful"
    if name in NOT_NEEDED:
        return None, "", f"not needed: {NOT_NEEDED[name]}"
    if looks_like_wave_direction(name, _text(variable, "long_name"), standard):
        return None, "", "doubtful"
    words = [f"standard_name '{standard}'"] if standard not in ("", "unknown") else []
    if _text(variable, "long_name"):
        words.append(f"'{_text(variable, 'long_name')}'")
    return None, "", "not known" + (f" ({', '.join(words)})" if words else "")


def _settle_doubtful(
    doubtful: list[tuple[str, str]], result: Recognised, pieces: list[Piece]
) -> None:
    """A direction of unknown convention is refused only when nothing replaces it."""
    systems = {p.meaning.system for p in pieces if p.meaning.quantity == "height"}
    directed = {p.meaning.system for p in pieces if p.meaning.quantity == "direction"}
    have = "total" in directed if "total" in systems else bool(systems & directed)
    for name, long_name in doubtful:
        if have or not systems:
            result.unused.append((name, 'no word on "coming from" or "going to"; not needed'))
            continue
        shown = f" ('{long_name}')" if long_name else ""
        result.problem(
            f"variable '{name}'{shown} has no standard_name that says whether waves "
            'come "from" or go "to" it',
            f'Ask the supplier, then map it: {name} = "total_from_direction" (or '
            '"total_to_direction") under [names] in a --map file.',
        )
        result.unknown_convention = True


def _place(piece: Piece, variable: Any, mapping: Mapping, result: Recognised) -> None:
    """Sort out the remaining dimensions and the unit; keep the piece if it can be used."""
    name, meaning = piece.variable, piece.meaning
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
        n_members=variable.sizes[member_dim] if member_dim else 1, times=times,
    )  # fmt: skip
    if meaning.quantity == "spectrum":
        _place_spectrum(piece, variable, frequency_dim, direction_dim, result)
    elif partition_dim or _partition_number(piece.dataset) is not None:
        _place_partitions(piece, partition_dim, result)
    else:
        result.pieces.append(piece)


def _place_spectrum(
    piece: Piece, variable: Any, frequency_dim: str, direction_dim: str, out: Recognised
) -> None:
    if not (frequency_dim and direction_dim):
        out.unused.append((piece.variable, "is no spectrum over frequency and direction"))
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
                "Give the axis a standard_name, or map the variable as "
                '"from_spectrum" or "to_spectrum" of spectrum.',
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
        )  # fmt: skip
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
        numbers = [(None, number)]
    else:
        axis = piece.dataset.variables.get(dim)
        size = piece.dataset.sizes[dim]
        values = np.arange(1, size + 1) if axis is None else np.asarray(axis.values)
        numbers = [(i, int(v)) for i, v in enumerate(values)]
    for index, number in numbers:
        if number is None or not 1 <= number <= 5:
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
        f"variable '{name}' ({meaning.words}) {shown}, which we will not guess",
        f'Set its units attribute (for example "{wanted}"), or map it: '
        f'{name} = "{meaning.name}, {wanted}" under [names] in a --map file.',
    )
    result.unknown_convention = True
    return None


__all__ = ["Piece", "Recognised", "closest_name", "recognise"]
