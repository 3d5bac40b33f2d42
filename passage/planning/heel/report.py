"""The heel advice in a master's words, leg by leg and for the passage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passage.planning.heel.alternatives import (
    Alternative,
    fin_alternatives,
    without_moves_before,
)
from passage.planning.heel.cautions import heel_cautions, leg_list
from passage.planning.heel.flip import Flip
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import (
    SMALL_T_M,
    Comparison,
    Priced,
)
from passage.planning.heel.sensitivity import Change
from passage.planning.heel.words import (
    TransferAdvice,
    price_words,
    sides_words,
    time_words,
    transfer_advice,
    transfer_words,
    way_words,
)
from passage.planning.plan.result import Caution

#: Smaller differences of price count as none. [l]
LEAST_SHOWN_L = 0.5


@dataclass(frozen=True, kw_only=True)
class LegAdvice:
    """What to do on one leg, why, and what the next best would cost.

    Moments, ``heel_without_deg`` and ``heel_left_deg`` are means over the leg. The moment
    and offset of the fins are the largest on it, GM is the least. The limit is judged by
    ``steady_heel_worst_deg`` and ``heel_over_limit_h``.
    """

    leg: int
    name: str
    action: str
    why: str
    next_best: str
    next_best_extra_l: float | None
    transfers: tuple[TransferAdvice, ...]
    hours: float
    moment_list_t_m: float
    moment_burn_t_m: float
    moment_wind_t_m: float
    moment_events_t_m: float
    moment_tanks_t_m: float
    fins_t_m: float
    fin_offset_deg: float | None
    fins_max_t_m: float
    heel_without_deg: float
    heel_without_worst_deg: float
    heel_left_deg: float
    steady_heel_worst_deg: float
    heel_over_limit_h: float
    gm_m: float
    cost_l: float


@dataclass(frozen=True, kw_only=True)
class HeelPlan:
    """The whole answer."""

    comparison: Comparison
    legs: tuple[LegAdvice, ...]
    summary: tuple[str, ...]
    cautions: tuple[Caution, ...]
    changes: tuple[Change, ...] = ()
    flip: Flip | None = None

    @property
    def plan(self) -> Priced:
        """The advised sequence, priced."""
        return self.comparison.plan

    @property
    def policies(self) -> tuple[Priced, ...]:
        """The policies compared."""
        return self.comparison.policies


def _fin_words(comparison: Comparison, leg: int) -> tuple[str, str, float | None]:
    """Fins' part of the action, the reason for it, and the largest offset angle."""
    problem, plan, cost = comparison.problem, comparison.plan, comparison.cost
    here = problem.leg_of == leg
    fins, heel = plan.fins_t_m[here], plan.heel_deg[here]
    worst = float(heel[np.argmax(np.abs(heel))])
    limit = float(np.min(problem.limit_deg[here]))
    over_h = float(plan.known_over_h[leg])
    bare = problem.heel_deg(plan.moment_t_m)[here]
    limit_words = f"the owner's {limit:.1f} deg" if np.isfinite(limit) else "no limit set"
    able = cost.fin_max[here]
    blind = bool(np.any(problem.unknown_sea[here]))
    none = "what the fins can hold is not known" if blind else "the fins must not be offset here"
    top = int(np.argmax(np.abs(fins)))
    angle = None
    if problem.fin_angle_per_moment_deg is not None and np.any(able > 0.0):
        angle = float(fins[top]) * float(problem.fin_angle_per_moment_deg[here][top])
        angle = angle if np.isfinite(angle) else None
    if np.all(np.abs(fins) < SMALL_T_M):
        if abs(worst) < 0.05:
            return "no offset on the fins; she is upright", "nothing is left to hold", angle
        leave = f"leave it, up to {sides_words(heel)}"
        if over_h <= 0.0:
            reason = f"that is within {limit_words}"
            if not np.isfinite(limit):
                reason = "nothing requires it to be held"
            if np.all(able <= 0.0):
                reason += f"; {none}"
            return leave, reason, angle
        if np.all(able <= 0.0):
            leave += f": {none}"
        return leave, f"{over_h:.1f} h are over {limit_words}", angle
    held_h = float(plan.hours[here][np.abs(fins) >= SMALL_T_M].sum())
    with_angle = f" ({abs(angle):.1f} deg of fin)" if angle is not None else ""
    action = f"fins hold up to {abs(fins[top]):.1f} t m{with_angle} for {held_h:.1f} h, "
    action += "she stays upright" if abs(worst) < 0.05 else f"at most {sides_words(heel)} is left"
    reason = f"without an offset she would lean up to {sides_words(bare)}"
    reason += f", against {limit_words}" if np.isfinite(limit) else ""
    spent = np.abs(fins) > able - SMALL_T_M
    if np.any(spent & (able > 0.0) & (np.abs(fins) > SMALL_T_M)):
        reason += "; the share of the fins' range open to an offset (offset_share) is used up there"
    return action, reason, angle


def _leg_advice(comparison: Comparison, leg: int) -> LegAdvice:
    problem, plan = comparison.problem, comparison.plan
    here = problem.leg_of == leg
    hours = problem.hours[here]
    moves = [move for move in plan.moves if here[move.point]]
    orders = tuple(transfer_advice(problem, move) for move in moves)
    action, why, angle = _fin_words(comparison, leg)
    others: list[Alternative] = []
    if orders:
        action = "; ".join([*(transfer_words(one) for one in orders), action])
        without = without_moves_before(comparison, leg)
        if without is not None:
            others.append(without)
            verb = "saves" if without.extra_l >= 0.0 else "costs"
            why = (
                f"once moved it serves the later legs too: this {verb} "
                f"{price_words(problem, abs(without.extra_l))} against not moving it; {why}"
            )
            if not without.keeps_limit:
                broken = "she would be farther over the owner's limit"
                if not plan.legs_over_limit:
                    broken = "the owner's limit would be broken"
                why = f"without it {broken}; {why}"
        else:
            why = f"the later transfers need this one; {why}"
    others += fin_alternatives(problem, comparison.cost, plan, leg)
    # An alternative of the same price that keeps the limit is not mentioned.
    others = [one for one in others if abs(one.extra_l) >= LEAST_SHOWN_L or not one.keeps_limit]
    best = min(others, key=lambda one: (not one.keeps_limit, one.extra_l), default=None)
    words = ""
    if best is not None:
        words = f"{best.what}: {price_words(problem, abs(best.extra_l))} "
        words += "more" if best.extra_l >= 0.0 else "less"
        if abs(best.extra_l) < LEAST_SHOWN_L:
            words = f"{best.what}, at the same price"
        if not best.keeps_limit:
            words += ", but over the owner's limit"

    def mean(values: np.ndarray) -> float:
        weight = hours if hours.sum() > 0.0 else np.ones(len(hours))
        return float(np.average(values[here], weights=weight))

    worst = float(plan.leg_worst_deg()[leg])
    before = problem.heel_deg(problem.moment_t_m)[here]
    return LegAdvice(
        leg=leg + 1,
        name=problem.leg_names[leg],
        action=action,
        why=why,
        next_best=words,
        next_best_extra_l=None if best is None else best.extra_l,
        transfers=orders,
        hours=float(hours.sum()),
        moment_list_t_m=problem.list_moment_t_m,
        moment_burn_t_m=mean(problem.burn_moment_t_m),
        moment_wind_t_m=mean(problem.wind_moment_t_m),
        moment_events_t_m=mean(problem.event_moment_t_m),
        moment_tanks_t_m=mean(plan.moment_t_m - problem.moment_t_m),
        fins_t_m=float(plan.fins_t_m[here][np.argmax(np.abs(plan.fins_t_m[here]))]),
        fin_offset_deg=angle,
        fins_max_t_m=float(np.max(comparison.cost.fin_max[here])),
        heel_without_deg=mean(problem.heel_deg(problem.moment_t_m)),
        heel_without_worst_deg=float(before[np.argmax(np.abs(before))]),
        heel_left_deg=mean(plan.heel_deg),
        steady_heel_worst_deg=worst,
        heel_over_limit_h=float(plan.known_over_h[leg]),
        gm_m=float(np.min(plan.gm_m[here])),
        cost_l=float(plan.leg_l[leg]),
    )


def _summary(
    comparison: Comparison,
    changes: tuple[Change, ...],
    flip: Flip | None,
    besides: Sequence[Priced],
    hold: str,
) -> tuple[str, ...]:
    problem, plan = comparison.problem, comparison.plan
    before = problem.heel_deg(problem.moment_t_m)
    worst = int(np.argmax(np.abs(before)))
    out = [
        f"With nothing done she leans up to {sides_words(before)}, most on leg "
        f"{problem.leg_of[worst] + 1}."
    ]
    other = comparison.next_best(besides)
    if other is not None:
        more = other.total_l - plan.total_l
        words = f"{price_words(problem, abs(more))} {'more' if more >= 0.0 else 'less'}"
        if abs(more) < LEAST_SHOWN_L:
            words = "at the same price"
        if hold == "fuel" and None not in (other.lost_h, plan.lost_h):
            words = _later_words(problem, other, plan)
        more_h = float(other.over_limit_h.sum() - plan.over_limit_h.sum())
        if more_h > 0.05 and other.blind_h > 0.05:
            words += f", but what the fins can hold is not known for {other.blind_h:.1f} h"
        elif more_h > 0.05:
            longer = " more" if plan.legs_over_limit else ""
            words += f", but {more_h:.1f} h{longer} over the owner's limit on "
            words += leg_list(other.legs_over_limit)
        cheaper = more <= -LEAST_SHOWN_L
        label = "Cheaper by the forecast alone" if cheaper else "Next best"
        out.append(f"{label}: {way_words(other.name, other.moves)}, {words}.")
    if comparison.sequence.proven and plan.moves == comparison.sequence.moves:
        out.append("No sequence that keeps the rules is cheaper: proven by search.")
    elif comparison.sequence.proven:
        out.append(
            "By the forecast as it is another way would be the cheapest, proven by search; this "
            "one goes by the draws."
        )
    amounts = [one.what for one in changes if one.verdict == "other amounts"]
    flips = [one.what for one in changes if one.verdict == "other advice"]
    if flip is not None:
        out.append(f"First overturned if {flip.words}; then: {flip.then}.")
    held = [one.what for one in changes if one.verdict == "holds"]
    if amounts:
        out.append("The same transfers with other amounts would suit: " + "; ".join(amounts) + ".")
    if held:
        every = "Unchanged by: " if flips or amounts else "Unchanged by everything tried: "
        out.append(every + "; ".join(held) + ".")
    return tuple(out)


def _later_words(problem: HeelProblem, other: Priced, plan: Priced) -> str:
    """Extra time and litres paid of another way, at a held fuel rate."""
    hours = (other.lost_h or 0.0) - (plan.lost_h or 0.0)
    miles = (other.lost_nm or 0.0) - (plan.lost_nm or 0.0)
    words = time_words(abs(hours), abs(miles)) + (" more" if hours >= 0.0 else " less")
    paid = other.paid_l("fuel") - plan.paid_l("fuel")
    if abs(paid) >= LEAST_SHOWN_L:
        words += f" and {price_words(problem, abs(paid))} {'more' if paid > 0.0 else 'less'}"
    return words


def heel_plan(
    comparison: Comparison,
    changes: tuple[Change, ...] = (),
    flip: Flip | None = None,
    besides: Sequence[Priced] = (),
    hold: str = "water",
) -> HeelPlan:
    """The advice for every leg and the passage, in words and numbers.

    ``besides`` are further ways shown, besides the policies of the comparison.
    """
    return HeelPlan(
        comparison=comparison,
        legs=tuple(_leg_advice(comparison, leg) for leg in range(comparison.problem.n_legs)),
        summary=_summary(comparison, changes, flip, besides, hold),
        cautions=heel_cautions(comparison),
        changes=changes,
        flip=flip,
    )
