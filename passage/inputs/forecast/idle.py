"""Files that were given but hold no hour that the passage needs, in words."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from passage.units import utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast.group import Group

#: More files than this are counted, not named.
_MOST_FILES = 4


def idle_notes(
    groups: Iterable[Group], asked_s: tuple[float | None, float | None]
) -> tuple[str, ...]:
    """A sentence on files none of whose hours is needed from ``asked_s`` to ``asked_s`` [s].

    The hours needed are those between, the last before and the first after. A file that
    does not change in time is always needed; without both times nothing is reported.
    """
    first, last = asked_s
    if first is None or last is None:
        return ()
    held: dict[str, list[float]] = {}
    used: set[str] = set()
    for group in groups:
        every = [piece for one in group.series.values() for piece in one.pieces]
        time = np.asarray(group.time_s, float)
        if time.size < 2:
            # One time may be held for longer; where it is not, the waves are refused and
            # a flow is missing, each in words of its own.
            used.update(piece.file for piece in every)
            continue
        needed = bool(time[-1] >= first and time[0] <= last)
        since = np.max(time[time <= first], initial=-np.inf)
        until = np.min(time[time >= last], initial=np.inf)
        for piece in every:
            if piece.times is None:
                used.add(piece.file)
                continue
            times = piece.times.time_s.ravel()
            held.setdefault(piece.file, []).extend((float(times.min()), float(times.max())))
            if needed and np.any((times >= since) & (times <= until)):
                used.add(piece.file)
    idle = [
        f"{Path(file).name} ({utc_text(min(ends))} to {utc_text(max(ends))})"
        for file, ends in held.items()
        if file not in used
    ]
    if not idle:
        return ()
    more = ", ..." if idle[_MOST_FILES:] else ""
    count = "1 file holds" if len(idle) == 1 else f"{len(idle)} files hold"
    return (
        f"{count} no hour of the passage ({utc_text(first)} to {utc_text(last)}): not used: "
        f"{', '.join(idle[:_MOST_FILES])}{more}",
    )
