"""What must be said beside a heel advice: limits of fins, tanks, GM and weather."""

from __future__ import annotations

import numpy as np

from passage.planning.heel.model import SEA, stability
from passage.planning.heel.moves import moved_by
from passage.planning.heel.options import SMALL_DEG, Comparison
from passage.planning.plan.result import Caution

#: GM closer to its minimum than this is worth saying [m]; common practice, no source.
GM_MARGIN_M = 0.10
#: A wrong-way heel smaller than this is not worth saying [deg].
WRONG_WAY_DEG = 0.2
#: Share of a leg spent pumping from which it is worth saying.
LONG_PUMPING = 0.25


def leg_list(legs: tuple[int, ...]) -> str:
    """``leg 3``, ``legs 3, 5``, ``legs 3 to 6``."""
    if len(legs) == 1:
        return f"leg {legs[0]}"
    if legs and len(legs) > 2 and legs == tuple(range(legs[0], legs[-1] + 1)):
        return f"legs {legs[0]} to {legs[-1]}"
    return "legs " + ", ".join(str(leg) for leg in legs)


def _numbers(where: np.ndarray) -> tuple[int, ...]:
    return tuple(int(i) + 1 for i in np.nonzero(where)[0])


def heel_cautions(comparison: Comparison) -> tuple[Caution, ...]:
    """Everything that the numbers raise, the gravest first."""
    out = [
        *_limits(comparison),
        *_stability(comparison),
        *_tanks(comparison),
        *_wrong_way(comparison),
        *_proof(comparison),
    ]
    order = {"warning": 0, "caution": 1, "note": 2}
    return tuple(sorted(out, key=lambda one: order[one.severity]))


def _limits(comparison: Comparison) -> list[Caution]:
    problem, cost, plan = comparison.problem, comparison.cost, comparison.plan
    out = []
    if plan.legs_over_limit:
        worst = int(np.argmax(plan.over_limit_deg))
        out.append(
            Caution(
                "heel_over_limit",
                "warning",
                plan.legs_over_limit,
                f"nothing available keeps the steady heel within the owner's limit on "
                f"{leg_list(plan.legs_over_limit)}; on leg {worst + 1} she still leans "
                f"{abs(plan.heel_deg[worst]):.1f}°, limit {problem.limit_deg[worst]:.1f}°.",
            )
        )
    # What the fins alone would leave, had nothing been moved.
    moment = problem.moment_t_m
    left = np.maximum(np.abs(moment) - cost.fin_max, 0.0)
    short = problem.heel_deg(left) - problem.limit_deg
    able = cost.fin_max > 0.0
    weak = _numbers((short > SMALL_DEG) & able)
    if weak:
        leg = weak[int(np.argmax(short[[one - 1 for one in weak]]))] - 1
        out.append(
            Caution(
                "fins_cannot_hold",
                "caution",
                weak,
                f"fins alone cannot keep the limit on {leg_list(weak)}: on leg {leg + 1} at "
                f"{problem.speed_kn[leg]:.1f} kn they fall {short[leg]:.1f}° short of the owner's "
                f"{problem.limit_deg[leg]:.1f}° beside their roll work.",
            )
        )
    never = _numbers((short > SMALL_DEG) & ~able)
    if never:
        out.append(
            Caution(
                "no_offset_here",
                "note",
                never,
                f"on {leg_list(never)} the fins must not be offset (at rest, astern, or centred "
                "required); only moved weight takes the list off there.",
            )
        )
    return out


def _stability(comparison: Comparison) -> list[Caution]:
    problem, plan = comparison.problem, comparison.plan
    out = []
    if plan.moves:
        out.append(
            Caution(
                "stability_booklet",
                "caution",
                tuple(sorted({move.leg + 1 for move in plan.moves})),
                "check every transfer against the approved stability booklet before opening a "
                "valve: GM, free surface, trim and freeboard.",
            )
        )
    least = problem.gm_minimum_m
    if least is None:
        if plan.moves:
            out.append(
                Caution(
                    "gm_not_checked",
                    "caution",
                    (),
                    "no minimum_gm_m in the vessel file: GM after the transfers was not held "
                    "against a minimum.",
                )
            )
    else:
        leg = int(np.argmin(plan.gm_m))
        margin = plan.gm_m[leg] - least
        if margin < GM_MARGIN_M:
            out.append(
                Caution(
                    "gm_margin",
                    "warning" if margin < -1e-6 else "caution",
                    (leg + 1,),
                    f"fluid GM on leg {leg + 1} is {plan.gm_m[leg]:.2f} m, minimum {least:.2f} m.",
                )
            )
    base = stability(problem, np.zeros_like(moved_by(problem, plan.moves)))[2]
    loss = base - plan.gm_m
    if plan.moves and loss.max() > 0.005:
        leg = int(np.argmax(loss))
        out.append(
            Caution(
                "free_surface",
                "note",
                (leg + 1,),
                f"the transfers lower fluid GM by up to {loss[leg]:.2f} m (leg {leg + 1}), mostly "
                "by the surfaces of tanks left slack.",
            )
        )
    return out


def _tanks(comparison: Comparison) -> list[Caution]:
    problem, plan = comparison.problem, comparison.plan
    out = []
    start = problem.content_start_m3 + moved_by(problem, plan.moves)
    for move in plan.moves:
        words = []
        if move.source != SEA:
            tank = problem.tanks[move.source]
            left = start[move.leg, move.source]
            end = (start - problem.burn_m3)[move.leg :, move.source].min()
            if min(left, end) - tank.minimum_m3 < 0.02 * tank.capacity_m3:
                words.append(f"{tank.name} is then at its minimum and lacks content for more")
        if move.target != SEA:
            tank = problem.tanks[move.target]
            if tank.capacity_m3 - start[move.leg, move.target] < 0.02 * tank.capacity_m3:
                words.append(f"{tank.name} is then full and lacks room for more")
        if words:
            out.append(
                Caution(
                    "tank_bounds",
                    "caution",
                    (move.leg + 1,),
                    f"transfer before leg {move.leg + 1}: {'; '.join(words)}.",
                )
            )
    for leg in sorted({move.leg for move in plan.moves}):
        hours = sum(m.amount_m3 for m in plan.moves if m.leg == leg) / problem.rate_m3_per_h
        if leg and hours > LONG_PUMPING * problem.hours[leg]:
            out.append(
                Caution(
                    "long_pumping",
                    "note",
                    (leg + 1,),
                    f"pumping takes {hours * 60:.0f} min of the {problem.hours[leg]:.1f} h of leg "
                    f"{leg + 1}; the list goes off only as it is done. Start earlier if roll "
                    "allows.",
                )
            )
    return out


def _wrong_way(comparison: Comparison) -> list[Caution]:
    problem, plan = comparison.problem, comparison.plan
    before = problem.heel_deg(problem.moment_t_m)
    after = problem.heel_deg(plan.moment_t_m)
    worse = _numbers(
        (np.abs(after) > np.abs(before) + WRONG_WAY_DEG)
        & (np.abs(plan.moment_t_m - problem.moment_t_m) > 0.0)
    )
    if not worse:
        return []
    leg = max(worse, key=lambda one: abs(after[one - 1])) - 1
    side = "starboard" if after[leg] > 0 else "port"
    return [
        Caution(
            "wind_heel_reverses",
            "caution",
            worse,
            f"the heel without correction is smaller or the other way on {leg_list(worse)} (wind, "
            f"burn): the moved liquid is on the wrong side there. On leg {leg + 1} she would lean "
            f"{abs(after[leg]):.1f}° to {side} before the fins, {abs(before[leg]):.1f}° without "
            "the transfer.",
        )
    ]


def _proof(comparison: Comparison) -> list[Caution]:
    sequence = comparison.sequence
    out = []
    if not sequence.proven:
        out.append(
            Caution(
                "not_proven",
                "caution",
                (),
                f"the search ran out of time: a better sequence could save up to "
                f"{sequence.gap_l:.0f} l more than this one. Allow it more time or name fewer "
                "tank pairs.",
            )
        )
    out += [Caution("assumed", "note", (), f"{note}.") for note in comparison.problem.notes]
    return out
