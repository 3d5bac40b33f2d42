"""The ways of living with a list, each priced over the whole passage, point by point."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import (
    Flags,
    Floats,
    HeelProblem,
    Indices,
    stability,
)
from passage.planning.heel.moves import Move, carry_l, moved_by
from passage.planning.heel.search import best_within_limit
from passage.planning.heel.sequence import Sequence
from passage.planning.heel.single import best_single, useless_addition
from passage.planning.voyage.limits import OVER_DEG

FinRule = Literal["none", "to the limit", "all", "cheapest"]
#: Smaller moments are not mentioned. [t m]
SMALL_T_M = 0.05
#: Heel over the limit by less than this does not count as over. [deg]
SMALL_DEG = OVER_DEG
#: Smallest transfer that is made where nothing else keeps the limit. [m3]
TINY_TRANSFER_M3 = 0.05
#: A smaller charge for heel over the limit is only rounding. [l]
OVER_L = 1.0

POLICIES: tuple[str, ...] = (
    "leave it",
    "fins hold all",
    "fins to limit",
    "best single transfer",
    "best mixture",
)


@dataclass(frozen=True, kw_only=True)
class Priced:
    """A sequence of moves with one way of using the fins, priced point by point.

    Litres are arrays ``(n,)`` over the points; set-up and pumping are at the point before
    which the liquid is moved. ``fin_work_l`` is the fuel of active over centred fins, where
    roll alone would leave them centred. ``worth`` parts are not burnt: they are the worth
    of extra roll and of heel to those aboard, in litres. Money is all litres at the fuel
    price, since crew cost became litres at the same price. ``passage_fuel_l`` is all fuel
    of the passage in a plan with this fin use, ``None`` until computed; ``lost_h`` and
    ``lost_nm`` are the time and miles lost at a held fuel rate; ``burn_m3`` ``(n, k)`` is
    drawn from each tank, ``time_s`` the time at each point. Where the sea is not known
    (``sea_unknown``) the fins hold nothing: heel over the limit there counts against the way,
    and is not reported as known.
    """

    name: str
    moves: tuple[Move, ...]
    rule: FinRule
    leg: Indices
    hours: Floats
    moment_t_m: Floats
    fins_t_m: Floats
    heel_deg: Floats
    limit_deg: Floats
    gm_m: Floats
    fin_drag_l: Floats
    fin_work_l: Floats
    heel_drag_l: Floats
    ballast_l: Floats
    pump_l: Floats
    crew_l: Floats
    roll_worth_l: Floats
    heel_worth_l: Floats
    over_limit_charge_l: float
    roll_significant_deg: Floats | None = None
    passage_fuel_l: float | None = None
    burn_m3: Floats | None = None
    time_s: Floats | None = None
    lost_h: float | None = None
    lost_nm: float | None = None
    fuel_price_per_l: float | None = None
    sea_unknown: Flags | None = None

    @property
    def point_l(self) -> Floats:
        """All of it, point by point."""
        return (
            self.fin_drag_l
            + self.fin_work_l
            + self.heel_drag_l
            + self.ballast_l
            + self.pump_l
            + self.crew_l
            + self.roll_worth_l
            + self.heel_worth_l
        )

    def by_leg(self, values: Floats) -> Floats:
        """Sum of point values over each leg."""
        out = np.zeros(int(self.leg[-1]) + 1)
        np.add.at(out, self.leg, values)
        return out

    @property
    def leg_l(self) -> Floats:
        """All of it, leg by leg."""
        return self.by_leg(self.point_l)

    @property
    def fuel_l(self) -> float:
        """Fuel actually burnt for it over the passage."""
        parts = self.fin_drag_l + self.fin_work_l + self.heel_drag_l + self.ballast_l + self.pump_l
        return float(parts.sum())

    @property
    def total_l(self) -> float:
        """Fuel, crew and comfort together, in litres."""
        return float(self.point_l.sum())

    @property
    def weighed_l(self) -> float:
        """The total as used by the decision: ballast given up earns nothing."""
        return self.total_l - float(np.minimum(self.ballast_l, 0.0).sum())

    @property
    def money(self) -> float | None:
        """The total in money; ``None`` without a fuel price."""
        return None if self.fuel_price_per_l is None else self.total_l * self.fuel_price_per_l

    def paid_l(self, hold: str) -> float:
        """What is paid, in litres: the total; with ``hold`` "fuel" without the time lost."""
        paid = self.pump_l + self.crew_l + self.roll_worth_l + self.heel_worth_l
        return float(paid.sum()) if hold == "fuel" and self.lost_h is not None else self.total_l

    @property
    def over_limit_deg(self) -> Floats:
        """Degrees above the owner's limit at each point."""
        return np.maximum(np.abs(self.heel_deg) - self.limit_deg, 0.0)

    @property
    def over_limit_h(self) -> Floats:
        """Hours above the owner's limit, leg by leg."""
        return self.by_leg(np.where(self.over_limit_deg > SMALL_DEG, self.hours, 0.0))

    @property
    def over_limit_deg_h(self) -> float:
        """Degrees above the owner's limit times hours, where they count as over it."""
        over = self.over_limit_deg
        return float((np.where(over > SMALL_DEG, over, 0.0) * self.hours).sum())

    @property
    def known_over_h(self) -> Floats:
        """Hours above the owner's limit where the sea is known, leg by leg."""
        return self.by_leg(np.where(self._known_over, self.hours, 0.0))

    @property
    def blind_h(self) -> float:
        """Hours for which nothing but an offset of unknown size could keep the limit."""
        return float(self.over_limit_h.sum() - self.known_over_h.sum())

    @property
    def known_legs_over(self) -> tuple[int, ...]:
        """Legs (from 1) known to be over the owner's limit."""
        return tuple(int(i) + 1 for i in np.unique(self.leg[self._known_over]))

    @property
    def _known_over(self) -> Flags:
        over = self.over_limit_deg > SMALL_DEG
        return over if self.sea_unknown is None else over & ~self.sea_unknown

    @property
    def worst(self) -> int:
        """Point at which she leans most."""
        return int(np.argmax(np.abs(self.heel_deg)))

    @property
    def worst_heel_deg(self) -> float:
        """Worst steady heel of the passage, with its side."""
        return float(self.heel_deg[self.worst])

    def leg_worst_deg(self) -> Floats:
        """Worst steady heel of each leg, with its side."""
        out = np.zeros(int(self.leg[-1]) + 1)
        for leg in range(len(out)):
            here = self.heel_deg[self.leg == leg]
            out[leg] = here[np.argmax(np.abs(here))] if len(here) else 0.0
        return out

    @property
    def legs_over_limit(self) -> tuple[int, ...]:
        """Legs (from 1) on which she heels more than the owner accepts."""
        return tuple(int(i) + 1 for i in np.unique(self.leg[self.over_limit_deg > SMALL_DEG]))

    @property
    def within_limit(self) -> bool:
        """Whether the owner's limit is kept throughout."""
        return not self.legs_over_limit


def fins_by_rule(cost: LegCost, moment_t_m: Floats, rule: FinRule) -> Floats:
    """Moment that the fins hold at each point by a rule, up to their largest."""
    if rule == "none":
        return np.zeros_like(moment_t_m)
    if rule == "cheapest":
        return cost.best_split(moment_t_m).fins_t_m
    size = np.abs(moment_t_m)
    wanted = size if rule == "all" else np.maximum(size - cost.limit_t_m, 0.0)
    return np.sign(moment_t_m) * np.minimum(wanted, cost.fin_max)


def price(
    problem: HeelProblem,
    cost: LegCost,
    moves: tuple[Move, ...],
    rule: FinRule = "cheapest",
    name: str = "",
) -> Priced:
    """Price a sequence of moves with one way of using the fins."""
    n = problem.n_points
    moved = moved_by(problem, moves)
    moment = problem.moment_t_m + moved @ problem.tank_moment_per_m3
    _, stiffness, gm = stability(problem, moved)
    cost = cost.judged_at(problem, stiffness)
    fins = fins_by_rule(cost, moment, rule)
    residual = moment - fins
    drag, lost = cost.fins_l(fins)
    # Without a price of roll the second part is fuel too.
    priced_roll = problem.roll_l_per_deg_h > 0.0
    work = np.where(np.abs(fins) > 0.0, cost.hold_l, 0.0)
    hull, worth = cost.heel_l(residual)
    pump, crew = np.zeros(n), np.zeros(n)
    for move in moves:
        pump[move.point] += problem.pump_l_per_m3 * move.amount_m3
        crew[move.point] += problem.transfer_fixed_l
    over = np.maximum(np.abs(residual) - cost.limit_t_m, 0.0)
    return Priced(
        name=name,
        moves=moves,
        rule=rule,
        leg=problem.leg_of,
        hours=problem.hours,
        moment_t_m=moment,
        fins_t_m=fins,
        heel_deg=problem.heel_deg(residual, stiffness),
        limit_deg=problem.limit_deg,
        gm_m=gm,
        fin_drag_l=drag - work + (0.0 if priced_roll else lost),
        fin_work_l=work,
        heel_drag_l=hull,
        ballast_l=carry_l(problem, moved),
        pump_l=pump,
        crew_l=crew,
        roll_worth_l=lost if priced_roll else np.zeros(n),
        heel_worth_l=worth,
        over_limit_charge_l=float((cost.over_l_per_t_m * over).sum()),
        fuel_price_per_l=problem.fuel_price_per_l,
        sea_unknown=problem.sea_unknown,
    )


#: A simpler use of the fins is advised where it costs at most this much more than the cheapest.
SIMPLE_L, SIMPLE_SHARE = 0.5, 0.01


def simplest(
    problem: HeelProblem, cost: LegCost, moves: tuple[Move, ...], name: str = ""
) -> Priced:
    """The moves with the simplest use of the fins at nearly the least cost."""
    best = price(problem, cost, moves, "cheapest", name)
    most = best.weighed_l + best.over_limit_charge_l
    most += max(SIMPLE_L, SIMPLE_SHARE * best.weighed_l)
    rules: tuple[FinRule, ...] = ("none", "to the limit", "all")
    for rule in rules:
        one = price(problem, cost, moves, rule, name)
        if one.weighed_l + one.over_limit_charge_l <= most:
            return one
    return best


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """The advised plan and the policies it is compared with."""

    problem: HeelProblem
    cost: LegCost
    sequence: Sequence
    plan: Priced
    policies: tuple[Priced, ...]

    def next_best(self, besides: Iterable[Priced] = ()) -> Priced | None:
        """Cheapest other policy or way of ``besides``; one over the limit only if all are."""

        def rank(one: Priced) -> tuple[bool, float, float]:
            over = float(one.over_limit_h.sum())
            worse = over > float(self.plan.over_limit_h.sum()) + 1e-6
            return worse, over if worse else 0.0, one.total_l

        others = [one for one in (*self.policies[:-1], *besides) if not _same(one, self.plan)]
        return min(others, key=rank, default=None)


def _same(one: Priced, other: Priced) -> bool:
    return (
        len(one.moves) == len(other.moves)
        and bool(np.all(np.abs(one.fins_t_m - other.fins_t_m) < SMALL_T_M))
        and bool(np.all(np.abs(one.moment_t_m - other.moment_t_m) < SMALL_T_M))
    )


def compare_policies(problem: HeelProblem, *, seconds: float = 20.0) -> Comparison:
    """The best mixture, and every single policy, priced in the same way."""
    sequence = best_within_limit(problem, seconds=seconds)
    if problem.smallest_transfer_m3 > TINY_TRANSFER_M3:
        # A smaller transfer is allowed only where nothing else keeps the limit.
        charge = simplest(problem, LegCost.of(problem), sequence.moves).over_limit_charge_l
        if charge > OVER_L and problem.pairs:
            small = replace(problem, smallest_transfer_m3=TINY_TRANSFER_M3)
            other = best_within_limit(small, seconds=seconds)
            kept = simplest(small, LegCost.of(small), other.moves).over_limit_charge_l
            if kept < charge - OVER_L:
                problem, sequence = small, other
    cost = LegCost.of(problem)
    single = sequence.moves if len(sequence.moves) == 1 else best_single(problem)
    never, all_, limit, one, best = POLICIES
    plan = simplest(problem, cost, sequence.moves, best)
    stiffness = stability(problem, moved_by(problem, sequence.moves))[1]
    others = [
        price(problem, cost, (), "none", never),
        price(problem, cost, (), "all", all_),
        price(problem, cost, (), "to the limit", limit),
    ]
    if single:
        moved = simplest(problem, cost, single, one)
        if single == sequence.moves or not useless_addition(moved, others[2]):
            others.append(moved)
    # A way equal to another one under a second name is not shown.
    shown: list[Priced] = []
    for policy in others:
        if not any(_same(policy, other) for other in shown):
            shown.append(policy)
    named = next((other for other in shown if _same(other, plan)), None)
    if named is not None:
        shown = [other for other in shown if other is not named]
        plan = replace(plan, name=named.name)
    return Comparison(
        problem=problem,
        cost=cost.judged_at(problem, stiffness),
        sequence=sequence,
        plan=plan,
        policies=(*shown, plan),
    )
