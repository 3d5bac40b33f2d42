"""Cautions that belong to a heel advice: limits of fins, tanks, GM and weather."""

from __future__ import annotations

import numpy as np

from passage.planning.heel.model import SEA, HeelProblem, stability
from passage.planning.heel.moves import moved_by
from passage.planning.heel.options import SMALL_DEG, Comparison, Priced
from passage.planning.heel.words import side_words
from passage.planning.plan.cautions import filled_cautions, roll_at_limits
from passage.planning.plan.cautions_loop import leg_loops, near_hunting
from passage.planning.plan.cautions_sea import trim_range
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.limits import leg_limits, window_name
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage, PlanOptions

#: Margin of GM over its minimum below which there is a caution [m]; common practice, no source.
GM_MARGIN_M = 0.10
#: A smaller heel to the wrong side is not mentioned. [deg]
WRONG_WAY_DEG = 0.2
#: Share of a leg spent pumping from which it is mentioned.
LONG_PUMPING = 0.25


def leg_list(legs: tuple[int, ...]) -> str:
    """``leg 3``, ``legs 3, 5``, ``legs 3 to 6, 9``."""
    if len(legs) == 1:
        return f"leg {legs[0]}"
    runs: list[list[int]] = []
    for leg in legs:
        if runs and leg == runs[-1][-1] + 1:
            runs[-1].append(leg)
        else:
            runs.append([leg])
    parts = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(leg) for leg in run]
    return "legs " + ", ".join(parts)


def _legs(problem: HeelProblem, where: np.ndarray) -> tuple[int, ...]:
    """Numbers of the legs that points lie on."""
    return tuple(int(i) + 1 for i in np.unique(problem.leg_of[np.asarray(where)]))


def heel_cautions(comparison: Comparison) -> tuple[Caution, ...]:
    """All cautions from the numbers, the gravest first."""
    out = [
        *_limits(comparison),
        *_stability(comparison),
        *_tanks(comparison),
        *_ballast(comparison),
        *_alongside(comparison),
        *_trim(comparison),
        *_wrong_way(comparison),
        *_proof(comparison),
    ]
    order = {"warning": 0, "caution": 1, "note": 2}
    return tuple(sorted(out, key=lambda one: order[one.severity]))


def sea_cautions(
    passage: Passage, options: PlanOptions, way: March, evaluation: Evaluation, plan: Priced
) -> tuple[Caution, ...]:
    """Cautions of a plan about roll and fins that affect the advice, the heel left alone."""
    return (
        *_roll_over_limit(passage, way, plan),
        *filled_cautions(passage.track, way),
        *roll_at_limits(passage, evaluation),
        *near_hunting(passage.yacht, leg_loops(passage, options, way, evaluation)),
        *trim_range(passage.yacht),
    )


def _roll_over_limit(passage: Passage, way: March, plan: Priced) -> list[Caution]:
    """Roll as advised over the owner's limit, which no transfer can reduce."""
    track, roll = passage.track, plan.roll_significant_deg
    if roll is None:
        return []
    values = {"roll_active_rms_deg": 0.5 * roll}
    found = leg_limits(passage.vessel, track.leg, track.length_m == 0.0, way.hours, values)
    one = next(each for each in found if each.limit_key == "roll_significant_deg")
    over = np.flatnonzero(one.exceeded)
    if not over.size:
        return []
    legs = tuple(int(leg) + 1 for leg in over)
    top = int(over[np.argmax(one.worst[over])])
    hour = window_name(passage.vessel.limits.window_h)
    return [
        Caution(
            "roll_over_limit",
            "caution",
            legs,
            f"as advised she rolls more than the owner's {one.limit[top]:.1f} deg significant for "
            f"{one.over_h[over].sum():.0f} h on {leg_list(legs)}, {one.worst[top]:.1f} deg in the "
            f"worst {hour}: see `passage plan` and `passage compare`; this answer is about heel "
            "only.",
        )
    ]


def _limits(comparison: Comparison) -> list[Caution]:
    problem, cost, plan = comparison.problem, comparison.cost, comparison.plan
    out = []
    leg_of = problem.leg_of + 1
    if plan.known_legs_over:
        worst = int(np.argmax(np.where(problem.unknown_sea, 0.0, plan.over_limit_deg)))
        out.append(
            Caution(
                "heel_over_limit",
                "warning",
                plan.known_legs_over,
                f"nothing available keeps the steady heel within the owner's limit on "
                f"{leg_list(plan.known_legs_over)}: {plan.known_over_h.sum():.1f} h over it; on "
                f"leg {leg_of[worst]} she still leans {abs(plan.heel_deg[worst]):.1f} deg, limit "
                f"{problem.limit_deg[worst]:.1f} deg.",
            )
        )
    # Heel that the fins alone would leave with nothing moved.
    moment = problem.moment_t_m
    left = np.maximum(np.abs(moment) - cost.fin_max, 0.0)
    short = problem.heel_deg(left) - problem.limit_deg
    able = cost.fin_max > 0.0
    weak = (short > SMALL_DEG) & able
    if np.any(weak):
        point = int(np.argmax(np.where(weak, short, -np.inf)))
        hours = float(problem.hours[weak].sum())
        out.append(
            Caution(
                "fins_cannot_hold",
                "caution",
                _legs(problem, weak),
                f"fins alone cannot keep the limit on {leg_list(_legs(problem, weak))} "
                f"({hours:.1f} h): on leg {leg_of[point]} at {problem.speed_kn[point]:.1f} kn they "
                f"fall {short[point]:.1f} deg short of the owner's "
                f"{problem.limit_deg[point]:.1f} deg with the share of their range that "
                "offset_share in the vessel file leaves to an offset.",
            )
        )
    blind = (short > SMALL_DEG) & problem.unknown_sea
    if np.any(blind):
        out.append(
            Caution(
                "offset_unknown",
                "note",
                _legs(problem, blind),
                f"on {leg_list(_legs(problem, blind))} the sea is not known for "
                f"{problem.hours[blind].sum():.1f} h, nor what the fins can hold there; no offset "
                "is counted on.",
            )
        )
    never = (short > SMALL_DEG) & ~able & ~blind
    if np.any(never):
        out.append(
            Caution(
                "no_offset_here",
                "note",
                _legs(problem, never),
                f"on {leg_list(_legs(problem, never))} the fins must not be offset for "
                f"{problem.hours[never].sum():.1f} h (at rest, astern, or centred required); only "
                "moving weight removes the list then.",
            )
        )
    return out


def _stability(comparison: Comparison) -> list[Caution]:
    problem, plan = comparison.problem, comparison.plan
    out = []
    least = problem.gm_minimum_m
    if least is None:
        if plan.moves:
            out.append(
                Caution(
                    "gm_not_checked",
                    "caution",
                    (),
                    "no minimum_gm_m in the vessel file: GM after the transfers was not "
                    "compared with a minimum.",
                )
            )
    else:
        point = int(np.argmin(plan.gm_m))
        leg = int(problem.leg_of[point])
        margin = plan.gm_m[point] - least
        if margin < GM_MARGIN_M:
            out.append(
                Caution(
                    "gm_margin",
                    "warning" if margin < -1e-6 else "caution",
                    (leg + 1,),
                    f"fluid GM on leg {leg + 1} is {plan.gm_m[point]:.2f} m, "
                    f"minimum {least:.2f} m.",
                )
            )
    loss = problem.gm_untouched_m - plan.gm_m
    if plan.moves and loss.max() > 0.005:
        point = int(np.argmax(loss))
        leg = int(problem.leg_of[point])
        out.append(
            Caution(
                "free_surface",
                "note",
                (leg + 1,),
                f"the transfers lower fluid GM by up to {loss[point]:.2f} m (leg {leg + 1}), "
                "mostly by the surfaces of tanks left slack.",
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
            left = start[move.point, move.source]
            end = (start - problem.burn_m3)[move.point :, move.source].min()
            if min(left, end) - tank.minimum_m3 < 0.02 * tank.capacity_m3:
                words.append(f"{tank.name} is then at its minimum and lacks content for more")
        if move.target != SEA:
            tank = problem.tanks[move.target]
            if tank.capacity_m3 - start[move.point, move.target] < 0.02 * tank.capacity_m3:
                words.append(f"{tank.name} is then full and lacks room for more")
        if words:
            out.append(
                Caution(
                    "tank_bounds",
                    "caution",
                    (int(problem.leg_of[move.point]) + 1,),
                    f"transfer before leg {problem.leg_of[move.point] + 1}: {'; '.join(words)}.",
                )
            )
    for point in sorted({move.point for move in plan.moves}):
        leg = int(problem.leg_of[point])
        hours = sum(m.amount_m3 for m in plan.moves if m.point == point) / problem.rate_m3_per_h
        there = float(problem.hours[problem.leg_of == leg].sum())
        if point and hours > LONG_PUMPING * there:
            out.append(
                Caution(
                    "long_pumping",
                    "note",
                    (leg + 1,),
                    f"pumping takes {hours * 60:.0f} min of the {there:.1f} h of leg "
                    f"{leg + 1}; the list goes off only as it is done. Start earlier if roll "
                    "allows.",
                )
            )
    return out


def _wrong_way(comparison: Comparison) -> list[Caution]:
    problem, plan = comparison.problem, comparison.plan
    before = problem.heel_deg(problem.moment_t_m)
    after = problem.heel_deg(plan.moment_t_m)
    moved = np.abs(plan.moment_t_m - problem.moment_t_m) > 0.0
    wrong = (np.abs(after) > np.abs(before) + WRONG_WAY_DEG) & moved
    if not np.any(wrong):
        return []
    worse = _legs(problem, wrong)
    point = int(np.argmax(np.where(wrong, np.abs(after), -np.inf)))
    side = "starboard" if after[point] > 0 else "port"
    return [
        Caution(
            "wind_heel_reverses",
            "caution",
            worse,
            f"the heel without correction is smaller or the other way for "
            f"{problem.hours[wrong].sum():.1f} h on {leg_list(worse)} (wind, burn): the moved "
            f"liquid is on the wrong side then. On leg {problem.leg_of[point] + 1} she would lean "
            f"{abs(after[point]):.1f} deg to {side} before the fins, {abs(before[point]):.1f} deg "
            "without the transfer.",
        )
    ]


def _ballast(comparison: Comparison) -> list[Caution]:
    """Ballast-water rules, and weight discharged only for the list."""
    problem, plan = comparison.problem, comparison.plan
    sea = [move for move in plan.moves if SEA in (move.source, move.target)]
    if not sea:
        return []
    return [
        Caution(
            "ballast_rules",
            "caution",
            _legs(problem, np.array([move.point for move in sea])),
            "ballast-water rules apply to taking in and discharging: exchange or treatment, the "
            "record book, and the port's and flag's own limits.",
        )
    ]


def _alongside(comparison: Comparison) -> list[Caution]:
    """Her list alongside after a transfer before departure."""
    problem, plan = comparison.problem, comparison.plan
    first = [move for move in plan.moves if move.point == 0]
    if not first or not problem.n_points:
        return []
    moved = moved_by(problem, tuple(first))[0] @ problem.tank_moment_per_m3
    moment = problem.list_moment_t_m + float(problem.event_moment_t_m[0]) + float(moved)
    stiffness = float(stability(problem, moved_by(problem, tuple(first)))[1][0])
    listed = float(np.degrees(np.arctan2(moment, stiffness)))
    if abs(listed) < 0.25:
        return []
    return [
        Caution(
            "list_alongside",
            "note",
            (1,),
            f"after the transfer before departure she lists {side_words(listed)} alongside: the "
            "tanks are then set for the wind that is forecast. Without that wind she keeps it.",
        )
    ]


def _trim(comparison: Comparison) -> list[Caution]:
    """Trim beyond the owner's limit, from burn and transfers."""
    problem, plan = comparison.problem, comparison.plan
    limit = problem.trim_limit_m
    if limit is None:
        return []
    per_m3 = np.array(
        [np.nan if t.trim_m_per_m3 is None else t.trim_m_per_m3 for t in problem.tanks]
    )
    content = np.array([tank.content_m3 for tank in problem.tanks])
    change = problem.content_start_m3 + moved_by(problem, plan.moves) - content
    trim = np.where(np.abs(change) > 1e-9, change * per_m3, 0.0).sum(axis=1)
    if np.any(np.isnan(trim)):
        return []
    over = np.abs(trim) > limit
    if not np.any(over):
        return []
    point = int(np.argmax(np.abs(trim)))
    end = "the bow" if trim[point] > 0.0 else "the stern"
    return [
        Caution(
            "trim_limit",
            "caution",
            _legs(problem, over),
            f"burn and transfers trim her by {abs(trim[point]):.2f} m by {end} on leg "
            f"{problem.leg_of[point] + 1}, more than the owner's {limit:.2f} m.",
        )
    ]


def _proof(comparison: Comparison) -> list[Caution]:
    sequence = comparison.sequence
    out = []
    if not sequence.proven:
        why, cure = (
            ("the search ran out of time", "Allow it more time or name fewer tank pairs.")
            if sequence.timed_out
            else ("the search ended without a proof", "More time would not change that.")
        )
        out.append(
            Caution(
                "not_proven",
                "caution",
                (),
                f"{why}: a better sequence could save up to {sequence.gap_l:,.0f} l more than this "
                f"one. {cure}",
            )
        )
    out += [Caution("assumed", "note", (), f"{note}.") for note in comparison.problem.notes]
    return out
