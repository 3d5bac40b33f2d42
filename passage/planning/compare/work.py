"""Runs the cells of a comparison on all cores."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from passage.planning.voyage.threads import cores, in_threads
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.yacht import Yacht

R = TypeVar("R")


class OnTrack(Protocol):
    """Work with a track, for whose speeds tables are made."""

    @property
    def track(self) -> Track:
        """The track."""


T = TypeVar("T", bound=OnTrack)


def run_tasks(
    yacht: Yacht,
    tasks: Sequence[T],
    work: Callable[[T], R],
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Results in the order of the tasks; the tables of all speeds are made first."""
    speeds = np.unique(np.concatenate([knots_to_m_s(task.track.speed_kn) for task in tasks]))
    if cores() > 1 and len(tasks) > 1:
        # Two threads that need the same table would both build it, so tables come first.
        in_threads(
            [(t, float(speed)) for speed in speeds for t in (yacht.sea_tables, yacht.roll_tables)],
            lambda one: one[0].table(one[1]),
        )
    return in_threads(tasks, work, progress)
