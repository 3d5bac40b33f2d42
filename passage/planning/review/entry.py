"""A review as rows of the record: the whole passage, its legs, and forecast errors by age."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import numpy.typing as npt

from passage.errors import LogError
from passage.inputs.records.record_file import WHOLE, Entry, new_entry
from passage.planning.record.ages import age_rows
from passage.planning.record.shares import numbers_of
from passage.planning.review.causes import MissCauses
from passage.planning.review.legs import LegReview, roll_by_span_deg
from passage.planning.review.review import Review
from passage.planning.review.whole import over_legs
from passage.planning.voyage.limits import limits_of, slack
from passage.planning.voyage.windows import Running
from passage.units import HOUR_S, utc_text

Array = npt.NDArray[np.float64]
Values = dict[str, float | str | None]

_ROLL_LIMIT = "roll_significant_deg"
_PARTS = ("forecast", "otherwise", "model")


def entry_of(found: Review, causes: MissCauses | None, hull_cleaned: str | None = None) -> Entry:
    """The rows that a record keeps of a review.

    Parameters
    ----------
    hull_cleaned : str, optional
        Date of the last cleaning before the passage, as 2026-01-31.

    Raises
    ------
    LogError
        The log has no time under way, or the hull was cleaned after the passage began.
    """
    if causes is not None and causes.same_sea:
        # In the plan's own sea the model's share would include the forecast's, and forecast
        # errors would come out as zero.
        causes = None
    begin, end = found.whole.begin_s, found.whole.end_s
    if begin is None or end is None or not end > begin:
        raise LogError(f"{found.log_file}: has no time under way, so nothing goes in the record.")
    if hull_cleaned is not None and hull_cleaned > utc_text(begin)[:10]:
        raise LogError(
            f"the hull was cleaned on {hull_cleaned}, after this passage began "
            f"({utc_text(begin)}). Give the cleaning before it."
        )
    whole = _row(found, causes, found.legs)
    whole |= _odds(found)
    whole |= {
        "part": WHOLE,
        "route": found.plan.route,
        "planned_utc": utc_text(found.plan.departure_s),
        "hull_cleaned": hull_cleaned,
        "fuel_numbers": numbers_of(found.plan.vessel, "fuel"),
        "roll_numbers": numbers_of(found.plan.vessel, "roll"),
        "plan_sha256": found.plan.sha256[:16],
        "log": Path(found.log_file).name,
    }
    rows = [whole]
    for leg in found.legs:
        if leg.begin_s is not None:
            rows.append({"part": f"leg {leg.leg}", **_row(found, causes, (leg,))})
    if causes is not None and found.plan.run_s is not None:
        age_h = (found.plan.track["time_s"] - found.plan.run_s) / HOUR_S
        hours = found.plan.track["hours"]
        rows += age_rows(age_h, hours, found.plan.track, causes.as_planned.points)
    return new_entry(begin, end, found.plan.vessel.name, rows)


def _row(found: Review, causes: MissCauses | None, legs: tuple[LegReview, ...]) -> Values:
    """One leg or all of them: the sea met, planned, logged, and the parts of the miss."""
    row = Values()
    there = [leg for leg in legs if leg.begin_s is not None]
    for key, name in (("hours", "hours"), ("distance", "distance_nm")):
        row[name] = over_legs(there, key, "logged")
    hours, active = row["hours"], over_legs(there, "fins_active", "logged")
    if isinstance(hours, float) and hours > 0.0 and active is not None:
        row["fins_active_share"] = active / hours
    row |= _sea(found, causes, there)
    for key, unit in (("fuel", "l"), ("roll", "deg")):
        both = [leg for leg in there if leg.pairs[key].miss is not None]
        if causes is not None:
            both = [leg for leg in both if leg.leg in causes.legs[key]]
        if not both:
            continue
        for which in ("planned", "low", "high", "logged"):
            row[f"{key}_{which}_{unit}"] = over_legs(both, key, which)
        if causes is not None:
            parts = causes.of_legs(key, both)
            for name, value in zip(_PARTS, parts.first, strict=True):
                row[f"{key}_{name}_{unit}"] = value
    return row


def _sea(found: Review, causes: MissCauses | None, legs: list[LegReview]) -> Values:
    """Mean height, encounter angle and speed through the water, weighted by time.

    Without the sea as it was, height and angle are as planned and the speed as logged.
    """
    at = np.array([leg.leg - 1 for leg in legs])
    if causes is not None:
        made = causes.as_sailed
        values = [made.height_m[at], made.encounter_deg[at], made.speed_kn[at]]
        weights = [made.hours[at]] * 3
    else:
        track = found.plan.track
        mine = np.isin(found.plan.leg_index, at)
        logged = [leg.pairs["speed_through_water"].logged for leg in legs]
        values = [
            track["significant_height_m"][mine],
            track["encounter_angle_deg"][mine],
            np.array([np.nan if one is None else one for one in logged]),
        ]
        clock = np.array([leg.pairs["hours"].logged or 0.0 for leg in legs])
        weights = [track["hours"][mine]] * 2 + [clock]
    names = ("significant_height_m", "encounter_angle_deg", "speed_kn")
    row = Values()
    for name, value, hours in zip(names, values, weights, strict=True):
        known = np.isfinite(value) & np.isfinite(hours)
        total = float(np.sum(hours[known]))
        row[name] = float(np.sum((value * hours)[known])) / total if total > 0.0 else None
    return row


def _odds(found: Review) -> Values:
    """Odds and percentiles that the plan stated, and whether the roll limit was kept."""
    totals, row = found.plan.totals, Values()
    if any(leg.part < 1.0 for leg in found.legs):
        return row  # they hold for the whole passage only
    for name in ("hours_p10", "hours_p90"):
        row[name] = _known(totals.get(name))
    # The plan's percentiles are of all fuel, the log's fuel is of the main engines only.
    track = found.plan.track
    others = float(np.sum(track["fuel_l"] - track["fuel_main_engines_l"]))
    for name in ("fuel_l_p10", "fuel_l_p90"):
        value = _known(totals.get(name))
        row[re.sub("_l_(p..)", r"_\1_l", name)] = None if value is None else value - others
    odds = totals.get("odds_percent")
    row["roll_odds_percent"] = _known(odds.get(_ROLL_LIMIT)) if isinstance(odds, dict) else None
    row["roll_limit_kept"] = roll_kept(found)
    return row


def _known(value: object) -> float | None:
    good = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if good else None  # type: ignore[arg-type]


def roll_kept(found: Review) -> float | None:
    """1 where the logged roll kept the vessel's limit in every window of every leg, else 0.

    None where there is no limit, or too little roll is logged to tell.
    """
    plan, spans = found.plan, found.spans
    rest = np.array([leg.get("type") == "stay" for leg in plan.legs])
    limit = limits_of(plan.vessel, rest, _ROLL_LIMIT)
    if np.all(np.isnan(limit)):
        return None
    leg = found.match.leg
    shown, number = np.unique(leg, return_inverse=True)
    level = limit[shown] + slack(_ROLL_LIMIT, limit[shown])
    running = Running(spans.elapsed_h, number, rest[leg], plan.vessel.limits.window_h)
    made = running.of(2.0 * roll_by_span_deg(spans), power=2, level=level)
    limited = np.isfinite(limit[shown])
    if np.any(made.worst[limited] > level[limited]):
        return 0.0
    return None if np.any(made.unknown[limited]) else 1.0
