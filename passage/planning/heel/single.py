"""The best single transfer, by trying every place, pair and amount."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import SEA, Floats, HeelProblem, stability
from passage.planning.heel.moves import Move, moved_by, price_sequence
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.stages import StageCosts, Stages

if TYPE_CHECKING:
    from passage.planning.heel.options import Priced

#: Amounts tried for each place and pair; the best is tried again more finely.
_AMOUNTS = 61
#: Number of places and pairs whose best amount is refined.
_FINEST = 3


def best_single(
    problem: HeelProblem, pairs: tuple[tuple[int, int], ...] | None = None
) -> tuple[Move, ...]:
    """The single transfer of least cost with the best fin use; () where none is allowed.

    Parameters
    ----------
    problem : HeelProblem
    pairs : tuple, optional
        Pairs to try; all of the problem's when not given.

    Notes
    -----
    Unlike the search this always moves something, so that "move liquid" has a price
    even where another way is cheaper.
    """
    pairs = problem.pairs if pairs is None else pairs
    if not pairs:
        return ()
    stages = Stages.of_problem(problem)
    weight = problem.tank_moment_per_m3
    rows: list[tuple[float, Move]] = []
    cost = LegCost.of(replace(problem, limit_stiffness_t_m=problem.stiffness_t_m))
    amounts = []
    for stage in np.flatnonzero(stages.allowed):
        for pair in pairs:
            low, high = _amounts(problem, stages, int(stage), pair)
            if high > low:
                amounts.append((int(stage), pair, np.linspace(low, high, _AMOUNTS)))
    if not amounts:
        return ()
    reach = [_moment(pair, grid, weight) for _, pair, grid in amounts]
    low_t_m, high_t_m = min(r.min() for r in reach), max(r.max() for r in reach)
    x = np.linspace(low_t_m, max(high_t_m, low_t_m + 1e-6), 401)
    costs = StageCosts(problem, cost, stages, (low_t_m, high_t_m))
    value = costs.least_l(np.repeat(x[:, None], stages.count, axis=1))
    ahead = np.cumsum(value[:, ::-1], axis=1)[:, ::-1]
    untouched = np.r_[0.0, np.cumsum(costs.least_l(np.zeros(stages.count)))]
    carried = np.cumsum(stages.carry_l_per_t[::-1])[::-1]
    for (at, pair, grid), moment in zip(amounts, reach, strict=True):
        litres = untouched[at] + np.interp(moment, x, ahead[:, at])
        litres = litres + problem.pump_l_per_m3 * grid
        if pair[0] == SEA:
            litres = litres + carried[at] * grid * problem.tanks[pair[1]].density_t_m3
        least = int(np.argmin(litres))
        move = Move(int(stages.first[at]), pair[0], pair[1], float(grid[least]))
        rows.append((float(litres[least]), move))
    rows.sort(key=lambda row: row[0])
    found: list[tuple[float, Move]] = []
    for _, move in rows:
        fine = _finer(problem, cost, stages, int(stages.of[move.point]), move)
        if not broken_rules(problem, (fine,)):
            found.append((_real_l(problem, cost, fine), fine))
        elif not broken_rules(problem, (move,)):
            found.append((_real_l(problem, cost, move), move))
        if len(found) >= _FINEST:
            break
    return (min(found, key=lambda row: row[0])[1],) if found else ()


def _real_l(problem: HeelProblem, cost: LegCost, move: Move) -> float:
    stiffness = stability(problem, moved_by(problem, (move,)))[1]
    return price_sequence(problem, cost.judged_at(problem, stiffness), (move,))[0]


def _moment(pair: tuple[int, int], amount: Floats, weight: Floats) -> Floats:
    source, target = pair
    out = 0.0 if source == SEA else -weight[source]
    out = out + (0.0 if target == SEA else weight[target])
    return amount * out


def _amounts(
    problem: HeelProblem, stages: Stages, stage: int, pair: tuple[int, int]
) -> tuple[float, float]:
    """Least and most that one transfer through a pair may move. [m3]"""
    source, target = pair
    most = problem.rate_m3_per_h * float(stages.hours[stage])
    if source != SEA:
        tank = problem.tanks[source]
        most = min(most, -float(stages.low_m3[stage:, source].max()))
        most = min(most, float(stages.start_m3[stage, source]) - tank.minimum_m3)
    if target != SEA:
        most = min(most, float(stages.high_m3[stage:, target].min()))
    return problem.smallest_transfer_m3, min(most, 1e6)


def _finer(problem: HeelProblem, cost: LegCost, stages: Stages, stage: int, move: Move) -> Move:
    """The same transfer with its amount refined."""
    low, high = _amounts(problem, stages, stage, (move.source, move.target))
    step = (high - low) / (_AMOUNTS - 1)
    best, best_l = move, _real_l(problem, cost, move)
    for _ in range(2):
        centre = best.amount_m3
        for amount in np.linspace(max(low, centre - step), min(high, centre + step), 9):
            other = replace(best, amount_m3=float(amount))
            litres = _real_l(problem, cost, other)
            if litres < best_l - 1e-9:
                best, best_l = other, litres
        step /= 4.0
    return best


#: A transfer is useless that saves less than this share of the fins' cost alone.
_LITTLE = 0.1


def useless_addition(one: Priced, fins: Priced | None) -> str:
    """Why the best transfer is useless beside ``fins`` alone, or beside leaving it; or "".

    It is useless where it costs more than it saves the fins and leaves them most of their
    work: then it only adds a transfer to the use of the fins.
    """
    if fins is None or not one.moves or one.total_l <= fins.total_l:
        return ""
    if fins.over_limit_charge_l > one.over_limit_charge_l + 1.0:
        # It removes heel that the fins cannot hold.
        return ""
    spent = float((one.crew_l + one.pump_l).sum())
    spared = fins.total_l + spent - one.total_l
    if fins.rule == "none":
        if abs(one.worst_heel_deg) < (1.0 - _LITTLE) * abs(fins.worst_heel_deg):
            return ""
        amount = sum(move.amount_m3 for move in one.moves)
        return f"the best transfer ({amount:.1f} m3) would cost {spent:,.0f} l and take off no heel"
    if spared > _LITTLE * fins.total_l:
        return ""
    saves = f"only {spared:,.0f} l" if spared >= 0.5 else "nothing"
    return (
        f"the best transfer ({sum(move.amount_m3 for move in one.moves):.1f} m3) would cost "
        f"{spent:,.0f} l and spare the fins {saves}"
    )
