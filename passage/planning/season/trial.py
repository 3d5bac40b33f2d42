"""A trial of a season: every part of its work done once in small, and timed."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from passage.planning.season.blocks import Block, read_block, write_block
from passage.planning.season.jobs import DepartureJob, make_blocks
from passage.planning.season.season import answers
from passage.planning.season.setup import (
    SeasonFiles,
    SeasonOptions,
    Setup,
    longest_s,
    open_data,
    setup,
)
from passage.planning.season.standing import KEPT
from passage.planning.season.work import block_departures, forget, read_only, table_shapes, work
from passage.units import HOUR_S

Arrays = dict[str, npt.NDArray[Any]]
Found = TypeVar("Found")

#: Points of a trial, fast and exact, and the number of trials spread over the years.
TRIAL_POINTS, EXACT_TRIAL_POINTS, TRIALS = 8_000, 200, 6
#: Speeds whose tables are made in a trial.
TRIAL_SPEEDS = 2
#: Most departures of the statistics of a trial.
MOST_ROWS = 20_000
#: Time of a trial, over that of the others, from which it is done again.
_ODD = 2.0
_MARK = "0" * 32


@dataclass(frozen=True)
class Trial:
    """What the parts of a run take on one core of this machine. [s]

    ``opening`` is reading the vessel, the routes and the headers; ``speed`` the tables of a
    speed, once; ``ready`` what each process needs before its first block; ``reading`` the data
    of an hour; ``departure`` one departure on every route and speed, with its ways of living
    with a list; ``answer`` the statistics and prices. ``slow`` is the factor by which other
    work slows the run.
    """

    opening: float
    speed: float
    ready: float
    reading: float
    departure: float
    answer: float
    slow: float


def trial(files: SeasonFiles, options: SeasonOptions, whole: Setup) -> Trial:
    """Do a little of every part of the run ``whole``."""
    options = replace(options, speeds_kn=options.speeds_kn[:TRIAL_SPEEDS])
    with tempfile.TemporaryDirectory(prefix="passage-trial-") as place:
        folder = Path(place)
        (folder / "blocks").mkdir()
        # What is compiled or kept on disk the first time is there for the run too.
        made, size, tables, job = _opened(files, options, folder)
        each, starts = places(made, size)
        work(replace(job, start=starts[0], stop=starts[0] + each))
        forget()
        begun, worked = time.perf_counter(), time.process_time()
        (made, size, tables, job), opening = timed(lambda: _opened(files, options, folder))
        speed = 0.0
        for block in tables:
            found, took = timed(lambda block=block: work(block.job))  # type: ignore[misc]
            write_block(folder, block.number, _MARK, found)
            speed += took / len(tables)
        _, ready = timed(lambda: work(job))
        rows: list[Arrays] = []
        departures: list[float] = []
        reading: list[float] = []
        hours = (each - 1) * options.every_h + longest_s(made) / HOUR_S
        for at, start in enumerate(starts):
            here = replace(job, start=start, stop=start + each)
            found, took = timed(lambda at=at, here=here: _block(folder, at, here))  # type: ignore[misc]
            if took > _ODD * each * np.median(departures or [np.inf]):
                # Something was compiled, which the run finds ready; or the sea is heavy.
                found, took = timed(lambda at=at, here=here: _block(folder, at, here))  # type: ignore[misc]
            _, read = timed(lambda here=here: read_only(here))  # type: ignore[misc]
            rows.append(found)
            reading.append(read / hours)
            departures.append(max(took - read, 0.0) / each)
        departure, hour = float(np.mean(departures)), float(np.mean(reading))
        ready = max(ready - departure - hour * longest_s(made) / HOUR_S, 0.0)
        _, answer = timed(lambda: _answer(made, rows))
        answer *= max(1.0, made.departures_s.size / MOST_ROWS)
        slow = (time.perf_counter() - begun) / max(time.process_time() - worked, 1e-3)
    many = len(whole.passages) / len(made.passages)
    return Trial(
        opening=opening,
        speed=speed,
        ready=ready * len(whole.speeds_m_s) / max(len(made.speeds_m_s), 1),
        reading=hour,
        departure=departure * many,
        answer=answer * many,
        slow=max(slow, 1.0),
    )


def timed(do: Callable[[], Found]) -> tuple[Found, float]:
    """What a function returns, and the computing time it took. [s]"""
    begun = time.process_time()
    found = do()
    return found, time.process_time() - begun


def _opened(
    files: SeasonFiles, options: SeasonOptions, folder: Path
) -> tuple[Setup, int, list[Block], DepartureJob]:
    """What a run reads first, its departures a block, blocks of tables and first departure."""
    made = setup(files, options)
    with open_data(made) as forecast:
        size = block_departures(made, forecast)
        shapes = table_shapes(made, forecast)
    blocks, tables = make_blocks(made, size, shapes, folder, _MARK)
    return made, size, tables, replace(blocks[0].job, start=0, stop=1)


def places(made: Setup, size: int) -> tuple[int, list[int]]:
    """Departures of one trial, and where each begins, spread over the years."""
    count = made.departures_s.size
    exact = made.options.directly
    wanted = (EXACT_TRIAL_POINTS if exact else TRIAL_POINTS) * count / made.points
    each = min(size, max(1, round(wanted)))
    if made.ways and not exact and each < size:
        # As many departures in every way as in the run.
        step = made.sample_step
        each = min(step * max(1, round(each / step)), size)
    blocks = max(1, count // each)
    picked = np.linspace(0, blocks, 2 * min(TRIALS, blocks) + 1)[1::2].astype(int)
    return each, (each * np.unique(np.minimum(picked, blocks - 1))).tolist()


def _block(folder: Path, number: int, job: DepartureJob) -> Arrays:
    """One block computed, kept and read again."""
    write_block(folder, number, _MARK, work(job))
    return read_block(folder, number, _MARK) or {}


def _answer(made: Setup, rows: Sequence[Arrays]) -> None:
    """The statistics and prices of a whole run, with the rows of some blocks over and over."""
    count = min(made.departures_s.size, MOST_ROWS)
    times = made.departures_s[:count]
    joined = {name: np.concatenate([r[name] for r in rows], axis=-1) for name in rows[0]}

    def filled(name: str, size: int) -> npt.NDArray[Any]:
        return np.take(joined[name], np.arange(size) % joined[name].shape[-1], axis=-1)

    numbers = {name: filled(name, count) for name in joined if not name.startswith("way_")}
    sailed = times[:: made.sample_step]
    if f"way_{KEPT[0]}" not in joined or not joined[f"way_{KEPT[0]}"].shape[-1]:
        sailed = sailed[:0]
    ways = {name: filled(f"way_{name}", sailed.size) for name in KEPT if sailed.size}
    answers(made, numbers, ways, sailed)
