"""Odds in words, always with the number of draws or members, and their source."""

from __future__ import annotations

from typing import Any

from passage.planning.plan.result import PlannedPassage
from passage.planning.voyage.limits import LIMIT_WORDS
from passage.report.text.fuel_range import band_cause, numbers_estimated, versions_word
from passage.report.text.verdict import eta_s, listed, number, when


def percent_words(percent: float, draws: int) -> str:
    """A share of ``draws``; all or none is not certain: ``over 98``, ``under 2``."""
    if percent >= 100.0:
        return f"over {100.0 * draws / (draws + 1):.0f}"
    if percent <= 0.0:
        return f"under {max(100.0 / (draws + 1), 1.0):.0f}"
    return f"{percent:.0f}"


def chance_words(plan: PlannedPassage) -> str:
    """One sentence for the verdict; empty where there are no odds."""
    odds = plan.totals.get("odds_within_limits_percent")
    if odds is None:
        return ""
    draws = plan.totals["odds_draws"]
    count = round(odds * draws / 100.0)
    what = "members" if "members" in plan.totals else "draws of the forecast's errors"
    text = f"All limits are kept in {count} of {draws} {what} ({percent_words(odds, draws)} %)"
    if numbers_estimated(plan):
        text += ", with her estimated numbers taken as right"
    missing = int(plan.totals.get("odds_draws_unknown") or 0)
    if missing:
        # A member may have a hole; a draw can only run beyond the area or hours.
        one = missing == 1
        lost = f"run{'s' * one} beyond the forecast"
        if "members" in plan.totals:
            lost = f"{'is' if one else 'are'} not covered"
        text += (
            f"; {missing} {lost}, so whether {'it keeps' if one else 'they keep'} them is not known"
        )
    return f"{text}."


def most_odds(plan: PlannedPassage) -> float:
    """Odds of keeping all limits if every draw of which that is not known kept them. [%]"""
    odds = plan.totals.get("odds_within_limits_percent")
    if odds is None:
        return 100.0
    missing = int(plan.totals.get("odds_draws_unknown") or 0)
    return float(odds) + 100.0 * missing / float(plan.totals["odds_draws"])


def member_words(plan: PlannedPassage) -> str:
    """Which member of an ensemble the figures are of; empty without one."""
    members = plan.totals.get("members")
    if members is None:
        return ""
    text = f"The figures are of {members['first']}"
    if members["whole"] < members["count"]:
        text += f"; {members['whole']} of {members['count']} members are without gaps"
    return f"{text}."


def odds_words(plan: PlannedPassage) -> list[str]:
    """Sentences on odds, spread and their source, the odds first."""
    totals = plan.totals
    if not totals.get("odds_source"):
        return []
    return [text for text in (_odds(totals), _spread(plan), _source(totals)) if text]


def _odds(totals: dict[str, Any]) -> str:
    odds, draws = totals["odds_within_limits_percent"], totals["odds_draws"]
    by_limit = totals["odds_percent"]
    if not by_limit:
        return ""
    each = [
        f"{LIMIT_WORDS[key]} {'not known' if value is None else percent_words(value, draws) + ' %'}"
        for key, value in sorted(by_limit.items(), key=lambda item: (item[1] is None, item[1]))
    ]
    if odds is None:
        text = "Odds: not known for the whole passage"
        known = any(value is not None for value in by_limit.values())
        return f"{text}. By limit: {listed(each)}." if known else f"{text}, nor of any limit."
    low, high = totals["odds_interval_percent"]
    text = f"Odds of keeping all limits: {percent_words(odds, draws)} % ({low:.0f} to {high:.0f} % "
    text += f"with so few {versions_word(totals)})"
    return f"{text}. By limit: {listed(each)}." if len(each) > 1 else f"{text}."


def _spread(plan: PlannedPassage) -> str:
    totals = plan.totals
    each = versions_word(totals)
    fuel = [totals[f"fuel_l_p{p}"] for p in (10, 50, 90)]
    if None in fuel:
        missing, count = totals["odds_draws_unknown"], totals["odds_draws"]
        share = f"all {count}" if missing == count else f"{missing} of {count}"
        return (
            f"Fuel and arrival have no spread: {share} {each} run beyond the area or hours of the "
            "forecast."
        )
    roll = [totals[f"worst_window_roll_significant_deg_p{p}"] for p in (50, 90)]
    text = (
        f"80 % of {each}: fuel {number(fuel[0])} to {number(fuel[2])} l (half below "
        f"{number(fuel[1])}), arrival {_arrivals(totals)}"
    )
    if None not in roll:
        text += f". Roll of the worst hour: half below {roll[0]:.1f}, 90 % below {roll[1]:.1f} deg"
    lasts = totals["odds_fuel_lasts_percent"]
    if lasts is not None:
        text += (
            f". The fuel above the tanks' minimum lasts in "
            f"{percent_words(lasts, totals['odds_draws'])} % of {each}"
        )
    low, high = totals.get("fuel_low_l"), totals.get("fuel_high_l")
    if low is not None and high is not None:
        text += (
            f". If the forecast is right, fuel lies between {number(low)} and {number(high)} l "
            f"({band_cause(plan)})"
        )
    return f"{text}."


def _arrivals(totals: dict[str, Any]) -> str:
    times = [eta_s(totals[f"eta_utc_p{p}"]) for p in (10, 90)]
    words = ["unknown" if one is None else when(one) for one in times]
    return " to ".join(dict.fromkeys(words))


def _source(totals: dict[str, Any]) -> str:
    text = f"Source of the odds: {totals['odds_source']}"
    shares = [_model_share(totals, name) for name in ("fuel", "roll")]
    if all(shares):
        text += (
            f"; the model's own doubt causes {shares[0]} of the spread of fuel and {shares[1]} of "
            "that of roll, forecast errors the rest"
        )
    return f"{text}. docs/odds.md says what is assumed."


def _model_share(totals: dict[str, Any], name: str) -> str:
    """``14 % (1 to 27 %)``, or ``under 10 %`` where it cannot be told from nothing."""
    interval = (totals.get("spread_from_model_interval_percent") or {}).get(name)
    if interval is None:
        return ""
    low, high = interval
    share = totals["spread_from_model_percent"][name]
    return f"under {high:.0f} %" if share is None else f"{share:.0f} % ({low:.0f} to {high:.0f} %)"
