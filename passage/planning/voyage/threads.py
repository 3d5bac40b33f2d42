"""Work in threads, on the available cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from typing import TypeVar

Item = TypeVar("Item")
R = TypeVar("R")

#: The compiled loops release Python's lock; with more threads than this it slows them down.
MAX_THREADS = 4


def cores() -> int:
    """Number of cores that this process may use, at most `MAX_THREADS`."""
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
    """Results in the order of the items.

    Tables that the work needs should exist already, or threads would wait for each other.
    ``progress`` is called with the number done and the total.
    """
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


@contextmanager
def meanwhile(work: Callable[[], R]) -> Iterator[Callable[[], R]]:
    """Do some work beside what the block does; what is given waits for the result.

    On one core it is done when the result is asked for.
    """
    if cores() == 1:
        yield work
        return
    with ThreadPoolExecutor(1) as pool:
        yield pool.submit(work).result
