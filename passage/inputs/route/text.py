"""Small parsers shared by the route formats; their errors are words for the user."""

from __future__ import annotations

import re
from typing import Literal

_KINDS: dict[str, Literal["rhumb", "great circle"]] = {
    "": "rhumb",
    "rhumb": "rhumb",
    "rhumb line": "rhumb",
    "rhumbline": "rhumb",
    "rl": "rhumb",
    "loxodrome": "rhumb",
    "great circle": "great circle",
    "greatcircle": "great circle",
    "gc": "great circle",
    "orthodrome": "great circle",
}
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)


def parse_kind(text: str) -> Literal["rhumb", "great circle"]:
    """Kind of leg; an empty cell is a rhumb line.

    Raises
    ------
    ValueError
        A word that names neither.
    """
    key = re.sub(r"[\s_-]+", " ", text.strip().lower())
    if key not in _KINDS:
        raise ValueError(f'leg {text.strip()!r} is not known; write "rhumb" or "great circle"')
    return _KINDS[key]


def parse_number(
    text: str, key: str, unit: str, *, low: float, high: float, open_low: bool = False
) -> float:
    """A number within limits.

    Raises
    ------
    ValueError
        Not a number, a decimal comma, or outside the limits.
    """
    raw = text.strip()
    if "," in raw:
        raise ValueError(f"{key} = {raw!r} has a comma; use a decimal point")
    if not _NUMBER.fullmatch(raw):
        raise ValueError(f"{key} = {raw!r} is not a number; give a plain number in {unit}")
    value = float(raw)
    if not low <= value <= high or (open_low and value == low):
        least = "above" if open_low else "at least"
        raise ValueError(
            f"{key} = {raw} {unit} must be {least} {low:g} and at most {high:g} {unit}"
        )
    return value


def clean_name(text: str, default: str) -> str:
    """A name on one line, without characters that cannot be printed or put in XML."""
    kept = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(kept.split())[:200] or default
