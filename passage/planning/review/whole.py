"""The whole passage from its legs: sums, and means weighted by time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.planning.review.legs import QUANTITIES, LegReview, PlannedLogged, ratio

_SIDES = ("planned", "logged", "low", "high")
#: Quantities summed over the legs. Of roll and fin angle the squares are averaged, of the
#: others the values.
SUMS = ("hours", "distance", "fuel", "fins_active")
_SQUARES = ("roll", "fin_angle")


def combined(key: str, values: npt.ArrayLike, hours: npt.ArrayLike) -> float | None:
    """One quantity over several legs, in its own unit: a sum, or a mean weighted by hours.

    None where a value is missing (NaN) or there are no hours to weight with.
    """
    value, weight = np.asarray(values, dtype=float), np.asarray(hours, dtype=float)
    if key in SUMS:
        total = float(np.sum(value))
    else:
        power = 2.0 if key in _SQUARES else 1.0
        whole = float(np.sum(weight))
        if not whole > 0.0:
            return None
        total = float(np.sum(value**power * weight) / whole) ** (1.0 / power)
    return total if np.isfinite(total) else None


def over_legs(legs: list[LegReview], key: str, which: str) -> float | None:
    """Planned, logged or a band end over several legs; weighted by logged or planned hours."""
    clock = "logged" if which == "logged" else "planned"
    return combined(
        key,
        [_number(getattr(leg.pairs[key], which)) for leg in legs],
        [_number(getattr(leg.pairs["hours"], clock)) for leg in legs],
    )


def _number(value: float | None) -> float:
    return float("nan") if value is None else value


def whole_review(legs: tuple[LegReview, ...]) -> LegReview:
    """The whole passage, from the legs that are both planned and logged."""
    there = [leg for leg in legs if leg.part > 0.0]
    pairs: dict[str, PlannedLogged] = {}
    remarks: list[str] = []
    fuel_legs: tuple[int, ...] = ()
    for key, words, _, _ in QUANTITIES:
        both = [
            leg
            for leg in there
            if leg.pairs[key].planned is not None and leg.pairs[key].logged is not None
        ]
        if not both:
            pairs[key] = PlannedLogged(None, None)
            continue
        if key == "fuel":
            fuel_legs = tuple(leg.leg for leg in both)
        elif key == "speed_over_ground":
            continue
        pairs[key] = PlannedLogged(*(over_legs(both, key, which) for which in _SIDES))
        if len(both) < len(legs) and key in ("hours", "fuel", "roll"):
            numbers = ", ".join(str(leg.leg) for leg in both)
            remarks.append(f"{words}: legs {numbers} only")
    way, hours = pairs["distance"], pairs["hours"]
    pairs["speed_over_ground"] = PlannedLogged(
        ratio(way.planned, hours.planned), ratio(way.logged, hours.logged)
    )
    begins = [leg.begin_s for leg in there if leg.begin_s is not None]
    ends = [leg.end_s for leg in there if leg.end_s is not None]
    offs = [leg.off_track_nm for leg in there if leg.off_track_nm is not None]
    return LegReview(
        leg=0,
        name="whole passage",
        begin_s=begins[0] if begins else None,
        end_s=ends[-1] if ends else None,
        part=1.0,
        off_track_nm=max(offs) if offs else None,
        pairs={key: pairs[key] for key, *_ in QUANTITIES},
        remarks=tuple(remarks),
        fuel_legs=fuel_legs,
    )
