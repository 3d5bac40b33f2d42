"""The heel advice in a master's words, leg by leg and for the passage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.heel.cautions import heel_cautions, leg_list
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.moves import Move
from passage.planning.heel.options import (
    SMALL_DEG,
    SMALL_T_M,
    Alternative,
    Comparison,
    Priced,
    fin_alternatives,
    tank_words,
    without_moves_before,
)
from passage.planning.heel.sensitivity import Change
from passage.planning.plan.result import Caution


@dataclass(frozen=True, kw_only=True)
class TransferAdvice:
    """One transfer as it is ordered."""

    before_leg: int
    source: str
    target: str
    amount_m3: float
    mass_t: float
    pumping_h: float


@dataclass(frozen=True, kw_only=True)
class LegAdvice:
    """What to do on one leg, why, and what the next best would cost."""

    leg: int
    name: str
    action: str
    why: str
    next_best: str
    next_best_extra_l: float | None
    transfers: tuple[TransferAdvice, ...]
    moment_list_t_m: float
    moment_burn_t_m: float
    moment_wind_t_m: float
    moment_events_t_m: float
    moment_tanks_t_m: float
    fins_t_m: float
    fin_offset_deg: float | None
    fins_max_t_m: float
    heel_without_deg: float
    heel_left_deg: float
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

    @property
    def plan(self) -> Priced:
        """The advised sequence, priced."""
        return self.comparison.plan

    @property
    def policies(self) -> tuple[Priced, ...]:
        """The policies compared."""
        return self.comparison.policies


def side_words(heel_deg: float) -> str:
    """``0.8° to starboard``, or ``upright``."""
    if abs(heel_deg) < 0.05:
        return "upright"
    return f"{abs(heel_deg):.1f}° to {'starboard' if heel_deg > 0 else 'port'}"


def price_words(problem: HeelProblem, litres: float) -> str:
    """Litres, and money when a fuel price is known."""
    if abs(litres) < 0.05:
        litres = 0.0
    digits = 0 if abs(litres) >= 20.0 else 1
    words = f"{litres:.{digits}f} l"
    if problem.fuel_price_per_l:
        words += f" ({litres * problem.fuel_price_per_l:.{digits}f} {problem.currency})".replace(
            " )", ")"
        )
    return words


def transfer_advice(problem: HeelProblem, move: Move) -> TransferAdvice:
    """A move with names, mass and pumping time."""
    tank = problem.tanks[move.source if move.source >= 0 else move.target]
    return TransferAdvice(
        before_leg=move.leg + 1,
        source=tank_words(problem, move.source),
        target=tank_words(problem, move.target),
        amount_m3=move.amount_m3,
        mass_t=move.amount_m3 * tank.density_t_m3,
        pumping_h=move.amount_m3 / problem.rate_m3_per_h,
    )


def transfer_words(one: TransferAdvice) -> str:
    """The order for one transfer."""
    amount = f"{one.amount_m3:.1f} m3 ({one.mass_t:.1f} t)"
    minutes = f"{one.pumping_h * 60.0:.0f} min at the pump"
    if one.source == "the sea":
        return f"take {amount} of ballast into {one.target}, {minutes}"
    if one.target == "the sea":
        return f"discharge {amount} from {one.source}, {minutes}"
    return f"move {amount} from {one.source} to {one.target}, {minutes}"


def _fin_words(comparison: Comparison, leg: int) -> tuple[str, str, float | None]:
    """Fins' part of the action, the reason for it, and the offset angle."""
    problem, plan, cost = comparison.problem, comparison.plan, comparison.cost
    fins, heel = float(plan.fins_t_m[leg]), float(plan.heel_deg[leg])
    limit = float(problem.limit_deg[leg])
    bare = float(problem.heel_deg(plan.moment_t_m)[leg])
    limit_words = f"the owner's {limit:.1f}°" if np.isfinite(limit) else "no limit set"
    angle = None
    if problem.fin_angle_per_moment_deg is not None and cost.fin_max[leg] > 0.0:
        angle = fins * float(problem.fin_angle_per_moment_deg[leg])
        angle = angle if np.isfinite(angle) else None
    if abs(fins) < SMALL_T_M:
        if abs(heel) < 0.05:
            return "no offset on the fins; she is upright", "nothing is left to hold", angle
        if abs(heel) <= limit + SMALL_DEG:
            reason = f"{side_words(heel)} is within {limit_words}"
            if cost.fin_max[leg] <= 0.0:
                reason += ", and the fins must not be offset here"
            return f"leave {side_words(heel)}", reason, angle
        return (
            f"leave {side_words(heel)}: the fins must not be offset here",
            f"this is over {limit_words}; only moved weight would help",
            angle,
        )
    with_angle = f" ({abs(angle):.1f}° of fin)" if angle is not None else ""
    hold = f"fins hold {abs(fins):.1f} t m{with_angle}"
    if abs(heel) < 0.05:
        action = f"{hold}, she stays upright"
    else:
        action = f"{hold}, {side_words(heel)} is left"
    lean = "be as good as upright" if abs(bare) < 0.05 else f"lean {side_words(bare)}"
    reason = f"without an offset she would {lean}, against {limit_words}"
    if abs(fins) > cost.fin_max[leg] - SMALL_T_M:
        reason += "; this is all the fins can hold beside their roll work"
    return action, reason, angle


def _leg_advice(comparison: Comparison, leg: int) -> LegAdvice:
    problem, plan = comparison.problem, comparison.plan
    moves = [move for move in plan.moves if move.leg == leg]
    orders = tuple(transfer_advice(problem, move) for move in moves)
    action, why, angle = _fin_words(comparison, leg)
    others: list[Alternative] = []
    if orders:
        action = "; ".join([*(transfer_words(one) for one in orders), action])
        without = without_moves_before(comparison, leg)
        if without is not None:
            others.append(without)
            verb = "save" if without.extra_l >= 0.0 else "cost"
            why = (
                f"the moment lasts: moved once here, the tanks {verb} "
                f"{price_words(problem, abs(without.extra_l))} against doing without; {why}"
            )
            if not without.keeps_limit:
                broken = "she would be farther over the owner's limit"
                if not plan.legs_over_limit:
                    broken = "the owner's limit would be broken"
                why = f"without it {broken}; {why}"
        else:
            why = f"the later transfers need this one; {why}"
    others += fin_alternatives(problem, comparison.cost, plan, leg)
    best = min(others, key=lambda one: (not one.keeps_limit, one.extra_l), default=None)
    words = "nothing else to do"
    if best is not None:
        words = f"{best.what}: {price_words(problem, best.extra_l)} more"
        if best.extra_l < 0.0:
            words = f"{best.what}: {price_words(problem, -best.extra_l)} less"
        if not best.keeps_limit:
            words += ", but over the owner's limit"
    return LegAdvice(
        leg=leg + 1,
        name=problem.leg_names[leg],
        action=action,
        why=why,
        next_best=words,
        next_best_extra_l=None if best is None else best.extra_l,
        transfers=orders,
        moment_list_t_m=problem.list_moment_t_m,
        moment_burn_t_m=float(problem.burn_moment_t_m[leg]),
        moment_wind_t_m=float(problem.wind_moment_t_m[leg]),
        moment_events_t_m=float(problem.event_moment_t_m[leg]),
        moment_tanks_t_m=float(plan.moment_t_m[leg] - problem.moment_t_m[leg]),
        fins_t_m=float(plan.fins_t_m[leg]),
        fin_offset_deg=angle,
        fins_max_t_m=float(comparison.cost.fin_max[leg]),
        heel_without_deg=float(problem.heel_deg(problem.moment_t_m)[leg]),
        heel_left_deg=float(plan.heel_deg[leg]),
        gm_m=float(plan.gm_m[leg]),
        cost_l=float(plan.leg_l[leg]),
    )


def _summary(comparison: Comparison, changes: tuple[Change, ...]) -> tuple[str, ...]:
    problem, plan = comparison.problem, comparison.plan
    before = problem.heel_deg(problem.moment_t_m)
    worst = int(np.argmax(np.abs(before)))
    out = [
        f"With nothing done she leans up to {side_words(float(before[worst]))} (leg {worst + 1})."
    ]
    offset_legs = tuple(int(i) + 1 for i in np.nonzero(np.abs(plan.fins_t_m) >= SMALL_T_M)[0])
    parts = [
        f"before leg {move.leg + 1} {transfer_words(transfer_advice(problem, move))}"
        for move in plan.moves
    ]
    if offset_legs:
        what = "the rest" if plan.moves else "part or all of it"
        parts.append(f"let the fins hold {what} on {leg_list(offset_legs)}")
    if not parts:
        parts = ["leave it: the heel stays within what the owner accepts"]
        if plan.legs_over_limit:
            parts = ["leave it: nothing available would help"]
    out.append("Advice: " + "; ".join(parts) + ".")
    out.append(
        f"That costs {price_words(problem, plan.total_l)} over the passage, of which "
        f"{plan.fuel_l:.1f} l are fuel burnt."
    )
    other = comparison.next_best
    if other is not None:
        more = other.total_l - plan.total_l
        words = f"{price_words(problem, abs(more))} {'more' if more >= 0.0 else 'less'}"
        if other.over_limit_charge_l > plan.over_limit_charge_l + 1e-6:
            farther = "farther " if plan.legs_over_limit else ""
            words += f", but {farther}over the owner's limit on {leg_list(other.legs_over_limit)}"
        out.append(f"Next best: {other.name}, {words}.")
    if comparison.sequence.proven:
        out.append("No sequence that keeps the rules is cheaper: proven by search.")
    amounts = [one.what for one in changes if one.verdict == "other amounts"]
    flips = [one.what for one in changes if one.verdict == "other advice"]
    if amounts:
        out.append("The same transfers with other amounts would suit: " + "; ".join(amounts) + ".")
    if flips:
        out.append("The advice would change with: " + "; ".join(flips) + ".")
    elif changes:
        out.append(
            "The choice stands for a list 0.5° either way, GM 10 % either way, and the prices "
            "tried."
        )
    return tuple(out)


def heel_plan(comparison: Comparison, changes: tuple[Change, ...] = ()) -> HeelPlan:
    """The advice for every leg and the passage, in words and numbers."""
    return HeelPlan(
        comparison=comparison,
        legs=tuple(_leg_advice(comparison, leg) for leg in range(comparison.problem.n_legs)),
        summary=_summary(comparison, changes),
        cautions=heel_cautions(comparison),
        changes=changes,
    )
