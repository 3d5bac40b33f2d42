"""The size of a season before it starts: points, memory, time, disk."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passage.planning.season.departures import CODE_COLUMNS, COLUMNS
from passage.planning.season.setup import (
    SeasonFiles,
    SeasonOptions,
    longest_s,
    open_data,
    setup,
)
from passage.planning.season.workers import BASE_MB, bearable, cores, worker_mb
from passage.units import HOUR_S, utc_text

MB = 1024.0**2
#: Time to start, import and print what is no part of a trial; time to write. Measured on one
#: machine.
START_S, WRITE_S_PER_MB = 1.6, 0.025
#: A machine is called busy where that makes the run longer by this factor.
_BUSY = 1.25
#: Tables of one speed on disk, for partitions of one wind sea and any number of swells.
TABLE_MB = 9.0


@dataclass(frozen=True)
class Estimate:
    """Size of a run. ``hours`` is for the whole run, from departures computed in a trial.

    ``alone_hours`` is the same with no other work on the machine. ``processes`` is the number
    that would run, ``fewer`` why it is not the number asked for.
    """

    passages: int
    departures: int
    points: int
    blocks: int
    departures_per_block: int
    processes: int
    memory_mb: float
    hours: float
    read_gb: float
    disk_mb: float
    first_s: float
    last_s: float
    data_from_s: float
    data_to_s: float
    fewer: str = ""
    alone_hours: float = 0.0


def estimate(files: SeasonFiles, options: SeasonOptions, processes: int) -> Estimate:
    """Size of a run, from the headers of the files and a trial of a few departures.

    Raises
    ------
    PassageError
        As for the run itself.
    """
    from passage.planning.season.trial import trial
    from passage.planning.season.work import block_departures, read_bytes

    others = busy()
    made = setup(files, options)
    with open_data(made) as forecast:
        size = block_departures(made, forecast)
        data = (forecast.time_from_s, forecast.time_to_s)
        read = read_bytes(made, forecast)
    count = made.departures_s.size
    passages = len(made.passages)
    row_bytes = 4 * len(COLUMNS) + len(CODE_COLUMNS)
    blocks = -(-count // size)
    workers, fewer = bearable(processes, options.block_mb)
    if blocks < workers:
        workers, fewer = blocks, f"Of {processes} processes {blocks} would have a block to do."
    # Blocks, and the departures again as NetCDF and Parquet, hardly compressed.
    results_mb = 3.0 * passages * count * row_bytes / MB
    found = trial(files, options, made)
    side = min(workers, cores())
    hours = (made.departures_s[-1] - made.departures_s[0] + blocks * longest_s(made)) / HOUR_S
    # The process that leads does this alone.
    lead = START_S + found.opening + found.answer + WRITE_S_PER_MB * results_mb
    # Workers begin while it opens the data, and read vessel and routes themselves.
    work = found.speed * np.ceil(len(made.speeds_m_s) / side) + found.ready
    work += START_S + found.opening if workers > 1 else 0.0
    work += (count * found.departure + hours * found.reading) / side
    alone = lead + work
    seconds = found.slow * (lead + work * crowding(workers, others, cores()))
    return Estimate(
        passages=passages,
        departures=count,
        points=made.points,
        blocks=blocks,
        departures_per_block=size,
        processes=workers,
        fewer=fewer,
        memory_mb=workers * worker_mb(options.block_mb)
        + (BASE_MB if workers > 1 else 0.0)
        + 2.0 * passages * count * row_bytes / MB,
        hours=seconds / HOUR_S,
        alone_hours=alone / HOUR_S,
        read_gb=read / MB / 1024.0,
        disk_mb=results_mb + (0.0 if options.directly else TABLE_MB * len(made.speeds_m_s)),
        first_s=float(made.departures_s[0]),
        last_s=float(made.departures_s[-1]),
        data_from_s=data[0],
        data_to_s=data[1],
    )


def busy() -> float:
    """Processes that want a core in the last minute, before this one began to work."""
    try:
        return os.getloadavg()[0]
    except (AttributeError, OSError):  # not on this system
        return 0.0


def crowding(workers: int, others: float, count: int) -> float:
    """How many times longer work takes in each of some processes than in one alone.

    Beside ``others`` that want one of ``count`` cores too, all of them getting equal shares.
    """
    return max(1.0, (min(workers, count) + others) / count) / max(1.0, (1.0 + others) / count)


def _took(hours: float) -> str:
    seconds = hours * HOUR_S
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if hours < 2.0 else f"{hours:.1f} h"


def took_words(found: Sequence[Estimate]) -> str:
    """Time of one or more runs, one after the other; on an idle machine too where it differs."""
    hours, alone = sum(one.hours for one in found), sum(one.alone_hours for one in found)
    text = f"about {_took(hours)}"
    if hours > _BUSY * alone > 0.0:
        text += f" if the machine stays as busy as now ({_took(alone)} if idle)"
    return text


def estimate_text(found: Estimate) -> str:
    """The estimate as lines of text."""
    many = f"{found.processes} process{'es' * (found.processes > 1)}"
    lines = [
        f"{found.passages} passages (route and speed) x {found.departures} departures, "
        f"{utc_text(found.first_s)} to {utc_text(found.last_s)}",
        f"{found.points} points in {found.blocks} block{'s' * (found.blocks != 1)} of "
        f"{min(found.departures_per_block, found.departures)} departures",
        f"memory: {found.memory_mb:.0f} MB with {many}",
        f"time with {many}: {took_words([found])}, by a trial of all its parts just now",
        f"data to read: {found.read_gb:.2f} GB (unpacked)",
        f"disk: {found.disk_mb:.0f} MB for blocks and departures",
        f"the data run {utc_text(found.data_from_s)} to {utc_text(found.data_to_s)}",
    ]
    if found.fewer:
        lines.append(found.fewer)
    return "\n".join(lines) + "\n"
