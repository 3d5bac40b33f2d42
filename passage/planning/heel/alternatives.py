"""Other ways on one leg, and what they cost over the advice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import Floats, HeelProblem, stability
from passage.planning.heel.moves import moved_by
from passage.planning.heel.options import (
    SMALL_T_M,
    Comparison,
    FinRule,
    Priced,
    fins_by_rule,
    simplest,
)
from passage.planning.heel.rules import broken_rules


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way on one leg, and its extra cost over the advice."""

    what: str
    extra_l: float
    keeps_limit: bool


def fin_alternatives(
    problem: HeelProblem, cost: LegCost, plan: Priced, leg: int
) -> list[Alternative]:
    """Other uses of the fins on one leg, with the tanks as in the plan."""
    here = problem.leg_of == leg
    stiffness = stability(problem, moved_by(problem, plan.moves))[1]
    cost = cost.judged_at(problem, stiffness)

    def charge(fins: Floats) -> float:
        over = np.maximum(np.abs(plan.moment_t_m - fins) - cost.limit_t_m, 0.0)
        return float((over * cost.over_l_per_t_m)[here].sum())

    now = fins_l(cost, plan.moment_t_m, plan.fins_t_m)[here].sum()
    out: list[Alternative] = []
    seen = [plan.fins_t_m]
    rules: tuple[tuple[FinRule, str], ...] = (
        ("none", "leave it"),
        ("to the limit", "fins to limit"),
        ("all", "fins hold all they can"),
    )
    for rule, what in rules:
        fins = fins_by_rule(cost, plan.moment_t_m, rule)
        if any(np.all(np.abs(fins - other)[here] < SMALL_T_M) for other in seen):
            continue
        seen.append(fins)
        total = fins_l(cost, plan.moment_t_m, fins)[here].sum()
        keeps = charge(fins) <= charge(plan.fins_t_m) + 1e-6
        if np.any(np.abs(plan.moment_t_m[here]) > SMALL_T_M):
            out.append(Alternative(what=what, extra_l=float(total - now), keeps_limit=keeps))
    return sorted(out, key=lambda one: (not one.keeps_limit, one.extra_l))


def fins_l(cost: LegCost, moment_t_m: Floats, fins_t_m: Floats) -> Floats:
    """Litres of fins and heel at each point, without the charge for heel over the limit."""
    drag, lost = cost.fins_l(fins_t_m)
    hull, worth = cost.heel_l(moment_t_m - fins_t_m)
    return drag + lost + hull + worth


def without_moves_before(comparison: Comparison, leg: int) -> Alternative | None:
    """The cost of leaving out the transfers of one leg; None where that is not possible."""
    problem, cost = comparison.problem, comparison.cost
    left = tuple(m for m in comparison.plan.moves if problem.leg_of[m.point] != leg)
    if len(left) == len(comparison.plan.moves) or broken_rules(problem, left):
        return None
    other = simplest(problem, cost, left)
    return Alternative(
        what="no transfer here, fins hold it",
        extra_l=other.total_l - comparison.plan.total_l,
        keeps_limit=other.over_limit_charge_l <= comparison.plan.over_limit_charge_l + 1e-6,
    )
