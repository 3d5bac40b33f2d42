"""The whole passage from its legs: what adds up, and means weighted by time."""

from __future__ import annotations

import numpy as np

from passage.planning.review.legs import QUANTITIES, LegReview, PlannedLogged, ratio

_SIDES = ("planned", "logged", "low", "high")


def whole_review(legs: tuple[LegReview, ...]) -> LegReview:
    """The passage as logged: sums over the legs that have both, means weighted by time."""
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
        if key in ("hours", "distance", "fuel", "fins_active"):
            pairs[key] = PlannedLogged(*(_sum(both, key, which) for which in _SIDES))
            if key == "fuel":
                fuel_legs = tuple(leg.leg for leg in both)
        elif key == "speed_over_ground":
            continue
        else:
            power = 2.0 if key in ("roll", "fin_angle") else 1.0
            pairs[key] = PlannedLogged(*(_weighted(both, key, which, power) for which in _SIDES))
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


def _values(legs: list[LegReview], key: str, which: str) -> list[float] | None:
    values = [getattr(leg.pairs[key], which) for leg in legs]
    return None if any(value is None for value in values) else values


def _sum(legs: list[LegReview], key: str, which: str) -> float | None:
    values = _values(legs, key, which)
    return None if values is None else float(sum(values))


def _weighted(legs: list[LegReview], key: str, which: str, power: float) -> float | None:
    values = _values(legs, key, which)
    # Planned values weigh with planned hours, logged ones with logged.
    weights = _values(legs, "hours", "logged" if which == "logged" else "planned")
    if values is None or weights is None or not sum(weights):
        return None
    mean = np.sum(np.array(values) ** power * weights) / np.sum(weights)
    return float(mean ** (1.0 / power))
