"""Times as a user gives them, as seconds since 1970; no heavy imports."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from typing import Any

from passage.errors import PassageError

_TIME = re.compile(
    r"^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2}))?\s*(Z|UTC|[+-]\d{2}:?\d{2})?$",
    re.ASCII,
)
_DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$", re.ASCII)
#: Years in which a passage can be planned; wave hindcasts begin in the 1900s.
FIRST_YEAR, LAST_YEAR = 1800, 2200


def seconds_of(value: Any, name: str = "time") -> float:
    """Seconds since 1970-01-01T00:00Z.

    Parameters
    ----------
    value : str, datetime, numpy.datetime64 or float
        Text with its zone, as "2026-03-14T06:00Z"; a datetime with its zone; a
        datetime64, which is UTC; or the seconds themselves.
    name : str
        What it is, for the message.

    Raises
    ------
    PassageError
        Not a time, without a zone, or in a year without forecasts.
    """
    if hasattr(value, "astype") and getattr(getattr(value, "dtype", None), "kind", "") == "M":
        value = float(value.astype("datetime64[ms]").astype("int64")) / 1000.0
    try:
        if isinstance(value, datetime):
            return _in_range(_aware(value).timestamp(), value)
        if isinstance(value, str):
            return utc_seconds(value)
        return _in_range(_number(value), value)
    except ValueError as err:
        raise PassageError(f"{name}: {err}") from err


def last_of(value: Any, name: str = "time") -> float:
    """As :func:`seconds_of`, where a day without an hour means its last second."""
    if isinstance(value, str) and _DAY.match(value.strip()):
        return seconds_of(f"{value.strip()}T23:59:59Z", name)
    return seconds_of(value, name)


def first_of(value: Any, name: str = "time") -> float:
    """As :func:`seconds_of`, where a day without an hour means its beginning."""
    if isinstance(value, str) and _DAY.match(value.strip()):
        return seconds_of(f"{value.strip()}T00:00Z", name)
    return seconds_of(value, name)


def utc_seconds(text: str) -> float:
    """Seconds since 1970 of a time with its zone; ValueError with a sentence."""
    match = _TIME.match(text.strip())
    if match is None:
        raise ValueError(f"{text!r} is not a time. Write it as 2026-03-14T06:00Z.")
    *parts, zone = match.groups()
    if zone is None:
        raise ValueError(
            f"{text!r} has no zone. Add Z for UTC ({text}Z) or an offset such as +01:00."
        )
    numbers = [int(part or 0) for part in parts]
    try:
        moment = datetime(*numbers, tzinfo=UTC)  # type: ignore[misc, arg-type]
    except ValueError as err:
        raise ValueError(f"{text!r} is not a time: {err}.") from err
    seconds = _in_range(moment.timestamp(), text)
    if zone not in ("Z", "UTC"):
        sign = -1.0 if zone[0] == "-" else 1.0
        digits = zone[1:].replace(":", "")
        if int(digits[:2]) > 14 or int(digits[2:]) > 59:
            raise ValueError(f"{text!r}: no zone is {zone} from UTC.")
        seconds -= sign * (int(digits[:2]) * 3600.0 + int(digits[2:]) * 60.0)
    return seconds


def _aware(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        raise ValueError(f"{moment.isoformat()} has no zone. Add tzinfo=UTC.")
    return moment


def _number(value: Any) -> float:
    try:
        seconds = float(value)
    except (TypeError, ValueError):
        seconds = math.nan
    if isinstance(value, bool) or not math.isfinite(seconds):
        raise ValueError(f"{value!r} is not a time. Write it as 2026-03-14T06:00Z.")
    return seconds


def _in_range(seconds: float, given: Any) -> float:
    try:
        year = datetime.fromtimestamp(seconds, UTC).year
    except (ValueError, OverflowError, OSError):
        year = 0
    if not FIRST_YEAR <= year <= LAST_YEAR:
        which = f"the year {year}" if year else "the time"
        shown = f"{given!r}" if isinstance(given, str) else str(given)
        raise ValueError(
            f"{shown}: {which} is outside {FIRST_YEAR} to {LAST_YEAR}, for which there are no "
            "forecasts."
        )
    return seconds
