"""Words for hours that no file gives: what each file holds, and the rule that joins them."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from passage.inputs.forecast.group import LONGEST_STEP_H, USUAL_LONGEST_STEP_H
from passage.units import utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast.forecast import Forecast
    from passage.inputs.forecast.group import Group

#: More files than this are described by the hours of all of them together.
_MOST_FILES = 4

#: When hours count as too far apart, and what to do.
RULE = (
    f"Nothing is interpolated over more than {USUAL_LONGEST_STEP_H:g} hours "
    f"({LONGEST_STEP_H['current']:g} for a current), over three times the usual step, or between "
    "runs that do not meet"
)
FETCH = "fetch the hours between, of one run"


def gap_words(forecast: Forecast) -> str:
    """When the waves are given, the rule, and what to do, for a passage between their hours."""
    groups = forecast.groups
    held = hours_held(groups.get("waves") or groups["spectrum"])
    return (
        f"the waves are given for {held}. {RULE}: leave within the hours of one file, or {FETCH}."
    )


def hours_held(group: Group) -> str:
    """``a.nc 2026-03-14T00:00Z to 2026-03-14T06:00Z, b.nc ...``; runs of hours for many files."""
    files: dict[str, list[float]] = {}
    for one in group.series.values():
        for piece in one.pieces:
            if piece.times is not None:
                files.setdefault(piece.file, []).extend(piece.times.time_s.ravel())
    if 0 < len(files) <= _MOST_FILES:
        ends = sorted((min(times), max(times), name) for name, times in files.items())
        return ", ".join(f"{name} {_span(first, last)}" for first, last, name in ends)
    time = group.time_s
    edges = [0, *(i + 1 for i, gap in enumerate(group.frame.gap) if gap), time.size]
    spans = [_span(time[a], time[b - 1]) for a, b in pairwise(edges)]
    return ", ".join(spans[:_MOST_FILES]) + (", ..." if spans[_MOST_FILES:] else "")


def _span(first: float, last: float) -> str:
    return utc_text(first) if first == last else f"{utc_text(first)} to {utc_text(last)}"
