"""The first line of the heel answer: the advice, its price, and the heel that is left."""

from __future__ import annotations

import numpy as np

from passage.planning.heel.cautions import leg_list
from passage.planning.heel.choice import SAME_H
from passage.planning.heel.flip import Flip
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import SMALL_DEG, Comparison
from passage.planning.heel.words import (
    BOTH_DEG,
    price_words,
    short_orders,
    side_words,
    time_words,
)

#: List above which its cause must be found first [deg]; common practice, no source.
FIND_CAUSE_DEG = 6.0
#: A smaller heel reads as upright. [deg]
UPRIGHT_DEG = 0.05
#: Heel within this of the worst counts as the worst in hours and legs. [deg]
_NEAR_DEG = 0.1


def list_deg(problem: HeelProblem) -> np.ndarray:
    """List from loading alone at each point. [deg]"""
    return np.asarray(problem.heel_deg(problem.moment_t_m - problem.wind_moment_t_m))


def cause_first(comparison: Comparison) -> str | None:
    """A sentence where the list is so large that its cause must be found first; else None."""
    problem, plan = comparison.problem, comparison.plan
    listed = list_deg(problem)
    worst = float(listed[np.argmax(np.abs(listed))])
    if abs(worst) > FIND_CAUSE_DEG:
        return (
            f"A list of {side_words(worst)} is more than uneven loading explains: find the cause "
            "before anything is done about it (water where it should not be, weight adrift, a "
            "tank not as sounded)"
        )
    # Heel from loading alone that is left after transfers and fins.
    moment = plan.moment_t_m - problem.wind_moment_t_m
    left = np.abs(problem.heel_deg(np.maximum(np.abs(moment) - problem.fin_moment_max_t_m, 0.0)))
    over = (plan.over_limit_deg > SMALL_DEG) & (left > problem.limit_deg + SMALL_DEG)
    if np.any(over & (problem.fin_moment_max_t_m > 0.0)):
        return (
            f"Nothing aboard holds the list of {side_words(worst)} within the owner's limit: find "
            "its cause first"
        )
    return None


def known_words(leg: np.ndarray, sea_unknown: np.ndarray, wind_unknown: np.ndarray) -> str:
    """What an advice leaves out for want of a forecast, by points; empty for nothing.

    ``as far as the forecast reaches, and without wind heel on leg 2``.
    """
    words = ["as far as the forecast reaches"] if np.any(sea_unknown) else []
    blown = wind_unknown & ~sea_unknown
    if np.all(wind_unknown):
        words.append("without wind heel, for the forecast has no wind")
    elif np.any(blown):
        legs = tuple(sorted({int(one) + 1 for one in leg[blown]}))
        words.append(f"without wind heel where no wind is known ({leg_list(legs)})")
    return ", and ".join(words)


def paid_words(comparison: Comparison, hold: str) -> str:
    """Price of the advice: litres and money; at a held fuel rate time, and crew time."""
    problem, plan = comparison.problem, comparison.plan
    if hold != "fuel" or plan.lost_h is None or plan.lost_nm is None:
        return price_words(problem, plan.total_l)
    priced = time_words(plan.lost_h, plan.lost_nm)
    if not plan.moves:
        return priced
    crew = f"{price_words(problem, float(plan.crew_l.sum()))} of crew time"
    return f"{priced} and {crew}" if plan.lost_h * 60.0 >= 0.5 else f"{crew} and no delay"


def headline(
    comparison: Comparison,
    flip: Flip | None,
    *,
    known: str = "",
    hold: str = "water",
    why: str = "",
) -> str:
    """One sentence with the advice, its price, the reason, and the heel that is left.

    ``why`` is a clause that begins with "because"; ``known`` one that says what the advice
    leaves out for want of a forecast.
    """
    problem, plan = comparison.problem, comparison.plan
    worst = plan.worst_heel_deg
    size = np.abs(plan.heel_deg)
    leg = int(problem.leg_of[plan.worst]) + 1
    priced = paid_words(comparison, hold)
    held = np.abs(plan.fins_t_m) > 0.0
    parts = [short_orders(problem, plan.moves)] if plan.moves else []
    if np.any(held):
        what = "let the fins hold the rest" if parts else "let the fins hold it"
        left = float(size[held].max())
        what = f"{what} down to {left:.1f} deg" if left >= UPRIGHT_DEG else f"{what} upright"
        legs = tuple(sorted({int(one) + 1 for one in problem.leg_of[held]}))
        parts.append(what if len(legs) == problem.n_legs else f"{what} on {leg_list(legs)}")
    limit = problem.limit_deg[plan.worst]
    rest = " at anchor" if problem.speed_kn[plan.worst] == 0.0 else ""
    if not parts:
        bound = ""
        if not plan.legs_over_limit:
            bound = f", within the owner's {limit:.1f} deg" if np.isfinite(limit) else ""
        other = _other_side(comparison)
        leans = f"{side_words(worst)}{rest} (leg {leg})"
        if other is not None:
            far = side_words(plan.heel_deg[other])
            leans += f" and {far} (leg {problem.leg_of[other] + 1})"
        text = f"Leave it: she leans up to {leans}{bound}, for {priced}"
        if abs(worst) < UPRIGHT_DEG:
            text = f"Leave it: she stays upright, for {priced}"
        text += f", {why}" if why else ""
    else:
        text = "; ".join(parts)
        text = text[0].upper() + text[1:] + f", {priced}"
        text += f", {why}" if why else ""
        text += (
            "; she is then upright"
            if abs(worst) < UPRIGHT_DEG
            else f"; it leaves up to {_left(comparison, plan.worst, rest)}"
        )
        other = _other_side(comparison)
        if other is not None:
            text += f" and {_left(comparison, other)}"
    if not np.any(np.isfinite(problem.limit_deg)):
        text += "; no limit of steady heel is set"
    elif plan.known_legs_over:
        over = float(plan.known_over_h.sum())
        text += (
            f"; she is over the owner's limit for {over:.1f} h on {leg_list(plan.known_legs_over)}"
        )
        least = min(float(one.over_limit_h.sum()) for one in comparison.policies)
        if plan.over_limit_h.sum() <= least + SAME_H:
            text += ", and nothing aboard prevents it"
    cause = cause_first(comparison)
    if cause is not None:
        text = f"{cause}. Only then: {text[0].lower()}{text[1:]}"
    if known:
        text = f"{known[0].upper()}{known[1:]}: {text[0].lower()}{text[1:]}"
    if flip is not None and cause is None:
        text += f". {flip.lead} {flip.words}"
    return text + "."


def _other_side(comparison: Comparison) -> int | None:
    """Point of the worst heel to the other side, if it is large enough to be felt; or None."""
    heel = comparison.plan.heel_deg * -np.sign(comparison.plan.worst_heel_deg)
    other = int(np.argmax(heel))
    return other if heel[other] >= BOTH_DEG else None


def _left(comparison: Comparison, point: int, rest: str = "") -> str:
    """Heel at a point, how long she leans about as far to that side, and on which legs."""
    problem, plan = comparison.problem, comparison.plan
    near = np.abs(plan.heel_deg - plan.heel_deg[point]) <= _NEAR_DEG
    hours = float(plan.hours[near].sum())
    words = f"{side_words(plan.heel_deg[point])}{rest}"
    if hours < 1.0:
        return f"{words} (under an hour, leg {problem.leg_of[point] + 1})"
    legs = tuple(sorted({int(one) + 1 for one in problem.leg_of[near]}))
    return f"{words} ({hours:.0f} h, {leg_list(legs)})"
