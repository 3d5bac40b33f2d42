"""From the points of many passages to one row of numbers for each departure.

Shapes: points are ``(departures, n)`` along one track; numbers are ``(departures,)``.
The rules are those of a plan: a leg's value is its mean weighted by time, and "worst leg"
is the largest of them. A passage not known from end to end has a reason in place of
numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.inputs.vessel import Vessel
from passage.physics.fins import use
from passage.planning.plan.partial import extended_totals
from passage.planning.season.limits import limits_set, passage_limits
from passage.planning.season.march import one_row
from passage.planning.voyage.flows import EFFECTS, FLOW_SHARE, LEFT_OUT, REMEDIES, reaches_nothing
from passage.planning.voyage.legs import leg_mean, leg_starts, leg_sum
from passage.planning.voyage.limits import LIMIT_KEYS
from passage.planning.voyage.rolling import driven_by_fins
from passage.variables import COVERAGE, COVERED

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: Why a departure has no numbers; 0 is "ok". After the codes of coverage come: a current
#: too strong to make the course good; wind or current of the files on no part of the
#: passage; fins that hunt.
STATUS: tuple[str, ...] = (
    *COVERAGE, "no_way", "wind_missing", "current_missing", "fins_hunt",
)  # fmt: skip
NO_WAY = len(COVERAGE)


@dataclass(frozen=True)
class DepartureColumn:
    """One number of a departure. ``unit`` as in ``variables.py``."""

    name: str
    unit: str
    meaning: str
    heading: str
    decimals: int = 1


def _c(name: str, unit: str, heading: str, meaning: str, decimals: int = 1) -> DepartureColumn:
    return DepartureColumn(name, unit, meaning, heading, decimals)


# fmt: off
#: Numbers kept of a departure, in order. "worst leg" is the largest leg mean.
COLUMNS: tuple[DepartureColumn, ...] = (
    _c("hours", "hour", "hours", "time under way and at stays"),
    _c("fuel_l", "L", "fuel", "fuel of the passage, all users", 0),
    _c("known_percent", "percent", "known", "share of the hours whose sea the data cover", 0),
    _c("fuel_extended_l", "L", "fuel extended",
       "fuel, the part not covered by the data taken at the mean rate of the rest; missing where "
       "too little is known", 0),
    _c("wind_gap_percent", "percent", "no wind",
       "largest share of a leg's hours without wind, but for places beside land", 0),
    _c("current_gap_percent", "percent", "no current",
       "largest share of a leg's hours without current where a file gives one, but for places "
       "beside land", 0),
    _c("fuel_waves_l", "L", "waves", "part of the fuel: added resistance in waves", 0),
    _c("fuel_wind_l", "L", "wind", "part of the fuel: wind beyond still air", 0),
    _c("fuel_fins_active_l", "L", "fins active", "part of the fuel: fins working against roll", 0),
    _c("fuel_fins_offset_l", "L", "fins offset", "part of the fuel: fins holding steady heel", 0),
    _c("fuel_for_list_l", "L", "for the list",
       "what the fins burn more than they would upright; negative where wind heels the "
       "other way"),
    _c("mean_roll_centred_significant_deg", "degree", "mean roll, centred",
       "roll, significant single amplitude, fins centred, mean of the passage"),
    _c("mean_roll_active_significant_deg", "degree", "mean roll, active",
       "roll, significant single amplitude, fins working, mean of the passage"),
    _c("worst_leg_roll_centred_significant_deg", "degree", "worst leg, centred",
       "roll, significant single amplitude, fins centred, worst leg"),
    _c("worst_leg_roll_active_significant_deg", "degree", "worst leg, active",
       "roll, significant single amplitude, fins working, worst leg"),
    _c("worst_window_roll_significant_deg", "degree", "worst hour",
       "roll, significant single amplitude, fins working, worst window (an hour) of the way"),
    _c("roll_over_limit_h", "hour", "over roll limit",
       "hours with the roll of such a window above the owner's limit"),
    _c("worst_leg_motion_sickness_percent", "percent", "sick",
       "people expected to be sick, worst place and leg"),
    _c("worst_leg_lateral_acceleration_rms_g", "1", "lateral g",
       "lateral acceleration rms, worst place and leg", 3),
    _c("worst_leg_vertical_acceleration_rms_g", "1", "vertical g",
       "vertical acceleration rms, worst place and leg", 3),
    _c("worst_leg_significant_height_m", "m", "Hs", "significant wave height, worst leg"),
    _c("worst_leg_steady_heel_deg", "degree", "heel", "largest steady heel left at any point"),
    _c("fin_hours_active", "hour", "fin hours", "hours the fins work under way"),
    _c("fin_hours_at_rest", "hour", "at rest", "hours the fins work at rest"),
    _c("fin_hours_centred", "hour", "centred", "hours the fins must stand centred"),
    _c("slamming_hours", "hour", "slamming",
       "hours with slamming likely, on which the fins stand centred"),
    _c("fin_travel_deg", "degree", "fin travel", "angle one fin swings through", 0),
    _c("fin_at_limit_percent", "percent", "at limit", "working time at the angle or rate limit"),
)
# fmt: on
COLUMN_BY_NAME = {column.name: column for column in COLUMNS}

#: Codes beside the numbers, int8; ``limits_broken`` has a bit for each of ``LIMIT_KEYS``,
#: -1 where it is not judged.
CODE_COLUMNS = ("status", "within_limits", "limits_broken")
#: Columns that departures with gaps have too.
OF_GAPS = ("known_percent", "fuel_extended_l", "wind_gap_percent", "current_gap_percent")
#: Beside them, int16: for each limit that is set the leg, counted from 1, on which it is exceeded
#: most under way and at rest; 0 where it is not exceeded, -1 where it is not judged.
LEG_PREFIXES = ("leg_over_under_way_", "leg_over_at_rest_")
UNKNOWN, OUTSIDE, WITHIN = -1, 0, 1

#: Point values that the numbers are computed from: names and units of ``variables.py``.
POINT_NAMES: tuple[str, ...] = (
    "hours", "fuel_l", "fuel_waves_l", "fuel_wind_l", "fuel_fins_active_l",
    "fuel_fins_offset_l", "fuel_for_list_l", "roll_centred_rms_deg", "roll_active_rms_deg",
    "motion_sickness_percent", "lateral_acceleration_rms_g", "vertical_acceleration_rms_g",
    "significant_height_m", "steady_heel_deg", "fin_travel_deg_per_h", "fin_at_limit_percent",
)  # fmt: skip


def departure_numbers(
    vessel: Vessel,
    track: Track,
    values: Mapping[str, Array],
    fin_codes: Codes,
    status: Codes,
    flow_gaps: Mapping[str, Array],
) -> dict[str, npt.NDArray]:
    """Numbers of many departures along one track.

    Parameters
    ----------
    vessel, track
        Vessel and track of the points.
    values : mapping
        ``POINT_NAMES`` to arrays ``(departures, n)``.
    fin_codes : ndarray of int8, (departures, n)
        Codes of ``physics.fins.use``.
    status : ndarray of int8, (departures,)
        Codes of ``STATUS``; numbers are kept where it is 0, those of ``OF_GAPS`` always.
    flow_gaps : mapping
        "wind" and "current" to the share of each leg without it, ``(departures, legs)``.

    Returns
    -------
    dict
        ``COLUMNS`` as float32, ``CODE_COLUMNS`` as int8 and legs over limits as int16, each
        ``(departures,)``.
    """
    hours = one_row(values["hours"])
    starts = leg_starts(track.leg)
    legs = {
        name: leg_mean(values[name], hours, starts)
        for name in (
            "roll_centred_rms_deg",
            "roll_active_rms_deg",
            "lateral_acceleration_rms_g",
            "vertical_acceleration_rms_g",
            "significant_height_m",
        )
    }
    for kind in ("centred", "active"):
        legs[f"roll_{kind}_significant_deg"] = 2.0 * legs[f"roll_{kind}_rms_deg"]
    legs["motion_sickness_percent"] = np.maximum.reduceat(
        values["motion_sickness_percent"], starts, axis=-1
    )
    numbers: dict[str, npt.NDArray] = {"hours": values["hours"].sum(axis=-1)}
    for name in COLUMN_BY_NAME:
        if name.startswith("fuel_") and name not in OF_GAPS:
            numbers[name] = values[name].sum(axis=-1)
    for kind in ("centred", "active"):
        weighted = np.sum(values[f"roll_{kind}_rms_deg"] * hours, axis=-1)
        numbers[f"mean_roll_{kind}_significant_deg"] = 2.0 * weighted / numbers["hours"]
    heel = np.abs(values["steady_heel_deg"])
    legs["steady_heel_deg"] = np.maximum.reduceat(heel, starts, axis=-1)
    for name in COLUMN_BY_NAME:
        if name.startswith("worst_leg_"):
            numbers[name] = np.max(np.abs(legs[name.removeprefix("worst_leg_")]), axis=-1)
    fins = use.fin_totals(
        fin_codes, hours, values["fin_travel_deg_per_h"], values["fin_at_limit_percent"]
    )
    numbers["fin_hours_active"] = fins.hours_active
    numbers["fin_hours_at_rest"] = fins.hours_at_rest
    numbers["fin_hours_centred"] = fins.hours_centred
    numbers["fin_travel_deg"] = fins.travel_deg
    numbers["fin_at_limit_percent"] = fins.at_limit_percent
    slams = np.where(fin_codes == use.SLAMMING, hours, 0.0).sum(axis=-1)
    numbers["slamming_hours"] = slams if vessel.fins else np.full(slams.shape, np.nan)
    burnt = values["fuel_l"]
    numbers["fuel_extended_l"], numbers["known_percent"] = extended_totals(
        leg_sum(np.nan_to_num(burnt, nan=0.0), starts),
        leg_sum(np.where(np.isnan(burnt), 0.0, hours), starts),
        np.broadcast_to(leg_sum(hours, starts), (burnt.shape[0], starts.size)),
    )
    for flow, share in flow_gaps.items():
        numbers[f"{flow}_gap_percent"] = 100.0 * np.max(share, axis=-1)
    known = status == 0
    found = passage_limits(vessel, track, values)
    numbers["worst_window_roll_significant_deg"] = found.roll_deg
    numbers["roll_over_limit_h"] = found.roll_over_h
    numbers["within_limits"] = np.where(
        known & found.judged, np.where(found.exceeded, OUTSIDE, WITHIN), UNKNOWN
    ).astype(np.int8)
    judged = numbers["within_limits"] != UNKNOWN
    numbers["limits_broken"] = np.where(judged, found.broken, -1).astype(np.int8)
    numbers["status"] = status.astype(np.int8)
    set_keys = limits_set(vessel)
    for column in COLUMNS:
        kept = known | (column.name in OF_GAPS)
        numbers[column.name] = np.where(kept, numbers[column.name], np.nan).astype(np.float32)
    kept_names = (*COLUMN_BY_NAME, *CODE_COLUMNS)
    legs_over = {
        f"{prefix}{key}": np.where(judged, found_legs[bit], -1).astype(np.int16)
        for prefix, found_legs in zip(
            LEG_PREFIXES, (found.leg_under_way, found.leg_at_rest), strict=True
        )
        for bit, (_, key) in enumerate(LIMIT_KEYS)
        if key in set_keys
    }
    return {name: numbers[name] for name in kept_names} | legs_over


#: Words by status, for the note on departures without numbers.
_STATUS_WORDS = {
    "before_forecast": "begin before the data",
    "after_forecast": "run past the end of the data",
    "outside_area": "leave the area of the data",
    "masked": "cross land or missing data",
    "time_gap": "cross a gap in the hours of the data",
    "no_way": "cannot make way against the current",
    "wind_missing": "have none of the wind that the files give",
    "current_missing": "have none of the current that the files give",
    "fins_hunt": "have fins that hunt with their gains: no roll",
}


def off_data_note(status: npt.NDArray[np.int8]) -> str:
    """How many departures have no numbers and why; empty where all have."""
    parts = [
        f"{count} {_STATUS_WORDS[word]}"
        for code, word in enumerate(STATUS)
        if word in _STATUS_WORDS and (count := int(np.count_nonzero(status == code)))
    ]
    return f"departures without numbers: {', '.join(parts)}" if parts else ""


def partly_known_note(status: Codes, known_percent: Array, fuel_extended_l: Array) -> str:
    """How much is known of departures with a gap, their extended fuel, and a remedy."""
    gaps = (status > 0) & (status < NO_WAY) & (known_percent > 0.0)
    if not np.any(gaps):
        return ""
    share = known_percent[gaps]
    low, high = np.floor(share.min()), np.floor(share.max())
    span = f"{low:.0f} %" if low == high else f"{low:.0f} to {high:.0f} %"
    text = f"of {int(gaps.sum())} departures {span} of the hours are known"
    fuel = fuel_extended_l[gaps]
    fuel = fuel[np.isfinite(fuel)]
    if fuel.size:
        take = "takes" if fuel.size == 1 else "take"
        text += (
            f"; extended from that, {fuel.size} of them {take} ~{np.median(fuel):,.0f} l (median). "
            "Percentiles and shares leave them out"
        )
    if np.any(gaps & (status == COVERAGE.index("masked"))):
        text += (
            ". Near the ends of the route --harbour takes what is masked as sheltered water; "
            "elsewhere lay the route where the data have sea (`passage check` shows where)"
        )
    return text


def flow_gap_notes(numbers: Mapping[str, npt.NDArray]) -> list[str]:
    """Wind or current that no file gives, or that departures lack on much of a leg."""
    notes = []
    for flow in ("wind", "current"):
        gap = numbers[f"{flow}_gap_percent"]
        gap = gap[np.isfinite(gap)]
        if gap.size and np.all(gap == 100.0):
            notes.append(
                f"no {flow} is known on 100 % of the passage: {EFFECTS[flow]}. "
                f"{REMEDIES[flow][:-1]}"
            )
            continue
        short = int(np.sum(gap > 100.0 * FLOW_SHARE))
        if short:
            notes.append(
                f"no {flow} is known on more than {100.0 * FLOW_SHARE:.0f} % of a leg in {short} "
                f"of {gap.size} departures, on up to {gap.max():.0f} % of one; "
                f"{LEFT_OUT[flow]} there. {REMEDIES[flow][:-1]}"
            )
    return notes


def hunting(status: Codes, values: Mapping[str, Array]) -> Codes:
    """The status, with departures marked on which the fins hunt: roll centred but none active.

    ``values`` holds rms rolls ``(departures, n)``.
    """
    hunts = (status == 0) & driven_by_fins(values)
    return np.where(hunts, STATUS.index("fins_hunt"), status).astype(np.int8)


def passage_status(
    coverage: Codes,
    flows: Mapping[str, Codes],
    no_way: npt.NDArray[np.bool_],
    under_way: npt.NDArray[np.bool_],
) -> Codes:
    """One status for each departure from codes ``(departures, n)``.

    It is the commonest gap of the waves. Wind or current before or after its data counts as
    a gap too, as it would be taken as calm. Where wind or current is only masked beside
    land it is taken as none, as in a plan, but not where it reaches no point at all.
    ``flows`` holds the codes of "wind" and "current" where a file gives them; ``under_way``
    (n,) marks the segments where a current acts.
    """
    kinds = len(COVERAGE)
    good = [COVERAGE.index(word) for word in COVERED]
    counts = np.stack([np.sum(coverage == c, axis=-1) for c in range(kinds)], axis=-1)
    for codes in flows.values():
        for word in ("before_forecast", "after_forecast"):
            code = COVERAGE.index(word)
            counts[..., code] += np.sum(codes == code, axis=-1)
    counts[..., good] = 0
    worst = np.argmax(counts, axis=-1)
    status = np.where(counts.max(axis=-1) > 0, worst, 0)
    for flow, codes in flows.items():
        acts = under_way if flow == "current" else np.ones_like(under_way)
        missing = (status == 0) & reaches_nothing(codes, acts)
        status = np.where(missing, STATUS.index(f"{flow}_missing"), status)
    return np.where(np.any(no_way, axis=-1), NO_WAY, status).astype(np.int8)
