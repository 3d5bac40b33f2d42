"""Small parsers shared by the route formats; their errors are sentences for the user."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Literal

from passage.errors import one_line

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
    return one_line(text)[:200].strip() or default


def printable(text: str) -> str:
    """The text with a space for every character that cannot be printed."""
    return "".join(c if c.isprintable() else " " for c in text)


def parse_time(text: str, key: str) -> tuple[float, bool]:
    """Seconds since 1970 UTC from an ISO 8601 time, and whether it named its zone.

    Raises
    ------
    ValueError
        Not a time, or not between 1970 and 2100.
    """
    raw = text.strip()
    try:
        time = datetime.fromisoformat(raw)
    except ValueError:
        time = None
    if time is None or "T" not in raw.upper():
        raise ValueError(f"{key} = {raw!r} is not a time; write 2026-03-14T06:00:00Z")
    zoned = time.tzinfo is not None
    if not zoned:
        time = time.replace(tzinfo=UTC)
    if not 1970 < time.year < 2100:
        raise ValueError(f"{key} = {raw!r} is not in this century; check the year")
    return time.timestamp(), zoned


def format_time(time_s: float) -> str:
    """``2026-03-14T06:00:00Z``, with milliseconds only when there are any."""
    millis = round(time_s * 1000.0)
    time = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=millis)
    spec = "milliseconds" if millis % 1000 else "seconds"
    return time.replace(tzinfo=None).isoformat(timespec=spec) + "Z"


def parse_stay(text: str) -> float:
    """Hours from ``02:30:00`` (xs:time) or ``PT2H30M`` (xs:duration without months).

    Raises
    ------
    ValueError
        Neither.
    """
    raw = text.strip()
    clock = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}(?:\.[0-9]+)?))?Z?", raw)
    if clock:
        hours, minutes, seconds = clock.groups()
        return float(hours) + (float(minutes) + float(seconds or 0.0) / 60.0) / 60.0
    span = re.fullmatch(
        r"P(?:([0-9]+)D)?(?:T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+(?:\.[0-9]+)?)S)?)?", raw
    )
    if span and any(span.groups()):
        days, hours, minutes, seconds = (float(part or 0.0) for part in span.groups())
        return days * 24.0 + hours + (minutes + seconds / 60.0) / 60.0
    raise ValueError(f"stay = {raw!r} is not a time span; write 02:30:00 or PT2H30M")


def decimal_text(value: float) -> str:
    """Every digit of a number without an exponent, which XML decimals do not allow."""
    text = repr(float(value))
    return format(Decimal(text), "f") if "e" in text else text
