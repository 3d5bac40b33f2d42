"""Local times: a zone by name, and times as people write them; no heavy imports."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

from passage.errors import did_you_mean

_LOCAL = re.compile(
    r"^(today|tomorrow|\d{4}-\d{2}-\d{2})[T ]+(\d{1,2}):(\d{2})$", re.ASCII | re.IGNORECASE
)


def zone_of(name: str) -> Any:
    """The zone of a name such as Europe/Madrid; ValueError with a sentence."""
    from zoneinfo import ZoneInfo, available_timezones

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        hint = did_you_mean(name, sorted(available_timezones())) or "Write it as Europe/Madrid."
        raise ValueError(f"{name!r} is not a known zone. {hint}") from None


def local_seconds(text: str, zone: Any, now: datetime | None = None) -> float | None:
    """Seconds since 1970 of a local time, or None where the text is of another form.

    ``text`` is "2026-03-14 06:00", "today 18:00" or "tomorrow 06:00", in ``zone``.
    ValueError where the clocks skip that hour or show it twice.
    """
    match = _LOCAL.match(text.strip())
    if match is None:
        return None
    day, hour, minute = match[1].lower(), int(match[2]), int(match[3])
    if day in ("today", "tomorrow"):
        here = (now or datetime.now(UTC)).astimezone(zone)
        date = here.date() + timedelta(days=day == "tomorrow")
    else:
        try:
            date = datetime.fromisoformat(day).date()
        except ValueError as err:
            raise ValueError(f"{text!r} is not a time: {err}.") from None
    if hour > 23 or minute > 59:
        raise ValueError(f"{text!r} is not a time: hours go to 23, minutes to 59.")
    moments = [
        datetime(date.year, date.month, date.day, hour, minute, tzinfo=zone, fold=fold)
        for fold in (0, 1)
    ]
    seconds = [moment.timestamp() for moment in moments]
    back = datetime.fromtimestamp(seconds[0], zone)
    if (back.hour, back.minute) != (hour, minute):
        raise ValueError(f"{text!r}: the clocks of {zone} skip that hour. Write it in UTC, with Z.")
    if seconds[0] != seconds[1]:
        raise ValueError(
            f"{text!r}: the clocks of {zone} show that hour twice. Write it in UTC, with Z."
        )
    return seconds[0]


def local_text(seconds: float, zone: Any) -> str:
    """``Sun 15 Mar 2026 06:00 (UTC+01:00)``."""
    moment = datetime.fromtimestamp(seconds, zone)
    offset = moment.strftime("%z")
    return f"{moment:%a %d %b %Y %H:%M} (UTC{offset[:3]}:{offset[3:5]})"
