"""Cells of a wave forecast in linear form, which may be averaged and keeps the total.

Stored per cell: [no data, total energy, then per system: energy, energy x peak period,
energy x cos, energy x sin of the coming-from direction, energy x place of its peak
enhancement, and energy x spread when any system has one]. Energy is height squared: the
common factor does not matter. Energies of systems add up to that of the total in every
cell, so that they do between cells and hours too, whatever the systems are called there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.holding import (
    CALM_HEIGHT_M,
    Described,
    balance_with_total,
    in_range,
)
from passage.inputs.forecast.waves import RATIO_KINDS, System, WavePlan, usual_spread
from passage.physics.waves.peakedness import (
    GAMMA_SWELL,
    peak_by_steepness,
    place_by_steepness,
)
from passage.physics.waves.spectrum import period_ratio
from passage.units import G_M_S2

Singles = npt.NDArray[np.float32]

#: Significant steepness 2 pi Hs / (g T^2) that no sea has: a single wave breaks near
#: 0.14 and the steepest wind seas reach 0.07 by the peak period, 0.15 by the shortest
#: kind of mean period (from memory). Beyond it the period is another quantity, as a rule
#: a frequency in Hz.
LARGEST_STEEPNESS = 0.3

#: A sea is too steep when its height exceeds this times its period squared [m/s2].
_STEEP_M_S2 = np.float32(LARGEST_STEEPNESS * G_M_S2 / (2.0 * np.pi))


@dataclass
class LoadCounts:
    """What was found while loading, for the notes."""

    sea_cells: int = 0
    incomplete_cells: int = 0
    too_steep_cells: int = 0
    out_of_range_cells: int = 0
    #: No partition at all; a rest; a rest whose period, or direction, is the total's own.
    alone_cells: int = 0
    rest_cells: int = 0
    period_unsolved_cells: int = 0
    direction_unsolved_cells: int = 0
    #: Partitions over the total by more than noise, and the largest ratio of heights;
    #: under it without a way to describe the rest; far over it.
    over_cells: int = 0
    largest_over: float = 1.0
    under_cells: int = 0
    contradictory_cells: int = 0
    #: Largest direction met, by the name of its system [rad].
    largest_direction_rad: dict[str, float] = field(default_factory=dict)


def build_fields(plan: WavePlan, raw: Mapping[str, Singles], counts: LoadCounts) -> Singles:
    """Linear fields ``(time, lat, lon, n_fields)`` from values in our units.

    Parameters
    ----------
    plan : WavePlan
        What to build.
    raw : mapping of str to ndarray
        Arrays of one shape by our names; heights m, periods s (or Hz), angles rad.
    counts : LoadCounts
        Counts of cells for the notes are added here.
    """
    shape = next(iter(raw.values())).shape
    out = np.zeros((*shape, plan.n_fields), np.float32)
    names_may_change = any(s.name == "wind_sea" for s in plan.systems)
    systems = [_describe(s, _height(raw[s.height]), raw, names_may_change) for s in plan.given]
    for system in plan.given:
        _note_direction(counts, system, raw[system.direction])
    if plan.total:
        total = np.square(_height(raw[plan.total]))
        masked = np.isnan(total)
    else:
        masked = np.all([np.isnan(d.height) for d in systems], axis=0)
        total = np.sum([np.square(np.nan_to_num(d.height)) for d in systems], axis=0)
    counts.sea_cells += int(masked.size - np.count_nonzero(masked))
    broken = np.logical_or.reduce([d.broken for d in systems])
    steep = np.logical_or.reduce([d.steep for d in systems])
    beyond = np.logical_or.reduce([d.beyond for d in systems])
    energies = [np.where(d.present & ~masked, np.square(d.height), np.float32(0)) for d in systems]
    if plan.total and (plan.whole or len(systems) > 1):
        whole = None
        if plan.whole is not None:
            whole = _describe(plan.whole, _height(raw[plan.total]), raw)
        usable = ~(masked | broken)
        balanced = balance_with_total(plan, energies, systems, total, whole, usable, raw, counts)
        energies, broken = balanced.energies, broken | balanced.broken
        if balanced.rest is not None:
            systems = [*systems, balanced.rest]
        if whole is not None:
            steep |= balanced.broken & whole.steep
            beyond |= balanced.broken & whole.beyond
    broken &= ~masked
    counts.incomplete_cells += int(np.count_nonzero(broken & ~steep & ~beyond))
    counts.out_of_range_cells += int(np.count_nonzero(broken & beyond & ~steep))
    counts.too_steep_cells += int(np.count_nonzero(broken & steep))
    masked |= broken
    for i, (described, energy) in enumerate(zip(systems, energies, strict=True)):
        _store(out, plan, i, described, energy)
    out[masked] = 0.0
    out[..., 0] = masked
    out[..., 1] = np.where(masked, np.float32(0.0), total)
    return out


def _note_direction(counts: LoadCounts, system: System, direction: Singles) -> None:
    known = direction[np.isfinite(direction)]
    if known.size:
        largest = counts.largest_direction_rad.get(system.words, 0.0)
        counts.largest_direction_rad[system.words] = max(largest, float(known.max()))


def _height(values: Singles) -> Singles:
    """Heights with the packing noise below zero taken as zero."""
    return np.where(values < 0.0, np.float32(0.0), values)


def _describe(
    system: System, height: Singles, raw: Mapping[str, Singles], place_of_swell: bool = False
) -> Described:
    period = raw[system.period]
    if system.period.endswith("frequency"):
        with np.errstate(divide="ignore"):
            period = np.float32(1.0) / period
    direction = raw[system.direction]
    if system.to:
        direction = direction + np.float32(np.pi)
    known = np.isfinite(period) & (period > 0.0) & np.isfinite(direction)
    spread = raw[system.spread] if system.spread else None
    if spread is not None:
        known &= np.isfinite(spread)
    with np.errstate(invalid="ignore", over="ignore"):
        there = height > 0.0
        steep = _STEEP_M_S2 * np.square(period) < height
        steep &= known & (height > CALM_HEIGHT_M)
        known &= ~steep
        broken = ~known & (height > CALM_HEIGHT_M)
    kind = RATIO_KINDS[system.period_kind]
    peak, place = period, np.zeros_like(period)
    if not system.is_swell:
        by_steepness = peak_by_steepness(kind, height, period)
        peak, place = (values.astype(np.float32) for values in by_steepness)
    elif kind != "peak":
        peak = period / np.float32(period_ratio(kind, GAMMA_SWELL))
    if system.is_swell and place_of_swell:
        # Where the next cell calls it wind sea, it is treated as wind sea between them.
        place = place_by_steepness(height, peak).astype(np.float32)
    beyond = known & (height > 0.0) & ~in_range(peak)
    known &= ~beyond
    broken |= beyond & (height > CALM_HEIGHT_M)
    present = there & known
    return Described(height, peak, direction, spread, place, present, broken, steep, beyond)


def _store(out: Singles, plan: WavePlan, i: int, d: Described, energy: Singles) -> None:
    first = 2 + i * plan.fields_per_system
    where = energy > 0.0
    np.copyto(out[..., first], energy, where=where)
    np.copyto(out[..., first + 1], energy * d.peak_period, where=where)
    np.copyto(out[..., first + 2], energy * np.cos(d.direction), where=where)
    np.copyto(out[..., first + 3], energy * np.sin(d.direction), where=where)
    np.copyto(out[..., first + 4], energy * d.place, where=where)
    if plan.has_spread:
        usual = usual_spread(plan.systems[i].name)
        spread = d.spread if d.spread is not None else np.float32(usual)
        np.copyto(out[..., first + 5], energy * spread, where=where)
