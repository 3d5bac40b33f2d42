"""Odds of the heel advice in words: how often it is best, and what the doubt costs."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np

from passage.planning.heel.chances import HeelChances, WayOdds
from passage.planning.heel.choice import SAME_H
from passage.planning.heel.heel import HeelAnswer
from passage.planning.heel.words import way_words
from passage.report.text.chances import percent_words
from passage.report.text.layout import Layout, TextColumn, fitted, wrapped
from passage.report.text.verdict import legs_words, number


def limit_set(answer: HeelAnswer) -> bool:
    """Whether the owner sets a limit of steady heel for any part of the passage."""
    return bool(np.any(np.isfinite(answer.plan.comparison.problem.limit_deg)))


#: What the fins do about the heel left, by rule.
_FINS = {
    "none": "fins leave the rest", "to the limit": "fins to limit", "all": "fins hold the rest",
    "cheapest": "fins where cheapest",
}  # fmt: skip
#: A way that is best less often than this gets no row. [%]
_OFTEN = 5.0


def chance_sentences(answer: HeelAnswer) -> list[str]:
    """The odds of the heel limit, how often the advice is the best, and why it was chosen."""
    found = answer.chances
    if found is None:
        return []
    one, draws = found.advice, found.draws
    what = "draws of the forecast's errors" if found.what == "draws" else found.what
    share = percent_words(one.best_percent, draws)
    best = f"is the cheapest way in {share} %"
    if limit_set(answer) and one.limit_percent < found.asked_percent:
        best = f"is the best of the ways in {share} %"
    text = f"Over {draws} {what} it {best}"
    if limit_set(answer):
        kept = percent_words(one.limit_percent, draws)
        text = f"It keeps the limit of heel in {kept} % of {draws} {what}"
        if one.limit_percent < found.asked_percent:
            text += f" ({found.asked_percent:g} % asked)"
        text += f" and {best}"
    return [f"{text}.", *([_changed(answer, found)] if found.changed else [])]


def _changed(answer: HeelAnswer, found: HeelChances) -> str:
    """Why the advice differs from the one by the forecast alone."""
    other = next(way for way in found.ways if way.priced.name == found.by_forecast)
    more = found.advice.expected_l - other.expected_l
    litres = number(other.priced.total_l)
    what = other.priced.name
    if other.priced.moves:
        moved = sum(move.amount_m3 for move in other.priced.moves)
        what = f"moving {moved:.1f} m3"
        if f"{moved:.1f}" == f"{sum(m.amount_m3 for m in answer.plan.plan.moves):.1f}":
            what = f"another split of the same {moved:.1f} m3"
    text = f"By the forecast alone {what} ({litres} l) would do"
    if not other.priced.within_limit:
        over = float(other.priced.over_limit_h.sum())
        text = f"By the forecast alone {what} ({litres} l, {over:.1f} h over) would be least over"
    mine = found.advice
    if mine.limit_percent < found.asked_percent and other.over_h > mine.over_h + SAME_H:
        hours = f"{other.over_h:.1f} h on average ({mine.over_h:.1f} h as advised)"
        return f"{text}, but over the draws she is over the limit for {hours}."
    if other.limit_percent < found.asked_percent:
        kept = percent_words(other.limit_percent, found.draws)
        return f"{text}, but keeps it in {kept} % only."
    return f"{text}, but over the draws it costs {number(abs(more))} l more on average."


def chance_lines(answer: HeelAnswer, layout: Layout) -> list[str]:
    """A row for each way, and where the odds come from."""
    found = answer.chances
    if found is None:
        return []
    judged = limit_set(answer)
    columns = [
        TextColumn("way", left=True),
        TextColumn("best in %", meaning="of the draws; ways that tie both count"),
        TextColumn("mean l", meaning="litres, mean of the draws"),
        TextColumn("10 to 90 % l", 1, meaning="litres in 80 % of the draws"),
    ]
    if judged:
        columns.append(TextColumn("limit kept %", meaning="draws within the owner's limit of heel"))
    rows = []
    names = _row_names(found)
    # Ways that are not policies of the answer get a row only where they are often best.
    named = {one.name for one in answer.plan.policies}
    for one in found.ways:
        if one.priced.name not in named and one.best_percent < _OFTEN:
            continue
        low, _, high = one.spread_l
        row = [
            names[id(one)],
            f"{one.best_percent:,.0f}",
            f"{one.expected_l:,.0f}",
            f"{low:,.0f} to {high:,.0f}",
        ]
        if judged:
            row.append(percent_words(one.limit_percent, found.draws))
        rows.append(row)
    lines = ["", "The ways over the forecast's doubt, the advice first"]
    lines += fitted(columns, rows, layout)
    return [*lines, wrapped(source_words(answer), layout.width)]


def _row_names(found: HeelChances) -> dict[int, str]:
    """Names of the rows by identity; ways of the same amount have what tells them apart."""

    def hundredths(one: WayOdds) -> str:
        return way_words(one.priced.name, one.priced.moves, 2)

    def legs(one: WayOdds) -> str:
        ordered = {int(one.priced.leg[move.point]) + 1 for move in one.priced.moves}
        return f"{hundredths(one)} ({legs_words(sorted(ordered))}, {_FINS[one.priced.rule]})"

    names = {id(one): way_words(one.priced.name, one.priced.moves) for one in found.ways}
    for longer in (hundredths, legs):
        often = Counter(names.values())
        names = {
            id(one): longer(one)
            if one.priced.moves and often[names[id(one)]] > 1
            else names[id(one)]
            for one in found.ways
        }
    names[id(found.advice)] += " (advised)"
    return names


def source_words(answer: HeelAnswer) -> str:
    """The source of the odds, and the rule that chose the advice; empty without odds."""
    found = answer.chances
    if found is None:
        return ""
    missing = f" {found.unknown} of them leave the forecast." if found.unknown else ""
    text = f"Source of the odds: {found.source}.{missing} The advice has the least mean litres"
    if limit_set(answer):
        text += (
            f" of the ways that keep the owner's limit of heel in {found.asked_percent:g} % or "
            "more; where none does, of those least over it"
        )
    return f"{text}."


def chances_dict(found: HeelChances | None) -> dict[str, Any] | None:
    """The odds for JSON; None without."""
    if found is None:
        return None
    return {
        "source": found.source,
        "draws": found.draws,
        "draws_unknown": found.unknown,
        "asked_percent": found.asked_percent,
        "advised_by_forecast_alone": found.by_forecast,
        "ways": [
            {
                "name": one.priced.name,
                "best_percent": one.best_percent,
                "behind_best_l": one.behind_l,
                "expected_l": one.expected_l,
                "l_p10": one.spread_l[0],
                "l_p50": one.spread_l[1],
                "l_p90": one.spread_l[2],
                "heel_limit_kept_percent": one.limit_percent,
                "heel_over_limit_percent": 100.0 - one.limit_percent,
                "heel_over_limit_h": one.over_h,
            }
            for one in found.ways
        ],
    }
