"""The ways of living with a list, sailed on some departures of a block."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast import Forecast
from passage.inputs.vessel import Vessel
from passage.planning.plan.plan import Passage
from passage.planning.season.departures import UNKNOWN, departure_numbers
from passage.planning.season.direct import PointValues, direct_points
from passage.planning.season.points import KnownSea, known_sea
from passage.planning.season.segments import TrackData
from passage.planning.season.setup import SeasonOptions, Setup
from passage.planning.season.standing import (
    KEPT,
    Ballast,
    Variant,
    ballasted,
    way_groups,
    with_ballast,
    with_list,
)
from passage.planning.season.tables import SeasonTables

Rows = dict[str, npt.NDArray[Any]]

#: Points computed together, so that their arrays stay in the processor's cache.
CHUNK_POINTS = 16384


def numbers_of(passage: Passage, found: PointValues) -> Rows:
    """Numbers of every departure from its points."""
    return departure_numbers(
        passage.vessel,
        passage.track,
        found.values,
        found.fin_codes,
        found.status,
        found.flow_gaps,
    )


def sampled(made: Setup, start: int, stop: int) -> npt.NDArray[np.intp]:
    """Departures of a block that are computed in every way of living with a list, by number."""
    if not made.ways:
        return np.empty(0, np.intp)
    step = made.sample_step
    return np.arange((-start) % step, stop - start, step)


@lru_cache(maxsize=2)
def ballasted_tables(tables: SeasonTables, ballast: Ballast) -> SeasonTables:
    """Tables with a weight aboard, from the spectral tables of ``tables``."""
    return SeasonTables(ballasted(tables.yacht, ballast), tables.shapes)


#: Numbers of departures [s] in some ways with the same weights aboard, ``(ways, departures)``.
SailWays = Callable[[Sequence[Variant], npt.NDArray[np.float64]], Rows]


class Fast:
    """The departures of one passage by tables; keeps the last sea, which serves every list."""

    def __init__(
        self, passage: Passage, tables: SeasonTables, data: TrackData, options: SeasonOptions
    ) -> None:
        self.passage, self.tables, self.data, self.options = passage, tables, data, options
        self._seas: dict[bool, KnownSea] = {}

    def points(self, at: npt.NDArray[np.float64]) -> PointValues:
        """All points of some departures [s], as she is."""
        return self._sea(at).points(self.passage.vessel, self.options.heel)

    def ways(self, ways: Sequence[Variant], at: npt.NDArray[np.float64]) -> Rows:
        """Numbers in ways with the same weights aboard; a `SailWays`."""
        known = self._sea(at, weighted=ways[0].way == "permanent")
        some = np.searchsorted(known.departures_s, at)
        vessels = [_vessel_of(self.passage, way, self.options.ballast) for way in ways]
        found = known.points_each(vessels, [way.heel for way in ways], some)
        numbers = numbers_of(replace(self.passage, vessel=vessels[0]), found)
        return {name: numbers[name].reshape(len(ways), at.size) for name in KEPT}

    def _sea(self, at: npt.NDArray[np.float64], *, weighted: bool = False) -> KnownSea:
        last = self._seas.get(weighted)
        if last is None or not np.isin(at, last.departures_s).all():
            passage, tables, ballast = self.passage, self.tables, self.options.ballast
            if weighted and ballast is not None:
                tables = ballasted_tables(tables, ballast)
                passage = replace(passage, vessel=tables.yacht.vessel, yacht=tables.yacht)
            last = self._seas[weighted] = known_sea(passage, tables, self.data, at)
        return last


def exact_ways(made: Setup, passage: Passage, sea: Forecast) -> SailWays:
    """Departures of one passage computed as in a plan."""
    options = made.options
    heavy = passage.yacht
    if options.ballast is not None:
        heavy = ballasted(passage.yacht, options.ballast)

    def one(way: Variant, at: npt.NDArray[np.float64]) -> Rows:
        vessel = _vessel_of(passage, way, options.ballast)
        yacht = heavy if way.way == "permanent" else passage.yacht
        sailed = replace(passage, vessel=vessel, yacht=yacht)
        return numbers_of(sailed, direct_points(sailed, sea, at, way.heel, options.wave_method))

    def sail(ways: Sequence[Variant], at: npt.NDArray[np.float64]) -> Rows:
        each = [one(way, at) for way in ways]
        return {name: np.stack([numbers[name] for numbers in each]) for name in KEPT}

    return sail


def _vessel_of(passage: Passage, way: Variant, ballast: Ballast | None) -> Vessel:
    vessel = with_list(passage.vessel, way.list_deg)
    if way.way == "permanent" and ballast is not None:
        vessel = with_ballast(vessel, ballast)
    return vessel


def ways_of(
    made: Setup,
    passage: Passage,
    own: Rows,
    departures: npt.NDArray[np.float64],
    some: npt.NDArray[np.intp],
    sail: SailWays,
) -> Rows:
    """Numbers of some departures in every way, ``(ways, some)`` under ``way_`` and a name.

    ``own`` are the numbers of all departures as she is: they serve the way that is hers, and
    what they lack is not computed again.
    """
    whole = {name: own[name][some] for name in KEPT}
    rows = {
        name: np.full((len(made.ways), some.size), UNKNOWN if name == "within_limits" else np.nan)
        .astype(values.dtype)
        for name, values in whole.items()
        if name != "status"
    }  # fmt: skip
    rows["status"] = np.tile(whole["status"], (len(made.ways), 1))
    known = np.flatnonzero(whole["status"] == 0)
    hers = (made.options.heel, passage.vessel.loading.list_deg)
    for group in way_groups(made.ways):
        sailed = []
        for i in group:
            way = made.ways[i]
            if way.way != "permanent" and (way.heel, way.list_deg) == hers:
                for name in KEPT:
                    rows[name][i] = whole[name]
            else:
                sailed.append(i)
        if not sailed:
            continue
        size = max(1, CHUNK_POINTS // (len(passage.track) * len(sailed)))
        for at in range(0, known.size, size):
            here = known[at : at + size]
            found = sail([made.ways[i] for i in sailed], departures[some[here]])
            for name in KEPT:
                rows[name][np.ix_(np.array(sailed), here)] = found[name]
    return {f"way_{name}": values for name, values in rows.items()}
