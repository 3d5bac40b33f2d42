"""Odds of every combination, from all members or all draws of the error model.

Each version of the forecast is sailed and judged as the forecast itself is, all versions
of some departures at once. As in a plan, list and displacement along the way are those
found with the forecast itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.compare.cell import (
    Cell,
    CellTask,
    cell_of_way,
    evaluated,
    flow_gaps,
    put_rows,
)
from passage.planning.compare.way import Version, sailed, way_of
from passage.planning.compare.work import run_tasks
from passage.planning.odds.count import PERCENTILES, count_odds, differs, percentile, reaches
from passage.planning.voyage.evaluate import evaluate, over_engine
from passage.planning.voyage.flows import flows_given
from passage.planning.voyage.limits import LIMIT_KEYS, limits_of
from passage.planning.voyage.policy import engine_rule, fuel_rule
from passage.planning.voyage.rolling import Choices, Doubt
from passage.units import deg_to_rad

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Track
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.odds.versions import Versions
    from passage.planning.voyage.march import March
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]
#: Gives totals and codes (0: all that is asked is kept) of the departures of a cell.
Judge = Callable[[Cell], tuple[dict[str, Array], Ints]]

#: Points evaluated at once; keeps a thread within some 250 MB.
_AT_ONCE = 40_000


@dataclass(frozen=True, eq=False)
class CompareOdds:
    """Odds of combinations, ``(C,)`` in percent, NaN where they are not known.

    ``within``: of all limits, as in a plan; ``asked``: of these and what else is asked
    (arrival, daylight, budget). ``fuel_l``, ``hours`` and ``rough`` are the 10, 50 and
    90 % values, ``(C, 3)``; ``kept`` which draws keep what is asked, ``(C, draws)``.
    ``what`` is "draws" or "members"; ``source`` describes those
    of a departure.
    """

    draws: int
    what: str
    within: Array
    asked: Array
    by_limit: dict[str, Array]
    fuel_l: Array
    hours: Array
    rough: Array
    source: Callable[[float], str]
    kept: Bools | None = None

    def reach(self, percent: float) -> Bools:
        """Combinations whose odds of what is asked reach a level, to half a draw."""
        return reaches(self.asked, percent, self.draws)

    def differ(self, one: int, two: int) -> bool:
        """Whether the odds of two combinations differ by more than chance explains."""
        return self.kept is None or differs(self.kept[one], self.kept[two])


def odds_totals(odds: CompareOdds) -> dict[str, Array]:
    """The odds as totals of combinations, ``(C,)`` each."""
    made = {"odds_within_limits_percent": odds.within, "odds_asked_percent": odds.asked}
    made |= {f"odds_{name}_percent": values for name, values in odds.by_limit.items()}
    spread = {"fuel_l": odds.fuel_l, "hours": odds.hours, "comfort": odds.rough}
    for name, values in spread.items():
        made |= {f"{name}_p{p}": values[:, at] for at, p in enumerate(PERCENTILES)}
    return made


@dataclass(frozen=True)
class _Job:
    """Some departures of one cell."""

    cell: Cell
    task: CellTask
    rows: Ints

    @property
    def track(self) -> Track:
        return self.task.track


def odds_of_cells(
    yacht: Yacht,
    cells: Sequence[tuple[Cell, CellTask]],
    wanted: Sequence[Bools],
    forecast: Forecast,
    versions: Versions,
    options: CompareOptions,
    judges: Sequence[Judge],
    *,
    progress: Callable[[int, int], None] | None = None,
) -> CompareOdds:
    """Odds of the ``wanted`` departures of every cell; NaN for the others.

    ``judges`` has one judge for each cell.
    """
    jobs, of = [], []
    for number, ((cell, task), some) in enumerate(zip(cells, wanted, strict=True)):
        each = max(1, _AT_ONCE // (versions.count * task.track.leg.size))
        rows = np.flatnonzero(some)
        for start in range(0, rows.size, each):
            jobs.append(_Job(cell, task, rows[start : start + each]))
            of.append(number)

    def work(job: _Job) -> dict[str, Array]:
        leave = job.cell.departure_s[job.rows]
        drawn = drawn_cell(yacht, job.task, job.cell.fins, leave, forecast, versions, options)
        return _counted(yacht.vessel, drawn, versions.count, judges[number_of[id(job)]], options)

    number_of = {id(job): number for job, number in zip(jobs, of, strict=True)}
    found = run_tasks(yacht, jobs, work, progress) if jobs else []
    sizes = [cell.departure_s.size for cell, _ in cells]
    first = np.concatenate([[0], np.cumsum(sizes)])
    limits = _limit_keys(yacht.vessel)
    shapes = dict.fromkeys(("fuel_l", "hours", "rough"), (3,))
    made = {
        name: np.full((int(first[-1]), *shapes.get(name, ())), np.nan)
        for name in ("within", "asked", *shapes, *limits)
    }
    kept = np.zeros((int(first[-1]), versions.count), dtype=bool)
    for job, number, part in zip(jobs, of, found, strict=True):
        kept[first[number] + job.rows] = part.pop("kept")
        for name, values in part.items():
            made[name][first[number] + job.rows] = values
    return CompareOdds(
        versions.count,
        versions.what,
        by_limit={name: made[name] for name in limits},
        source=versions.words,
        kept=kept,
        **{name: made[name] for name in ("within", "asked", *shapes)},
    )


def _limit_keys(vessel: Any) -> list[str]:
    """Names of the limits that are set, under way or at rest."""
    both = (False, True)
    return [key for _, key in LIMIT_KEYS if not np.all(np.isnan(limits_of(vessel, both, key)))]


def _counted(
    vessel: Any, drawn: Cell, count: int, judge: Judge, options: CompareOptions
) -> dict[str, Array]:
    """Odds and percentiles of each departure, from a cell of departures x versions."""
    totals, code = judge(drawn)
    keys = dict.fromkeys(_limit_keys(vessel))
    legs = {
        limit: _by_combination(drawn.legs[key], count) for key, limit in LIMIT_KEYS if limit in keys
    }
    rest = _at_rest(drawn)
    limits = {limit: limits_of(vessel, rest, limit) for limit in legs}
    rows = drawn.departure_s.size // count
    made = {name: np.full(rows, np.nan) for name in ("within", *keys)}
    for row in range(rows):
        odds = count_odds({name: values[row] for name, values in legs.items()}, limits)
        if odds is None:
            continue
        for name, percent in (("within", odds.whole), *odds.by_limit.items()):
            made[name][row] = np.nan if percent is None else percent
    made["kept"] = _by_combination(code, count) == 0
    made["asked"] = 100.0 * np.mean(made["kept"], axis=1)
    spread = {"fuel_l": "fuel_l", "hours": "hours", "rough": options.measure.key}
    for name, key in spread.items():
        # NaN where any version is missing: the rest would be a biased sample.
        made[name] = percentile(_by_combination(totals[key], count), PERCENTILES, axis=1).T
    # A departure that cannot be judged in any version has no odds.
    unknown = np.all(np.isnan(_by_combination(totals["fuel_l"], count)), axis=1)
    made["asked"][unknown] = np.nan
    return made


def _by_combination(values: npt.NDArray[Any], count: int) -> npt.NDArray[Any]:
    """``(departures x versions, ...)`` as ``(departures, versions, ...)``."""
    return values.reshape(-1, count, *values.shape[1:])


def _at_rest(cell: Cell) -> list[bool]:
    return [bool(np.all(speed == 0.0)) for speed in cell.legs["speed_over_ground_kn"].T]


def drawn_cell(
    yacht: Yacht,
    task: CellTask,
    word: str,
    departures: Array,
    forecast: Forecast,
    versions: Versions,
    options: CompareOptions,
) -> Cell:
    """The cell of departures x versions, the versions of one departure side by side.

    ``word`` is the use of the fins; of the options only hold, heel and wave method count.
    """
    choices = Choices(
        fins=word,
        heel=options.heel,
        list_rad=float(deg_to_rad(yacht.vessel.loading.list_deg)),
        wave_method=options.wave_method,
        band=False,
    )
    free = options.hold == "water"
    way, own = way_of(yacht, task, forecast, departures, options.hold, choices)
    rule: Any = None
    if own is not None:
        # Each version is slowed by the drag of its departure in the forecast as it is.
        drag = np.broadcast_to(own.force_n, way.hours.shape)
        slowed = replace(own, force_n=np.repeat(drag, versions.count, axis=0))
        rule = fuel_rule(yacht, options.wave_method, slowed)
    plain, loaded = evaluated(yacht, task.track, way, choices)
    over = np.any(over_engine(yacht, task.track, plain), axis=-1) & free
    parts: list[tuple[Bools, Cell]] = []
    if not np.all(over):
        rows = ~over
        some = _rows_of(way, loaded, rows)
        parts.append((rows, _versions(yacht, task, departures[rows], versions, options, *some,
                                      rule, free)))  # fmt: skip
    if np.any(over):
        # As in a plan: where the forecast itself overloads the engines, all draws go slower.
        slow = engine_rule(yacht, options.wave_method)
        way = sailed(yacht, task, forecast, departures[over], options.hold, slow)
        _, loaded = evaluated(yacht, task.track, way, choices)
        some = _rows_of(way, loaded, np.ones(int(over.sum()), dtype=bool))
        parts.append((over, _versions(yacht, task, departures[over], versions, options, *some,
                                      slow, False)))  # fmt: skip
    if len(parts) == 1:
        return parts[0][1]
    return _joined(parts, versions.count)


def _joined(parts: Sequence[tuple[Bools, Cell]], count: int) -> Cell:
    """One cell of all departures, from cells of some each."""
    rows = [np.repeat(some, count) for some, _ in parts]
    whole = parts[0][1]
    blank: dict[str, Any] = {
        one.name: np.empty((rows[0].size, *value.shape[1:]), value.dtype)
        for one in fields(whole)
        if isinstance(value := getattr(whole, one.name), np.ndarray)
    }
    legs = {name: np.empty((rows[0].size, *value.shape[1:])) for name, value in whole.legs.items()}
    made = replace(whole, legs=legs, **blank)
    for some, (_, part) in zip(rows, parts, strict=True):
        made = put_rows(made, some, part)
    return made


def _rows_of(way: March, choices: Choices, rows: Bools) -> tuple[Array, Choices]:
    """First times and loaded choices of some departures."""
    names = ("list_rad", "stiffness_ratio", "gm_ratio")
    loaded = {
        name: value[rows] if np.ndim(value := getattr(choices, name)) else value for name in names
    }
    assert way.sampled_s is not None
    return way.sampled_s[rows], replace(choices, **loaded)


def _versions(
    yacht: Yacht,
    task: CellTask,
    departures: Array,
    versions: Versions,
    options: CompareOptions,
    first_s: Array,
    loaded: Choices,
    rule: Any,
    free: bool,
) -> Cell:
    """All versions of some departures; those that overload the engines are slowed."""
    count, track = versions.count, task.track

    def repeated(value: Any) -> Any:
        return np.repeat(value, count, axis=0) if np.ndim(value) else value

    def tiled(value: Any) -> Any:
        return np.tile(value, (departures.size, 1)) if np.ndim(value) else value

    leave = np.repeat(departures, count)
    version = Version(np.tile(np.arange(count), departures.size), repeated(first_s))
    doubt = Doubt(**{name: tiled(value) for name, value in vars(versions.doubt).items()})
    names = ("list_rad", "stiffness_ratio", "gm_ratio")
    choices = replace(
        loaded, both=False, doubt=doubt, **{name: repeated(getattr(loaded, name)) for name in names}
    )

    def cell(some: Bools, speed_rule: Any) -> tuple[Cell, Bools]:
        each = _of_rows(choices, some)
        way = sailed(yacht, task, versions.sea, leave[some], options.hold, speed_rule,
                     version.rows(some))  # fmt: skip
        here = evaluate(yacht, way, each)
        gaps = flow_gaps(yacht, way, track, flows_given(versions.sea))
        over = np.any(over_engine(yacht, track, here), axis=-1)
        return cell_of_way(yacht, task, leave[some], loaded.fins, way, here, gaps), over

    made, over = cell(np.ones(leave.size, dtype=bool), rule)
    if free and np.any(over):
        again, _ = cell(over, engine_rule(yacht, options.wave_method))
        made = put_rows(made, over, again)
    return made


def _of_rows(choices: Choices, rows: Bools) -> Choices:
    """Choices of some rows, with their doubt."""
    if np.all(rows):
        return choices
    names = ("list_rad", "stiffness_ratio", "gm_ratio")
    part = {name: value[rows] if np.ndim(value := getattr(choices, name)) else value
            for name in names}  # fmt: skip
    doubt = {name: value[rows] if np.ndim(value) else value
             for name, value in vars(choices.doubt).items()}  # fmt: skip
    return replace(choices, doubt=Doubt(**doubt), **part)
