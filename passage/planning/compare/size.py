"""The size of a comparison, checked before it begins."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from passage.errors import PassageError

if TYPE_CHECKING:
    from passage.planning.compare.cell import CellTask
    from passage.planning.compare.compare import CompareOptions

#: More combinations than this come from a mistyped window.
MAX_COMBINATIONS = 200_000
#: Most points: departures times segments of one route and speed. Each takes 1.5 kB.
MAX_POINTS = 1_000_000


def check_size(tasks: Sequence[CellTask], options: CompareOptions) -> None:
    """Refuse a comparison too large for the machine, before it begins.

    Raises
    ------
    PassageError
        Names the size, the limit, and the options that make it smaller.
    """
    leaving = len(options.departures_s)
    count = leaving * len(tasks) * len(options.fins)
    if count > MAX_COMBINATIONS:
        raise PassageError(
            f"{leaving} departures, {len(tasks)} routes and speeds, {len(options.fins)} uses of "
            f"the fins: {count} combinations, more than {MAX_COMBINATIONS}. Give a longer "
            "--every, a shorter window, or fewer speeds."
        )
    longest = max((len(task.track) for task in tasks), default=0)
    if leaving * longest > MAX_POINTS:
        raise PassageError(
            f"{leaving} departures along {longest} segments of {options.minutes:g} minutes are "
            f"{leaving * longest} points, more than {MAX_POINTS}. Give a longer --every, a "
            "shorter window, or more --minutes."
        )
