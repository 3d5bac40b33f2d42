"""The size of a season before it starts: points, memory, time, disk."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, replace

import numpy as np

from passage.planning.season.departures import CODE_COLUMNS, COLUMNS
from passage.planning.season.setup import SeasonFiles, SeasonOptions, open_data, setup
from passage.planning.season.standing import COST_OF_WAY
from passage.planning.season.workers import BASE_MB, bearable, cores, worker_mb
from passage.units import HOUR_S, utc_text

MB = 1024.0**2
#: Points of a trial, fast and exact, and the number of trials spread over the years.
TRIAL_POINTS, EXACT_TRIAL_POINTS, TRIALS = 12_000, 200, 3
#: Speeds whose tables are made in a trial.
TRIAL_SPEEDS = 2
#: Time to start, open and do the statistics; time to write. Measured on one machine.
START_S, WRITE_S_PER_MB = 3.0, 0.025
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
    tables_s, point_s, slow = trial(files, options)
    tables_s *= len(made.speeds_m_s) / min(workers, len(made.speeds_m_s))
    ways = (2.0 + COST_OF_WAY * len(made.ways)) / made.sample_step if made.ways else 0.0
    seconds = START_S * (2.0 if workers > 1 else 1.0) + WRITE_S_PER_MB * results_mb
    worked_s = tables_s + made.points * point_s * (1.0 + ways) / min(workers, cores())
    alone = seconds + worked_s / slow
    seconds = slow * seconds + worked_s * crowding(workers, others, cores())
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


def trial(files: SeasonFiles, options: SeasonOptions) -> tuple[float, float, float]:
    """Seconds for the tables of a speed and for a point with its reading, on one core here.

    From a few departures spread over the years, since heavy seas take longer than light
    ones. The third number is the factor by which other work on this machine slows the run.
    """
    from passage.planning.season.jobs import DepartureJob
    from passage.planning.season.work import forget, work

    options = replace(
        options, lists_deg=(), ballast=None, speeds_kn=options.speeds_kn[:TRIAL_SPEEDS]
    )
    made = setup(files, options)
    points = made.points / made.departures_s.size
    wanted = EXACT_TRIAL_POINTS if options.directly else TRIAL_POINTS
    each = int(min(max(1.0, wanted / points), max(1, made.departures_s.size // TRIALS)))
    # As far apart as in the run, so that as much data is read for each departure.
    starts = np.linspace(0, made.departures_s.size - each, 2 * TRIALS + 1).astype(int)[1::2]
    job = DepartureJob(files, options, 0, each)

    def seconds(start: int) -> float:
        begun = time.perf_counter()
        work(replace(job, start=start, stop=start + each))
        return time.perf_counter() - begun

    begun, worked = time.perf_counter(), time.process_time()
    first = seconds(int(starts[0]))
    if not options.directly:
        # What is kept on disk is there for the run too; the rest is made again.
        forget()
        first = seconds(int(starts[0]))
    rate = float(np.mean([seconds(int(start)) for start in starts])) / (each * points)
    tables = 0.0 if options.directly else max(first - rate * each * points, 0.0)
    slow = (time.perf_counter() - begun) / max(time.process_time() - worked, 1e-3)
    return tables / len(made.speeds_m_s), rate, max(slow, 1.0)


def _took(hours: float) -> str:
    seconds = hours * HOUR_S
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if hours < 2.0 else f"{hours:.1f} h"


def estimate_text(found: Estimate) -> str:
    """The estimate as lines of text."""
    took = _took(found.hours)
    if found.hours > _BUSY * found.alone_hours > 0.0:
        took += f" while the machine is as busy as now ({_took(found.alone_hours)} if it were not)"
    many = f"{found.processes} process{'es' * (found.processes > 1)}"
    lines = [
        f"{found.passages} passages (route and speed) x {found.departures} departures, "
        f"{utc_text(found.first_s)} to {utc_text(found.last_s)}",
        f"{found.points} points in {found.blocks} blocks of {found.departures_per_block} "
        "departures",
        f"memory: {found.memory_mb:.0f} MB with {many}",
        f"time: about {took} with {many}, by some departures computed here just now",
        f"data to read: {found.read_gb:.2f} GB (unpacked)",
        f"disk: {found.disk_mb:.0f} MB for blocks and departures",
        f"the data run {utc_text(found.data_from_s)} to {utc_text(found.data_to_s)}",
    ]
    if found.fewer:
        lines.append(found.fewer)
    return "\n".join(lines) + "\n"
