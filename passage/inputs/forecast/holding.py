"""Partitions made to add up to the total: scaled down where they are more, a rest where less."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.waves import RATIO_KINDS, WavePlan
from passage.physics.waves.peakedness import GAMMA_SWELL, gamma_at_place, peak_by_steepness
from passage.physics.waves.seas import PERIOD_RANGE_S
from passage.physics.waves.spectrum import PeriodKind, period_ratio

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

#: Below this height a system without period or direction counts as calm [m]. Its
#: energy is under a 100th of that of a 0.5 m sea.
CALM_HEIGHT_M = 0.05
#: Peak periods that the tables of waves hold, less what single precision may round. [s]
PEAK_RANGE_S = PERIOD_RANGE_S[0] * (1.0 + 1e-5), PERIOD_RANGE_S[1] * (1.0 - 1e-5)
#: Share of the total's energy that may be missing from, or over in, the partitions as
#: the rounding of heights (assumption; 2.5 % of a height).
NOISE = 0.05
#: Partitions over this many times the total (and a little, for calm) contradict it: one
#: of them is another quantity (assumption; 1.2 is met in real files).
CONTRADICTION = 1.5
#: A peak period this much apart from those of all partitions is the rest's own.
_OWN_PEAK = 0.1
#: A solved period beyond these shares of the total's is rounding magnified.
_PERIOD_SHARE = (0.4, 2.5)


class Counts(Protocol):
    """Counts of cells for the notes, see ``fields.LoadCounts``."""

    alone_cells: int
    rest_cells: int
    period_unsolved_cells: int
    direction_unsolved_cells: int
    over_cells: int
    largest_over: float
    under_cells: int
    contradictory_cells: int


def in_range(peak_period_s: npt.NDArray[Any]) -> Flags:
    """Where the tables hold a peak period [s]; False for NaN."""
    with np.errstate(invalid="ignore"):
        low, high = PEAK_RANGE_S
        return np.asarray((peak_period_s >= low) & (peak_period_s <= high))


@dataclass(frozen=True, eq=False)
class Described:
    """One system over the cells; ``broken`` where it has a height and no description."""

    height: Singles
    peak_period: Singles
    direction: Singles
    spread: Singles | None
    place: Singles
    present: Flags
    broken: Flags
    steep: Flags
    #: Where the period is outside ``PEAK_RANGE_S``; broken too, if the height is not a calm.
    beyond: Flags


@dataclass(frozen=True, eq=False)
class Balanced:
    """Energies that add up to the total, the rest last, and cells that cannot be used."""

    energies: list[Singles]
    rest: Described | None
    broken: Flags


def balance_with_total(
    plan: WavePlan,
    energies: Sequence[Singles],
    systems: Sequence[Described],
    total: Singles,
    whole: Described | None,
    usable: Flags,
    raw: Mapping[str, Singles],
    counts: Counts,
) -> Balanced:
    """Make the systems of every cell add up to its total.

    Parameters
    ----------
    plan : WavePlan
        What the systems are.
    energies : sequence of ndarray
        Height squared of each system, 0 where it is not there. [m2]
    systems : sequence of Described
        Their periods, directions and shapes.
    total : ndarray
        Height squared of the total. [m2]
    whole : Described or None
        The total as one system, where the files describe it.
    usable : ndarray of bool
        Cells with data.
    raw : mapping of str to ndarray
        Values by our names, for the total's mean period.
    counts : Counts
        Counts of cells for the notes are added here.
    """
    known = np.where(usable, total, np.float32(0.0))
    summed = np.add.reduce(list(energies))
    summed = np.where(usable, summed, np.float32(0.0))
    low = np.float32(CALM_HEIGHT_M) ** 2
    far = np.sqrt(summed) > CONTRADICTION * np.sqrt(known) + 0.2
    left = known - summed
    lacks = ~far & (left > NOISE * known) & (left > low)
    is_rest = lacks & whole.present if whole is not None else np.zeros(known.shape, bool)
    alone = summed <= 0.0
    none = (known > low) & alone & ~is_rest & usable
    # Less than this comes from a damaged number, not from a sea. [m2]
    some = (summed > np.float32(1e-20)) & ~is_rest
    scale = np.where(some, known / np.where(some, summed, np.float32(1.0)), np.float32(1.0))
    over = usable & ~far & (summed > (1.0 + NOISE) * known) & (summed - known > low)
    counts.contradictory_cells += int(np.count_nonzero(far))
    counts.over_cells += int(np.count_nonzero(over))
    if over.any():
        least = float(scale[over].min())
        ratio = 1.0 / least**0.5 if least > 0.0 else np.inf
        counts.largest_over = max(counts.largest_over, ratio)
    counts.under_cells += int(np.count_nonzero(lacks & ~is_rest & ~alone))
    counts.alone_cells += int(np.count_nonzero(is_rest & alone))
    counts.rest_cells += int(np.count_nonzero(is_rest & ~alone))
    made = [(e * scale).astype(np.float32) for e in energies]
    if whole is None:
        return Balanced(made, None, far | none)
    made.append(np.where(is_rest, left, np.float32(0.0)).astype(np.float32))
    rest = _rest(plan, made, systems, whole, is_rest, raw, counts)
    return Balanced(made, rest, far | none)


def _rest(
    plan: WavePlan,
    energies: Sequence[Singles],
    systems: Sequence[Described],
    whole: Described,
    where: Flags,
    raw: Mapping[str, Singles],
    counts: Counts,
) -> Described:
    """Period, direction and shape of the rest, where there is one."""
    swell = plan.systems[-1].is_swell
    period, direction = whole.peak_period.copy(), whole.direction.copy()
    place = np.zeros_like(whole.place) if swell else whole.place.copy()
    at = np.flatnonzero(where.reshape(-1))
    if at.size:
        energy = np.stack([e.reshape(-1)[at] for e in energies]).astype(float)
        peak, angle, shape = (
            np.stack([getattr(d, name).reshape(-1)[at] for d in systems]).astype(float)
            for name in ("peak_period", "direction", "place")
        )
        parts = np.where(energy[:-1] > 0.0, 1.0, np.nan)
        gamma = np.where([[s.is_swell] for s in plan.given], GAMMA_SWELL, gamma_at_place(shape))
        alone = ~(energy[:-1] > 0.0).any(axis=0)
        own = whole.peak_period.reshape(-1)[at].astype(float)
        found, shaped = own, whole.place.reshape(-1)[at].astype(float)
        if plan.whole_mean is not None:
            name, kind_name = plan.whole_mean
            kind = RATIO_KINDS[kind_name]
            mean = raw[name].reshape(-1)[at].astype(float)
            solved = _solve_period(kind, mean, energy, peak * parts, gamma)
            found, shaped = _to_peak(kind, np.sqrt(energy[-1]), solved, swell=swell)
        else:
            with np.errstate(invalid="ignore"):
                near = np.abs(peak * parts / own - 1.0) < _OWN_PEAK
            found = np.where(near.any(axis=0), np.nan, own)
            _, shaped = _to_peak("peak", np.sqrt(energy[-1]), own, swell=swell)
        found = np.where(in_range(found), found, np.nan)
        unsolved = np.isnan(found) & ~alone
        counts.period_unsolved_cells += int(np.count_nonzero(unsolved))
        usual, usual_shape = _to_peak("peak", np.sqrt(energy[-1]), own, swell=swell)
        take_own = unsolved | alone
        period.reshape(-1)[at] = np.where(take_own, usual, found)
        place.reshape(-1)[at] = np.where(take_own, usual_shape, shaped)
        mean_angle = whole.direction.reshape(-1)[at].astype(float)
        assert plan.whole is not None
        by_peak = "_peak_" in plan.whole.direction
        turned = _solve_direction(mean_angle, energy, angle * parts)
        turned = np.where(alone, mean_angle, np.nan if by_peak else turned)
        lost = np.isnan(turned)
        counts.direction_unsolved_cells += int(np.count_nonzero(lost))
        direction.reshape(-1)[at] = np.where(lost, mean_angle, turned)
    none = np.zeros(where.shape, bool)
    return Described(whole.height, period, direction, whole.spread, place, where, none, none, none)


def _to_peak(
    kind: PeriodKind, height: Floats, period: Floats, *, swell: bool
) -> tuple[Floats, Floats]:
    """Peak period and place of the peak enhancement."""
    if swell:
        return period / period_ratio(kind, GAMMA_SWELL), np.zeros_like(period)
    return peak_by_steepness(kind, height, period)


def _solve_period(
    kind: PeriodKind, mean: Floats, energy: Floats, peak: Floats, gamma: Floats
) -> Floats:
    """Mean period of the rest, from that of the total and of the parts; NaN where none.

    Moments add: energy x T for the energy period, energy / T for Tm01, energy / T^2
    for the zero-crossing period. ``energy`` holds the parts and then the rest.
    """
    power = {"energy": 1.0, "mean": -1.0, "zero-crossing": -2.0}[kind]
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        parts = np.nansum(energy[:-1] * (peak * period_ratio(kind, gamma)) ** power, axis=0)
        moment = (energy.sum(axis=0) * mean**power - parts) / energy[-1]
        solved = np.where(moment > 0.0, moment, np.nan) ** (1.0 / power)
        share = solved / mean
        good = (share > _PERIOD_SHARE[0]) & (share < _PERIOD_SHARE[1])
    return np.where(good, solved, np.nan)


def _solve_direction(mean: Floats, energy: Floats, angle: Floats) -> Floats:
    """Direction of the rest, so that the vectors of all add up along the mean; else NaN.

    Of the two solutions, the one nearer the mean.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        aside = np.nansum(energy[:-1] * np.sin(angle - mean), axis=0)
        along = np.nansum(energy[:-1] * np.cos(angle - mean), axis=0)
        sine = -aside / energy[-1]
        good = np.abs(sine) <= 1.0
        turn = np.arcsin(np.where(good, sine, np.nan))
        good = along + energy[-1] * np.cos(turn) > 0.0
    return np.where(good, mean + turn, np.nan)
