"""The verdict of a comparison: when, by which route, how fast, and the price of others."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from passage.planning.compare.certainty import surest
from passage.planning.compare.choice import (
    FLOW,
    HUNT,
    LAND,
    LIMIT,
    MEASURES,
    NO_WAY,
    UNKNOWN,
    check_limits,
    known_limit_share,
    why_words,
    widest_reach_km,
)
from passage.planning.compare.compare import Comparison
from passage.planning.plan.partial import remedy_words
from passage.planning.voyage.flows import FLOW_SHARE
from passage.planning.voyage.limits import LIMIT_KEYS, LIMIT_WORDS, window_name
from passage.report.drawing.blocks import Figure
from passage.report.text.chances import member_words
from passage.report.text.compare_columns import known_words
from passage.report.text.compare_odds import bound_words, certainty_words, chance_of, odds_percent
from passage.report.text.verdict import (
    EVEN_ODDS,
    NO_LIMIT,
    NO_LIMIT_WORD,
    UNIT_WORDS,
    Verdict,
    asked_words,
    by_route,
    listed,
    number,
    odds_word,
    when,
)
from passage.variables import BY_NAME, COVERAGE, COVERED, FILLED

#: Smaller differences in fuel count as none. [l]
_SAME_L = 5.0
_LIMIT_OF = dict(LIMIT_KEYS)
#: Reason for choosing a combination, by its name.
_IS = {
    "least fuel": "burns least",
    "most comfortable": "is the most comfortable",
    "balanced": "is the best balance of fuel and comfort",
}


def unjudged_routes(found: Comparison) -> str:
    """``2 of 3 routes cannot be judged ...``: routes without any covered combination."""
    judged = {
        found.cell_of(i).route for i in range(len(found)) if not int(found.closed[i]) & UNKNOWN
    }
    count = len(found.routes)
    lost = [i for i in range(count) if i not in judged]
    if not lost or len(lost) == count:
        return ""
    names = ", ".join(found.routes[i].name for i in lost)
    return (
        f"{len(lost)} of {count} routes cannot be judged ({names}): the forecast covers no "
        f"departure on {'it' if len(lost) == 1 else 'them'} from end to end."
        f"{remedy_words(_reach_km(found, lost))} "
    )


def _reach_km(found: Comparison, routes: Collection[int]) -> float | None:
    """Distance within which all masked points of some routes have a sea cell [km], or None."""
    return widest_reach_km([cell for cell in found.cells if cell.route in routes])


def _partly_known(found: Comparison) -> str:
    """The least fuel among combinations that are known in most part, with its share."""
    fuel = found.totals["fuel_extended_l"]
    if not np.any(np.isfinite(fuel)):
        return "What it does not cover gets no roll, comfort or fuel."
    best = int(np.nanargmin(fuel))
    return (
        f"Least fuel of those known in most part: {_go(found, best)}, ~{number(float(fuel[best]))} "
        f"l, extended ({known_words(found, best)}); roll and comfort are not judged."
    )


def _what_to_take(found: Comparison) -> str:
    """What would cover a combination, by what is missing everywhere: place or time."""
    codes = {COVERAGE[code] for cell in found.cells for code in np.unique(cell.coverage)}
    missing = codes.difference(COVERED)
    if missing == {"masked"}:
        return "It has no sea there: land, ice or missing data. Take one that has, or another way."
    if missing == {"outside_area"}:
        return "Take a forecast of the whole area of the way."
    return "Take a longer forecast, or an earlier or shorter window."


def compare_verdict(found: Comparison) -> Verdict:
    """The chosen combination with its reason and price, or why none can be chosen."""
    verdict = _verdict(found)
    if found.vessel.limits.any_set:
        return verdict
    within = verdict.state == "within"
    return replace(
        verdict,
        state="unknown" if within else verdict.state,
        do=f"{NO_LIMIT} {verdict.do}",
        word=NO_LIMIT_WORD if within else "Ruled out" if verdict.state == "over" else "",
    )


def _verdict(found: Comparison) -> Verdict:
    count, total = int(found.open.sum()), len(found)
    lead = found.chosen
    if lead is None:
        return _none(found)
    allowed = bool(found.open[lead])
    flows = _flows_left_out(found, lead)
    known = f"as far as is known without the {listed(flows)}, " if flows else ""
    do = f"{unjudged_routes(found)}Leave {_go(found, lead)}: {known}{_worth(found, lead)}."
    if not allowed:
        words = " and ".join(why_words(int(found.closed[lead])))
        why = f"Chosen all the same, though it is ruled out: {words}."
        if count:
            best = found.names["least fuel"]
            why += f" {_allowed(found)}; of them {_go(found, best)} burns least."
        return Verdict("over", do, why, _price(found, lead), _figures(found, lead))
    names = [_IS[name] for name, index in found.names.items() if index == lead and name in _IS]
    reason = listed(names) if names else "was asked for"
    why = f"{_allowed(found)}; this one {reason}."
    if count == 1:
        bounds = f"{_bounds(found)}{bound_words(found)}"
        why = f"It is the only one of {total} combinations within {bounds}."
        if total == 1:
            why = f"It keeps {bounds}."
    why = " ".join(p for p in (why, _left_out(found, lead), chance_of(found, lead)) if p)
    odds = odds_percent(found, lead)
    if odds < EVEN_ODDS:
        # As in a plan: "within" must not hide that a limit is more likely broken than kept.
        do = f"{do[:-1]}, but the forecast's errors make keeping the limits less likely than not."
    figures = _figures(found, lead)
    word, doubtful = odds_word(odds), odds < EVEN_ODDS
    return Verdict("within", do, why, _price(found, lead), figures, word, doubtful)


def _flows_left_out(found: Comparison, index: int) -> list[str]:
    """Wind or current missing on much of a leg of one combination, as a plan has them."""
    cell, at = found.cell_of(index), int(found.at[index])
    return [
        flow
        for flow in ("wind", "current")
        if np.any(getattr(cell, f"{flow}_gap")[at] > FLOW_SHARE)
    ]


def _left_out(found: Comparison, index: int) -> str:
    """Wind or current missing on much of a leg of one combination; a sea filled in as asked."""
    cell, at = found.cell_of(index), int(found.at[index])
    parts = []
    for flow in _flows_left_out(found, index):
        gap = getattr(cell, f"{flow}_gap")
        much = [
            f"{100.0 * share:.0f} % of leg {leg + 1}"
            for leg, share in enumerate(gap[at])
            if share > FLOW_SHARE
        ]
        where = "100 % of the passage" if np.all(gap == 1.0) else listed(much)
        parts.append(f"No {flow} is known on {where}.")
    words = [COVERAGE[code] for code in cell.coverage[at]]
    legs = {word: [i + 1 for i, one in enumerate(words) if one == word] for word in FILLED}
    return " ".join([*parts, *filter(None, [asked_words(legs)])])


def _bounds(found: Comparison) -> str:
    """Words for what can rule combinations out: limits, where any is set, and constraints."""
    return f"the {'limits and ' if found.vessel.limits.any_set else ''}constraints"


def _allowed(found: Comparison) -> str:
    count, total = int(found.open.sum()), len(found)
    if count == total and not found.vessel.limits.any_set:
        return f"None of {total} combinations is ruled out"
    every = f"All {total}" if count == total else f"{count} of {total}"
    return f"{every} combinations keep {_bounds(found)}{bound_words(found)}"


def _go(found: Comparison, index: int) -> str:
    """``Sun 15 Mar 03:00Z by the direct route at 12 kn``."""
    cell = found.cell_of(index)
    text = f"{when(float(found.departure_s[index]))} {by_route(found.routes[cell.route].name)}"
    # Speeds by leg read "by leg 10.5, 9 kn" in tables.
    by_leg = cell.speed_text.removeprefix("by leg ")
    text += f" at {by_leg} by leg" if by_leg != cell.speed_text else f" at {by_leg}"
    return text if cell.fins == "active" else f"{text}, fins {cell.fins}"


def _worth(found: Comparison, index: int) -> str:
    """Worst roll against the owner's limit, and litres."""
    roll = float(found.totals["worst_window_roll_significant_deg"][index])
    limit = found.vessel.limits.underway.roll_significant_deg
    text = f"worst roll {number(roll, 1)} deg significant"
    if limit is not None:
        text += f" against your limit of {limit:g}"
    if found.options.comfort != "roll":
        measure = MEASURES[found.options.comfort]
        value = number(float(found.comfort[index]), measure.decimals)
        text += f", {measure.heading} {value} {measure.unit}"
    return f"{text}, for {number(float(found.totals['fuel_l'][index]))} l"


def _none(found: Comparison) -> Verdict:
    """The verdict where nothing is open: the nearest, its limit, and what to try."""
    total = len(found)
    what = "every limit and constraint" if found.vessel.limits.any_set else "every constraint"
    what += bound_words(found)
    do = f"Wait: none of {total} combinations keeps {what}."
    do = unjudged_routes(found) + do
    if total == 1:
        do = f"Wait: the one combination looked at does not keep {what}."
    near = found.names.get("nearest the limits")
    if near is None and np.all(found.closed & HUNT):
        return Verdict(
            "unknown",
            "No verdict: the fins hunt with these gains in every combination.",
            "Roll with the fins active, comfort and fuel are not computed there.",
            "Lower the gains in the vessel file; `passage plan` shows by how much.",
            (),
        )
    if near is None:
        decided = (found.closed & (LIMIT | LAND | NO_WAY)) != 0
        if np.all(decided):
            return _over_on_the_known(found, do)
        some = ""
        if np.any(decided):
            some = f"{int(decided.sum())} of {total} are ruled out by what it covers. "
        return Verdict(
            "unknown",
            "No verdict: the forecast covers no combination from end to end.",
            some + _partly_known(found),
            remedy_words(_reach_km(found, range(len(found.routes)))).strip()
            or _what_to_take(found),
            (),
        )
    tight = tightest(found, near)
    why = f"Nearest is {_go(found, near)}: {tight}."
    price = (
        f"That would take {number(float(found.totals['fuel_l'][near]))} l. Try a later window, "
        "another speed or route, or the next forecast."
    )
    if int(found.closed[near]) and (not tight or int(found.closed[near]) & FLOW):
        why = f"Nearest is {_go(found, near)}: {' and '.join(why_words(int(found.closed[near])))}."
    plan = found.plans.get(near)
    whose = "" if plan is None else member_words(plan)
    why = " ".join(part for part in (why, _left_out(found, near), whose) if part)
    best = surest(found) if found.options.odds is not None else None
    if best is not None:
        why = f"The surest is {_go(found, best)}. {chance_of(found, best)}"
    return Verdict("over", do, why, price, _figures(found, near))


def _over_on_the_known(found: Comparison, do: str) -> Verdict:
    """Nothing is covered from end to end, and what is covered rules every combination out."""
    vessel, routes = found.vessel, found.routes
    shares = [
        known_limit_share(check_limits(vessel, routes[one.route], one), one.departure_s.size)
        for one in found.cells
    ]
    bars = (found.closed & (LAND | NO_WAY)) != 0
    near = int(np.argmin(np.where(bars, np.inf, np.concatenate(shares))))
    why = f"Nearest is {_go(found, near)}: {tightest(found, near)}."
    if np.all(bars):
        code = int(found.closed[near]) & (LIMIT | LAND | NO_WAY)
        why = f"Nearest is {_go(found, near)}: {' and '.join(why_words(code))}."
    one = len(found) == 1
    why += (
        f" The forecast does not cover {'it' if one else 'any of them'} from end to end, and what "
        f"it leaves out cannot bring {'it' if one else 'them'} within."
    )
    price = "Try a later window, another speed or route, or the next forecast."
    return Verdict("over", do, why, price, ())


def tightest(found: Comparison, index: int) -> str:
    """A combination's tightest limit: ``motion sickness 58 % on leg 2 against 40``."""
    cell, at = found.cell_of(index), int(found.at[index])
    best, words = -np.inf, ""
    for check in check_limits(found.vessel, found.routes[cell.route], cell):
        for i, limit in enumerate(check.limit):
            value = float(check.value[at, i])
            if not limit > 0.0 or value != value or value / limit <= best:
                continue
            best = value / limit
            variable = BY_NAME[check.name]
            key = _LIMIT_OF.get(check.name, "roll_significant_deg")
            places = 0 if key == "motion_sickness_percent" else max(variable.decimals, 1)
            words = (
                f"{LIMIT_WORDS[key]} {number(value, places)}{UNIT_WORDS[variable.unit]} "
                f"on leg {i + 1} against {limit:g}"
            )
    return words


def _price(found: Comparison, lead: int) -> str:
    """Prices beside the choice: certainty, leaving first, shortest route, most comfortable."""
    sure = certainty_words(found, lead)
    parts = []
    first = _same_but(found, lead, "departure")
    if first is not None:
        parts.append(f"leaving at the first time asked, {when(float(found.departure_s[first]))}, "
                     f"{_against(found, first, lead)}")  # fmt: skip
    short = _same_but(found, lead, "route")
    if short is not None:
        name = found.routes[found.cell_of(short).route].name
        parts.append(f"the shortest route, {name}, {_against(found, short, lead)}")
    calm = found.names.get("most comfortable")
    if found.front_open and calm is not None and calm != lead:
        parts.append(f"the most comfortable, {_go(found, calm)}, {_against(found, calm, lead)}")
    if not parts:
        return sure
    text = "; ".join(parts)
    return f"{sure} {text[0].upper()}{text[1:]}.".strip()


def first_departure(found: Comparison, lead: int) -> int | None:
    """The same route, speed and fins at the first departure asked; None if that is it."""
    return _same_but(found, lead, "departure")


def _same_but(found: Comparison, lead: int, what: str) -> int | None:
    """The same combination at the first departure or by the shortest route; None if ``lead``."""
    own = found.cell_of(lead)
    for index in range(len(found)):
        cell = found.cell_of(index)
        if cell.speed_text != own.speed_text or cell.fins != own.fins:
            continue
        if what == "departure":
            first = min(found.options.departures_s)
            if cell.route == own.route and found.departure_s[index] == first:
                return None if index == lead else index
        else:
            lengths = [sum(leg.distance_m for leg in route.legs) for route in found.routes]
            shortest = int(np.argmin(lengths))
            if cell.route == shortest and found.departure_s[index] == found.departure_s[lead]:
                return None if shortest == own.route else index
    return None


def _against(found: Comparison, other: int, lead: int) -> str:
    """``costs 1,030 l more and rolls 7.0 deg (over a limit)``, against the choice."""
    fuel = float(found.totals["fuel_l"][other]) - float(found.totals["fuel_l"][lead])
    roll = float(found.totals["worst_window_roll_significant_deg"][other])
    if fuel != fuel or roll != roll:
        return "is not covered by the forecast"
    if abs(fuel) < _SAME_L:
        text = "costs the same"
    else:
        text = f"costs {number(abs(fuel))} l {'more' if fuel > 0 else 'less'}"
    mine = float(found.totals["worst_window_roll_significant_deg"][lead])
    join = "but" if (fuel < -_SAME_L) == (roll > mine) else "and"
    text += f" {join} rolls {number(roll, 1)} deg"
    reasons = why_words(int(found.closed[other]))
    if reasons:
        text += f" ({', '.join(reasons)})"
    return text


def _figures(found: Comparison, index: int) -> tuple[Figure, ...]:
    totals = found.totals
    limits = found.vessel.limits.underway
    hour = window_name(found.vessel.limits.window_h)
    roll = float(totals["worst_window_roll_significant_deg"][index])
    sick = float(totals["worst_leg_motion_sickness_percent"][index])
    limit, most = limits.roll_significant_deg, limits.motion_sickness_percent
    none = "no limit set" if found.vessel.limits.any_set else ""
    count, total = int(found.open.sum()), len(found)
    fuel = number(float(totals["fuel_l"][index]))
    cost = ""
    if "cost" in totals and found.vessel.money is not None:
        cost = f"{number(float(totals['cost'][index]))} {found.vessel.money.currency}"
    hours = float(totals["hours"][index])
    within: tuple[Figure, ...] = ()
    if found.vessel.limits.any_set:
        within = (Figure("Within the limits", f"{count} of {total}", "", "combinations",
                         "note" if count else "limit"),)  # fmt: skip
    return (
        *within,
        Figure("Arrives", when(float(totals["eta_s"][index])), "", f"{number(hours, 1)} h"),
        Figure("Fuel", fuel, "l", cost),
        Figure(f"Roll, worst {hour}", number(roll, 1), "deg",
               none if limit is None else f"limit {limit:g} deg",
               "limit" if limit is not None and roll > limit else "note"),
        Figure("Sickness, at worst", number(sick), "%",
               none if most is None else f"limit {most:g} %",
               "limit" if most is not None and sick > most else "note"),
    )  # fmt: skip
