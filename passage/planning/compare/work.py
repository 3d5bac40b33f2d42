"""Running the cells of a comparison on the cores there are."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.yacht import Yacht

R = TypeVar("R")


class OnTrack(Protocol):
    """Work that has a track, whose speeds need tables."""

    @property
    def track(self) -> Track:
        """The track."""


T = TypeVar("T", bound=OnTrack)
#: The compiled loops let go of Python's lock; beyond this many threads it holds them up.
MAX_THREADS = 4


def cores() -> int:
    """Cores this process may use, at most `MAX_THREADS`."""
    try:
        count = len(os.sched_getaffinity(0))
    except AttributeError:
        count = os.cpu_count() or 1
    return max(1, min(count, MAX_THREADS))


def run_tasks(
    yacht: Yacht,
    tasks: Sequence[T],
    work: Callable[[T], R],
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Results in the order of the tasks; the tables of all speeds are made first."""
    speeds = np.unique(np.concatenate([knots_to_m_s(task.track.speed_kn) for task in tasks]))
    total = len(tasks)
    if cores() == 1 or total == 1:
        results = []
        for done, task in enumerate(tasks, 1):
            results.append(work(task))
            if progress:
                progress(done, total)
        return results
    with ThreadPoolExecutor(cores()) as pool:
        # Two threads that want one table would both build it; so the tables come first.
        tables = [
            pool.submit(tables.table, float(speed))
            for speed in speeds
            for tables in (yacht.sea_tables, yacht.roll_tables)
        ]
        for one in tables:
            one.result()
        flying = {pool.submit(work, task): i for i, task in enumerate(tasks)}
        found: dict[int, R] = {}
        for future in as_completed(flying):
            found[flying[future]] = future.result()
            if progress:
                progress(len(found), total)
    return [found[i] for i in range(total)]
