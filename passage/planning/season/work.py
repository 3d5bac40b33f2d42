"""One block of a season: the departures of some days on every route and speed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from passage.errors import PassageError
from passage.inputs.forecast import Forecast
from passage.inputs.forecast.group import Group
from passage.inputs.hindcast.hindcast import (
    CellSet,
    Corners,
    cell_runs,
    cells_of,
    corners_of,
    hours_between,
    read_cells,
)
from passage.physics.tables.cell_sampling import CellRuns, with_calm
from passage.planning.season.blocks import read_block
from passage.planning.season.direct import PointValues, direct_points
from passage.planning.season.jobs import DepartureJob, TableJob
from passage.planning.season.segments import TrackData
from passage.planning.season.setup import (
    SeasonFiles,
    SeasonOptions,
    Setup,
    forget_setup,
    harbour_of,
    longest_s,
    open_data,
    setup,
)
from passage.planning.season.tables import SeasonTables, Shape, fixed_shapes, integrate
from passage.planning.season.ways import (
    CHUNK_POINTS,
    Fast,
    Rows,
    ballasted_tables,
    exact_ways,
    numbers_of,
    sampled,
    ways_of,
)
from passage.units import HOUR_S

#: Least number of blocks of a run, if it has that many departures.
LEAST_BLOCKS = 16
MB = 1024.0**2


def fast_groups(forecast: Forecast) -> dict[str, Group] | None:
    """Groups of fields for the fast computation; None where it does not apply."""
    groups = forecast.groups
    if "spectrum" in groups or forecast.n_members > 1:
        return None
    if fixed_shapes(forecast.wave_plan) is None:
        return None
    return {name: groups[name] for name in ("waves", "wind", "current") if name in groups}


def block_departures(made: Setup, forecast: Forecast) -> int:
    """Departures of one block: as many as fit in memory, whatever the number of processes."""
    count = made.departures_s.size
    most = max(1, -(-count // LEAST_BLOCKS))
    groups = fast_groups(forecast)
    if groups is None or made.options.directly:
        return min(most, 64)
    per_hour = sum(_bytes_per_second(made, group) for group in groups.values()) * HOUR_S
    hours = made.options.block_mb * MB / per_hour - longest_s(made) / HOUR_S
    fits = int(hours / made.options.every_h)
    return int(np.clip(fits, 1, most))


def read_bytes(made: Setup, forecast: Forecast) -> float:
    """Bytes of fields kept in memory over the run; the files themselves differ."""
    groups = fast_groups(forecast) or {}
    span = made.departures_s[-1] - made.departures_s[0]
    size = block_departures(made, forecast)
    blocks = -(-made.departures_s.size // size)
    seconds = span + blocks * longest_s(made)
    return seconds * sum(_bytes_per_second(made, group) for group in groups.values())


def _bytes_per_second(made: Setup, group: Group) -> float:
    cells = cells_of(group, _corners(made, group)).size
    time = group.time_s
    step = float(np.median(np.diff(time))) if time.size > 1 else HOUR_S
    return cells * group.n_fields * 4 / step


def _corners(made: Setup, group: Group) -> list[Corners]:
    return [corners_of(group, p.track.lat_deg, p.track.lon_deg) for p in made.passages]


def _opened(made: Setup, mark: str) -> Forecast:
    """The hindcast, kept open for the next block of this worker: opening checks each file."""
    stamps = []
    for path in made.files.forecasts:
        try:
            found = Path(path).stat()
        except OSError:  # its reader gives the message
            continue
        stamps.append((found.st_size, found.st_mtime_ns, found.st_ino))
    return _opened_as(made.files, made.options, made.content, mark, tuple(stamps))


@lru_cache(maxsize=1)
def _opened_as(
    files: SeasonFiles,
    options: SeasonOptions,
    content: str,
    mark: str,
    stamps: tuple[tuple[int, int, int], ...],
) -> Forecast:
    return open_data(setup(files, options))


def _setup_for(job: DepartureJob | TableJob) -> Setup:
    """Vessel and routes, the same as when the run began.

    Raises
    ------
    PassageError
        A file has changed since.
    """
    made = setup(job.files, job.options)
    if job.content and made.content != job.content:
        raise PassageError(
            f"{job.files.vessel} or a route file was changed after the run began. "
            "Give the command again with another folder."
        )
    return made


def table_shapes(made: Setup, forecast: Forecast) -> tuple[Shape, ...]:
    """Spectral shapes for the tables of the fast computation; empty where it does not apply."""
    if made.options.directly or fast_groups(forecast) is None:
        return ()
    fixed = fixed_shapes(forecast.wave_plan)
    return () if fixed is None else fixed[0]


@lru_cache(maxsize=2)
def _tables(
    files: SeasonFiles,
    options: SeasonOptions,
    shapes: tuple[Shape, ...],
    folder: str,
    mark: str,
    numbers: tuple[tuple[float, int], ...],
    content: str,
) -> SeasonTables:
    """Tables of the vessel, kept for the next block of this worker."""
    number = dict(numbers)

    def find(speed_m_s: float) -> Rows | None:
        return read_block(Path(folder), number[speed_m_s], mark) if speed_m_s in number else None

    return SeasonTables(setup(files, options).passages[0].yacht, shapes, find)


def forget() -> None:
    """Clear what is kept for the next block, as in a new process."""
    _opened_as.cache_clear()
    _tables.cache_clear()
    ballasted_tables.cache_clear()
    forget_setup()


def work(job: DepartureJob | TableJob) -> Rows:
    """Rows ``(passages, departures)`` of one block, or tables; a pure function of its job."""
    # The last bit of a matrix product depends on the number of threads, which differs
    # between a shell, a worker and a cluster.
    with threadpool_limits(limits=1, user_api="blas"):
        return _work(job)


def _work(job: DepartureJob | TableJob) -> Rows:
    if isinstance(job, TableJob):
        yacht = _setup_for(job).passages[0].yacht
        return integrate(yacht, job.speed_m_s, job.shapes)
    files, options = job.files, job.options
    made = _setup_for(job)
    departures = made.departures_s[job.start : job.stop]
    until = float(departures[-1]) + longest_s(made)
    sea = _opened(made, job.mark)
    groups = None if options.directly else fast_groups(sea)
    if groups is None:
        return _exact(made, sea, departures, sampled(made, job.start, job.stop))
    fixed = fixed_shapes(sea.wave_plan)
    assert fixed is not None
    shapes, systems = fixed
    plan = sea.wave_plan
    assert plan is not None
    tables = _tables(files, options, shapes, job.folder, job.mark, job.tables, made.content)
    loaded = {
        name: _load(made, group, float(departures[0]), until) for name, group in groups.items()
    }
    harbour = harbour_of(made)
    if harbour is not None:
        loaded["waves"] = [
            with_calm(runs, harbour.holds(p.track.lat_deg, p.track.lon_deg))
            for runs, p in zip(loaded["waves"], made.passages, strict=True)
        ]
    parts = []
    some = sampled(made, job.start, job.stop)
    for p, passage in enumerate(made.passages):
        data = TrackData(
            waves=loaded["waves"][p],
            wind=loaded["wind"][p] if "wind" in loaded else None,
            current=loaded["current"][p] if "current" in loaded else None,
            systems=systems,
            plan=plan,
        )

        fast = Fast(passage, tables, data, options)
        rows = _rows(passage, departures, fast.points)
        if some.size:
            rows |= ways_of(made, passage, rows, departures, some, fast.ways)
        parts.append(rows)
    return _stacked(parts)


def read_only(job: DepartureJob) -> None:
    """Read the data of a block, to see how long that takes."""
    made = _setup_for(job)
    sea = _opened(made, job.mark)
    from_s, last_s = (float(made.departures_s[i]) for i in (job.start, job.stop - 1))
    for group in (fast_groups(sea) or {}).values():
        _load(made, group, from_s, last_s + longest_s(made))


def _load(made: Setup, group: Group, from_s: float, until_s: float) -> list[CellRuns]:
    """Read the cells of all tracks once; return them as each track needs them."""
    corners = _corners(made, group)
    cells: CellSet = cells_of(group, corners)
    hours = hours_between(group, from_s, until_s)
    data = read_cells(group, cells, hours)
    return [cell_runs(group, cells, data, hours, one) for one in corners]


def _exact(
    made: Setup,
    sea: Forecast,
    departures: npt.NDArray[np.float64],
    some: npt.NDArray[np.intp],
) -> Rows:
    """Rows with every point computed as in a plan."""
    parts = []
    options = made.options
    for passage in made.passages:

        def points(at: npt.NDArray[np.float64], passage=passage) -> PointValues:  # type: ignore[no-untyped-def]
            return direct_points(passage, sea, at, options.heel, options.wave_method)

        rows = _rows(passage, departures, points)
        if some.size:
            sail = exact_ways(made, passage, sea)
            rows |= ways_of(made, passage, rows, departures, some, sail)
        parts.append(rows)
    return _stacked(parts)


def _rows(passage: Any, departures: npt.NDArray[np.float64], points: Any) -> Rows:
    size = max(1, CHUNK_POINTS // len(passage.track))
    rows = []
    for at in range(0, departures.size, size):
        rows.append(numbers_of(passage, points(departures[at : at + size])))
    return {name: np.concatenate([r[name] for r in rows]) for name in rows[0]}


def _stacked(parts: Sequence[Rows]) -> Rows:
    return {name: np.stack([part[name] for part in parts]) for name in parts[0]}
