"""Doubts about a log: reported, never corrected by a guess."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from passage.inputs.records.plan_file import PlanFile
from passage.planning.review.legs import (
    LegReview,
    PlannedLogged,
    heel_mean_deg,
    way_by_positions_nm,
)
from passage.planning.review.match import REST_KN, Match
from passage.planning.review.spans import Spans
from passage.units import HOUR_S, KNOT_M_S, utc_text

Array = npt.NDArray[np.float64]

#: A meter that shows one value for this long while the speed changes is dead. [h]
_STUCK_H = 2.0
_STUCK_SPANS = 4
#: In a recording, a meter that shows one value for this long at a steady speed may be. [h]
_STEADY_H = 4.0
#: Change of speed meanwhile that makes the meter dead. [kn]
_SPEED_MOVED_KN = 0.5
#: Under way above this speed. [kn]
_UNDER_WAY_KN = 3.0
#: A heel that differs from the plan by at least the first, with the legs within the second
#: of their median, is a zero error of the sensor or a list. [deg]
_LIST_DEG, _LIST_SCATTER_DEG = 1.0, 0.5
#: A whole log within the first of full hours off the plan, and as steady as the second,
#: may have a wrong clock. [h]
_CLOCK_NEAR_H, _CLOCK_STEADY_H = 0.1, 0.25
#: How near a factor of another unit counts as that factor.
_NEAR = 0.05
_GAPS_SHOWN = 5


def without_dead_meters(spans: Spans) -> tuple[Spans, list[str]]:
    """Spans without fuel and roll where their sensor was dead, and remarks about it."""
    words: list[str] = []
    speed = np.where(
        np.isfinite(spans.through_water_kn), spans.through_water_kn, spans.over_ground_kn
    )
    moving = np.nan_to_num(speed) > _UNDER_WAY_KN
    fuel = spans.fuel_l_per_h.copy()
    dead = _stuck(fuel, spans.hours, speed) | (moving & (fuel == 0.0))
    if np.any(dead):
        shown = ", ".join(f"{one:g}" for one in np.unique(fuel[dead])[:3])
        words.append(
            f"fuel_l_per_h stays at {shown} l/h for {np.sum(spans.hours[dead]):.1f} h from "
            f"{utc_text(spans.time_s[dead][0])} while the speed changes or she is under way: a "
            "dead meter. Fuel of that time is left out"
        )
        fuel[dead] = np.nan
    steady = _stuck(fuel, spans.hours, speed, moved_kn=0.0) & moving & (not spans.averaged)
    if np.sum(spans.hours[steady]) >= _STEADY_H:
        words.append(
            f"fuel_l_per_h does not change for {np.sum(spans.hours[steady]):.1f} h from "
            f"{utc_text(spans.time_s[steady][0])}: engines held that steady, or a meter that "
            "sticks? It is used as logged"
        )
    changed: dict[str, Array] = {"fuel_l_per_h": fuel}
    counted = spans.roll_n > 1
    spread = np.zeros(len(spans))
    spread[counted] = (
        spans.roll_square[counted] - spans.roll_sum[counted] ** 2 / spans.roll_n[counted]
    ) / spans.roll_n[counted]
    still = counted & (spread < 1e-9) & moving
    if np.sum(spans.hours[still]) > 0.25:
        words.append(
            f"roll_deg does not move for {np.sum(spans.hours[still]):.1f} h under way, from "
            f"{utc_text(spans.time_s[still][0])}: a dead sensor. Roll of that time is left out"
        )
        for name in ("roll_n", "roll_sum", "roll_square"):
            changed[name] = np.where(still, 0.0, getattr(spans, name))
    return replace(spans, **changed), words  # type: ignore[arg-type]


def _stuck(
    values: Array, hours: Array, speed: Array, moved_kn: float = _SPEED_MOVED_KN
) -> npt.NDArray[np.bool_]:
    """Where a value stays exactly the same for hours while the speed changes."""
    out = np.zeros(values.size, dtype=bool)
    if values.size < _STUCK_SPANS:
        return out
    new = np.r_[True, ~(values[1:] == values[:-1])]
    run = np.cumsum(new) - 1
    time = np.bincount(run, hours)
    count = np.bincount(run)
    fast = np.where(np.isfinite(speed), speed, -np.inf)
    slow = np.where(np.isfinite(speed), speed, np.inf)
    starts = np.flatnonzero(new)
    moved = np.maximum.reduceat(fast, starts) - np.minimum.reduceat(slow, starts)
    dead = (time >= _STUCK_H) & (count >= _STUCK_SPANS) & (moved >= moved_kn)
    return np.asarray(dead[run] & np.isfinite(values))


def gap_words(spans: Spans) -> list[str]:
    """The gaps of a log."""
    if not spans.gaps:
        return []
    hours = sum(end - start for start, end in spans.gaps) / HOUR_S
    shown = "; ".join(f"{utc_text(a)} to {utc_text(b)}" for a, b in spans.gaps[:_GAPS_SHOWN])
    more = f"; and {len(spans.gaps) - _GAPS_SHOWN} more" if len(spans.gaps) > _GAPS_SHOWN else ""
    count = "1 gap" if len(spans.gaps) == 1 else f"{len(spans.gaps)} gaps"
    return [
        f"the log has {count}, {hours:.1f} h in all ({shown}{more}); their time counts, no "
        "other value is filled in"
    ]


def clock_words(plan: PlanFile, spans: Spans, match: Match) -> list[str]:
    """A remark where a clock that is full hours off would explain the times better."""
    if match.by_time:
        return []
    ends = plan.track["distance_nm"]
    index = plan.leg_index
    shift = []
    for leg in np.unique(match.leg):
        mine, of_leg = match.leg == leg, index == leg
        if np.sum(ends[of_leg]) == 0.0:
            continue
        done = np.r_[0.0, np.cumsum(ends[of_leg])]
        half = 0.5 * plan.track["hours"][of_leg] * HOUR_S
        time = plan.track["time_s"][of_leg]
        due = np.interp(match.along_nm[mine], done, np.r_[time[0] - half[0], time + half])
        shift.append((spans.time_s[mine] - due) / HOUR_S)
    late = np.concatenate(shift) if shift else np.zeros(0)
    late = late[np.isfinite(late)]
    if late.size < 4:
        return []
    middle = float(np.median(late))
    full = round(middle)
    steady = float(np.percentile(np.abs(late - middle), 90))
    if (
        full == 0
        or abs(middle - full) > _CLOCK_NEAR_H
        or steady > _CLOCK_STEADY_H
        or abs(full) > 14
    ):
        return []
    word = "behind" if full > 0 else "ahead of"
    return [
        f"she is {abs(full)} h {word} the plan all the way, within {60 * steady:.0f} minutes. If "
        f"she left on time, the clock of the log is {abs(full)} h off (local time written as UTC?)"
    ]


def unit_words(plan: PlanFile, legs: tuple[LegReview, ...], whole: LegReview) -> list[str]:
    """Fuel, roll or speed off by the factor of another unit, on the whole or on some legs."""
    density = plan.vessel.propulsion.fuel_density_t_m3
    fuel = {
        1.0 / 3.785: "is fuel_l_per_h in US gallons?",
        1.0 / 4.546: "is fuel_l_per_h in imperial gallons?",
        density: "is fuel_l_per_h in kilograms?",
        0.5: "one engine of two?",
        2.0: "both engines where the vessel file has one?",
    }
    roll = {
        float(np.pi / 180.0): "is roll in radians?",
        2.0: "is it the significant amplitude, twice the rms?",
    }
    words = _unit("fuel", "litres of the main engines", fuel, legs, whole, density)
    words += _unit("roll", "degrees rms", roll, legs, whole)
    return words


def _unit(
    key: str,
    taken: str,
    causes: dict[float, str],
    legs: tuple[LegReview, ...],
    whole: LegReview,
    density: float = 0.0,
) -> list[str]:
    """Remarks on the likely unit of a quantity; names the legs where only some are off."""
    if near := _nearest(whole.pairs[key], causes, density):
        return [f"the {key} logged is {near} It is taken as {taken}, as its name says"]
    # A factor near 1, as that of kilograms, proves nothing on a single leg.
    far = {one: words for one, words in causes.items() if one != density}
    odd = {leg.leg: words for leg in legs if (words := _nearest(leg.pairs[key], far, density))}
    compared = sum(leg.pairs[key].miss is not None for leg in legs)
    if not odd or len(odd) == compared:
        return []
    found = []
    for cause in dict.fromkeys(words.split(": ", 1)[1] for words in odd.values()):
        numbers = [str(leg) for leg, words in odd.items() if words.endswith(cause)]
        found.append(
            f"the {key} logged on leg {', '.join(numbers)} is off by the factor of another unit, "
            f"on the other legs it is not: {cause} It is taken as {taken}, as its name says"
        )
    return found


def _nearest(pair: PlannedLogged, causes: dict[float, str], density: float) -> str:
    """The factor and its likely cause; empty where there is none."""
    if not pair.planned or not pair.logged or pair.planned <= 0.0 or pair.logged <= 0.0:
        return ""
    ratio = pair.logged / pair.planned
    near = min(causes, key=lambda one: abs(np.log(ratio / one)))
    if abs(np.log(ratio / near)) > _NEAR or (near == density and pair.within_band):
        return ""
    return f"{ratio:.2g} times the plan's: {causes[near]}"


def speed_words(spans: Spans) -> list[str]:
    """A remark where the speed over ground differs from positions by the factor of a unit."""
    hours = np.where(spans.elapsed_h > 0.0, spans.elapsed_h, np.nan)
    way = way_by_positions_nm(spans) / hours
    known = np.isfinite(way) & np.isfinite(spans.over_ground_kn) & (way > REST_KN)
    if np.sum(spans.hours[known]) < 1.0:
        return []
    ratio = float(np.median(spans.over_ground_kn[known] / way[known]))
    causes = {KNOT_M_S: "m/s", 3.6 * KNOT_M_S: "km/h"}
    near = min(causes, key=lambda one: abs(np.log(max(ratio, 1e-9) / one)))
    if abs(np.log(max(ratio, 1e-9) / near)) > _NEAR:
        return []
    return [
        f"speed_over_ground_kn is {ratio:.2f} times the speed by positions: is it in "
        f"{causes[near]}? It is taken as knots, as its name says"
    ]


def list_words(spans: Spans, legs: tuple[LegReview, ...]) -> list[str]:
    """A remark where the heel differs from the plan by the same on every leg."""
    offs = [leg.pairs["heel"].miss for leg in legs]
    known = np.array([off for off in offs if off is not None])
    if known.size < 2 or heel_mean_deg(spans)[0] is None:
        return []
    middle = float(np.median(known))
    if abs(middle) < _LIST_DEG or float(np.max(np.abs(known - middle))) > _LIST_SCATTER_DEG:
        return []
    side = "starboard" if middle > 0 else "port"
    return [
        f"the heel logged is {abs(middle):.1f} deg further to {side} than planned on every leg: "
        "a zero error of the sensor, or a list that the vessel file does not have. Roll is "
        "taken about the mean and is not affected"
    ]
