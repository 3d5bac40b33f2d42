"""Which way is advised once each has been computed as a plan."""

from __future__ import annotations

from passage.planning.heel.options import SIMPLE_L, SIMPLE_SHARE, FinRule, Priced

#: Ways nearer to each other than this cost the same. [l]
_SAME_L = 0.05


def advised_last(policies: tuple[Priced, ...]) -> tuple[Priced, ...]:
    """The ways with the advised one last; on input the last is the choice of the search.

    A cheaper way takes its place; a simpler one of nearly the same cost replaces it.
    """
    plan = policies[-1]
    first = undercutting(plan, policies)
    if first is not None:
        policies = (*(one for one in policies if one is not first), first)
        plan = first
    simple = simpler(plan, policies)
    if simple is not None:
        policies = (*(one for one in policies if one is not plan and one is not simple), simple)
    return policies


def simpler(plan: Priced, others: tuple[Priced, ...]) -> Priced | None:
    """The simplest way with the plan's moves at nearly the same cost; None for none."""
    rules: tuple[FinRule, ...] = ("none", "to the limit", "all", "cheapest")
    most = plan.weighed_l + max(SIMPLE_L, SIMPLE_SHARE * plan.weighed_l)
    over = float(plan.over_limit_h.sum()) + 1e-6
    for rule in rules[: rules.index(plan.rule)]:
        for one in others:
            alike = one.rule == rule and one.moves == plan.moves and one.weighed_l <= most
            if alike and float(one.over_limit_h.sum()) <= over:
                return one
    return None


def undercutting(plan: Priced, others: tuple[Priced, ...]) -> Priced | None:
    """The cheapest way that costs less than the plan and is not longer over the limit.

    The search prices its ways before they are computed as plans. What they then draw from
    the tanks changes the prices a little, and may make another way cheaper.
    """
    over = float(plan.over_limit_h.sum()) + 1e-6
    fit = [
        one
        for one in others
        if one is not plan
        and one.weighed_l < plan.weighed_l - _SAME_L
        and float(one.over_limit_h.sum()) <= over
    ]
    return min(fit, key=lambda one: one.weighed_l, default=None)
