"""The speed of every leg, chosen together: least fuel under a comfort budget and a time.

What a leg costs depends on when it starts, which depends on the speeds before it. On a
grid of starting times this is a shortest path through (leg, time) with two prices, fuel
and discomfort. It is solved exactly: at every (leg, time) only labels that another is no
worse than in both prices are dropped. The labels left at the end are the whole front, so
one search answers for every budget.

Legs start on multiples of a time step after the first departure and last a whole number
of steps (rounded to the nearest, at least one). Fuel and discomfort of a leg are not
rounded. She sails on at once after every leg; waiting is not among the choices. The
chosen speeds are computed again without the grid before they are shown.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]

#: More labels than this at one leg are refused rather than thinned.
MAX_LABELS = 2_000_000


@dataclass(frozen=True, eq=False)
class LegChoices:
    """What one leg costs, by starting time and speed; arrays ``(times, speeds)``.

    ``first`` is the index of the first starting time on the common grid. ``steps`` is
    the duration in whole time steps, ``fuel_l`` and ``rough`` the two prices. An entry
    with NaN in a price, or not ``allowed``, is never chosen.
    """

    first: int
    steps: Ints
    fuel_l: Array
    rough: Array
    allowed: Bools


@dataclass(frozen=True)
class SpeedPlan:
    """One way to sail: index of the speed on each leg, and its arrival, fuel, discomfort."""

    speeds: tuple[int, ...]
    arrival: int
    fuel_l: float
    rough: float


@dataclass
class _Labels:
    """Labels after one leg, sorted by time; parents point into the layer before."""

    time: Ints
    fuel: Array
    rough: Array
    parent: Ints
    speed: Ints


def best_plans(
    legs: list[LegChoices],
    start: int,
    *,
    combine: str = "max",
    arrive_by: int | None = None,
    arrival_open: Bools | None = None,
) -> list[SpeedPlan]:
    """The front of speed plans from one departure, by rising fuel.

    Parameters
    ----------
    legs : list of LegChoices
        In order of sailing; the time grid is common to all.
    start : int
        Departure, as an index of the grid.
    combine : {"max", "sum"}
        Discomfort of the passage: that of the worst leg, or the sum over legs.
    arrive_by : int, optional
        Latest arrival, as an index of the grid.
    arrival_open : ndarray of bool, optional
        Whether arriving at an index of the grid is allowed; beyond its end it is not.

    Returns
    -------
    list of SpeedPlan
        The best trade-offs between fuel and discomfort, each pair of values once. Empty
        where no plan is allowed.

    Raises
    ------
    ValueError
        More than `MAX_LABELS` labels: fewer speeds or a coarser step are needed.
    """
    layers = [_Labels(np.array([start]), np.zeros(1), np.zeros(1), np.array([-1]), np.array([-1]))]
    for leg in legs:
        layers.append(_after(layers[-1], leg, combine))
        if layers[-1].time.size == 0:
            return []
    last = layers[-1]
    fine = np.ones(last.time.shape, dtype=bool)
    if arrive_by is not None:
        fine &= last.time <= arrive_by
    if arrival_open is not None:
        inside = last.time < arrival_open.size
        fine &= inside & arrival_open[np.minimum(last.time, arrival_open.size - 1)]
    rows = np.flatnonzero(fine)
    rows = rows[_front_rows(np.zeros(rows.shape, dtype=int), last.fuel[rows], last.rough[rows])]
    rows = rows[np.argsort(last.fuel[rows], kind="stable")]
    return [
        SpeedPlan(
            _trace_back(layers, int(row)),
            int(last.time[row]),
            float(last.fuel[row]),
            float(last.rough[row]),
        )
        for row in rows
    ]


def least_fuel(plans: list[SpeedPlan], budget: float) -> SpeedPlan | None:
    """The plan of least fuel whose discomfort is within the budget; None if there is none."""
    within = [plan for plan in plans if plan.rough <= budget]
    return min(within, key=lambda plan: plan.fuel_l) if within else None


def _after(labels: _Labels, leg: LegChoices, combine: str) -> _Labels:
    """Labels after one more leg at every speed, without the dominated ones."""
    at = labels.time - leg.first
    inside = (at >= 0) & (at < leg.fuel_l.shape[0])
    if not np.all(inside):
        raise ValueError("a leg's table does not reach all times at which it may start")
    fuel = labels.fuel[:, None] + leg.fuel_l[at]
    rough = leg.rough[at]
    before = np.broadcast_to(labels.rough[:, None], rough.shape)
    rough = np.maximum(before, rough) if combine == "max" else before + rough
    time = labels.time[:, None] + leg.steps[at]
    open_ = leg.allowed[at] & np.isfinite(fuel) & np.isfinite(rough)
    parent, speed = np.nonzero(open_)
    if parent.size > MAX_LABELS:
        raise ValueError(
            f"{parent.size} ways to weigh at one leg, more than {MAX_LABELS}: "
            "give fewer speeds or a coarser step"
        )
    made = _Labels(time[open_], fuel[open_], rough[open_], parent, speed)
    keep = _front_rows(made.time, made.fuel, made.rough)
    return _Labels(
        made.time[keep], made.fuel[keep], made.rough[keep], made.parent[keep], made.speed[keep]
    )


def _front_rows(time: Ints, fuel: Array, rough: Array) -> Ints:
    """Rows that no other of the same time dominates; of equal ones the first."""
    if time.size == 0:
        return np.empty(0, dtype=int)
    order = np.lexsort((rough, fuel, time))
    keep = []
    bounds = np.flatnonzero(np.r_[True, np.diff(time[order]) != 0])
    for begin, end in zip(bounds, [*bounds[1:], order.size], strict=True):
        group = order[begin:end]
        best = np.minimum.accumulate(rough[group])
        # By rising fuel a label stays if it is smoother than all before it.
        first = np.r_[True, rough[group][1:] < best[:-1]]
        keep.append(group[first])
    return np.concatenate(keep)


def _trace_back(layers: list[_Labels], row: int) -> tuple[int, ...]:
    speeds = []
    for layer in reversed(layers[1:]):
        speeds.append(int(layer.speed[row]))
        row = int(layer.parent[row])
    return tuple(reversed(speeds))
