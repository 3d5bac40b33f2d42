"""Running the cells of a comparison on the cores there are."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.yacht import Yacht

Item = TypeVar("Item")
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


def in_threads(
    items: Iterable[Item],
    work: Callable[[Item], R],
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Results in the order of the items; tables that the work needs are made already."""
    asked = list(items)
    if cores() == 1 or len(asked) < 2:
        results = []
        for done, item in enumerate(asked, 1):
            results.append(work(item))
            if progress:
                progress(done, len(asked))
        return results
    with ThreadPoolExecutor(cores()) as pool:
        flying = {pool.submit(work, item): i for i, item in enumerate(asked)}
        found: dict[int, R] = {}
        for future in as_completed(flying):
            found[flying[future]] = future.result()
            if progress:
                progress(len(found), len(asked))
    return [found[i] for i in range(len(asked))]


def run_tasks(
    yacht: Yacht,
    tasks: Sequence[T],
    work: Callable[[T], R],
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Results in the order of the tasks; the tables of all speeds are made first."""
    speeds = np.unique(np.concatenate([knots_to_m_s(task.track.speed_kn) for task in tasks]))
    if cores() > 1 and len(tasks) > 1:
        # Two threads that want one table would both build it; so the tables come first.
        in_threads(
            [(t, float(speed)) for speed in speeds for t in (yacht.sea_tables, yacht.roll_tables)],
            lambda one: one[0].table(one[1]),
        )
    return in_threads(tasks, work, progress)
