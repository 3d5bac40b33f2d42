"""What a season will take, before it starts: points, memory, hours, disk."""

from __future__ import annotations

from dataclasses import dataclass

from passage.planning.season.departures import CODE_COLUMNS, COLUMNS
from passage.planning.season.setup import SeasonFiles, SeasonOptions, open_data, setup
from passage.planning.season.workers import BASE_MB, bearable, worker_mb
from passage.units import HOUR_S, utc_text

MB = 1024.0**2
#: Seconds a point takes on one core: the fast way and the exact one. Measured
#: (docs/season.md) on one machine; yours will differ by a factor of two either way.
FAST_S, EXACT_S = 1.4e-6, 60e-6
#: Tables of one speed on disk, for partitions of one wind sea and any number of swells.
TABLE_MB = 9.0


@dataclass(frozen=True)
class Estimate:
    """Size of a run. ``hours`` is computing alone, without reading.

    ``processes`` are those that would run, ``fewer`` why they are not those asked for.
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


def estimate(files: SeasonFiles, options: SeasonOptions, processes: int) -> Estimate:
    """Size of a run, from the headers of the files alone."""
    from passage.planning.season.work import block_departures, read_bytes

    made = setup(files, options)
    with open_data(made) as forecast:
        size = block_departures(made, forecast)
        data = (forecast.time_from_s, forecast.time_to_s)
        read = read_bytes(made, forecast)
    count = made.departures_s.size
    passages = len(made.passages)
    row_bytes = 4 * len(COLUMNS) + len(CODE_COLUMNS)
    each = EXACT_S if options.directly else FAST_S
    blocks = -(-count // size)
    workers, fewer = bearable(processes, options.block_mb)
    if blocks < workers:
        workers, fewer = blocks, f"Of {processes} processes {blocks} would have a block to do."
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
        hours=made.points * each / workers / HOUR_S,
        read_gb=read / MB / 1024.0,
        # Blocks, and the departures once more as NetCDF and Parquet, hardly compressed.
        disk_mb=3.0 * passages * count * row_bytes / MB
        + (0.0 if options.directly else TABLE_MB * len(made.speeds_m_s)),
        first_s=float(made.departures_s[0]),
        last_s=float(made.departures_s[-1]),
        data_from_s=data[0],
        data_to_s=data[1],
    )


def estimate_text(found: Estimate) -> str:
    """The same in words, a line each."""
    seconds = found.hours * HOUR_S
    time = f"{seconds:.0f} s" if seconds < 120 else f"{found.hours:.2f} h"
    many = f"{found.processes} process{'es' * (found.processes > 1)}"
    lines = [
        f"{found.passages} passages (route and speed) x {found.departures} departures, "
        f"{utc_text(found.first_s)} to {utc_text(found.last_s)}",
        f"{found.points} points in {found.blocks} blocks of {found.departures_per_block} "
        "departures",
        f"memory: {found.memory_mb:.0f} MB with {many}",
        f"time: {time} of computing with {many}, by what was measured "
        "elsewhere; reading comes on top",
        f"data to read: {found.read_gb:.2f} GB (unpacked)",
        f"disk: {found.disk_mb:.0f} MB for blocks and departures",
        f"the data run {utc_text(found.data_from_s)} to {utc_text(found.data_to_s)}",
    ]
    if found.fewer:
        lines.append(found.fewer)
    return "\n".join(lines) + "\n"
