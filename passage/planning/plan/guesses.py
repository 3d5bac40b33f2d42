"""Effect of estimated particulars on the bands of roll and fuel, and which matter most."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Estimate, Vessel
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage, PlanOptions
from passage.planning.voyage.rolling import Choices
from passage.units import deg_to_rad

Array = npt.NDArray[np.float64]

#: Code of the caution about estimates that widen the bands.
ESTIMATED = "particulars_estimated"
#: Number of estimates that the caution names.
NAMED = 3
#: Narrowing of a band, as a share, below which it is not mentioned.
_LITTLE = 0.02

#: Source of a value that was estimated, as the beginning of a sentence.
REMEDIES = {
    "gm_m": "fluid GM from the stability booklet",
    "displacement_t": "the displacement from the booklet",
    "draught_m": "the draught read at the marks",
    "natural_period_s": "timing ten rolls at the berth",
    "damping_ratio": "a roll decay at the berth (passage decay)",
    "quadratic_damping": "a roll decay at the berth (passage decay)",
    "damping_ratio_per_kn": "a roll decay under way (passage decay)",
    "aspect_ratio": "the fins' outreach from the maker's drawing",
    "lever_m": "the fins' place from the lines plan",
    "max_angle_deg": "the fins' largest angle from the maker's sheet",
    "max_rate_deg_s": "the fins' rate from the maker's sheet",
    "rate_gain_s": "the rate gain shown by the fins' control unit",
    "generator_l_per_h": "the generators' fuel from their log",
    "frontal_area_m2": "the areas above the water from the profile drawing",
    "lateral_area_m2": "the areas above the water from the profile drawing",
    "propulsive_efficiency": "brake power and fuel from a sea trial",
    "specific_fuel_g_per_kwh": "specific consumption from the engine maker's curve",
}


def widen_bands(
    passage: Passage, way: March, evaluation: Evaluation, options: PlanOptions
) -> tuple[Caution, ...]:
    """Widen the bands of roll and fuel by every estimate with a band; name the most important.

    Each estimate is set to both ends of its band with all else unchanged. The shifts are taken
    as independent of each other and of the existing bands, and are added as the root of the
    sum of squares. Track, speeds and tables of the sea stay the same.
    """
    banded = [one for one in passage.vessel.estimated if one.low is not None]
    values = evaluation.values
    if not banded or "fuel_low_l" not in values:
        return ()
    choices = Choices(
        fins=options.fins,
        heel=options.heel,
        list_rad=float(deg_to_rad(passage.vessel.loading.list_deg)),
        wave_method=options.wave_method,
        band=False,
    )

    felt = "roll_active_rms_deg" if options.fins == "active" else "roll_centred_rms_deg"

    def sailed(vessel: Vessel) -> tuple[Array, Array]:
        yacht = passage.yacht.guessed_otherwise(vessel)
        found = evaluate(yacht, way, choices, same_sea=evaluation).values
        return found[felt], found["fuel_l"]

    middle = sailed(passage.vessel)
    spread: dict[str, tuple[float, float]] = {}
    ends = (
        ("roll_active_low_rms_deg", "roll_active_high_rms_deg"),
        ("fuel_low_l", "fuel_high_l"),
    )
    own = values[felt], values["fuel_l"]
    below = [(own[k] - values[low]) ** 2 for k, (low, _) in enumerate(ends)]
    above = [(values[high] - own[k]) ** 2 for k, (_, high) in enumerate(ends)]
    start = [_width(below[k] + above[k], way.hours) for k in range(2)]
    for one in banded:
        if one.low == one.high:
            continue
        shifts = [
            tuple(np.nan_to_num(new - old) for new, old in zip(at, middle, strict=True))
            for at in (
                sailed(with_value(passage.vessel, one, float(end)))
                for end in (one.low, one.high)
                if end is not None
            )
        ]
        for k in range(2):
            least = np.minimum.reduce([shift[k] for shift in shifts])
            most = np.maximum.reduce([shift[k] for shift in shifts])
            below[k] = below[k] + np.minimum(least, 0.0) ** 2
            above[k] = above[k] + np.maximum(most, 0.0) ** 2
        spread[one.key] = tuple(  # type: ignore[assignment]
            _width(
                np.maximum.reduce([shift[k] ** 2 for shift in shifts])
                + np.minimum.reduce([shift[k] ** 2 for shift in shifts]),
                way.hours,
            )
            for k in range(2)
        )
    for k, (low, high) in enumerate(ends):
        values[low] = np.maximum(own[k] - np.sqrt(below[k]), 0.0)
        values[high] = own[k] + np.sqrt(above[k])
    return _words(spread, (start[0], start[1]))


def _width(squares: Array, hours: Array) -> float:
    """Mean over the known hours of squared shifts."""
    known = np.isfinite(squares) & np.isfinite(hours)
    total = float(np.sum(hours[known]))
    return float(np.sum(squares[known] * hours[known])) / total if total > 0.0 else 0.0


def with_value(vessel: Vessel, one: Estimate, value: float) -> Vessel:
    """The vessel with another value of one estimate."""
    section, key = one.key.rsplit(".", 1)
    new: dict[str, Any] = {key: value}
    if section == "vessel":
        return replace(vessel, particulars=replace(vessel.particulars, **new))
    pair = re.fullmatch(r"fins\[(\d+)\]", section)
    if pair is None:
        part: dict[str, Any] = {section: replace(getattr(vessel, section), **new)}
        return replace(vessel, **part)
    i = int(pair[1]) - 1
    fins = list(vessel.fins)
    fins[i] = replace(fins[i], **new)
    return replace(vessel, fins=tuple(fins))


def _words(
    spread: dict[str, tuple[float, float]], start: tuple[float, float]
) -> tuple[Caution, ...]:
    """One caution that names the values to look up first."""
    # One source may give several values.
    together: dict[str, tuple[float, float]] = {}
    for key, (roll, fuel) in spread.items():
        remedy = REMEDIES.get(key.rsplit(".", 1)[-1], key)
        had = together.get(remedy, (0.0, 0.0))
        together[remedy] = (had[0] + roll, had[1] + fuel)
    totals = [start[k] + sum(one[k] for one in together.values()) for k in range(2)]
    gains = {
        remedy: tuple(
            1.0 - np.sqrt(max(1.0 - one[k] / totals[k], 0.0)) if totals[k] > 0.0 else 0.0
            for k in range(2)
        )
        for remedy, one in together.items()
    }
    best = sorted(gains, key=lambda remedy: -max(gains[remedy]))[:NAMED]
    parts = []
    for remedy in best:
        words = [
            f"the {what} band by {100.0 * gain:.0f} %"
            for what, gain in zip(("roll", "fuel"), gains[remedy], strict=True)
            if gain >= _LITTLE
        ]
        if words:
            parts.append(f"{remedy} would narrow {' and '.join(words)}")
    if not parts:
        return ()
    text = (
        f"{len(spread)} particulars behind roll and fuel are estimated, which widens their "
        f"bands. What would help most: {'; '.join(parts)}."
    )
    return (Caution(ESTIMATED, "caution", (), text),)
