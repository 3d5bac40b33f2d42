"""Odds of a comparison in words: how likely, and what more certainty costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from passage.planning.compare.certainty import Step, extra_l, steps, surest, wait_h
from passage.planning.compare.compare import Comparison
from passage.planning.odds.count import interval_percent, reaches
from passage.report.text.chances import chance_words, member_words, percent_words
from passage.report.text.verdict import number, when

#: Smaller differences count as none. [l]
_SAME_L = 5.0


def odds_lead(found: Comparison) -> int:
    """The combination that others are compared with: the chosen one, else the surest."""
    if found.chosen is not None:
        return found.chosen
    best = surest(found)
    return found.names.get("nearest the limits", 0) if best is None else best


def odds_text(found: Comparison, index: int) -> str:
    """``81``, ``over 98``; ``-`` where odds are not known."""
    if found.odds is None:
        return "-"
    value = float(found.odds.asked[index])
    return "-" if value != value else percent_words(value, found.odds.draws)


def chance_of(found: Comparison, index: int) -> str:
    """``Limits and constraints are kept in 52 of 64 draws ...``, empty where not known."""
    plan = found.plans.get(index)
    if found.odds is None:
        return "" if plan is None else chance_words(plan)
    odds, draws = float(found.odds.asked[index]), found.odds.draws
    if odds != odds:
        return ""
    errors = " of the forecast's errors" if found.odds.what == "draws" else ""
    return (
        f"{_asked(found)} are kept in {_counts(found, index)}{errors} "
        f"({percent_words(odds, draws)} %)."
        f" {'' if plan is None else member_words(plan)}"
    ).strip()


def odds_percent(found: Comparison, index: int) -> float:
    """Odds of one combination, else those of its plan; NaN where not known. [%]"""
    if found.odds is not None:
        return float(found.odds.asked[index])
    plan = found.plans.get(index)
    percent = None if plan is None else plan.totals.get("odds_within_limits_percent")
    return float("nan") if percent is None else float(percent)


def _asked(found: Comparison) -> str:
    options = found.options
    more = options.daylight or options.arrive_by_s is not None or options.budget is not None
    if not found.vessel.limits.any_set:
        return "All constraints"
    return "Limits and constraints" if more else "All limits"


def card_odds(found: Comparison, index: int) -> str:
    """``95 %`` for a named option, else by its plan; empty where not known."""
    if found.odds is not None:
        text = odds_text(found, index)
        return "" if text == "-" else f"{text} %"
    plan = found.plans.get(index)
    percent = None if plan is None else plan.totals.get("odds_within_limits_percent")
    if plan is None or percent is None:
        return ""
    return f"{percent_words(percent, plan.totals['odds_draws'])} %"


def bound_words(found: Comparison) -> str:
    """Words to follow "keep the limits" where odds are asked for."""
    asked = found.options.odds
    return "" if asked is None or found.odds is None else f" with odds of {asked:g} % or more"


def certainty_words(found: Comparison, lead: int) -> str:
    """One or two sentences on what more certainty costs, and what less would save."""
    if found.odds is None or np.isnan(found.odds.asked[lead]):
        return ""
    parts = [one for one in (_more(found, lead), _less(found, lead)) if one]
    return " ".join(parts)


def _more(found: Comparison, lead: int) -> str:
    assert found.odds is not None
    odds = found.odds
    now = float(odds.asked[lead])
    above = [s for s in steps(found, lead) if not reaches(now, s.percent, odds.draws)]
    if not above:
        return ""
    mine = f"{percent_words(now, odds.draws)} %"
    for step in above:
        ways, used = [], None
        if step.soon is not None and odds.differ(step.soon, lead):
            used = step.soon
            ways.append(f"{_litres(found, step.soon, lead)} ({_go(found, step.soon)})")
        if step.later is not None and odds.differ(step.later, lead):
            used = step.later if used is None else used
            hours = wait_h(found, step.later, lead)
            more = extra_l(found, step.later, lead)
            text = f"{number(hours, 0 if hours == round(hours) else 1)} h of waiting"
            if abs(more) >= _SAME_L:
                text += f" {'and' if more > 0 else 'but saves'} {number(abs(more))} l"
            ways.append(f"{text} ({_go(found, step.later)})")
        if ways:
            # Two that print alike are told apart by their counts.
            level = f"{step.percent:g} %"
            if level == mine:
                level, mine = _counts(found, used), _counts(found, lead)
            return f"{level} instead of {mine} costs {' or '.join(ways)}."
    best = surest(found)
    if best is None:
        return ""
    most = percent_words(float(odds.asked[best]), odds.draws)
    if best == lead:
        return f"No combination is surer than {mine}."
    if not odds.differ(best, lead):
        return f"No combination is surer than {mine} by more than chance explains."
    return (
        f"No combination reaches {above[0].percent:g} %; the surest is {_go(found, best)} with "
        f"{most} %, for {_litres(found, best, lead)}."
    )


def _less(found: Comparison, lead: int) -> str:
    """What the odds asked for cost, beside the cheapest at the lowest level of odds."""
    if found.options.odds is None or found.odds is None:
        return ""
    first = next((step for step in steps(found, lead) if step.cheapest is not None), None)
    if first is None or first.cheapest is None or first.percent >= found.options.odds:
        return ""
    saved = -extra_l(found, first.cheapest, lead)
    if saved < _SAME_L:
        return ""
    odds = f"odds of {percent_words(float(found.odds.asked[first.cheapest]), found.odds.draws)} %"
    if odds == f"odds of {percent_words(float(found.odds.asked[lead]), found.odds.draws)} %":
        odds = f"{_counts(found, first.cheapest)}, not {_counts(found, lead)},"
    text = f"With {odds} it would take {number(saved)} l less ({_go(found, first.cheapest)})"
    if not found.odds.differ(first.cheapest, lead):
        text += "; odds that far apart may be chance"
    return f"{text}."


def _counts(found: Comparison, index: int | None) -> str:
    """``51 of 64 draws``."""
    assert found.odds is not None
    assert index is not None
    kept = round(float(found.odds.asked[index]) * found.odds.draws / 100.0)
    return f"{kept} of {found.odds.draws} {found.odds.what}"


def _litres(found: Comparison, index: int, lead: int) -> str:
    more = extra_l(found, index, lead)
    if abs(more) < _SAME_L:
        return "no fuel"
    return f"{number(abs(more))} l {'more' if more > 0 else 'less'}"


def _go(found: Comparison, index: int) -> str:
    """``Wed 20 May 20:00Z, outside, 11 kn``."""
    cell = found.cell_of(index)
    text = f"{when(float(found.departure_s[index]))}, {found.routes[cell.route].name}, "
    text += cell.speed_text
    return text if cell.fins == "active" else f"{text}, fins {cell.fins}"


def certainty_rows(found: Comparison, lead: int) -> list[dict[str, Any]]:
    """A row for every level of odds: the cheapest there, compared with ``lead``."""
    return [
        {
            "odds_percent": step.percent,
            "combinations": step.count,
            "number": None if step.cheapest is None else step.cheapest + 1,
            "fuel_l": None
            if step.cheapest is None
            else float(found.totals["fuel_l"][step.cheapest]),
            "extra_fuel_l": None if step.cheapest is None else extra_l(found, step.cheapest, lead),
            "leaves_later_h": None if step.cheapest is None else wait_h(found, step.cheapest, lead),
            "number_without_waiting": None if step.soon is None else step.soon + 1,
            "extra_fuel_without_waiting_l": None
            if step.soon is None
            else extra_l(found, step.soon, lead),
        }
        for step in steps(found, lead)
    ]


def certainty_lines(found: Comparison, lead: int) -> list[str]:
    """The same as lines of text, levels with the same answer together; empty without odds."""
    lines: list[str] = []
    made = steps(found, lead)
    for step in made:
        if step.cheapest is None:
            same = [one for one in made if one.cheapest is None]
            lines.append(f"{_levels(same)}: none")
            break
        same = [one for one in made if one.cheapest == step.cheapest]
        if step is not same[0]:
            continue
        hours = wait_h(found, step.cheapest, lead)
        shift = "" if hours == 0.0 else f", {abs(hours):g} h {'later' if hours > 0 else 'earlier'}"
        price = f"no. {step.cheapest + 1}, the one named above"
        if step.cheapest != lead:
            price = f"no. {step.cheapest + 1}, {_litres(found, step.cheapest, lead)}{shift}"
            price += f" ({_go(found, step.cheapest)})"
        lines.append(f"{_levels(same)}: {price}")
    return lines


def _levels(same: Sequence[Step]) -> str:
    first, last = same[0].percent, same[-1].percent
    return f"{first:g} %" if first == last else f"{first:g} to {last:g} %"


def source_words(found: Comparison, lead: int) -> str:
    """The source of the odds, for the departure of ``lead``."""
    if found.odds is None:
        return ""
    text = f"Source of the odds: {found.odds.source(float(found.departure_s[lead]))}"
    odds, draws = float(found.odds.asked[lead]), found.odds.draws
    if odds == odds:
        low, high = interval_percent(odds, draws)
        text += f"; with so few, {percent_words(odds, draws)} % may be {low:.0f} to {high:.0f} %"
    return f"{text}. docs/odds.md says what is assumed."
