"""``passage season``: routes x speeds x departures over years of hindcast.

A run is cut into blocks of departures, sized by memory. A block computes every route and
speed for its departures, so that the data of its days are read once. Finished blocks are
kept in the output folder with checksums (``blocks.py``); statistics are made from them
when all are done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage import __version__
from passage.errors import ForecastError
from passage.inputs.route import Track
from passage.planning.plan.cautions_loop import hunting_note
from passage.planning.plan.cautions_sea import trim_note
from passage.planning.plan.totals import at_limits_note, fuel_aboard_note, usable_fuel_l
from passage.planning.season.blocks import (
    MANIFEST,
    Block,
    RunReport,
    begin_workers,
    open_run,
    read_block,
    run_blocks,
)
from passage.planning.season.calendar import CALM, grouped, hours_of, months_of, weeks_of
from passage.planning.season.departures import (
    CODE_COLUMNS,
    COLUMNS,
    LEG_PREFIXES,
    NO_WAY,
    flow_gap_notes,
    off_data_note,
    partly_known_note,
)
from passage.planning.season.heel import TransferPrice, transfer_price
from passage.planning.season.jobs import make_blocks
from passage.planning.season.limits import limits_set
from passage.planning.season.setup import (
    SeasonFiles,
    SeasonOptions,
    Setup,
    describe,
    harbour_of,
    open_data,
    own_range,
    setup,
)
from passage.planning.season.spells import spell_hours, spells_of
from passage.planning.season.standing import KEPT
from passage.planning.season.standing_price import Standing, StandingPrices, price_standing
from passage.planning.season.stats import statistics
from passage.planning.season.ways import sampled
from passage.planning.season.work import block_departures, table_shapes, work
from passage.planning.season.workers import bearable
from passage.planning.voyage.limits import LIMIT_KEYS
from passage.planning.voyage.list_drift import gm_held_note
from passage.units import utc_text

Array = npt.NDArray[np.float64]
Say = Callable[[str], None]


@dataclass(frozen=True)
class SeasonResult:
    """Rows and statistics of a finished run.

    ``numbers`` maps the columns of ``departures.py`` to arrays ``(passages, departures)``;
    departures of bad blocks have status -1. ``calendar`` has "weeks" of the year and "hours" of
    the day (UTC), each a list for each passage, from ``calendar.grouped``.
    """

    labels: list[dict[str, Any]]
    departures_s: Array
    numbers: dict[str, npt.NDArray[Any]]
    records: list[dict[str, Any]]
    calendar: dict[str, list[list[dict[str, Any]]]]
    transfer: TransferPrice
    standing: Standing | None
    report: RunReport
    provenance: dict[str, Any]
    notes: tuple[str, ...]


def run_season(
    files: SeasonFiles,
    options: SeasonOptions,
    folder: Path,
    *,
    processes: int = 1,
    scheduler: str | None = None,
    say: Say = lambda text: None,
    progress: Callable[[int, int], None] | None = None,
    prices: StandingPrices | None = None,
) -> SeasonResult:
    """Compute the blocks still missing in the folder, and make the result.

    Raises
    ------
    PassageError
        Files cannot be used, the folder belongs to another run, or every block is bad.
    """
    made = setup(files, options)
    processes, fewer = bearable(processes, options.block_mb)
    if fewer:
        say(fewer)
    pool = None
    if processes > 1 and scheduler is None and not (folder / MANIFEST).exists():
        # Workers import their libraries while the data are opened here.
        pool = begin_workers(processes, work.__module__)
    try:
        with open_data(made) as forecast:
            description = describe(made, forecast)
            notes = forecast.notes
            harbour = harbour_of(made)
            if harbour is not None:
                notes = (*notes, harbour.words())
            sources = forecast.sources
            span_s = (forecast.time_from_s, forecast.time_to_s)
            size = block_departures(made, forecast)
            shapes = table_shapes(made, forecast)
        first_s, last_s = float(made.departures_s[0]), float(made.departures_s[-1])
        if first_s > span_s[1] or last_s < span_s[0]:
            side = "run past the end of" if first_s > span_s[1] else "begin before"
            raise ForecastError(_none_computed(made, f"They {side} the data", span_s))
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
            say=say,
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
    numbers, rows, sailed = gather(folder, mark, blocks, made)
    status = numbers["status"]
    # A passage that cannot be sailed, and fins that hunt, are results and not missing data.
    if np.all((status > 0) & (status < NO_WAY)):
        why = off_data_note(numbers["status"]).capitalize()
        known = partly_known_note(status, numbers["known_percent"], numbers["fuel_extended_l"])
        if known:
            why += f". {known[0].upper()}{known[1:]}"
        raise ForecastError(_none_computed(made, why, span_s, own_range(made)))
    vessel = made.passages[0].vessel
    limits = limits_set(vessel)
    transfer, records, calendar, standing = answers(made, numbers, rows, sailed, prices)
    known = numbers["fuel_l"][np.isfinite(numbers["fuel_l"])]
    words = (
        fuel_aboard_note(vessel, numbers["fuel_l"], "departures"),
        at_limits_note(numbers["fin_at_limit_percent"], "departures", "on"),
        *(trim_note(one.yacht.resistance_hull).removesuffix(".") for one in made.passages),
        *(hunting_note(one.yacht, one.track.speed_kn).removesuffix(".") for one in made.passages),
        off_data_note(numbers["status"]),
        partly_known_note(numbers["status"], numbers["known_percent"], numbers["fuel_extended_l"]),
        *flow_gap_notes(numbers),
        gm_held_note(vessel, float(known.max())) if known.size else None,
    )
    return SeasonResult(
        labels=made.labels,
        departures_s=made.departures_s,
        numbers=numbers,
        records=records,
        calendar=calendar,
        transfer=transfer,
        standing=standing,
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
            "harbour": {"within_nm": options.harbour_nm, "sea": options.harbour_sea}
            if options.harbour_nm
            else None,
            "limits_set": vessel.limits.any_set,
            "limit_keys": limits,
            "legs": [_legs(p.track) for p in made.passages],
            "usable_fuel_l": usable_fuel_l(vessel),
            "limits": {
                (
                    f"worst_{name}"
                    if name.startswith("window_")
                    else f"worst_leg_{name.replace('_worst', '')}"
                ): limit
                for name, key in LIMIT_KEYS
                if (limit := getattr(vessel.limits.underway, key)) is not None
            },
        },
        notes=tuple(dict.fromkeys(note for note in (*notes, *_speeds(made), *words) if note)),
    )


def answers(
    made: Setup,
    numbers: dict[str, npt.NDArray[Any]],
    rows: dict[str, npt.NDArray[Any]],
    sailed: Array,
    prices: StandingPrices | None = None,
) -> tuple[
    TransferPrice,
    list[dict[str, Any]],
    dict[str, list[list[dict[str, Any]]]],
    Standing | None,
]:
    """Price of a transfer, statistics, calendar and lists, from what :func:`gather` returns."""
    vessel, options = made.passages[0].vessel, made.options
    transfer = transfer_price(vessel)
    standing = None
    if sailed.size:
        standing = price_standing(
            vessel,
            made.ways,
            rows,
            sailed,
            made.labels,
            lists_deg=options.lists_deg,
            ballast=options.ballast,
            prices=prices or StandingPrices(),
            step=made.sample_step,
            every_h=options.every_h,
        )
    times = made.departures_s[: numbers["status"].shape[1]]
    limits = limits_set(vessel)
    records = statistics(numbers, times, made.labels, transfer.litres, limits)
    return transfer, records, _calendar(numbers, times), standing


def _legs(track: Track) -> list[dict[str, Any]]:
    """Name of each leg, and whether it is a stay."""
    at_rest = set(track.leg[track.length_m == 0.0].tolist())
    return [{"name": name, "at_rest": i in at_rest} for i, name in enumerate(track.leg_names)]


def _none_computed(made: Setup, why: str, span_s: tuple[float, float], own: str = "") -> str:
    """The message where the data cover no departure."""
    count = made.departures_s.size * len(made.passages)
    return (
        f"None of {count} passages can be computed. {why}. The data run {utc_text(span_s[0])} to "
        f"{utc_text(span_s[1])}. {own or 'Give other departures or data.'}"
    )


def _calendar(
    numbers: dict[str, npt.NDArray[Any]], departures_s: Array
) -> dict[str, list[list[dict[str, Any]]]]:
    """Groups by week of the year and by hour of the day, for each passage."""
    month = months_of(departures_s)
    found: dict[str, list[list[dict[str, Any]]]] = {"weeks": [], "hours": []}
    for p in range(numbers["status"].shape[0]):
        spell = spells_of(departures_s, spell_hours(numbers[CALM][p], departures_s, month))
        for name, group in (("weeks", weeks_of(departures_s)), ("hours", hours_of(departures_s))):
            found[name].append(grouped(numbers, p, group, spell))
    return found


def _speeds(made: Setup) -> list[str]:
    """Notes on speeds that had to be chosen, or that are outside the speed-fuel points."""
    return [f"{p.route.name}: {p.speed_note}" for p in made.passages if p.speed_note]


def gather(
    folder: Path, mark: str, blocks: Sequence[Block], made: Setup
) -> tuple[dict[str, npt.NDArray[Any]], dict[str, npt.NDArray[Any]], Array]:
    """Joined rows of all blocks.

    First the numbers, ``(passages, departures)``; those of missing blocks have status -1. Then
    the rows of the ways of living with a list, ``(passages, ways, sampled)``, and the times of
    those departures; empty without a list.
    """
    shape = (len(made.passages), made.departures_s.size)
    numbers: dict[str, npt.NDArray[Any]] = {
        column.name: np.full(shape, np.nan, np.float32) for column in COLUMNS
    }
    for name in CODE_COLUMNS:
        numbers[name] = np.full(shape, -1, np.int8)
    for key in limits_set(made.passages[0].vessel):
        for prefix in LEG_PREFIXES:
            numbers[f"{prefix}{key}"] = np.full(shape, -1, np.int16)
    ways: dict[str, list[npt.NDArray[Any]]] = {name: [] for name in KEPT}
    times: list[Array] = [np.empty(0)]
    for block in blocks:
        arrays = read_block(folder, block.number, mark)
        if arrays is None:
            continue
        start, stop = block.job.start, block.job.stop
        for name, values in arrays.items():
            if name in numbers:
                numbers[name][:, start:stop] = values
        if f"way_{KEPT[0]}" in arrays:
            for name in KEPT:
                ways[name].append(arrays[f"way_{name}"])
            times.append(made.departures_s[start:stop][sampled(made, start, stop)])
    joined = {name: np.concatenate(parts, axis=-1) for name, parts in ways.items() if parts}
    return numbers, joined, np.concatenate(times)
