"""Which wave systems a forecast gives, and their fields in linear form.

Stored per cell: [no data, total height, then per system: height, energy, energy x
period, energy x cos, energy x sin of the coming-from direction, and energy x spread
when any system has one]. Energy is height squared: the common factor does not matter.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.names import PERIOD_KINDS, PERIOD_WORDS, SWELLS
from passage.physics.waves.spectrum import (
    COS2_WIDTH_RAD,
    SWELL_WIDTH_RAD,
    period_ratio,
)
from passage.units import G_M_S2

Singles = npt.NDArray[np.float32]

#: Below this height a system without period or direction counts as calm [m]. Its
#: energy is under a 100th of that of a 0.5 m sea.
CALM_HEIGHT_M = 0.05

#: Significant steepness 2 pi Hs / (g T^2) that no sea has: a single wave breaks near
#: 0.14 and the steepest wind seas reach 0.07 by the peak period, 0.15 by the shortest
#: kind of mean period (from memory). Beyond it the period is another quantity, as a rule
#: a frequency in Hz.
LARGEST_STEEPNESS = 0.3

#: JONSWAP peak enhancement of a wind sea (the mean JONSWAP spectrum) and of swell.
GAMMA_WIND_SEA = 3.3
GAMMA_SWELL = 5.0

#: A sea is too steep when its height exceeds this times its period squared [m/s2].
_STEEP_M_S2 = np.float32(LARGEST_STEEPNESS * G_M_S2 / (2.0 * np.pi))

Kind = Literal["peak", "energy", "mean", "zero-crossing"]
#: Our kinds of period in the words of ``physics.spectrum``.
RATIO_KINDS: dict[str, Kind] = {
    "peak": "peak",
    "energy": "energy",
    "Tm01": "mean",
    "Tm02": "zero-crossing",
    "mean": "mean",
}


@dataclass(frozen=True)
class System:
    """One wave system and the names of the variables that describe it."""

    name: str
    height: str
    period: str
    period_kind: str
    direction: str
    to: bool
    spread: str = ""

    @property
    def words(self) -> str:
        """Name for the reader."""
        return self.name.replace("_", " ")


@dataclass(frozen=True)
class WavePlan:
    """How the waves of a forecast will be read.

    ``total`` names the variable of the total height, or is empty; ``stand_in`` is the
    total as a system, used where the total is there and every partition is absent.
    """

    systems: tuple[System, ...]
    total: str = ""
    stand_in: System | None = None
    notes: tuple[str, ...] = ()

    @property
    def has_spread(self) -> bool:
        """Whether any system has its own spread."""
        return any(s.spread for s in self.systems)

    @property
    def fields_per_system(self) -> int:
        """Fields stored for one system."""
        return 6 if self.has_spread else 5

    @property
    def n_fields(self) -> int:
        """Fields stored for a cell."""
        return 2 + self.fields_per_system * len(self.systems)

    @property
    def variables(self) -> list[str]:
        """Our names of everything that must be read."""
        wanted = [self.total] if self.total else []
        for s in (*self.systems, *([self.stand_in] if self.stand_in else [])):
            wanted += [s.height, s.period, s.direction, *([s.spread] if s.spread else [])]
        return list(dict.fromkeys(wanted))


@dataclass
class LoadCounts:
    """What was met while loading, for the notes."""

    stand_in_cells: int = 0
    incomplete_cells: int = 0
    too_steep_cells: int = 0
    sea_cells: int = 0
    #: Largest direction met, by the name of its system [rad].
    largest_direction_rad: dict[str, float] = field(default_factory=dict)


def describe_system(system: str, names: Collection[str]) -> System | str:
    """The system when height, period and direction are there, else what is missing."""
    if f"{system}_height" not in names:
        return "height"
    period = kind = ""
    for k in PERIOD_KINDS:
        if f"{system}_{k}_period" in names:
            period, kind = f"{system}_{k}_period", k
            break
        if k == "peak" and f"{system}_peak_frequency" in names:
            period, kind = f"{system}_peak_frequency", k
            break
    if not period:
        return "period"
    for k in ("from", "to", "peak_from", "peak_to"):
        direction = f"{system}_{k}_direction"
        if direction in names:
            spread = f"{system}_spread" if f"{system}_spread" in names else ""
            to = k.endswith("to")
            return System(system, f"{system}_height", period, kind, direction, to, spread)
    return "direction"


def plan_waves(names: Collection[str]) -> WavePlan | str:
    """Choose the systems: partitions when they are whole, else the total.

    Returns
    -------
    WavePlan or str
        The plan, or what is missing, in words.
    """
    found = {s: describe_system(s, names) for s in ("total", "wind_sea", "swell", *SWELLS)}
    total, wind_sea = found["total"], found["wind_sea"]
    notes: list[str] = []
    swells = [s for n in SWELLS if isinstance(s := found[n], System)]
    if not swells and isinstance(found["swell"], System):
        swells = [found["swell"]]
    for name, missing in found.items():
        if isinstance(missing, str) and missing != "height":
            word = name.replace("_", " ")
            notes.append(f"{word}: height is given without a {missing}; not used")
    have_total = "total_height" if "total_height" in names else ""
    whole = isinstance(wind_sea, System) and bool(swells)
    if whole or (not isinstance(total, System) and (wind_sea_ok(wind_sea) or swells)):
        systems = tuple(s for s in (wind_sea, *swells) if isinstance(s, System))
        stand_in = total if isinstance(total, System) else None
        if not whole:
            missing = "swell" if wind_sea_ok(wind_sea) else "wind sea"
            notes.append(f"no {missing} is given and no usable total: the sea is more")
        if not have_total:
            notes.append("no total height is given: it is the sum of the systems, and "
                         "a system that is missing cannot be told from a calm one")  # fmt: skip
        plan = WavePlan(systems, have_total, stand_in)
    elif isinstance(total, System):
        if wind_sea_ok(wind_sea) or swells:
            notes.append("only part of the partitions is given; the total sea is used")
        else:
            notes.append("no partitions (wind sea, swell): the total sea is one system")
        plan = WavePlan((total,), have_total)
    else:
        return str(total)
    notes += _period_notes(plan.systems)
    return WavePlan(plan.systems, plan.total, plan.stand_in, tuple(notes))


def wind_sea_ok(found: System | str) -> bool:
    """Whether a described system is whole."""
    return isinstance(found, System)


def _period_notes(systems: tuple[System, ...]) -> list[str]:
    notes = []
    for kind in PERIOD_KINDS[1:]:
        names = [s.words for s in systems if s.period_kind == kind]
        if names:
            extra = ", taken as Tm01" if kind == "mean" else ""
            notes.append(
                f"peak period of {', '.join(names)} is derived from the "
                f"{PERIOD_WORDS[kind]}{extra}, through the ratio of the spectrum assumed"
            )
    by_peak = [s.words for s in systems if "_peak_" in s.direction]
    if by_peak:
        notes.append(f"direction of {', '.join(by_peak)} is that at the spectral peak")
    return notes


def build_fields(plan: WavePlan, raw: Mapping[str, Singles], counts: LoadCounts) -> Singles:
    """Linear fields ``(time, lat, lon, n_fields)`` from values in our units.

    Parameters
    ----------
    plan : WavePlan
        What to build.
    raw : mapping of str to ndarray
        Arrays of one shape by our names; heights m, periods s (or Hz), angles rad.
    counts : LoadCounts
        Cells that needed a word are added here.
    """
    shape = next(iter(raw.values())).shape
    out = np.zeros((*shape, plan.n_fields), np.float32)
    heights = [_height(raw[s.height]) for s in plan.systems]
    if plan.total:
        total = _height(raw[plan.total])
        masked = np.isnan(total)
    else:
        masked = np.all([np.isnan(h) for h in heights], axis=0)
        total = np.sqrt(np.sum([np.square(np.nan_to_num(h)) for h in heights], axis=0))
    counts.sea_cells += int(masked.size - np.count_nonzero(masked))
    absent = np.ones(shape, bool)
    broken = np.zeros(shape, bool)
    steep = np.zeros(shape, bool)
    for i, (system, height) in enumerate(zip(plan.systems, heights, strict=True)):
        described = _describe(plan, system, height, raw)
        _note_direction(counts, system, raw[system.direction])
        absent &= ~described.present
        broken |= described.broken
        steep |= described.steep
        _store(out, plan, i, described, described.present & ~masked)
    if plan.total and (plan.stand_in or len(plan.systems) > 1):
        # The total is there and no partition is: the sea must not vanish.
        alone = absent & ~broken & ~masked & (total > CALM_HEIGHT_M)
        if alone.any() and plan.stand_in is not None:
            described = _in_kind_of(
                plan.systems[0], plan.stand_in, _describe(plan, plan.stand_in, total, raw)
            )
            steep |= alone & described.steep
            counts.stand_in_cells += int(np.count_nonzero(alone & described.present))
            _store(out, plan, 0, described, alone & described.present)
            broken |= alone & ~described.present
        elif alone.any():
            broken |= alone
    broken &= ~masked
    counts.incomplete_cells += int(np.count_nonzero(broken & ~steep))
    counts.too_steep_cells += int(np.count_nonzero(broken & steep))
    masked |= broken
    out[masked] = 0.0
    out[..., 0] = masked
    out[..., 1] = np.where(masked, 0.0, total)
    return out


def _note_direction(counts: LoadCounts, system: System, direction: Singles) -> None:
    known = direction[np.isfinite(direction)]
    if known.size:
        largest = counts.largest_direction_rad.get(system.words, 0.0)
        counts.largest_direction_rad[system.words] = max(largest, float(known.max()))


@dataclass(frozen=True, eq=False)
class _Described:
    height: Singles
    period: Singles
    direction: Singles
    spread: Singles | None
    present: npt.NDArray[np.bool_]
    broken: npt.NDArray[np.bool_]
    steep: npt.NDArray[np.bool_]


def _height(values: Singles) -> Singles:
    """Heights with the packing noise below zero taken as zero."""
    return np.where(values < 0.0, np.float32(0.0), values)


def _describe(
    plan: WavePlan, system: System, height: Singles, raw: Mapping[str, Singles]
) -> _Described:
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
    return _Described(height, period, direction, spread, there & known, broken, steep)


def _in_kind_of(slot: System, stand_in: System, d: _Described) -> _Described:
    """The stand-in with its period turned to the kind that its slot holds."""
    gamma = usual_gamma(slot.name)
    kinds = RATIO_KINDS[slot.period_kind], RATIO_KINDS[stand_in.period_kind]
    ratio = float(period_ratio(kinds[0], gamma) / period_ratio(kinds[1], gamma))
    return replace(d, period=d.period * np.float32(ratio))


def _store(
    out: Singles, plan: WavePlan, i: int, d: _Described, where: npt.NDArray[np.bool_]
) -> None:
    first = 2 + i * plan.fields_per_system
    energy = np.where(where, np.square(d.height), np.float32(0.0))
    period = np.where(where, d.period, np.float32(0.0))
    # A height too small to have a period keeps its place in the linear heights.
    np.copyto(out[..., first], d.height, where=where)
    np.copyto(out[..., first + 1], energy, where=where)
    np.copyto(out[..., first + 2], energy * period, where=where)
    np.copyto(out[..., first + 3], energy * np.cos(d.direction), where=where)
    np.copyto(out[..., first + 4], energy * np.sin(d.direction), where=where)
    if plan.has_spread:
        usual = usual_spread(plan.systems[i].name)
        spread = d.spread if d.spread is not None else np.float32(usual)
        np.copyto(out[..., first + 5], energy * spread, where=where)


def usual_gamma(system: str) -> float:
    """Peak enhancement of a partition."""
    return GAMMA_WIND_SEA if system == "wind_sea" else GAMMA_SWELL


def usual_spread(system: str) -> float:
    """Circular width of a system whose file gives none [rad]."""
    return SWELL_WIDTH_RAD if system.startswith("swell") else COS2_WIDTH_RAD
