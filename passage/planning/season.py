"""``passage season``: routes x speeds x departures over years of hindcast.

A run is cut into blocks of departures, sized by memory; a block does every route and
speed for its departures, so that the data of its days are read once. Finished blocks
lie in the output folder with checksums (``blocks.py``), and the tables are made from
them when all are there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage import __version__
from passage.errors import ForecastError, PassageError
from passage.inputs.forecast import Forecast, read_map
from passage.inputs.hindcast import open_hindcast
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.planning.blocks import (
    MANIFEST,
    Block,
    RunReport,
    begin_workers,
    open_run,
    read_block,
    run_blocks,
)
from passage.planning.cautions import LIMIT_KEYS
from passage.planning.plan import Passage, PlanOptions, passage_seconds, prepare
from passage.planning.result import utc_text
from passage.planning.season_heel import TransferPrice, transfer_price
from passage.planning.season_march import track_speeds_m_s
from passage.planning.season_rows import CODE_COLUMNS, COLUMNS
from passage.planning.season_stats import statistics
from passage.planning.totals import fuel_aboard_note
from passage.units import HOUR_S, knots_to_m_s

Array = npt.NDArray[np.float64]
Say = Callable[[str], None]
MB = 1024.0**2
#: Points whose result does not fit the estimate of time; measured on one core.
DEFAULT_BLOCK_MB = 200.0


@dataclass(frozen=True)
class SeasonFiles:
    """What a season is computed from, as text so that it travels to workers."""

    routes: tuple[str, ...]
    vessel: str
    forecasts: tuple[str, ...]
    name_map: str | None = None


@dataclass(frozen=True)
class SeasonOptions:
    """The user's choices, in the units of the command line.

    ``speeds_kn`` empty: each route's own speed. ``block_mb`` is the memory that the
    data of one block may take.
    """

    from_s: float
    to_s: float
    every_h: float = 6.0
    speeds_kn: tuple[float, ...] = ()
    heel: str = "fins"
    wave_method: str = "all-heading"
    minutes: float = 20.0
    block_mb: float = DEFAULT_BLOCK_MB
    exact: bool = False


@dataclass(frozen=True)
class Setup:
    """Everything read but the hindcast: one passage for each route and speed."""

    files: SeasonFiles
    options: SeasonOptions
    passages: tuple[Passage, ...]
    departures_s: Array = field(repr=False)

    @property
    def labels(self) -> list[dict[str, Any]]:
        """Route name and speed of each passage."""
        return [{"route": p.route.name, "speed_kn": p.speed_kn} for p in self.passages]

    @property
    def speeds_m_s(self) -> tuple[float, ...]:
        """Speeds through the water that the passages run at; 0 where one stays."""
        found = [track_speeds_m_s(p.track) for p in self.passages]
        return tuple(float(v) for v in np.unique(np.round(np.concatenate(found), 9)))

    @property
    def points(self) -> int:
        """Points of the whole run."""
        return self.departures_s.size * sum(len(p.track) for p in self.passages)


@dataclass(frozen=True)
class SeasonResult:
    """Rows and statistics of a finished run.

    ``rows`` maps the columns of ``season_rows`` to arrays ``(passages, departures)``;
    departures of bad blocks have status -1.
    """

    labels: list[dict[str, Any]]
    departures_s: Array
    rows: dict[str, npt.NDArray[Any]]
    records: list[dict[str, Any]]
    transfer: TransferPrice
    report: RunReport
    provenance: dict[str, Any]
    notes: tuple[str, ...]


def departure_times(from_s: float, to_s: float, every_h: float) -> Array:
    """Departures from ``from_s``, every so many hours, up to ``to_s``. [s]"""
    step = every_h * HOUR_S
    count = int(np.floor((to_s - from_s) / step + 1e-9)) + 1
    if count < 1:
        raise PassageError(
            f"--from {utc_text(from_s)} lies after --to {utc_text(to_s)}. Exchange them."
        )
    return np.asarray(from_s + step * np.arange(count), dtype=float)


@lru_cache(maxsize=2)
def setup(files: SeasonFiles, options: SeasonOptions) -> Setup:
    """Read vessel and routes; kept, because every block of a worker needs it."""
    vessel = read_vessel(Path(files.vessel))
    passages = []
    for path in files.routes:
        route = read_route(Path(path))
        for speed in options.speeds_kn or (None,):
            choice = PlanOptions(options.from_s, speed_kn=speed, minutes=options.minutes)
            passages.append(prepare(vessel, route, choice))
    # One vessel: her tables serve every passage.
    yacht = passages[0].yacht
    for passage in passages:
        yacht.pin(*np.unique(knots_to_m_s(passage.track.speed_kn)))
    passages = [replace(passage, yacht=yacht) for passage in passages]
    names = [p.route.name for p in passages]
    if len(set(zip(names, (p.speed_kn for p in passages), strict=True))) < len(passages):
        # Two files may hold routes of one name; the file tells them apart.
        passages = [
            replace(p, route=replace(p.route, name=f"{p.route.name} ({Path(p.route.path).name})"))
            for p in passages
        ]
    times = departure_times(options.from_s, options.to_s, options.every_h)
    return Setup(files, options, tuple(passages), times)


def open_data(made: Setup) -> Forecast:
    """Open the hindcast, reading no field yet."""
    return open_hindcast([Path(p) for p in made.files.forecasts], _names(made))


def _names(made: Setup) -> dict[str, str] | None:
    names = dict(made.passages[0].vessel.forecast_names)
    if made.files.name_map is not None:
        names |= read_map(Path(made.files.name_map))
    return names or None


def longest_s(made: Setup) -> float:
    """Generous length of the longest passage. [s]"""
    return max(passage_seconds(p) for p in made.passages)


def describe(made: Setup, forecast: Forecast) -> dict[str, Any]:
    """What the run is, for its manifest: any change of it makes another run."""
    return {
        "made_by": f"passage {__version__}",
        "vessel": made.passages[0].vessel.sha256,
        "routes": [
            {"name": p.route.name, "speed_kn": p.speed_kn, "track": _track_digest(p)}
            for p in made.passages
        ],
        "forecasts": [{"file": s.file, "sha256": s.sha256} for s in forecast.sources],
        "names": made.files.name_map and Path(made.files.name_map).read_text(encoding="utf-8"),
        "options": asdict(made.options),
    }


def _track_digest(passage: Passage) -> str:
    track = passage.track
    digest = hashlib.sha256()
    for name in ("leg", "lat_deg", "lon_deg", "length_m", "stay_s", "speed_kn"):
        digest.update(np.ascontiguousarray(getattr(track, name)).tobytes())
    return digest.hexdigest()[:16]


def run_season(
    files: SeasonFiles,
    options: SeasonOptions,
    folder: Path,
    *,
    processes: int = 1,
    scheduler: str | None = None,
    say: Say = lambda text: None,
    progress: Callable[[int, int, float], None] | None = None,
) -> SeasonResult:
    """Compute what is not yet computed in the folder, and make the result.

    Raises
    ------
    PassageError
        Files that cannot be used; a folder of another run; every block bad.
    """
    from passage.planning.season_jobs import make_blocks
    from passage.planning.season_work import block_departures, table_shapes, work

    made = setup(files, options)
    pool = None
    if processes > 1 and scheduler is None and not (folder / MANIFEST).exists():
        # They import their libraries while the data are opened here.
        pool = begin_workers(processes, work.__module__)
    try:
        with open_data(made) as forecast:
            description = describe(made, forecast)
            notes = forecast.notes
            sources = forecast.sources
            size = block_departures(made, forecast)
            shapes = table_shapes(made, forecast)
        mark = open_run(folder, description)
        blocks, first = make_blocks(made, size, shapes, folder, mark)
        report = run_blocks(
            folder,
            mark,
            blocks,
            work,
            first=first,
            processes=processes,
            pool=pool,
            scheduler=scheduler,
            progress=progress,
        )
    finally:
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)
    for number, why in sorted(report.bad.items()):
        job = blocks[number].job
        span = [utc_text(made.departures_s[i]) for i in (job.start, job.stop - 1)]
        say(f"Block {number} ({span[0]} to {span[1]}) could not be computed: {why}")
    if len(report.bad) == len(blocks):
        raise ForecastError(
            "no block could be computed; the first says: " + next(iter(report.bad.values()))
        )
    rows = gather(folder, mark, blocks, len(made.passages), made.departures_s.size)
    transfer = transfer_price(made.passages[0].vessel)
    records = statistics(rows, made.departures_s, made.labels, transfer.litres)
    vessel = made.passages[0].vessel
    short = fuel_aboard_note(vessel, rows["fuel_l"], "departures")
    return SeasonResult(
        labels=made.labels,
        departures_s=made.departures_s,
        rows=rows,
        records=records,
        transfer=transfer,
        report=report,
        provenance={
            "passage_version": __version__,
            "vessel": vessel.name,
            "vessel_file": vessel.path,
            "vessel_sha256": vessel.sha256,
            "routes": [p.route.path for p in made.passages],
            "forecasts": [
                {"file": s.file, "sha256": s.sha256, "hashed": s.hashed, "producer": s.producer}
                for s in sources
            ],
            "from_utc": utc_text(made.departures_s[0]),
            "to_utc": utc_text(made.departures_s[-1]),
            "every_h": options.every_h,
            "heel": options.heel,
            "minutes": options.minutes,
            "limits": {
                f"worst_leg_{name}": limit
                for name, key in LIMIT_KEYS
                if (limit := getattr(vessel.limits.underway, key)) is not None
            },
        },
        notes=tuple(dict.fromkeys([*notes, *([short] if short else [])])),
    )


def gather(
    folder: Path, mark: str, blocks: Sequence[Block], passages: int, departures: int
) -> dict[str, npt.NDArray[Any]]:
    """Rows of all blocks joined, ``(passages, departures)``; missing blocks have status -1."""
    rows: dict[str, npt.NDArray[Any]] = {
        column.name: np.full((passages, departures), np.nan, np.float32) for column in COLUMNS
    }
    for name in CODE_COLUMNS:
        rows[name] = np.full((passages, departures), -1, np.int8)
    for block in blocks:
        arrays = read_block(folder, block.number, mark)
        if arrays is None:
            continue
        start, stop = block.job.start, block.job.stop
        for name, values in arrays.items():
            rows[name][:, start:stop] = values
    return rows
