"""The verdict of a route search: what the found route saves over the one given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from passage.planning.plan.result import PlannedPassage
from passage.planning.suggest.search import SearchOptions
from passage.planning.voyage.limits import window_name
from passage.report.drawing.blocks import Figure
from passage.report.text.chances import chance_words, most_odds
from passage.report.text.verdict import (
    EVEN_ODDS,
    NO_LIMIT,
    NO_LIMIT_WORD,
    Verdict,
    asked_sea,
    eta_s,
    left_out,
    number,
    odds_word,
    when,
)
from passage.report.text.verdict_plan import judged_limits

#: Smaller differences between two routes count as none. [l], [deg]
_SAME_L, _SAME_DEG = 5.0, 0.1
#: A saving below this share of the fuel is no reason to leave the route given.
_WORTH = 0.005


def advised(
    plans: Mapping[str, PlannedPassage], options: SearchOptions, given_faults: Sequence[str] = ()
) -> str:
    """Name of the plan to sail by: the route given, unless the one found is worth leaving it.

    A given route with faults, or over a limit that the one found keeps, is never advised.
    """
    name = next((key for key in plans if key.startswith("as given")), None)
    if name is None or given_faults:
        return "suggested"
    mine, given = plans["suggested"], plans[name]
    if not all(np.isfinite(x) for p in (mine, given) for x in (_fuel(p), _roll(p, options))):
        return "suggested"
    if _over(given) and not _over(mine):
        return "suggested"
    less, calmer = _fuel(given) - _fuel(mine), _roll(given, options) - _roll(mine, options)
    worth_l = max(_SAME_L, _WORTH * _fuel(mine))
    gains = less > worth_l if options.objective == "fuel" else calmer > _SAME_DEG
    return "suggested" if gains else name


def suggest_verdict(
    plans: Mapping[str, PlannedPassage], options: SearchOptions, given_faults: Sequence[str] = ()
) -> Verdict:
    """Take the suggested route or keep the given one, by the plans of both."""
    mine = plans["suggested"]
    name = next((key for key in plans if key.startswith("as given")), None)
    given = plans[name] if name is not None else None
    fuel, roll = _fuel(mine), _roll(mine, options)
    if np.isnan(fuel) or np.isnan(roll):
        return Verdict(
            "unknown",
            "No verdict: the forecast does not cover the suggested route from end to end.",
            figures=_figures(mine, options),
        )
    leave = f"leaving {when(options.departure_s)} at {options.speed_words}"
    worth = f"{number(fuel)} l, worst roll {number(roll, 1)} deg significant"
    do, why = f"Take the suggested route, {leave}, once appraised on the chart: {worth}.", ""
    if given is not None and np.isfinite(_fuel(given)) and np.isfinite(_roll(given, options)):
        less, calmer = _fuel(given) - fuel, _roll(given, options) - roll
        why = (
            f"Compared with the route as given, the one found {_more(less, _SAME_L, 0, 'l')} and "
            f"rolls {_roll_words(calmer)}."
        )
        if given_faults:
            why += f" The route as given is ruled out: {given_faults[0]}."
        elif _over(given) and not _over(mine):
            why += f" The route as given is over a limit: {_over(given)}."
    if given is not None and advised(plans, options, given_faults) != "suggested":
        # Speeds chosen by leg are those of the route found.
        leave = f"leaving {when(options.departure_s)} at {options.speed_kn:g} kn"
        do = (
            f"Keep the route as given, {leave}: the search found none that saves "
            f"{100.0 * _WORTH:g} % of the fuel or more."
            if options.objective == "fuel"
            else f"Keep the route as given, {leave}: the search found nothing that rolls less."
        )
        return _limited(given, options, do, why, leave, "the route as given")
    return _limited(mine, options, do, why, leave)


def _over(plan: PlannedPassage) -> str:
    """The limit a plan is furthest over, in words; empty where it keeps all."""
    return next((one.words for one in judged_limits(plan) if one.over), "")


def _limited(
    mine: PlannedPassage,
    options: SearchOptions,
    do: str,
    why: str,
    leave: str,
    which: str = "the best route found",
) -> Verdict:
    """The verdict by the owner's limits: none set, one broken, one unknown, or all kept."""
    limits = judged_limits(mine)
    over = _over(mine)
    figures = _figures(mine, options)
    why = " ".join(x for x in (why, left_out(mine.cautions), asked_sea(mine.cautions)) if x)
    if not limits:
        return Verdict("unknown", f"{NO_LIMIT} {do}", why, "", figures, NO_LIMIT_WORD)
    if over:
        do = f"Not yet: {which}, {leave}, is over a limit: {over}."
        price = f"{which.capitalize()} would take {number(_fuel(mine))} l. {_remedy(over, options)}"
        return Verdict("over", do, why, price, figures)
    why = f"{why} {chance_words(mine)}".strip()
    missing = [one for one in limits if one.share != one.share]
    odds = mine.totals.get("odds_within_limits_percent")
    if missing or odds is None:
        return Verdict("unknown" if missing else "within", do, why, "", figures)
    doubtful = most_odds(mine) < EVEN_ODDS
    if doubtful:
        # In the words of a plan.
        do = f"{do[:-1]}, but the forecast's errors make keeping the limits less likely than not."
    return Verdict("within", do, why, "", figures, odds_word(odds), doubtful)


def _remedy(over: str, options: SearchOptions) -> str:
    """What may bring her within a limit; water over the limit of roll was avoided already."""
    words = "Try another departure or speed"
    if over.startswith("significant roll"):
        return f"{words}: none of the ways found at this one keeps the limit."
    if options.roll_limit_deg is not None:
        return f"{words}, or a `--roll-limit` below {options.roll_limit_deg:g}."
    return f"{words}, or keep out of the roughest water with `--roll-limit`."


def _more(less: float, same: float, decimals: int, unit: str) -> str:
    if abs(less) <= same:
        return "takes as much fuel"
    return f"{'saves' if less > 0 else 'costs'} {number(abs(less), decimals)} {unit}" + (
        "" if less > 0 else " more"
    )


def _roll_words(calmer: float) -> str:
    if abs(calmer) <= _SAME_DEG:
        return "as much"
    return f"{number(abs(calmer), 1)} deg {'less' if calmer > 0 else 'more'} at its worst"


def _fuel(plan: PlannedPassage) -> float:
    value = plan.totals["fuel_l"]
    return float("nan") if value is None else float(value)


def _roll(plan: PlannedPassage, options: SearchOptions) -> float:
    """Significant roll of the worst hour, as in plans and limits; NaN unless all is known."""
    word = "active" if options.fins == "active" else "centred"
    known = np.isfinite(np.asarray(plan.points[f"roll_{word}_significant_deg"], dtype=float))
    value = plan.totals.get("worst_window_roll_significant_deg")
    return float(value) if value is not None and known.all() else float("nan")


def _figures(plan: PlannedPassage, options: SearchOptions) -> tuple[Figure, ...]:
    totals = plan.totals
    arrives = eta_s(totals.get("eta_utc"))
    roll = _roll(plan, options)
    hour = window_name(float(plan.marks.get("window_h", 1.0)))
    return (
        Figure("Arrives", when(arrives), "", f"{number(totals.get('hours'), 1)} h"),
        Figure("Distance", number(totals.get("distance_nm"), 1), "nm"),
        Figure("Fuel", number(totals.get("fuel_l")), "l"),
        Figure(f"Roll, worst {hour}", number(roll if roll == roll else None, 1), "deg"),
    )
