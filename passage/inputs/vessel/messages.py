"""Turn refused values of a vessel file into lines a crew can act on.

``file:line: [section] key = value unit: what is wrong, with the limit. what to do.``
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from passage.errors import Problem, nearest_name
from passage.inputs.vessel.keylines import KeyMap, Path
from passage.inputs.vessel.schema import VesselFile

_UNITS = {
    "_kn_m": "kN m", "_t_m": "t m", "_t_m3": "t/m3", "_m3_per_h": "m3/h", "_l_per_h": "l/h",
    "_g_per_kwh": "g/kWh", "_deg_s": "deg/s", "_per_kn": "per kn", "_per_rad": "per rad",
    "_per_l": "per l", "_s2": "s2", "_m2": "m2", "_m3": "m3", "_kw": "kW", "_kn": "kn",
    "_deg": "deg", "_m": "m", "_s": "s", "_t": "t", "_g": "g", "_percent": "%",
}  # fmt: skip

#: An example for each kind of value, shown when a key is missing.
_EXAMPLES = {"name": '"…"', "holds": '"fuel"', "tank": '"day tank"', "currency": '"EUR"'}


def unit_of(key: str, info: FieldInfo | None = None) -> str:
    """Unit of a key: what its field says, or the end of its name."""
    extra = info.json_schema_extra if info is not None else None
    if isinstance(extra, Mapping) and "unit" in extra:
        return str(extra["unit"])
    for ending in sorted(_UNITS, key=len, reverse=True):
        if key.endswith(ending):
            return _UNITS[ending]
    return ""


def model_inside(annotation: Any) -> type[BaseModel] | None:
    """The section model an annotation holds, if any."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if typing.get_origin(annotation) in (list, typing.Union, types.UnionType):
        for part in typing.get_args(annotation):
            found = model_inside(part)
            if found is not None:
                return found
    return None


def is_list(annotation: Any) -> bool:
    """Whether an annotation is a list (or an optional one)."""
    if typing.get_origin(annotation) is list:
        return True
    return any(is_list(part) for part in typing.get_args(annotation))


def field_at(path: Path) -> tuple[type[BaseModel] | None, FieldInfo | None]:
    """The section model and field a path leads to."""
    model: type[BaseModel] | None = VesselFile
    holder: type[BaseModel] | None = None
    info: FieldInfo | None = None
    for part in path:
        if isinstance(part, int):
            continue
        holder = model
        info = model.model_fields.get(part) if model is not None else None
        model = model_inside(info.annotation) if info is not None else None
    return holder, info


def show(value: Any) -> str:
    """A value as TOML would write it, short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value[:40]}…"' if len(value) > 40 else f'"{value}"'
    if isinstance(value, Mapping):
        return "{…}"
    if isinstance(value, Sequence):
        inner = ", ".join(show(item) for item in value[:4])
        return f"[{inner}, …]" if len(value) > 4 else f"[{inner}]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def printable(text: str) -> str:
    """Text fit for one line of a terminal: control characters become ``?``."""
    return "".join(char if char.isprintable() else "?" for char in text)


def place_of(path: Path) -> str:
    """``[section] key`` in words; list items are counted from 1."""
    if not path:
        return ""
    if len(path) > 1 and isinstance(path[1], int):
        text, rest = f"[[{path[0]}]] {path[1] + 1}", path[2:]
    elif len(path) > 2 and path[0] == "limits" and path[1] in ("underway", "at_rest"):
        text, rest = f"[limits.{path[1]}]", path[2:]
    else:
        text, rest = f"[{path[0]}]", path[1:]
    for part in rest:
        text += f" item {part + 1}" if isinstance(part, int) else f" {part}"
    return text


def key_of(path: Path) -> str:
    """The last named part of a path."""
    return next((part for part in reversed(path) if isinstance(part, str)), "")


def value_at(data: Any, path: Path) -> Any:
    """Value at a path, or None."""
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


class Reporter:
    """Makes `Problem`s about one file, with lines where they are known."""

    def __init__(self, file: str, keys: KeyMap, data: Mapping[str, Any]) -> None:
        self.file = file
        self.keys = keys
        self.data = data

    def problem(self, path: Path, what: str, fix: str = "", *, show_value: bool = True) -> Problem:
        """One problem at a path; the value and unit are added."""
        line = self.keys.line(path)
        value = value_at(self.data, path)
        text = place_of(path)
        whole_item = bool(path) and isinstance(path[-1], int) and len(path) == 2
        if show_value and value is not None and not whole_item and len(path) > 1:
            number = isinstance(value, int | float) and not isinstance(value, bool)
            unit = unit_of(key_of(path), field_at(path)[1]) if number else ""
            text += f" = {show(value)}{' ' + unit if unit else ''}"
        return Problem(
            file=self.file,
            place=str(line) if line else "",
            what=printable(f"{text}: {what}"),
            fix=printable(fix),
        )

    def warning(self, path: Path, what: str) -> str:
        """The same as a sentence, for things that are legal but look wrong."""
        return str(self.problem(path, what))

    def from_errors(self, errors: Sequence[Mapping[str, Any]]) -> list[Problem]:
        """Problems from pydantic's list of errors, in the order of the file."""
        unknown: dict[Path, str | None] = {}
        for error in errors:
            if error["type"] == "extra_forbidden":
                path = tuple(error["loc"])
                unknown[path] = self._suggest(path)
        claimed = {(*path[:-1], name) for path, name in unknown.items() if name}
        problems: dict[Path, Problem] = {}
        for error in errors:
            path = _clean(error["loc"])
            if path in problems or (error["type"] == "missing" and path in claimed):
                continue
            problems[path] = self._one(error, path, unknown)
        order = sorted(problems, key=lambda path: self.keys.line(path) or 0)
        return [problems[path] for path in order]

    def _suggest(self, path: Path) -> str | None:
        holder, _ = field_at(path)
        names = list(holder.model_fields) if holder is not None else []
        key = key_of(path)
        # A key written without its unit, or with another one, shares its beginning.
        given = value_at(self.data, path[:-1]) or {}
        free = [name for name in names if name not in given]
        for name in [*free, *names]:
            if name.startswith(f"{key}_") or key.startswith(f"{name}_"):
                return name
        for among in (free, names):
            if close := nearest_name(key.lower(), among):
                return close
        return None

    def _unknown(self, path: Path, suggestion: str | None) -> Problem:
        key = key_of(path)
        kind = "section" if len(path) == 1 else "key"
        homes = _homes(key) if kind == "key" else []
        # A key of another table is not a slip of the pen; those of lists of tables are too short.
        sure = [name for name in homes if not is_list(VesselFile.model_fields[name].annotation)]
        if homes and (sure or not suggestion):
            home = (sure or homes)[0]
            line = "" if home in self.data else f"Is its line [{home}] still a comment?"
            return self.problem(path, f"unknown key here; it belongs in [{home}].", line)
        if suggestion:
            missing = value_at(self.data, (*path[:-1], suggestion)) is None
            tail = "" if missing else " (given as well)"
            return self.problem(path, f"unknown {kind}", f"Did you mean {suggestion}{tail}?")
        holder, _ = field_at(path)
        names = ", ".join(holder.model_fields) if holder is not None else ""
        return self.problem(path, f"unknown {kind}. Known here: {names}.")

    def _one(
        self, error: Mapping[str, Any], path: Path, unknown: Mapping[Path, str | None]
    ) -> Problem:
        kind, ctx = error["type"], error.get("ctx", {})
        _, info = field_at(path)
        key = key_of(path)
        unit = unit_of(key, info)
        with_unit = f" {unit}" if unit else ""
        value = error.get("input")
        if kind == "extra_forbidden":
            return self._unknown(path, unknown.get(path))
        if kind == "missing":
            return self._missing(path, info, unit)
        if path == ("roll", "wave_slope_coefficient"):
            return self.problem(path, 'must be "strip", "formula" or a number from 0.2 to 1.5.')
        if kind == "finite_number":
            return self.problem(path, "must be a finite number.", "Leave the key out if unknown.")
        if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
            return self.problem(
                path, f"must be {_range(info, with_unit)}.", "Check value and unit."
            )
        if kind in ("float_type", "int_type", "int_from_float"):
            return self.problem(path, *_not_a_number(key, value, whole=kind != "float_type"))
        if kind == "literal_error":
            choices = ctx.get("expected", "").replace("'", '"')
            return self.problem(path, f"must be {choices}.")
        if kind == "string_type":
            return self.problem(path, "must be text in quotes.", f'Write {key} = "{value}".')
        if kind == "bool_type":
            return self.problem(path, "must be true or false, without quotes.")
        if kind in ("too_short", "too_long"):
            limit = ctx.get("min_length", ctx.get("max_length"))
            word = "at least" if kind == "too_short" else "at most"
            return self.problem(path, f"needs {word} {limit} values.")
        if kind in ("string_too_short", "string_too_long"):
            return self.problem(path, "must be 1 to 120 characters long.", "Write a short name.")
        if kind == "list_type":
            if info is not None and model_inside(info.annotation) is not None:
                return self.problem(
                    path,
                    "is one table where a list of tables belongs.",
                    f"Write [[{key}]].",
                    show_value=False,
                )
            return self.problem(path, "must be a list.", f"Write {key} = [10.0, 12.0].")
        if kind in ("model_type", "dict_type", "model_attributes_type"):
            what = "must be a table"
            if isinstance(value, list):
                what = "is a list of tables where one table belongs"
            return self.problem(path, f"{what}.", f"Write [{key}] on a line of its own.")
        return self.problem(path, f"{error['msg']}.")

    def _missing(self, path: Path, info: FieldInfo | None, unit: str) -> Problem:
        about = info.description if info is not None else ""
        if len(path) == 1:
            return Problem(
                file=self.file,
                what=f"section [{path[0]}] is missing ({about})",
                fix="`passage particulars` writes a file with every section.",
            )
        key = key_of(path)
        # "of a litre, in EUR" needs no unit; "rising, in kn" does.
        with_unit = f", in {unit}" if unit and not unit.startswith("per ") else ""
        listed = info is not None and is_list(info.annotation)
        example = _EXAMPLES.get(key, "[…, …]" if listed else "…")
        return self.problem(path, f"is missing ({about}{with_unit}).", f"Add {key} = {example}.")


def _homes(key: str) -> list[str]:
    """Sections that have a key of this name."""
    return [
        name
        for name, info in VesselFile.model_fields.items()
        if (model := model_inside(info.annotation)) is not None and key in model.model_fields
    ]


def _clean(loc: Sequence[str | int]) -> Path:
    """Drop the parts pydantic adds for the branches of a union."""
    return tuple(
        part
        for part in loc
        if isinstance(part, int) or not (part == "float" or part.startswith("literal["))
    )


def limits_in_words(key: str, info: FieldInfo) -> str:
    """The limits of a key with its unit, as "greater than 0 and at most 20 m"."""
    unit = unit_of(key, info)
    return _range(info, f" {unit}" if unit else "")


def _range(info: FieldInfo | None, unit: str) -> str:
    """The limits of a number in words."""
    low = high = ""
    for rule in info.metadata if info is not None else ():
        for name, words in (("gt", "greater than"), ("ge", "at least")):
            if getattr(rule, name, None) is not None:
                low = f"{words} {getattr(rule, name):.12g}"
        for name, words in (("lt", "less than"), ("le", "at most")):
            if getattr(rule, name, None) is not None:
                high = f"{words} {getattr(rule, name):.12g}"
    return " and ".join(part for part in (low, high) if part) + unit


def _not_a_number(key: str, value: Any, *, whole: bool) -> tuple[str, str]:
    """What to say about a value that should be a number."""
    kind = "a whole number" if whole else "a number"
    if isinstance(value, bool):
        return f"must be {kind}, not true or false.", ""
    if isinstance(value, str):
        number = value.strip().replace(",", ".")
        if re.fullmatch(r"[-+]?\d+(\.\d+)?", number):
            comma = " and with a decimal point" if "," in value else ""
            return (
                f"is text where {kind} belongs.",
                f"Write {key} = {number}, without quotes{comma}.",
            )
        return f"is text where {kind} belongs.", "Write the number alone, in the unit of the key."
    if isinstance(value, float) and whole:
        return "must be a whole number.", f"Write {key} = {value:.0f}."
    return f"must be {kind}.", ""
