"""What would change the advice: the question asked again with one thing different."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import HeelProblem, stability
from passage.planning.heel.moves import Move, moved_by
from passage.planning.heel.options import broken_rules, price
from passage.planning.heel.search import best_within_limit
from passage.planning.heel.sequence import best_amounts

#: The advice holds if keeping to it costs no more than this over the new best.
HOLDS_L = 1.0
HOLDS_SHARE = 0.02


Verdict = Literal["holds", "other amounts", "other advice"]


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing changed and what the advice is worth then.

    ``best_l`` is the new optimum with its ``moves``; ``kept_l`` the present moves to
    the last litre and ``adjusted_l`` the same transfers with amounts made to suit,
    ``None`` where a rule forbids them then. All with the fins at their best, and all
    with the charge for heel over the owner's limit, by which they are weighed;
    ``best_charge_l`` and ``kept_charge_l`` are that charge, which nobody pays.
    """

    what: str
    best_l: float
    moves: tuple[Move, ...]
    kept_l: float | None
    adjusted_l: float | None
    proven: bool
    best_charge_l: float = 0.0
    kept_charge_l: float = 0.0

    @property
    def best_paid_l(self) -> float:
        """The new optimum without the charge for heel over the limit."""
        return self.best_l - self.best_charge_l

    @property
    def kept_paid_l(self) -> float | None:
        """The present moves without the charge for heel over the limit."""
        return None if self.kept_l is None else self.kept_l - self.kept_charge_l

    @property
    def kept_leans_more(self) -> bool:
        """Whether keeping to the advice leaves more heel over the owner's limit."""
        return self.kept_l is not None and self.kept_charge_l > self.best_charge_l + HOLDS_L

    @property
    def verdict(self) -> Verdict:
        """Whether the advice stands, stands with other amounts, or falls."""
        near = self.best_l + max(HOLDS_L, HOLDS_SHARE * abs(self.best_l))
        if self.kept_l is not None and self.kept_l <= near:
            return "holds"
        if self.adjusted_l is not None and self.adjusted_l <= near:
            return "other amounts"
        return "other advice"

    @property
    def regret_l(self) -> float | None:
        """What keeping to the present advice would cost too much."""
        return None if self.kept_l is None else max(self.kept_l - self.best_l, 0.0)


def with_list(problem: HeelProblem, more_deg: float) -> HeelProblem:
    """The same passage with another list at departure."""
    stiffness = float(problem.stiffness_t_m[0])
    now = np.degrees(np.arctan2(problem.list_moment_t_m, stiffness))
    moment = stiffness * float(np.tan(np.radians(now + more_deg)))
    return replace(problem, list_moment_t_m=moment)


def with_gm(problem: HeelProblem, factor: float) -> HeelProblem:
    """The same observed list with another GM: its moment goes with GM."""
    return replace(
        problem,
        stiffness_t_m=problem.stiffness_t_m * factor,
        list_moment_t_m=problem.list_moment_t_m * factor,
    )


def with_transfer_price(problem: HeelProblem, factor: float) -> HeelProblem:
    """Setting up a transfer dearer or cheaper, in litres."""
    return replace(problem, transfer_fixed_l=problem.transfer_fixed_l * factor)


def variations(problem: HeelProblem) -> tuple[tuple[str, HeelProblem], ...]:
    """The changes asked about, each with its problem.

    Dearer fuel makes crew time cheaper in litres and leaves the rest as it is, since
    all other prices are litres already.
    """
    out = [
        ("list 0.5° more to starboard", with_list(problem, 0.5)),
        ("list 0.5° more to port", with_list(problem, -0.5)),
        ("GM 10 % larger", with_gm(problem, 1.1)),
        ("GM 10 % smaller", with_gm(problem, 0.9)),
    ]
    if problem.fuel_price_per_l:
        out += [
            ("fuel half as dear again", with_transfer_price(problem, 1.0 / 1.5)),
            ("fuel a third cheaper", with_transfer_price(problem, 1.5)),
        ]
    out += [
        ("crew twice as dear", with_transfer_price(problem, 2.0)),
        ("crew half as dear", with_transfer_price(problem, 0.5)),
    ]
    return tuple(out)


def sensitivities(
    problem: HeelProblem, moves: tuple[Move, ...], *, seconds: float = 5.0
) -> tuple[Change, ...]:
    """Ask again under each variation; ``seconds`` is for each one."""
    out: list[Change] = []
    for what, changed in variations(problem):
        cost = LegCost.of(changed)
        new = best_within_limit(changed, seconds=seconds)
        kept = adjusted = None
        kept_charge = 0.0
        if not broken_rules(changed, moves):
            kept, kept_charge = _full_price(changed, cost, moves)
        if moves:
            stiffness = stability(changed, moved_by(changed, moves))[1]
            judged = replace(changed, limit_stiffness_t_m=stiffness)
            other = best_amounts(judged, moves, seconds=seconds)
            adjusted = None if other is None else _full_price(changed, cost, other)[0]
        out.append(
            Change(
                what=what,
                best_l=new.cost_l,
                moves=new.moves,
                kept_l=kept,
                adjusted_l=adjusted,
                proven=new.proven,
                best_charge_l=_full_price(changed, cost, new.moves)[1],
                kept_charge_l=kept_charge,
            )
        )
    return tuple(out)


def _full_price(
    problem: HeelProblem, cost: LegCost, moves: tuple[Move, ...]
) -> tuple[float, float]:
    """Price with the charge for heel over the limit, and that charge."""
    priced = price(problem, cost, moves)
    return priced.total_l + priced.over_limit_charge_l, priced.over_limit_charge_l
