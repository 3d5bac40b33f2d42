"""Why a way is advised, in a clause for the first line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passage.planning.heel.cards import Card
from passage.planning.heel.chances import HeelChances
from passage.planning.heel.options import Comparison, Priced
from passage.planning.heel.words import litres_words, price_words, time_words

#: Ways as the subject of a sentence.
_ALONE = {"fins": "the fins alone", "leave it": "leaving it", "move liquid": "moving liquid"}
#: Smaller differences of price count as none. [l]
SAME_L = 0.5
#: More heel over the limit than this on average is a reason by itself. [deg]
_MORE_DEG = 0.1


def because(
    comparison: Comparison,
    cards: Sequence[Card],
    *,
    hold: str = "water",
    chances: HeelChances | None = None,
) -> str:
    """``because ...``, compared with the way a master would think of first; empty for none.

    Where that way costs no more by the forecast as it is, the reason comes from ``chances``.
    """
    plan = comparison.plan
    by_way = {card.way: card for card in cards}
    held = bool(np.any(np.abs(plan.fins_t_m) > 0.0))
    if plan.moves:
        other = by_way.get("fins")
        if other is None or other.priced is None or _same(other.priced, plan):
            leave = by_way.get("leave it")
            return _over(leave.priced, "left alone she is") if leave and leave.priced else ""
        one = other.priced
        more_h = float(one.over_limit_h.sum() - plan.over_limit_h.sum())
        blind_h = one.blind_h
        if more_h > 0.05 and blind_h > 0.05:
            return (
                f"because the sea is not known for {blind_h:.1f} h, nor what the fins could hold "
                "there"
            )
        if more_h > 0.05:
            return f"because the fins alone leave her over the limit for {more_h:.1f} h more"
        if _leans_more(one, plan):
            return f"because the fins alone leave {abs(one.worst_heel_deg):.1f} deg"
        if chances is not None and one.total_l <= plan.total_l + SAME_L:
            return _over_versions(chances, one)
        way, one = _nearest(plan, by_way)
        what = _ALONE.get(way, way)
        return f"because {what} {_cost(comparison, one, hold)}"
    if not held:
        ways = [by_way[way].priced for way in ("fins", "move liquid") if way in by_way]
        dear = [one for one in ways if one is not None and not _same(one, plan)]
        if plan.legs_over_limit or not dear:
            return ""
        one = min(dear, key=lambda one: one.total_l)
        what = "moving liquid" if one.moves else "holding it with the fins"
        return f"because {what} {_cost(comparison, one, hold)}"
    move = by_way.get("move liquid")
    if move is None or move.priced is None:
        why = move.why_not if move is not None else ""
        return f"because {why}" if why else ""
    one = move.priced
    more_h = float(one.over_limit_h.sum() - plan.over_limit_h.sum())
    if more_h > 0.05:
        return f"because moving liquid leaves her over the limit for {more_h:.1f} h more"
    if _leans_more(one, plan):
        return f"because moving liquid leaves {abs(one.worst_heel_deg):.1f} deg"
    crew = float(one.crew_l.sum())
    words = f"because moving {_moved(one):.1f} m3 of liquid {_cost(comparison, one, hold)}"
    named = hold == "fuel" and one.lost_h is not None
    return words + (
        f", {litres_words(crew)} of it crew time" if crew > SAME_L and not named else ""
    )


def _nearest(plan: Priced, by_way: dict[str, Card]) -> tuple[str, Priced]:
    """The cheapest costlier way that is no longer over the limit than the fins; else the fins."""
    fins = by_way["fins"].priced
    assert fins is not None
    over_h = max(float(fins.over_limit_h.sum()), float(plan.over_limit_h.sum())) + 0.05
    fit = [
        (way, card.priced)
        for way, card in by_way.items()
        if card.priced is not None
        and card.priced.total_l > plan.total_l + SAME_L
        and float(card.priced.over_limit_h.sum()) <= over_h
    ]
    return min(fit, key=lambda row: row[1].total_l, default=("fins", fins))


def _over_versions(chances: HeelChances, one: Priced) -> str:
    """Why the advice is preferred to a way that costs no more by the forecast as it is."""
    advice = chances.advice
    other = next((way for way in chances.ways if _same(way.priced, one)), None)
    if other is None:
        return ""
    if other.limit_percent < min(advice.limit_percent, chances.asked_percent):
        kept = round(other.limit_percent * chances.draws / 100.0)
        of = f"{chances.draws} {chances.what}"
        return f"because the fins alone keep the limit in {kept} of {of} only"
    if other.expected_l > advice.expected_l + SAME_L:
        mean = litres_words(other.expected_l)
        return f"because over the {chances.what} the fins alone cost {mean} on average"
    return ""


def _same(one: Priced, other: Priced) -> bool:
    return one.moves == other.moves and one.rule == other.rule


def _leans_more(one: Priced, plan: Priced) -> bool:
    more = _MORE_DEG * float(plan.hours.sum())
    return one.over_limit_deg_h > plan.over_limit_deg_h + more


def _over(one: Priced, words: str) -> str:
    hours = float(one.over_limit_h.sum())
    return f"because {words} over the limit for {hours:.1f} h" if hours > 0.05 else ""


def _cost(comparison: Comparison, one: Priced, hold: str) -> str:
    """``would cost 101 l (111 EUR)``, or the time it loses at a held fuel rate."""
    if hold == "fuel" and one.lost_h is not None and one.lost_nm is not None:
        words = f"would lose {time_words(one.lost_h, one.lost_nm)}"
        crew = float(one.crew_l.sum())
        problem = comparison.problem
        return words + (f" and {price_words(problem, crew)} of crew time" if crew else "")
    return f"would cost {price_words(comparison.problem, one.total_l)}"


def _moved(one: Priced) -> float:
    return float(sum(move.amount_m3 for move in one.moves))
