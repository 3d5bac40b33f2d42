"""Write vessel files: change keys in the text of an existing one, or write a new one."""

from __future__ import annotations

import dataclasses
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from passage.inputs.vessel import model
from passage.inputs.vessel.keylines import Path, map_keys
from passage.inputs.vessel.messages import field_at, value_at

Value = float | int | bool | str | Sequence[Any] | Mapping[str, Any]


def toml_value(value: Value) -> str:
    """A value as TOML writes it; floats keep every digit."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {toml_value(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, Sequence):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    # numpy's numbers print with their type's name; plain ones do not.
    return repr(int(value)) if isinstance(value, int) else repr(float(value))


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml_value(key)


def update_vessel_text(text: str, changes: Mapping[Path, Value], *, note: str = "") -> str:
    """Change keys in the text of a vessel file and leave all else as it is.

    Parameters
    ----------
    text
        A valid TOML text.
    changes
        New values by path: ``("roll", "damping_ratio")`` or ``("fins", 0, "efficiency")``.
        A key the text lacks is added at the end of its section, a section it lacks at
        the end of the text.
    note
        If given, a comment above each changed key says what the value was and this.

    Returns
    -------
    str
        The new text, with comments, order and line ends kept.

    Raises
    ------
    ValueError
        The text cannot be changed safely (a form this program does not edit); nothing
        is guessed.
    """
    keys = map_keys(text)
    newline = "\r\n" if "\r\n" in text else "\n"
    cuts: list[tuple[int, int, str]] = []
    added: dict[Path, list[str]] = {}
    for path, value in changes.items():
        written = toml_value(value)
        span = keys.keys.get(path)
        if span is not None:
            if note:
                start = text.rfind("\n", 0, span.start) + 1
                indent = re.match(r"[ \t]*", text[start:])
                old = " ".join(text[span.start : span.end].split())
                lead = indent[0] if indent else ""
                comment = f"{lead}# {path[-1]} was {old}; {note}{newline}"
                cuts.append((start, start, comment))
            end, pad = _padding(text, span.end, len(written) - (span.end - span.start))
            cuts.append((span.start, end, written + pad))
        else:
            lines = added.setdefault(path[:-1], [])
            if note:
                lines.append(f"# {path[-1]} added; {note}")
            lines.append(f"{_key(str(path[-1]))} = {written}")
    tail = ""
    for table, lines in added.items():
        block = newline.join(lines) + newline
        if table in keys.table_end:
            at = keys.table_end[table]
            lead = newline if at and not text[:at].endswith("\n") else ""
            cuts.append((at, at, lead + block))
        else:
            tail += f"{newline}[{'.'.join(_key(str(part)) for part in table)}]{newline}{block}"
    for start, end, written in sorted(cuts, key=lambda cut: cut[:2], reverse=True):
        text = text[:start] + written + text[end:]
    if tail:
        text = text + ("" if text.endswith("\n") else newline) + tail
    _verify(text, changes)
    return text


def _padding(text: str, end: int, longer: int) -> tuple[int, str]:
    """Blanks that keep a comment after a value in its column, and where they end."""
    blanks = re.match(r" {2,}(?=#)", text[end:])
    if blanks is None:
        return end, ""
    return end + blanks.end(), " " * max(2, blanks.end() - longer)


def _verify(text: str, changes: Mapping[Path, Value]) -> None:
    """Read the new text back: an edit that failed must not reach a file."""
    try:
        content = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as err:
        raise ValueError(f"the vessel file's text cannot be changed in place: {err}") from err
    for path, value in changes.items():
        found = value_at(content, path)
        want = tomllib.loads(f"x = {toml_value(value)}")["x"]
        if found != want:
            raise ValueError(f"key {path} could not be changed in place")


def vessel_to_toml(vessel: model.Vessel) -> str:
    """Write a vessel as a commented file; what was estimated is left out.

    Reading the text gives an equal vessel, estimates included.
    """
    estimated = {item.key for item in vessel.estimated}
    lines = ["# Vessel file written by passage.", ""]

    def table(header: str, path: Path, part: Any, dotted: str, skip: tuple[str, ...] = ()) -> None:
        lines.append(header)
        for item in dataclasses.fields(part):
            value = getattr(part, item.name)
            if value is None or item.name in skip or f"{dotted}.{item.name}" in estimated:
                continue
            _, info = field_at((*path, item.name))
            about = f"  # {info.description}" if info is not None and info.description else ""
            lines.append(f"{item.name} = {toml_value(_plain(value))}{about}")
        lines.append("")

    table("[vessel]", ("vessel",), vessel.particulars, "vessel")
    table("[roll]", ("roll",), vessel.roll, "roll")
    for i, fins in enumerate(vessel.fins):
        table("[[fins]]", ("fins",), fins, f"fins[{i + 1}]")
    table("[propulsion]", ("propulsion",), vessel.propulsion, "propulsion")
    table("[hotel]", ("hotel",), vessel.hotel, "hotel")
    if vessel.windage is not None:
        table("[windage]", ("windage",), vessel.windage, "windage")
    for i, tank in enumerate(vessel.tanks):
        table("[[tanks]]", ("tanks",), tank, f"tanks[{i + 1}]")
    if vessel.transfer is not None:
        table("[transfer]", ("transfer",), vessel.transfer, "transfer")
    table("[loading]", ("loading",), vessel.loading, "loading")
    if "places" not in estimated:
        for place in vessel.places:
            table("[[places]]", ("places",), place, "places")
    table("[limits]", ("limits",), vessel.limits, "limits", skip=("underway", "at_rest"))
    table("[limits.underway]", ("limits", "underway"), vessel.limits.underway, "limits")
    table("[limits.at_rest]", ("limits", "at_rest"), vessel.limits.at_rest, "limits")
    if vessel.money is not None:
        table("[money]", ("money",), vessel.money, "money")
    if vessel.standing is not None:
        table("[standing]", ("standing",), vessel.standing, "standing")
    if vessel.forecast_names:
        lines.append("[forecast_names]")
        lines += [f"{_key(k)} = {toml_value(v)}" for k, v in vessel.forecast_names.items()]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _plain(value: Any) -> Any:
    """Dataclasses inside lists as mappings."""
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return dataclasses.asdict(value) if dataclasses.is_dataclass(value) else value  # type: ignore[arg-type]
