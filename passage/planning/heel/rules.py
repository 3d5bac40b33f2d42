"""Rules that every sequence of transfers must keep, checked one by one."""

from __future__ import annotations

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.heel.model import SEA, Floats, HeelProblem, stability
from passage.planning.heel.moves import Move, moved_by


def broken_rules(problem: HeelProblem, moves: tuple[Move, ...]) -> list[str]:
    """Rules that a sequence of moves would break, in words; empty if none."""
    out: list[str] = []
    moved = moved_by(problem, moves)
    base = problem.content_start_m3
    start = base + moved
    leg = problem.leg_of
    for point in sorted({move.point for move in moves}):
        where = f"before leg {leg[point] + 1}"
        here = [move for move in moves if move.point == point]
        pumped = sum(move.amount_m3 for move in here)
        if not problem.transfer_allowed[point]:
            out.append(f"no transfer is allowed {where}")
        if pumped > problem.rate_m3_per_h * problem.transfer_hours[point] + 1e-6:
            out.append(f"the pump cannot move {pumped:.1f} m3 in the time {where}")
        before = start[point] - sum(
            (_placed(problem, move) for move in here), np.zeros(len(problem.tanks))
        )
        # Only tanks of these moves can have changed.
        touched = {index for move in here for index in (move.source, move.target)} - {SEA}
        for index in sorted(touched):
            tank = problem.tanks[index]
            taken = sum(m.amount_m3 for m in here if m.source == index)
            put = sum(m.amount_m3 for m in here if m.target == index)
            if taken > max(before[index] - tank.minimum_m3, 0.0) + 1e-6:
                out.append(f"{tank.name} lacks content for {taken:.1f} m3 {where}")
            if put and start[point, index] > tank.capacity_m3 + 1e-6:
                out.append(f"{tank.name} lacks room for {put:.1f} m3 {where}")
    tanks, planned = problem.tank_arrays, base - problem.burn_m3
    under = planned + moved < np.minimum(tanks.minimum_m3, planned) - 1e-6
    for index in np.flatnonzero(under.any(axis=0)).tolist():
        where = f"at the end of leg {leg[int(np.argmax(under[:, index]))] + 1}"
        out.append(f"{problem.tanks[index].name} would be under its minimum {where}")
    least = problem.gm_minimum_m
    if least is not None:
        gm = stability(problem, moved)[2]
        low = np.flatnonzero(gm < np.minimum(least, problem.gm_untouched_m) - 1e-6)
        for one in np.unique(leg[low]):
            value = gm[low][leg[low] == one].min()
            out.append(f"GM on leg {one + 1} would be {value:.2f} m, minimum {least:.2f} m")
    return out


def _placed(problem: HeelProblem, move: Move) -> Floats:
    """Cubic metres that a move puts into each tank, ``(k,)``."""
    out = np.zeros(len(problem.tanks))
    if move.source != SEA:
        out[move.source] -= move.amount_m3
    if move.target != SEA:
        out[move.target] += move.amount_m3
    return out


def guessed_stability(vessel: Vessel) -> str:
    """A message on estimated stability that forbids transfers; empty where none is estimated."""
    names = {"gm_m": "the fluid GM", "displacement_t": "the displacement"}
    found = {key: vessel.estimate_of(f"vessel.{key}") for key in names}
    doubtful = {
        key: f"{key} ({item.low:.3g} to {item.high:.3g} {item.unit})"
        for key, item in found.items()
        if item is not None
    }
    if not doubtful or not vessel.tanks:
        return ""
    are = "are" if len(doubtful) > 1 else "is"
    return (
        f"no transfer of liquid is advised: {' and '.join(doubtful.values())} {are} estimated. "
        f"First look up {' and '.join(names[key] for key in doubtful)} of this loading in the "
        "stability booklet or loading computer, and write "
        f"{' and '.join(doubtful)} into the vessel file."
    )
