"""The cheapest open speeds leg by leg, proven by computing along the track.

The grid of starting times gives every combination of speeds an approximate price.
Combinations are computed in full, in the order of that price, until the next could not be
cheaper than the best open one even with 1.5 times the largest error seen so far.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.planning.compare.speed_choice import LegChoices

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]

#: More combinations of speeds and departures than this are not priced one by one.
MAX_WAYS = 400_000
#: Most combinations computed in full.
MAX_COMPUTED = 240
#: Least error assumed of a grid price, and the factor on the largest one seen.
LEAST_ERROR, SAFETY = 0.003, 1.5
#: Largest assumed error of discomfort and limit shares on the grid, as a share.
ROUGH_ERROR = 0.03
#: Largest assumed error of hours over a limit on the grid. [h]
HOURS_ERROR = 0.7


@dataclass(frozen=True, eq=False)
class SpeedChoices:
    """Every combination by grid price: speeds ``(ways, legs)``, the rest ``(ways, starts)``.

    ``share`` is the largest ratio of a value to its limit; infinite where it cannot be sailed.
    """

    speeds: Ints
    fuel_l: Array
    rough: Array
    arrival: Ints
    share: Array


def all_ways(
    legs: Sequence[LegChoices], shares: Sequence[Array], starts: Sequence[int], combine: str
) -> SpeedChoices | None:
    """Price every combination of speeds at every start; None above `MAX_WAYS` of them."""
    counts = [leg.fuel_l.shape[1] for leg in legs]
    if float(np.prod(counts, dtype=float)) * len(starts) > MAX_WAYS:
        return None
    time = np.asarray(starts)[None, :]
    fuel, rough = np.zeros(time.shape), np.zeros(time.shape)
    share = np.zeros(time.shape)
    speeds = np.zeros((1, 0), dtype=int)
    for leg, over, count in zip(legs, shares, counts, strict=True):
        ways = speeds.shape[0]
        pick = np.tile(np.arange(count), ways)[:, None]
        speeds = np.hstack([np.repeat(speeds, count, axis=0), pick])
        time, fuel, rough, share = (np.repeat(x, count, axis=0) for x in (time, fuel, rough, share))
        at = time - leg.first
        outside = (at < 0) | (at >= leg.fuel_l.shape[0])
        at = np.clip(at, 0, leg.fuel_l.shape[0] - 1)
        here = leg.rough[at, pick]
        fuel = fuel + leg.fuel_l[at, pick]
        rough = np.maximum(rough, here) if combine == "max" else rough + here
        share = np.maximum(share, np.nan_to_num(over[at, pick], nan=np.inf))
        time = time + leg.steps[at, pick]
        shut = outside | ~leg.allowed[at, pick] | ~np.isfinite(fuel) | ~np.isfinite(rough)
        share = np.where(shut, np.inf, share)
    return SpeedChoices(speeds, fuel, rough, time, share)


@dataclass(frozen=True, eq=False)
class Computed:
    """One combination computed along its track, at every start; ``open`` may be chosen."""

    fuel_l: Array
    rough: Array
    open: Bools


@dataclass(frozen=True)
class Proof:
    """The best open combination, what it burns, and whether nothing can be cheaper."""

    way: int | None
    start: int
    fuel_l: float
    computed: int
    proven: bool


def prove(
    ways: SpeedChoices,
    compute: Callable[[list[int]], list[Computed]],
    *,
    budget: float | None,
    late: Callable[[Ints], Bools],
    hours: bool = False,
    best_l: float = np.inf,
    batch: int = 4,
) -> Proof:
    """Compute ways by rising grid price until the best open one is proven.

    Parameters
    ----------
    compute : callable
        Takes indices of ways, gives their values computed along the tracks.
    budget : float, optional
        Most discomfort; ways slightly above it on the grid are computed all the same.
    late : callable
        True for arrivals (grid steps) that cannot be in time.
    hours : bool
        True where the discomfort is in hours, whose error does not shrink with the value.
    best_l : float
        Fuel of an open combination already known. [l]
    """
    plausible = np.isfinite(ways.share) & (ways.share <= 1.0 + ROUGH_ERROR) & ~late(ways.arrival)
    if budget is not None:
        room = budget * (1.0 + ROUGH_ERROR) + (HOURS_ERROR if hours else 0.0)
        plausible &= ways.rough <= room
    price = np.min(np.where(plausible, ways.fuel_l, np.inf), axis=1)
    order = np.argsort(price, kind="stable")
    order = order[np.isfinite(price[order])]
    error, found, done = LEAST_ERROR, Proof(None, 0, best_l, 0, True), 0
    while done < order.size:
        if price[order[done]] * (1.0 - error) >= found.fuel_l:
            break
        if done >= MAX_COMPUTED:
            return Proof(found.way, found.start, found.fuel_l, done, False)
        some = [int(i) for i in order[done : done + batch]]
        for way, one in zip(some, compute(some), strict=True):
            with np.errstate(invalid="ignore", divide="ignore"):
                off = np.abs(one.fuel_l / ways.fuel_l[way] - 1.0)
            off = off[plausible[way] & np.isfinite(off)]
            error = max(error, SAFETY * float(np.max(off, initial=0.0)))
            fuel = np.where(one.open & np.isfinite(one.fuel_l), one.fuel_l, np.inf)
            start = int(np.argmin(fuel))
            if fuel[start] < found.fuel_l:
                found = Proof(way, start, float(fuel[start]), 0, True)
        done += len(some)
    return Proof(found.way, found.start, found.fuel_l, done, True)
