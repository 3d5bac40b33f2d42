"""Local times beside UTC in a report, for the time zones asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from passage.report.text.layout import TextColumn

#: The zones of departure and arrival; one for both, or none.
_SHOWN: ContextVar[tuple[ZoneInfo, ...]] = ContextVar("zones shown", default=())


@contextmanager
def shown_by(zones: Sequence[ZoneInfo]) -> Iterator[None]:
    """Context in which every time of a report is given in these zones too."""
    token = _SHOWN.set(tuple(dict.fromkeys(zones)))
    try:
        yield
    finally:
        _SHOWN.reset(token)


def zones_shown() -> tuple[ZoneInfo, ...]:
    """The zones asked for: of departure, and of arrival where it differs."""
    return _SHOWN.get()


def beside(time_s: float) -> str:
    """`` (22:00 CEST)`` to follow a time in UTC; with the day where that differs."""
    here = datetime.fromtimestamp(round(time_s / 60.0) * 60.0, UTC)
    words = []
    for zone in zones_shown():
        there = here.astimezone(zone)
        day = "" if there.date() == here.date() else f"{there:%a} "
        words.append(f"{day}{there:%H:%M} {_letters(there)}")
    return f" ({', '.join(words)})" if words else ""


def local_short(time_s: float, *, arriving: bool = False) -> str:
    """``05-20 22:00`` by the clocks of departure, or of arrival; ``-`` for no time."""
    if time_s != time_s or not zones_shown():
        return "-"
    there = datetime.fromtimestamp(time_s, zones_shown()[-1 if arriving else 0])
    return f"{there:%m-%d %H:%M}"


def local_column(verb: str) -> list[TextColumn]:
    """The column for ``local_cell``, "leaves" or "arrives"; empty where no zone is asked for."""
    zones = zones_shown()
    if not zones:
        return []
    leaving = verb == "leaves"
    means = f"local time, {zones[0 if leaving else -1]}"
    return [TextColumn(f"{verb} local", 0 if leaving else 7, True, meaning=means)]


def local_cell(time_s: float, *, arriving: bool = False) -> list[str]:
    """``local_short`` as one cell, or none where no zone is asked for."""
    return [local_short(time_s, arriving=arriving)] if zones_shown() else []


def local_hours(hour: int) -> str:
    """``07 or 08`` for an hour of the day in UTC, by winter and summer time; empty for none."""
    if not zones_shown():
        return ""
    moments = [datetime(2025, month, 15, hour, tzinfo=UTC) for month in (1, 7)]
    found = {m.astimezone(zones_shown()[0]).strftime("%H:%M") for m in moments}
    return " or ".join(text.removesuffix(":00") for text in sorted(found))


def change_words(begin_s: float, end_s: float) -> str:
    """When the clocks change on the way, by the zones shown; empty where they do not."""
    parts = []
    for zone in zones_shown():
        low, high = int(begin_s // 60), int(end_s // 60)
        first, last = (datetime.fromtimestamp(60 * m, zone).utcoffset() for m in (low, high))
        if first == last:
            continue
        while high - low > 1:
            middle = (low + high) // 2
            same = datetime.fromtimestamp(60 * middle, zone).utcoffset() == first
            low, high = (middle, high) if same else (low, middle)
        before = datetime.fromtimestamp(60 * high - 1, zone)
        after = datetime.fromtimestamp(60 * high, zone)
        parts.append(
            f"The clocks of {zone} change on the way, at "
            f"{after.astimezone(UTC):%Y-%m-%dT%H:%MZ}: from {_letters(before)} to "
            f"{_letters(after)}."
        )
    return " ".join(parts)


def _letters(moment: datetime) -> str:
    """``CEST``; an offset where a zone has no letters."""
    name = moment.tzname() or ""
    return f"UTC{name}" if name[:1] in "+-" else name


def noted(provenance: dict[str, Any], departure_s: float, arrival_s: float | None) -> list[str]:
    """``local_words`` as a note, with the zones put into ``provenance``; empty without zones."""
    words = local_words(departure_s, arrival_s)
    if not words:
        return []
    provenance["zone"] = ", ".join(map(str, zones_shown()))
    return [words]


def local_words(departure_s: float, arrival_s: float | None) -> str:
    """Departure and arrival in full by local time, in a sentence; empty without zones."""
    zones = zones_shown()
    if not zones:
        return ""
    one = len(zones) == 1
    words = f"Local time ({zones[0]})" if one else "Local times"
    words += f": leaves {_in_full(departure_s, zones[0], named=not one)}"
    if arrival_s is None or arrival_s != arrival_s:
        return f"{words}."
    words += f", arrives {_in_full(arrival_s, zones[-1], named=not one)}."
    return f"{words} {change_words(departure_s, arrival_s)}".strip()


def departures_words(first_s: float, last_s: float) -> str:
    """First and last departure of a window by local time at departure."""
    zone = zones_shown()[0]
    return (
        f"Local time ({zone}): the first departure is {_in_full(first_s, zone, named=False)}, "
        f"the last {_in_full(last_s, zone, named=False)}."
    )


def _in_full(time_s: float, zone: ZoneInfo, *, named: bool) -> str:
    there = datetime.fromtimestamp(time_s, zone)
    offset = there.strftime("%z")
    place = f"{zone}, " if named else ""
    return f"{there:%a %d %b %Y %H:%M} ({place}UTC{offset[:3]}:{offset[3:5]})"
