"""A season cut into jobs: the tables of each speed, then departures in blocks."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from passage.planning.season.blocks import Block
from passage.planning.season.setup import SeasonFiles, SeasonOptions, Setup


@dataclass(frozen=True)
class DepartureJob:
    """Departures ``start`` to ``stop`` of every passage.

    Tables of the yacht already made are in the folder of the run, a block for each speed; a
    worker on another machine, without that folder, makes its own. ``content`` is the digest
    of the files that the run began with: a worker that reads others refuses.
    """

    files: SeasonFiles
    options: SeasonOptions
    start: int
    stop: int
    folder: str = ""
    mark: str = ""
    tables: tuple[tuple[float, int], ...] = ()
    content: str = ""


@dataclass(frozen=True)
class TableJob:
    """Tables of the yacht at one speed. [m/s]"""

    files: SeasonFiles
    options: SeasonOptions
    speed_m_s: float
    shapes: tuple[tuple[float, float], ...]
    content: str = ""


def make_blocks(
    made: Setup,
    size: int,
    shapes: tuple[tuple[float, float], ...] = (),
    folder: Path | None = None,
    mark: str = "",
) -> tuple[list[Block], list[Block]]:
    """Blocks of ``size`` departures, and the blocks of the tables that they read."""
    starts = range(0, made.departures_s.size, size)
    files, options = made.files, made.options
    speeds = made.speeds_m_s if shapes and folder is not None else ()
    numbers = tuple((speed, len(starts) + i) for i, speed in enumerate(speeds))
    place = "" if folder is None else str(folder.resolve())
    departures = [
        DepartureJob(
            files,
            options,
            at,
            min(at + size, made.departures_s.size),
            place,
            mark,
            numbers,
            made.content,
        )
        for at in starts
    ]
    first = [
        Block(n, TableJob(files, options, speed, shapes, made.content)) for speed, n in numbers
    ]
    return [Block(n, job) for n, job in enumerate(departures)], first
