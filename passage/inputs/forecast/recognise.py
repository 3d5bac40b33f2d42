"""What each variable of a file is: system, quantity, kind, unit, convention, grid."""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import Any

from passage.errors import one_line, plain_text
from passage.inputs.forecast.axes import AxisError, find_grid
from passage.inputs.forecast.axes import attribute as _text
from passage.inputs.forecast.mapping import Mapping
from passage.inputs.forecast.names import (
    NEEDS_CONVENTION,
    NOT_NEEDED,
    PEAK_BY_CENTRE,
    SHORT_NAME_WINS,
    STANDARD_NAMES,
    Meaning,
    known_short_name,
    looks_like_wave_direction,
)
from passage.inputs.forecast.opener import OpenFile, short_reason
from passage.inputs.forecast.piece import Piece, Recognised
from passage.inputs.forecast.place import place
from passage.inputs.forecast.times import find_times

_DAMAGED = "The file is probably cut short or damaged; fetch it again."


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


def _recognise_dataset(dataset: Any, mapping: Mapping, result: Recognised) -> None:
    result.producer = result.producer or _producer(dataset)
    try:
        lat_dim, lon_dim, grid = find_grid(dataset)
        times = find_times(dataset)
    except AxisError as err:
        result.problem(err.what, err.fix)
        result.unknown_convention |= err.convention
        return
    except Exception as err:  # a damaged axis, or packing attributes that are no numbers
        result.problem(f"has axes that cannot be read ({short_reason(err)})", _DAMAGED)
        return
    result.grids.append(grid)
    if times is not None:
        result.times.append(times)
        result.run_s = times.run_s if times.run_s is not None else result.run_s
    seen: list[Meaning] = []
    doubtful: list[tuple[str, str]] = []
    for name, variable in dataset.variables.items():
        name = str(name)
        if not {lat_dim, lon_dim} <= set(map(str, variable.dims)):
            continue
        if variable.dtype.kind not in "iufb":
            continue
        meaning, how, reason = _meaning(name, variable, dataset, mapping)
        if meaning is not None:
            result.notes += _slips(name, variable)
        if meaning is None:
            if reason == "doubtful":
                doubtful.append((name, _text(variable, "long_name")))
            else:
                result.unused.append((name, reason))
            continue
        seen.append(meaning)
        piece = Piece(
            meaning, result.file.name, name, "", 1.0, dataset, lat_dim, lon_dim, grid,
            times, how=how,
        )  # fmt: skip
        try:
            place(piece, variable, mapping, result)
        except Exception as err:  # a damaged level or partition axis
            result.problem(f"variable '{name}' cannot be read ({short_reason(err)})", _DAMAGED)
    _settle_doubtful(doubtful, result, seen)


def _producer(dataset: Any) -> str:
    for key in ("institution", "GRIB_centreDescription", "producer", "source", "title"):
        text = _text(dataset, key)
        if text:
            return plain_text(" ".join(text.split())[:120])
    return ""


#: Attributes that decide the values; a name one or two letters off is damage or a slip.
_DECIDE = ("scale_factor", "add_offset", "_FillValue", "missing_value", "units")


def _slips(name: str, variable: Any) -> list[str]:
    """Notes on attributes whose names are nearly those that decide a variable's values."""
    words = []
    for key in map(str, variable.attrs):
        near = difflib.get_close_matches(key, _DECIDE, n=1, cutoff=0.78)
        if near and key not in _DECIDE and near[0] not in {*variable.attrs, *variable.encoding}:
            shown = one_line(key)[:40]
            words.append(
                f"variable '{one_line(name)[:40]}' has an attribute {shown}, which is not used: is "
                f"it {near[0]}, and the file damaged? Fetch it again"
            )
    return words


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
    short = known_short_name(name) or known_short_name(_text(variable, "GRIB_shortName"))
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
    """Combine the meanings of the standard_name and of a known short name."""
    if name in SHORT_NAME_WINS:
        return short, "short name (its standard_name is known to be wrong)", ""
    same_quantity = standard.quantity == short.quantity
    if same_quantity and standard.quantity == "period" and standard.kind == "mean":
        finer = short.system if standard.system in ("swell", short.system) else ""
        if finer:
            return short, "standard_name and short name", ""
    if same_quantity and standard.system == "swell" and short.system != "swell":
        # The short name numbers the partition; the convention is the standard_name's.
        return replace(standard, system=short.system), "standard_name and short name", ""
    return standard, "standard_name", ""


def _unknown(
    name: str, variable: Any, dataset: Any, standard: str
) -> tuple[Meaning | None, str, str]:
    if name in NEEDS_CONVENTION:
        convention = _text(dataset, "Directional_convention").lower()
        if convention == "nautical":
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
    doubtful: list[tuple[str, str]], result: Recognised, seen: list[Meaning]
) -> None:
    """A direction of unknown convention is refused only when nothing replaces it."""
    systems = {m.system for m in seen if m.quantity == "height"}
    directed = {m.system for m in seen if m.quantity == "direction"}
    partitions = "wind_sea" in directed and any(d.startswith("swell") for d in directed)
    have = partitions or "total" in directed
    for name, long_name in doubtful:
        if have or not systems:
            result.unused.append((name, 'does not state "coming from" or "going to"; not needed'))
            continue
        shown = f" ('{long_name}')" if long_name else ""
        result.problem(
            f"variable '{name}'{shown} has no standard_name that says whether waves "
            'come "from" or go "to" it',
            f'Ask the supplier, then map it: {name} = "total_from_direction" (or '
            '"total_to_direction") under [names] in a --map file.',
        )
        result.unknown_convention = True
