"""The ways of living with a list, each priced over the whole passage and per leg."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import (
    SEA,
    Floats,
    HeelProblem,
    stability,
)
from passage.planning.heel.moves import Move, carry_l, moved_by
from passage.planning.heel.search import best_within_limit
from passage.planning.heel.sequence import Sequence

FinRule = Literal["none", "to the limit", "all", "cheapest"]
#: Moments [t m] and heel [deg] below these are not worth a word.
SMALL_T_M = 0.05
SMALL_DEG = 0.02

POLICIES: tuple[str, ...] = (
    "never correct",
    "fins hold all of it",
    "fins down to the limit",
    "best single transfer",
    "best mixture",
)


@dataclass(frozen=True, kw_only=True)
class Priced:
    """A sequence of moves with one way of using the fins, priced leg by leg.

    Litres are arrays ``(n,)`` over the legs; set-up and pumping stand on the leg
    before which the liquid is moved. ``worth`` parts are not burnt: they are what
    lost roll work and heel are worth to those aboard, in litres. Money turns all
    litres into money at the fuel price, since crew cost was turned into litres by
    the same price.
    """

    name: str
    moves: tuple[Move, ...]
    moment_t_m: Floats
    fins_t_m: Floats
    heel_deg: Floats
    gm_m: Floats
    fin_drag_l: Floats
    heel_drag_l: Floats
    ballast_l: Floats
    pump_l: Floats
    crew_l: Floats
    roll_worth_l: Floats
    heel_worth_l: Floats
    over_limit_deg: Floats
    over_limit_charge_l: float
    fuel_price_per_l: float | None = None
    possible: bool = True

    @property
    def leg_l(self) -> Floats:
        """All of it, leg by leg."""
        return (
            self.fin_drag_l
            + self.heel_drag_l
            + self.ballast_l
            + self.pump_l
            + self.crew_l
            + self.roll_worth_l
            + self.heel_worth_l
        )

    @property
    def fuel_l(self) -> float:
        """Fuel really burnt for it over the passage."""
        parts = self.fin_drag_l + self.heel_drag_l + self.ballast_l + self.pump_l
        return float(parts.sum())

    @property
    def total_l(self) -> float:
        """Fuel, crew and comfort together, in litres."""
        return float(self.leg_l.sum())

    @property
    def money(self) -> float | None:
        """The total in money; ``None`` without a fuel price."""
        if self.fuel_price_per_l is None:
            return None
        return self.total_l * self.fuel_price_per_l

    @property
    def legs_over_limit(self) -> tuple[int, ...]:
        """Legs (from 1) that heel more than the owner accepts."""
        return tuple(int(i) + 1 for i in np.nonzero(self.over_limit_deg > SMALL_DEG)[0])

    @property
    def within_limit(self) -> bool:
        """Whether the owner's limit is kept on every leg."""
        return self.possible and not self.legs_over_limit


def fins_by_rule(cost: LegCost, moment_t_m: Floats, rule: FinRule) -> Floats:
    """Moment the fins hold on each leg by a rule, within what they can hold."""
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
    n = problem.n_legs
    moved = moved_by(problem, moves)
    moment = problem.moment_t_m + moved @ problem.tank_moment_per_m3
    _, stiffness, gm = stability(problem, moved)
    cost = cost.judged_at(problem, stiffness)
    fins = fins_by_rule(cost, moment, rule)
    residual = moment - fins
    heel = problem.heel_deg(residual, stiffness)
    drag, lost = cost.fins_l(fins)
    hull, worth = cost.heel_l(residual)
    pump, crew = np.zeros(n), np.zeros(n)
    for move in moves:
        pump[move.leg] += problem.pump_l_per_m3 * move.amount_m3
        crew[move.leg] += problem.transfer_fixed_l
    over = np.maximum(np.abs(residual) - cost.limit_t_m, 0.0)
    return Priced(
        name=name,
        moves=moves,
        moment_t_m=moment,
        fins_t_m=fins,
        heel_deg=heel,
        gm_m=gm,
        fin_drag_l=drag,
        heel_drag_l=hull,
        ballast_l=carry_l(problem, moved),
        pump_l=pump,
        crew_l=crew,
        roll_worth_l=lost,
        heel_worth_l=worth,
        over_limit_deg=np.maximum(np.abs(heel) - problem.limit_deg, 0.0),
        over_limit_charge_l=float((cost.over_l_per_t_m * over).sum()),
        fuel_price_per_l=problem.fuel_price_per_l,
    )


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way on one leg and what it would cost more than the advice."""

    what: str
    extra_l: float
    keeps_limit: bool


def fin_alternatives(
    problem: HeelProblem, cost: LegCost, plan: Priced, leg: int
) -> list[Alternative]:
    """Other uses of the fins on one leg, the tanks as the plan has them."""
    moment = plan.moment_t_m[leg]
    best = plan.fins_t_m[leg]
    charge = cost.best_split(plan.moment_t_m).over_limit_t_m[leg] * cost.over_l_per_t_m[leg]
    here = plan.leg_l[leg] - plan.pump_l[leg] - plan.crew_l[leg] - plan.ballast_l[leg]
    out: list[Alternative] = []
    seen = [best]
    rules: tuple[tuple[FinRule, str], ...] = (
        ("none", "leave it"),
        ("to the limit", "fins down to the limit"),
        ("all", "fins hold all they can"),
    )
    for rule, what in rules:
        fins = fins_by_rule(cost, plan.moment_t_m, rule)
        if any(abs(fins[leg] - other) < SMALL_T_M for other in seen):
            continue
        seen.append(fins[leg])
        drag, lost = cost.fins_l(fins)
        residual = plan.moment_t_m - fins
        hull, worth = cost.heel_l(residual)
        total = drag[leg] + lost[leg] + hull[leg] + worth[leg]
        over = max(abs(residual[leg]) - cost.limit_t_m[leg], 0.0)
        keeps = over * cost.over_l_per_t_m[leg] <= charge + 1e-9
        if abs(moment) > SMALL_T_M:
            out.append(Alternative(what=what, extra_l=float(total - here), keeps_limit=keeps))
    return sorted(out, key=lambda one: (not one.keeps_limit, one.extra_l))


def broken_rules(problem: HeelProblem, moves: tuple[Move, ...]) -> list[str]:
    """Rules that a sequence of moves would break, in words; empty if none."""
    out: list[str] = []
    content = np.array([tank.content_m3 for tank in problem.tanks])
    base_gm = stability(problem, np.zeros((problem.n_legs, len(problem.tanks))))[2]
    gm = stability(problem, moved_by(problem, moves))[2]
    start = problem.content_start_m3
    for leg in range(problem.n_legs):
        here = [move for move in moves if move.leg == leg]
        pumped = sum(move.amount_m3 for move in here)
        if here and not problem.transfer_allowed[leg]:
            out.append(f"no transfer is allowed before leg {leg + 1}")
        if pumped > problem.rate_m3_per_h * problem.transfer_hours[leg] + 1e-6:
            out.append(f"the pump cannot move {pumped:.1f} m3 in the time before leg {leg + 1}")
        for index, tank in enumerate(problem.tanks):
            taken = sum(m.amount_m3 for m in here if m.source == index)
            put = sum(m.amount_m3 for m in here if m.target == index)
            if taken > max(content[index] - tank.minimum_m3, 0.0) + 1e-6:
                out.append(f"{tank.name} lacks content for {taken:.1f} m3 before leg {leg + 1}")
            content[index] += put - taken
            if put and content[index] > tank.capacity_m3 + 1e-6:
                out.append(f"{tank.name} lacks room for {put:.1f} m3 before leg {leg + 1}")
            end = content[index] - problem.burn_m3[leg, index]
            planned = start[leg, index] - problem.burn_m3[leg, index]
            if end < min(tank.minimum_m3, planned) - 1e-6:
                out.append(f"{tank.name} would be under its minimum at the end of leg {leg + 1}")
            content[index] = end
        least = problem.gm_minimum_m
        if least is not None and gm[leg] < min(least, base_gm[leg]) - 1e-6:
            out.append(f"GM on leg {leg + 1} would be {gm[leg]:.2f} m, minimum {least:.2f} m")
    return out


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """The advised plan and the pure policies beside it."""

    problem: HeelProblem
    cost: LegCost
    sequence: Sequence
    plan: Priced
    policies: tuple[Priced, ...]

    @property
    def next_best(self) -> Priced | None:
        """Cheapest other policy; one that breaks the limit only if all others do."""

        def rank(one: Priced) -> tuple[bool, float]:
            worse = one.over_limit_charge_l > self.plan.over_limit_charge_l + 1e-6
            return worse, one.total_l + (one.over_limit_charge_l if worse else 0.0)

        others = [one for one in self.policies[:-1] if not _same(one, self.plan)]
        return min(others, key=rank, default=None)


def _same(one: Priced, other: Priced) -> bool:
    return (
        len(one.moves) == len(other.moves)
        and bool(np.all(np.abs(one.fins_t_m - other.fins_t_m) < SMALL_T_M))
        and bool(np.all(np.abs(one.moment_t_m - other.moment_t_m) < SMALL_T_M))
    )


def compare_policies(problem: HeelProblem, *, seconds: float = 20.0) -> Comparison:
    """The best mixture, and every pure policy priced the same way."""
    cost = LegCost.of(problem)
    sequence = best_within_limit(problem, seconds=seconds)
    single = sequence
    if len(sequence.moves) > 1:
        single = best_within_limit(problem, most_transfers=1, seconds=seconds)
    never, all_, limit, one, best = POLICIES
    plan = price(problem, cost, sequence.moves, name=best)
    stiffness = stability(problem, moved_by(problem, sequence.moves))[1]
    return Comparison(
        problem=problem,
        cost=cost.judged_at(problem, stiffness),
        sequence=sequence,
        plan=plan,
        policies=(
            price(problem, cost, (), "none", never),
            price(problem, cost, (), "all", all_),
            price(problem, cost, (), "to the limit", limit),
            price(problem, cost, single.moves, name=one),
            plan,
        ),
    )


def without_moves_before(comparison: Comparison, leg: int) -> Alternative | None:
    """What leaving out the transfers before one leg would cost, if that is possible."""
    problem, cost = comparison.problem, comparison.cost
    left = tuple(move for move in comparison.plan.moves if move.leg != leg)
    if len(left) == len(comparison.plan.moves) or broken_rules(problem, left):
        return None
    other = price(problem, cost, left)
    return Alternative(
        what="no transfer here, fins take it",
        extra_l=other.total_l - comparison.plan.total_l,
        keeps_limit=other.over_limit_charge_l <= comparison.plan.over_limit_charge_l + 1e-6,
    )


def tank_words(problem: HeelProblem, index: int) -> str:
    """Name of a tank, or the sea."""
    return "the sea" if index == SEA else problem.tanks[index].name
