"""Which way is advised once each has been computed as a plan."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.planning.heel.options import SIMPLE_L, SIMPLE_SHARE, SMALL_DEG, FinRule, Priced

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

#: Ways nearer to each other than this cost the same. [l]
_SAME_L = 0.05
#: Ways nearer to each other than this are over the limit equally long. [h]
SAME_H = 0.1
#: A mean difference within this many standard errors of zero counts as chance.
SIGMAS = 2.0


def advised_last(policies: tuple[Priced, ...]) -> tuple[Priced, ...]:
    """The ways with the advised one last; on input the last is the choice of the search.

    A way less over the limit, or cheaper and no more over it, takes its place; a simpler one
    of nearly the same cost replaces it.
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


def least_over(among: Flags, over_h: Array, over_deg_h: Array, hours: float) -> Flags:
    """Of ways that all break the limit of heel, those that break it least.

    Parameters
    ----------
    among : ndarray, shape (ways,)
        The ways to choose from.
    over_h, over_deg_h : ndarray, shape (versions, ways)
        Hours over the limit; degrees over it times hours.
    hours : float
        Length of the passage. [h]

    Returns
    -------
    ndarray, shape (ways,)
        The ways of least mean hours over the limit, and of those the ways of least mean heel
        beyond it. Equal are ways within `SAME_H`, or `SMALL_DEG` all the way, of the least, and
        those that the number of versions does not tell apart (a paired comparison, two standard
        errors).
    """
    among = _least(among, over_h, SAME_H)
    return _least(among, over_deg_h, SMALL_DEG * hours)


def _least(among: Flags, values: Array, same: float) -> Flags:
    """Of some ways, those whose mean is not distinguished from the least."""
    mean = np.where(among, values.mean(axis=0), np.inf)
    apart = values - values[:, [int(np.argmin(mean))]]
    chance = 0.0
    if len(values) > 1:
        chance = SIGMAS * apart.std(axis=0, ddof=1) / np.sqrt(len(values))
    return np.asarray(among & (apart.mean(axis=0) <= np.maximum(same, chance)))


def simpler(plan: Priced, others: tuple[Priced, ...]) -> Priced | None:
    """The simplest way with the plan's moves at nearly the same cost; None for none."""
    rules: tuple[FinRule, ...] = ("none", "to the limit", "all", "cheapest")
    most = plan.weighed_l + max(SIMPLE_L, SIMPLE_SHARE * plan.weighed_l)
    over = float(plan.over_limit_h.sum()) + 1e-6
    over_deg_h = plan.over_limit_deg_h + SMALL_DEG * float(plan.hours.sum())
    for rule in rules[: rules.index(plan.rule)]:
        for one in others:
            alike = one.rule == rule and one.moves == plan.moves and one.weighed_l <= most
            leans = one.over_limit_deg_h > over_deg_h
            if alike and not leans and float(one.over_limit_h.sum()) <= over:
                return one
    return None


def undercutting(plan: Priced, others: tuple[Priced, ...]) -> Priced | None:
    """The way to take instead of the plan: less over the limit, or cheaper; None for none.

    The search prices its ways before they are computed as plans. What they then draw from
    the tanks changes the prices a little, and may make another way cheaper. It weighs heel
    over the limit by degrees and hours together; the advice goes by the hours first.
    """
    ways = [plan, *(one for one in others if one is not plan)]
    over_h = np.array([[float(one.over_limit_h.sum()) for one in ways]])
    over_deg_h = np.array([[one.over_limit_deg_h for one in ways]])
    fit = over_h[0] <= 1e-6
    if not fit.any():
        fit = least_over(~fit, over_h, over_deg_h, float(plan.hours.sum()))
    litres = np.array([one.weighed_l for one in ways])
    least = int(np.argmin(np.where(fit, litres, np.inf)))
    if fit[0] and litres[least] >= plan.weighed_l - _SAME_L:
        return None
    return ways[least]
