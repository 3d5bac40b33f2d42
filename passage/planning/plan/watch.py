"""Watch sheet of a plan, by leg: fin settings, rolls and heel to expect, next change.

Rules of the trade (common practice, no source): at encounter periods near the natural roll
period fins should answer roll rate, in much slower waves from astern roll angle; too much
sensitivity causes small jerky rolls for no gain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.physics.roll.largest import largest_in_watch
from passage.physics.waves.dispersion import encounter_period
from passage.planning.plan.result import PlannedPassage
from passage.units import deg_to_rad, knots_to_m_s

#: Length of a watch. [h]
WATCH_H = 4.0
#: A roll above the largest expected by more than this factor, or by more than the band of the
#: roll, means that the sea is not the forecast's (assumption).
BEYOND_SHARE = 1.2
#: Encounter over natural roll period above which waves are slow, and below which short.
SLOW_RATIO, SHORT_RATIO = 1.25, 0.8
#: Above this tolerance of the course any two neighbours are merged, to fit one page.
LAST_RESORT_DEG = 500.0


@dataclass(frozen=True, kw_only=True)
class WatchLeg:
    """One leg, or several similar legs in a row, for the watch.

    Angles in degrees, heel and offset positive to starboard, times in seconds since 1970,
    fuel in litres; None where not known. ``roll_significant_deg`` is that of the worst hour, as
    judged by the limits; ``encounter_period_s`` is that of the peak period, as in the cautions,
    and not a mean that includes ripples. ``roll_beyond_deg`` is the roll above which the sea is
    not the forecast's, ``roll_limit_deg`` the owner's limit of roll. ``rate_percent`` is the
    share of the fins' response that is to roll rate, the rest being to roll angle;
    ``sensitivity_percent`` is the size of the gains relative to those of the vessel file.
    """

    legs: tuple[int, ...]
    to: str
    stay: bool
    courses_deg: tuple[float, ...]
    steer_deg: float | None
    speed_kn: float | None
    start_s: float | None
    end_s: float | None
    hours: float | None
    distance_nm: float
    height_m: float | None
    wave_angle_deg: float | None
    wave_side: str
    encounter_period_s: float | None
    fin_use: str
    rate_percent: float | None
    sensitivity_percent: float | None
    sensitivity_too_high: bool
    roll_as_set_deg: float | None
    roll_advised_deg: float | None
    at_stops_percent: float | None
    roll_significant_deg: float | None
    roll_largest_deg: float | None
    roll_beyond_deg: float | None
    roll_limit_deg: float | None
    heel_low_deg: float | None
    heel_high_deg: float | None
    offset_low_deg: float | None
    offset_high_deg: float | None
    fuel_l: float | None
    fuel_left_l: float | None
    mostly_slow: bool = False


def _number(value: Any) -> float | None:
    return None if value is None or value != value else float(value)


def watch_legs(plan: PlannedPassage, most: int = 8) -> tuple[WatchLeg, ...]:
    """Legs for the watch; similar ones are merged until there are at most ``most`` rows.

    Parameters
    ----------
    plan : PlannedPassage
        Plan with ``weighting``, for the advice about the fins.
    most : int
        Number of rows on one page.
    """
    rows = [_leg(plan, leg) for leg in plan.legs]
    left = plan.marks.get("usable_fuel_l")
    out = []
    for row in rows:
        left = None if left is None or row.fuel_l is None else left - row.fuel_l
        out.append(replace(row, fuel_left_l=left))
    roll_deg, turn_deg = 0.5, 10.0
    while len(out) > most and turn_deg < 1e4:
        out = _merged(out, roll_deg, turn_deg, most)
        roll_deg, turn_deg = 1.6 * roll_deg, 1.6 * turn_deg
    return tuple(out)


def _leg(plan: PlannedPassage, leg: dict[str, Any]) -> WatchLeg:
    fins = plan.provenance.get("options", {}).get("fins", "active")
    word = "active" if fins == "active" else "centred"
    here = np.asarray(plan.points["leg"]) == leg["leg"]
    every = np.asarray(plan.points["hours"], dtype=float)
    rms = np.asarray(plan.points[f"roll_{word}_rms_deg"], dtype=float)
    heel = np.asarray(plan.points["steady_heel_deg"], dtype=float)[here]
    # Neighbours without data do not make the largest roll of the leg unknown.
    near = _about_leg(plan, here) & (here | np.isfinite(rms))
    largest = _number(
        largest_in_watch(
            rms[near], every[near], float(plan.marks["natural_roll_period_s"]), WATCH_H
        )
    )
    doubt = _doubt(leg, word)
    known = np.isfinite(heel)
    advice = _advice(plan, int(leg["leg"]))
    high = {
        number
        for caution in plan.cautions
        if caution.code == "gains_too_high"
        for number in caution.legs
    }
    speed = _number(leg["speed_through_water_kn"])
    hours_all = _number(leg["hours"])
    start = _seconds(leg["etd_utc"])
    kind = "at_rest" if leg["type"] == "stay" else "underway"
    limits = plan.marks.get("limits", {}).get(kind, {})
    return WatchLeg(
        legs=(int(leg["leg"]),),
        to=str(leg["to"]),
        stay=leg["type"] == "stay",
        courses_deg=() if leg["type"] == "stay" else (float(leg["course_true_deg"]),),
        steer_deg=_number(leg["course_to_steer_deg"]),
        speed_kn=speed,
        start_s=start,
        end_s=_seconds(leg["eta_utc"]),
        hours=hours_all,
        distance_nm=float(leg["distance_nm"]),
        height_m=_number(leg["significant_height_m"]),
        wave_angle_deg=_number(leg["encounter_angle_deg"]),
        wave_side=str(leg["encounter_side"] or ""),
        encounter_period_s=_met_s(leg),
        fin_use=str(leg["fin_use"]),
        rate_percent=advice[0],
        sensitivity_percent=advice[1],
        sensitivity_too_high=int(leg["leg"]) in high,
        roll_as_set_deg=advice[2],
        roll_advised_deg=advice[3],
        at_stops_percent=_number(leg["fin_at_limit_percent"]),
        mostly_slow=_more_rate_than_angle(leg),
        roll_significant_deg=_number(leg["window_roll_significant_deg"]),
        roll_largest_deg=largest,
        roll_beyond_deg=None if largest is None else max(BEYOND_SHARE, doubt) * largest,
        roll_limit_deg=_number(limits.get("roll_significant_deg")),
        heel_low_deg=float(heel[known].min()) if known.any() else None,
        heel_high_deg=float(heel[known].max()) if known.any() else None,
        offset_low_deg=_number(leg["fin_offset_deg"]),
        offset_high_deg=_number(leg["fin_offset_deg"]),
        fuel_l=_number(leg["fuel_l"]),
        fuel_left_l=None,
    )


def _about_leg(plan: PlannedPassage, here: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Points of a leg and of half the owner's window before and after it.

    The worst hour of the limits may extend beyond the leg; the largest roll within the leg
    alone could be smaller than the significant roll of that hour.
    """
    hours = np.nan_to_num(np.asarray(plan.points["hours"], dtype=float))
    end = np.cumsum(hours)
    start = end - hours
    half = 0.5 * float(plan.marks.get("window_h", 1.0))
    at = np.flatnonzero(here)
    return np.asarray((end > start[at[0]] - half) & (start < end[at[-1]] + half))


def _met_s(leg: dict[str, Any]) -> float | None:
    """Encounter period of the peak period on a leg, infinite where she keeps pace. [s]"""
    period, knots, angle = (
        _number(leg[name])
        for name in ("peak_period_s", "speed_through_water_kn", "encounter_angle_deg")
    )
    if period is None or knots is None or angle is None:
        return None
    return float(encounter_period(period, knots_to_m_s(knots), deg_to_rad(angle)))


def _more_rate_than_angle(leg: dict[str, Any]) -> bool:
    rate, angle = (_number(leg[f"fin_{name}_limited_percent"]) for name in ("rate", "angle"))
    return (rate or 0.0) > (angle or 0.0)


def _doubt(leg: dict[str, Any], word: str) -> float:
    """High end of the roll band over the roll with fins ``word``, at least 1."""
    # The band is that of the roll sailed with, of centred fins too.
    middle, high = _number(leg[f"roll_{word}_rms_deg"]), _number(leg["roll_active_high_rms_deg"])
    if not middle or high is None:
        return 1.0
    return max(high / middle, 1.0)


_Advice = tuple[float | None, float | None, float | None, float | None]


def _advice(plan: PlannedPassage, number: int) -> _Advice:
    """Share of rate and size of gains relative to the file [%], roll as set and advised [deg]."""
    given = plan.marks.get("fin_gains")
    none: _Advice = (None, None, None, None)
    if not given:
        return none
    omega = 2.0 * np.pi / float(plan.marks["natural_roll_period_s"])
    for decision in plan.decisions:
        if decision.get("kind") != "fin_gains" or number not in decision["legs"]:
            continue
        change = decision["choice"] == "change"
        gains = decision["gains"] if change else given
        rate, angle = gains["rate_gain_s"] * omega, gains["angle_gain"]
        size = np.hypot(given["rate_gain_s"] * omega, given["angle_gain"])
        total = abs(rate) + abs(angle)
        if not total > 0.0 or not size > 0.0:
            return none
        return (
            float(100.0 * abs(rate) / total),
            float(100.0 * np.hypot(rate, angle) / size),
            _number(decision["roll_given_significant_deg"]) if change else None,
            _number(decision["roll_best_significant_deg"]) if change else None,
        )
    return none


def _seconds(text: str | None) -> float | None:
    from datetime import datetime

    return None if not text else datetime.fromisoformat(text).timestamp()


def _least(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else min(a, b)


def _alike(one: WatchLeg, other: WatchLeg, roll_deg: float, turn_deg: float) -> bool:
    """Whether two neighbouring legs are similar enough for one row of the sheet."""
    if turn_deg > LAST_RESORT_DEG:
        return True
    if one.stay or other.stay or one.fin_use != other.fin_use:
        return False
    for a, b, most in (
        (one.roll_significant_deg, other.roll_significant_deg, roll_deg),
        (one.wave_angle_deg, other.wave_angle_deg, 2.0 * turn_deg),
        (one.rate_percent, other.rate_percent, 2.0 * turn_deg),
        (one.offset_low_deg, other.offset_high_deg, 0.5 * turn_deg),
    ):
        if (a is None) != (b is None) or (a is not None and b is not None and abs(a - b) > most):
            return False
    turn = abs((one.courses_deg[-1] - other.courses_deg[0] + 180.0) % 360.0 - 180.0)
    return turn <= turn_deg


def _merged(
    rows: Sequence[WatchLeg], roll_deg: float, turn_deg: float, most: int
) -> list[WatchLeg]:
    out: list[WatchLeg] = [rows[0]]
    for at, row in enumerate(rows[1:], 1):
        remaining = len(out) + len(rows) - at
        if remaining > most and _alike(out[-1], row, roll_deg, turn_deg):
            out[-1] = _joined(out[-1], row)
        else:
            out.append(row)
    return out


def _joined(one: WatchLeg, other: WatchLeg) -> WatchLeg:
    """Two legs as one: sums are added, rolls take the worse, the rest is a mean over time."""

    def worse(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else max(a, b)

    def added(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else a + b

    def mean(a: float | None, b: float | None) -> float | None:
        if a is None or b is None or one.hours is None or other.hours is None:
            return None
        whole = one.hours + other.hours
        return (a * one.hours + b * other.hours) / whole if whole > 0.0 else a

    rougher = one if (one.roll_significant_deg or 0.0) >= (other.roll_significant_deg or 0.0) \
        else other  # fmt: skip
    low = [v for v in (one.heel_low_deg, other.heel_low_deg) if v is not None]
    high = [v for v in (one.heel_high_deg, other.heel_high_deg) if v is not None]
    return replace(
        rougher,
        legs=(*one.legs, *other.legs),
        to=other.to,
        stay=one.stay and other.stay,
        fin_use=one.fin_use if one.fin_use == other.fin_use else "by leg",
        courses_deg=(*one.courses_deg, *other.courses_deg),
        steer_deg=None,
        speed_kn=mean(one.speed_kn, other.speed_kn),
        start_s=one.start_s,
        end_s=other.end_s,
        hours=added(one.hours, other.hours),
        distance_nm=one.distance_nm + other.distance_nm,
        sensitivity_too_high=one.sensitivity_too_high or other.sensitivity_too_high,
        at_stops_percent=worse(one.at_stops_percent, other.at_stops_percent),
        mostly_slow=max(one, other, key=lambda leg: leg.at_stops_percent or 0.0).mostly_slow,
        roll_significant_deg=worse(one.roll_significant_deg, other.roll_significant_deg),
        roll_largest_deg=worse(one.roll_largest_deg, other.roll_largest_deg),
        roll_beyond_deg=worse(one.roll_beyond_deg, other.roll_beyond_deg),
        heel_low_deg=min(low) if low else None,
        heel_high_deg=max(high) if high else None,
        offset_low_deg=_least(one.offset_low_deg, other.offset_low_deg),
        offset_high_deg=worse(one.offset_high_deg, other.offset_high_deg),
        fuel_l=added(one.fuel_l, other.fuel_l),
        fuel_left_l=other.fuel_left_l,
    )
