"""Cautions of a plan, in addition to its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.plan.cautions_flows import missing_flows, short_flows
from passage.planning.plan.cautions_loop import LegLoops, near_hunting
from passage.planning.plan.cautions_sea import (
    doubts,
    encounter,
    flat_calm,
    legs_of,
    slamming,
    trim_range,
    wet_deck,
)
from passage.planning.plan.decisions import left_with
from passage.planning.plan.judged import window_words
from passage.planning.plan.partial import LEAST_KNOWN_PERCENT, harbour_reach_nm, remedy_words
from passage.planning.plan.result import Caution
from passage.planning.plan.totals import CHECKED_TO_PERCENT, SIMULATED_TO_PERCENT, usable_fuel_l
from passage.planning.plan.weighting import gains_too_high
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.limits import LIMIT_KEYS, LIMIT_WORDS, exceeds
from passage.planning.voyage.march import March
from passage.units import m_to_nm
from passage.variables import BY_NAME, COVERAGE, COVERED, FILLED

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.prepare import Passage, PlanOptions

#: Printed with every plan.
STANDING: tuple[tuple[str, str], ...] = (
    (
        "master_decides",
        "Decision support only; the master decides. Forecasts err; watch the sea itself.",
    ),
    (
        "stability",
        "The approved stability booklet, class and flag rules take precedence over this plan. "
        "Keep GM, free surface, trim and freeboard within them in every transfer of liquid.",
    ),
    (
        "fins_centred",
        "Fins centred for going astern, for close-quarters manoeuvring and where slamming is "
        "likely; there reduce speed and alter course.",
    ),
    (
        "fins_start",
        "Before starting the fins, check that nobody is working on them or their hydraulics.",
    ),
    ("not_for_navigation", "The coastline used here is not for navigation."),
)

_UNIT_WORDS = {"degree": " deg", "percent": " %", "1": " g rms", "minute-1": " times a minute"}


Judged = Sequence[dict[str, Any]]


def leg_excesses(vessel: Vessel, leg: dict[str, Any], judged: Judged = ()) -> list[str]:
    """Limits that one leg exceeds, in words; a missing value is left out.

    ``judged`` are rows of ``judged.judge_legs``, which give time and duration.
    """
    limits = vessel.limits.at_rest if leg["type"] == "stay" else vessel.limits.underway
    detail = {row["limit_key"]: row for row in judged if row["leg"] == leg["leg"]}
    words = []
    for key, limit_key in LIMIT_KEYS:
        limit, value = getattr(limits, limit_key), leg[key]
        if limit is None or value is None or not np.isfinite(value):
            continue
        if exceeds(limit_key, value, limit):
            variable = BY_NAME[key]
            unit = _UNIT_WORDS[variable.unit]
            decimals = max(variable.decimals, 1)
            words.append(
                f"{LIMIT_WORDS[limit_key]} {abs(value):.{decimals}f}{unit}"
                f"{window_words(detail.get(limit_key))} (limit {limit:g})"
            )
    return words


def limits_exceeded(
    vessel: Vessel, legs: Sequence[dict[str, Any]], judged: Judged = ()
) -> tuple[str, ...]:
    """One line for every leg that exceeds a limit."""
    lines = []
    for leg in legs:
        words = leg_excesses(vessel, leg, judged)
        if words:
            lines.append(f"Leg {leg['leg']}: {', '.join(words)}.")
    return tuple(lines)


def plan_cautions(
    passage: Passage,
    way: March,
    evaluation: Evaluation,
    legs: Sequence[dict[str, Any]],
    options: PlanOptions,
    loops: LegLoops | None,
    given: tuple[str, ...] = (),
    reach_km: float | None = None,
    judged: Judged = (),
) -> tuple[Caution, ...]:
    """All cautions of a plan, the most urgent first.

    ``judged`` are rows of ``judged.judge_legs``, ``loops`` the margins of the fins' loop by leg
    (``leg_loops``); ``given`` names the flows, wind and current, that any file contains;
    ``reach_km`` is how near every masked point has a sea cell, None if it is not known.
    """
    hunting = near_hunting(passage.yacht, loops)
    found = [
        *_no_way(passage, way),
        *filled_cautions(passage.track, way),
        *coverage_gaps(legs, way, passage, reach_km),
        *missing_flows(passage.track, way, given),
        *flat_calm(passage, way),
        *_land(passage),
        *_fuel_aboard(passage.vessel, legs),
        *_limits(passage.vessel, legs, judged),
        *_roll_doubts(passage, evaluation, {leg for one in hunting for leg in one.legs}),
        *encounter(passage, way, evaluation),
        *slamming(passage, evaluation),
        *wet_deck(passage, legs),
        *trim_range(passage.yacht),
        *doubts(passage, way, evaluation),
        *_fins(passage, legs),
        *_gains(passage, way, evaluation, options),
        *hunting,
        *short_flows(passage, way, given),
    ]
    standing = [Caution(code, "note", (), text) for code, text in STANDING]
    return (*found, *standing)


def _no_way(passage: Passage, way: March) -> list[Caution]:
    if not np.any(way.no_way):
        return []
    first = legs_of(passage, way.no_way)[0]
    text = (
        "the current is too strong to make the course good at this speed; from here on no times, "
        "fuel or roll are given. Raise the speed or leave at another state of the tide."
    )
    return [Caution("no_way", "warning", (first,), text)]


#: Where the sea of a point is not the forecast's, by its word of coverage.
GAP_WORDS = {
    "before_forecast": "before the forecast begins",
    "after_forecast": "after the forecast ends",
    "outside_area": "outside the area of the forecast",
    "masked": "where the forecast has no sea (land, ice or missing data)",
    "nearest_sea_cell": "filled from the nearest sea cell, as asked",
    "sheltered": "taken as sheltered water without waves, as asked",
    "time_gap": "between forecast hours that are too far apart to interpolate",
}


def filled_cautions(track: Track, way: March) -> list[Caution]:
    """Legs with a sea that the user asked for in place of the forecast's, with their share."""
    cautions = []
    miles, hours = m_to_nm(track.length_m), np.nan_to_num(way.hours, nan=0.0)
    for leg in np.unique(track.leg):
        here = track.leg == leg
        for word in FILLED:
            at = here & (way.conditions.coverage == COVERAGE.index(word))
            if not np.any(at):
                continue
            share = 100.0 * np.sum(hours[at]) / max(np.sum(hours[here]), 1e-9)
            text = f"{share:.0f} % of the leg ({np.sum(miles[at]):.1f} nm) is {GAP_WORDS[word]}."
            cautions.append(Caution(f"coverage_{word}", "caution", (int(leg) + 1,), text))
    return cautions


def coverage_gaps(
    legs: Sequence[dict[str, Any]], way: March, passage: Passage, reach_km: float | None
) -> list[Caution]:
    """Legs that the forecast does not cover in full, with the share and what to do."""
    cautions = []
    filled = [COVERAGE.index(one) for one in FILLED]
    for leg in legs:
        word = leg["coverage"]
        if word in COVERED:
            continue
        here = passage.track.leg == leg["leg"] - 1
        codes = way.conditions.coverage[here]
        hours = np.nan_to_num(way.hours[here], nan=0.0)
        gap = (codes != 0) & ~np.isin(codes, filled)
        share = 100.0 * np.sum(hours * gap) / max(np.sum(hours), 1e-9)
        text = f"{share:.0f} % of the leg lies {GAP_WORDS[word]}"
        known = leg.get("known_percent") or 0.0
        if known <= 0.0:
            text += "; no roll, comfort or fuel is given for the leg."
        else:
            text += f"; roll and comfort are those of the {known:.0f} % that is known"
            more = known >= LEAST_KNOWN_PERCENT
            text += ", and fuel is extended over the rest." if more else "; its fuel is not given."
        worst = leg["roll_active_worst_rms_deg"]
        if worst is not None and np.isfinite(worst):
            roll = f"{2.0 * worst:.1f} deg significant"
            text += f" Where it is known, roll with fins active reaches {roll}."
        if word == "masked":
            away = harbour_reach_nm(passage, codes == COVERAGE.index("masked"), here)
            if away is not None:
                text += f" --harbour {away:g} would take it as sheltered water without waves."
            text += remedy_words(reach_km)
        cautions.append(Caution(f"coverage_{word}", "warning", (leg["leg"],), text))
    return cautions


def _land(passage: Passage) -> list[Caution]:
    cautions = []
    for crossing in passage.land:
        # Ports and anchorages are often inside a coarse coastline.
        severity = "note" if crossing.only_at_ends else "warning"
        text = (
            f"over land for {crossing.over_land_nm:.1f} nm, from about "
            f"{crossing.distance_nm:.1f} nm into the leg, by a coarse coastline that is not for "
            "navigation."
        )
        cautions.append(Caution("over_land", severity, (crossing.leg + 1,), text))
    return cautions


def _fuel_aboard(vessel: Vessel, legs: Sequence[dict[str, Any]]) -> list[Caution]:
    """Caution where the legs whose fuel is known burn more than is in the tanks."""
    usable_l = usable_fuel_l(vessel)
    if usable_l is None:
        return []
    burnt_l = np.nancumsum(np.array([leg["fuel_l"] for leg in legs], dtype=float))
    over = np.flatnonzero(burnt_l > usable_l)
    if not over.size:
        return []
    first = int(over[0])
    text = (
        f"the fuel aboard does not last: {burnt_l[-1]:,.0f} l are burnt by the end, and the tanks "
        f"hold {usable_l:,.0f} l above their minimum, gone on leg {first + 1}. Take more, slow "
        "down, or call somewhere on the way."
    )
    numbers = tuple(leg["leg"] for leg in legs[first:])
    return [Caution("fuel_aboard", "warning", numbers, text)]


def _limits(vessel: Vessel, legs: Sequence[dict[str, Any]], judged: Judged) -> list[Caution]:
    return [
        Caution(
            "limit", "warning", (leg["leg"],), "over the owner's limit: " + ", ".join(words) + "."
        )
        for leg in legs
        if (words := leg_excesses(vessel, leg, judged))
    ]


def _roll_doubts(passage: Passage, evaluation: Evaluation, hunting: set[int]) -> list[Caution]:
    cautions = []
    known = np.isfinite(evaluation.excitation[..., 0])
    unstable = known & ~evaluation.active.stable
    # ``near_hunting`` gives more detail for legs where the fins hunt.
    legs = tuple(leg for leg in legs_of(passage, unstable) if leg not in hunting)
    if legs:
        cautions.append(
            Caution(
                "fin_loop_unstable",
                "warning",
                legs,
                "with these fin gains, lag and delay the fins would cause roll themselves; no roll "
                "is given. Lower the gains in the vessel file.",
            )
        )
    doubtful = known & evaluation.active.stable & ~evaluation.active.converged
    if np.any(doubtful):
        cautions.append(
            Caution(
                "roll_not_converged",
                "caution",
                legs_of(passage, doubtful),
                "the roll calculation did not converge at some points: the roll there is doubtful.",
            )
        )
    cautions += roll_at_limits(passage, evaluation)
    large = 2.0 * evaluation.centred.roll_rms_rad > np.deg2rad(15.0)
    if np.any(large):
        cautions.append(
            Caution(
                "large_roll",
                "caution",
                legs_of(passage, large),
                "significant roll above 15 deg with fins centred: beyond the range of linear "
                "stability; the true roll may differ considerably.",
            )
        )
    return cautions


def roll_at_limits(passage: Passage, evaluation: Evaluation) -> list[Caution]:
    """Legs with a doubtful roll, because the fins are often at a limit or stalled."""
    values = evaluation.values
    share = np.fmax(values["fin_at_limit_percent"], values["fin_beyond_stall_percent"])
    beyond = share > CHECKED_TO_PERCENT
    if not np.any(beyond):
        return []
    most = {
        name: np.nanmax(np.where(beyond, values[f"fin_{name}_percent"], 0.0))
        for name in ("angle_limited", "rate_limited", "beyond_stall")
    }
    text = (
        f"roll and the drag of the fins are doubtful: they are at a limit or stalled more than "
        f"{CHECKED_TO_PERCENT:.0f} % of the time (angle up to {most['angle_limited']:.0f} %, rate "
        f"{most['rate_limited']:.0f} %, stall {most['beyond_stall']:.0f} %). Of 107 simulations of "
        "such seas roll is within 5 % in 101 (14 % high at worst), drag within 10 % in 84 (a third "
        "low or twice as high at worst)."
    )
    if np.nanmax(share) > SIMULATED_TO_PERCENT:
        text += f" Beyond {SIMULATED_TO_PERCENT:.0f} % of the time nothing was compared."
    return [Caution("roll_at_limits", "caution", legs_of(passage, beyond), text)]


#: How far roll is out where fins are at a limit or stalled between a tenth of the time and
#: ``CHECKED_TO_PERCENT``: cases that nothing was fitted to (docs/roll-validation.md).
_BUSY_ROLL = " Roll is within 5 % of simulations in 97 of 100 such seas, and rarely a third high."


def _fins(passage: Passage, legs: Sequence[dict[str, Any]]) -> list[Caution]:
    cautions = []
    busy = [leg for leg in legs if (leg["fin_at_limit_percent"] or 0) > 10.0]
    if busy:
        most = max(busy, key=lambda leg: float(leg["fin_at_limit_percent"]))
        slow = most["fin_rate_limited_percent"] > most["fin_angle_limited_percent"]
        why = (
            "mostly turning as fast as they can; more gain will not help. Less gain, or another "
            "heading, will."
            if slow
            else "mostly commanded beyond their largest angle; more gain will not help. More "
            "speed, or another heading, will."
        )
        cautions.append(
            Caution(
                "fins_at_limit",
                "caution",
                tuple(leg["leg"] for leg in busy),
                f"the fins are at a limit up to {most['fin_at_limit_percent']:.0f} % of the "
                f"time (angle {most['fin_angle_limited_percent']:.0f} %, rate "
                f"{most['fin_rate_limited_percent']:.0f} %), {why}{_BUSY_ROLL}",
            )
        )
    stalled = [leg for leg in legs if (leg["fin_beyond_stall_percent"] or 0) > 10.0]
    if stalled:
        share = max(leg["fin_beyond_stall_percent"] for leg in stalled)
        cautions.append(
            Caution(
                "fins_stalled",
                "caution",
                tuple(leg["leg"] for leg in stalled),
                f"the flow at the fins is beyond their stall up to {share:.0f} % of the time: they "
                "drag more and lift less. A smaller angle limit or less gain costs less fuel."
                f"{'' if busy else _BUSY_ROLL}",
            )
        )
    short, worst = left_with(legs)
    if short:
        cautions.append(
            Caution(
                "heel_shortfall",
                "caution",
                short,
                f"the fins cannot hold all of the heel: up to {worst:.1f} deg remain. "
                "`passage heel` compares fins with moving fuel or water.",
            )
        )
    return cautions


def _gains(
    passage: Passage, way: March, evaluation: Evaluation, options: PlanOptions
) -> list[Caution]:
    """Caution where half the fin gains would do as well."""
    if options.fins != "active":
        return []
    found = gains_too_high(passage.yacht, passage.track, way, evaluation)
    if found is None:
        return []
    check, legs = found
    half = 2.0 * np.degrees(check.half_roll_rms_rad[[number - 1 for number in legs]])
    text = (
        "the fin gains of the vessel file are higher than is useful here: with half of them "
        f"she would roll no more ({half.min():.1f} to {half.max():.1f} deg significant), for "
        "less fin work."
    )
    return [Caution("gains_too_high", "caution", legs, text)]
