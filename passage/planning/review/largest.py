"""Where the largest miss is, and its likely reason in a sentence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.review.causes import EXPLAINED, MissCauses
from passage.planning.review.legs import LegReview
from passage.planning.review.review import Review

#: A miss is measured in half-widths of the plan's band, at least this share of the plan.
LEAST_SHARE = 0.05
#: A miss below this share of the plan is not explained.
_SMALL = 0.02
#: Differences of speed [kn] and fin use [share of the time] from which they are named.
_SPEED_KN, _FINS = 0.3, 0.2
#: The same, and distance, where sailing otherwise is the largest part of the miss.
_LESS_SPEED_KN, _LESS_FINS, _LESS_NM = 0.05, 0.05, 0.5
#: Heights that differ by less than this share count as forecast.
_SEA = 0.1


@dataclass(frozen=True)
class LargestMiss:
    """The leg and quantity with the largest miss for its band; ``words`` gives a likely reason."""

    key: str
    leg: int
    miss: float
    share: float
    words: str


def largest_miss(found: Review, causes: MissCauses | None = None) -> LargestMiss | None:
    """The largest miss of fuel or roll over the legs; None where nothing is off by 2 %."""
    best: tuple[float, LegReview, str] | None = None
    for leg in found.legs:
        for key, _ in EXPLAINED:
            pair = leg.pairs[key]
            if pair.miss is None or not pair.planned:
                continue
            half = LEAST_SHARE * pair.planned
            if pair.low is not None and pair.high is not None:
                half = max(0.5 * (pair.high - pair.low), half)
            if abs(pair.miss) > _SMALL * pair.planned:
                size = abs(pair.miss) / half
                if best is None or size > best[0]:
                    best = (size, leg, key)
    if best is None:
        return None
    _, leg, key = best
    pair = leg.pairs[key]
    assert pair.miss is not None
    assert pair.planned is not None
    unit, digits = ("l", 0) if key == "fuel" else ("deg rms", 2)
    share = pair.miss / pair.planned
    where = f"leg {leg.leg} ({leg.name})" if leg.name.strip() else f"leg {leg.leg}"
    words = (
        f"The largest miss is the {key} of {where}: {pair.logged:,.{digits}f} {unit} logged, "
        f"{pair.planned:,.{digits}f} planned ({100.0 * share:+.0f} %). {_reason(leg, key, causes)}"
    )
    return LargestMiss(key, leg.leg, pair.miss, share, words)


def _reason(leg: LegReview, key: str, causes: MissCauses | None) -> str:
    if causes is None or leg.leg not in causes.legs[key]:
        other = _otherwise(leg, key)
        if other:
            return f"Likely: {other}. --sea shows the part of the sea."
        return "Give the sea as it was (--sea) to split this into forecast and model."
    miss = leg.pairs[key].miss or 0.0
    forecast, otherwise, model = (
        float("nan") if one is None else one for one in causes.of_legs(key, [leg]).first
    )
    parts = {"forecast": forecast, "otherwise": otherwise, "model": model}
    # The largest part with the sign of the miss.
    name = max(parts, key=lambda one: np.nan_to_num(parts[one]) * np.sign(miss))
    of = f"that part is {_number(parts[name], key)}, the whole miss {_number(miss, key)}"
    if name == "forecast":
        return f"Likely the forecast ({of}){_sea_words(leg, causes)}."
    if name == "otherwise":
        # This part is the largest, so smaller differences that push its way are named too.
        other = _otherwise(leg, key) or _pushing(leg, key, parts[name])
        other = other or "no difference in speed, fins or track is large: look at times and courses"
        return f"Likely how she was sailed ({of}): {other}."
    low, high = ("more", "less") if miss > 0 else ("less", "more")
    what = (
        f"the vessel file or the meter: she burns {low} than computed at this speed and sea"
        if key == "fuel"
        else f"the vessel file: she rolls {low} than computed, so damping or fins do {high} "
        "than the file says, or the waves differed from the analysis"
    )
    return f"Likely {what} ({of})."


def _number(value: float, key: str) -> str:
    return f"{value:+,.0f} l" if key == "fuel" else f"{value:+.2f} deg"


def _sea_words(leg: LegReview, causes: MissCauses) -> str:
    """The sea as it was beside the forecast, on that leg."""
    at = leg.leg - 1
    planned, was = causes.planned_height_m[at], causes.as_planned.height_m[at]
    if not (np.isfinite(planned) and np.isfinite(was)) or planned <= 0.0:
        return ""
    if abs(was / planned - 1.0) < _SEA:
        return f": a sea of {was:.1f} m as forecast, but with another period, direction or wind"
    return f": a sea of {was:.1f} m where {planned:.1f} m was forecast"


def _pushing(leg: LegReview, key: str, part: float) -> str:
    """Smaller differences from the plan that push roll or fuel the way of ``part``, in words."""
    words = []
    fins, hours = leg.pairs["fins_active"].miss, leg.pairs["hours"].logged
    if key == "roll" and fins is not None and hours and -fins * np.sign(part) > _LESS_FINS * hours:
        words.append(_fins_words(fins))
    speed = leg.pairs["speed_through_water"].miss
    if key == "fuel" and speed is not None and speed * np.sign(part) >= _LESS_SPEED_KN:
        words.append(f"{abs(speed):.1f} kn {'faster' if speed > 0 else 'slower'} through the water")
    way = leg.pairs["distance"].miss
    if key == "fuel" and way is not None and way * np.sign(part) >= _LESS_NM:
        words.append(f"{abs(way):.1f} nm {'longer' if way > 0 else 'shorter'}")
    return ", ".join(words)


def _fins_words(hours: float) -> str:
    return f"fins active {abs(hours):.1f} h {'more' if hours > 0 else 'less'} than planned"


def _otherwise(leg: LegReview, key: str) -> str:
    """How a leg was sailed otherwise than planned; empty where no difference is large."""
    words = []
    for name, what in (
        ("speed_through_water", "through the water"),
        ("speed_over_ground", "made good"),
    ):
        miss = leg.pairs[name].miss
        if miss is not None and abs(miss) >= _SPEED_KN:
            words.append(f"{abs(miss):.1f} kn {'faster' if miss > 0 else 'slower'} {what}")
            break
    fins, hours = leg.pairs["fins_active"].miss, leg.pairs["hours"].logged
    if fins is not None and hours and abs(fins) > _FINS * hours:
        words.append(_fins_words(fins))
    if leg.off_track_nm is not None and leg.off_track_nm >= 5.0:
        words.append(f"up to {leg.off_track_nm:.0f} nm off the planned track")
    way = leg.pairs["distance"].miss
    if key == "fuel" and way is not None and abs(way) > 2.0:
        words.append(f"{abs(way):.0f} nm {'longer' if way > 0 else 'shorter'}")
    return ", ".join(words)
