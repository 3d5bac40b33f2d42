"""Which of the ways is advised once each has been sailed."""

from __future__ import annotations

from passage.planning.heel.options import SIMPLE_L, SIMPLE_SHARE, FinRule, Priced

#: Ways nearer to each other than this cost the same. [l]
_SAME_L = 0.05


def advised_last(policies: tuple[Priced, ...]) -> tuple[Priced, ...]:
    """The ways, of which the last was the search's choice, with the one advised last.

    A way that undercuts that choice comes before it; one that is simpler and costs as good
    as it replaces it.
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
    """The simplest of the ways with the plan's moves that costs as good as it; or None."""
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
    """The cheapest of the ways that cost less than the plan and keep the limit as long.

    The search prices its ways before they are sailed; what they draw from the tanks then
    moves the prices a little, and may put another first.
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
