"""``passage heel``: from files to the heel decision, point by point.

The passage is sailed once with the heel left alone, which gives every point's fuel,
wind moment and roll; offsets of the fins are then tried on every point, which gives
what they cost and how much roll they let through. The decision itself is made on plain
arrays, and every way it compares is then sailed again as a plan would sail it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import PassageError, VesselError
from passage.inputs.forecast import Forecast
from passage.inputs.route import Route
from passage.inputs.vessel import Vessel
from passage.physics.fins import use
from passage.planning.heel.breakeven import BreakEven, break_even, fin_l_per_h_per_moment2
from passage.planning.heel.build import HeelPrices, build_problem
from passage.planning.heel.cards import Card, heel_cards
from passage.planning.heel.cautions import sea_cautions
from passage.planning.heel.fin_use import FinDecision, decide_fin_use
from passage.planning.heel.flip import soonest_flip
from passage.planning.heel.headline import headline
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import Comparison, Priced, compare_policies
from passage.planning.heel.points import (
    N_PER_T,
    OFFSET_FRACTIONS,
    Walked,
    heel_points,
    idle_l_per_h,
    sailed,
)
from passage.planning.heel.report import HeelPlan, heel_plan
from passage.planning.heel.sensitivity import Variation, sensitivities
from passage.planning.plan.cautions_flows import missing_flows, short_flows
from passage.planning.plan.legtable import leg_table
from passage.planning.plan.plan import (
    Passage,
    PlanOptions,
    corridor,
    march_and_evaluate,
    open_for,
    passage_seconds,
    prepare,
    provenance,
    refuse_no_sea,
)
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.flows import flows_given
from passage.planning.voyage.legs import leg_mean, leg_starts, leg_sum, leg_worst
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import as_route, as_vessel
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, knots_to_m_s

Array = npt.NDArray[np.float64]

__all__ = ["OFFSET_FRACTIONS", "HeelAnswer", "HeelPrices", "heel_files"]

#: Share of a leg's time from which what most of it does stands for the leg: a leg with
#: slamming for minutes still has its working fins for hours. Assumption.
MOST_OF_A_LEG = 0.5
#: Departures tried besides the one asked for, either way [h].
OTHER_DEPARTURE_H = 6.0


@dataclass(frozen=True)
class HeelAnswer:
    """The decision with what the reports need beside it.

    ``offset_roll_deg`` ``(legs, fractions)`` significant roll with offsets of
    ``OFFSET_FRACTIONS`` of the largest; ``at_limit_percent`` likewise. ``verdict`` is
    one sentence: the advice, its price, and the heel that is left. ``points`` holds
    arrays over the points of the passage, for charts.
    """

    plan: HeelPlan
    verdict: str
    cards: tuple[Card, ...]
    legs: tuple[dict[str, Any], ...]
    curve: BreakEven | None
    fin_use: FinDecision
    fin_use_words: tuple[str, ...]
    offset_roll_deg: Array
    at_limit_percent: Array
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    provenance: dict[str, Any]
    vessel_name: str
    route_name: str
    departure_s: float
    points: dict[str, npt.NDArray[Any]]
    hold: str = "water"


def heel_files(
    route: Path | Route,
    vessel: Path | Vessel,
    forecast: Sequence[Path] | Forecast,
    options: PlanOptions,
    prices: HeelPrices,
    *,
    no_transfer_legs: Sequence[int] = (),
    transfer_every_h: float | None = None,
    say: Callable[[str], None] = lambda text: None,
    seconds: float = 20.0,
) -> HeelAnswer:
    """Read, march, decide.

    ``no_transfer_legs`` are numbers from 1 before which the master allows no transfer;
    ``transfer_every_h`` allows one at that interval besides.

    Raises
    ------
    PassageError
        With what is wrong in the files, or that no sequence obeys every rule.
    """
    vessel = as_vessel(vessel)
    if not vessel.fins and not vessel.tanks:
        raise VesselError(
            f"{vessel.path}: has neither [[fins]] nor [[tanks]]: there is nothing to correct "
            "heel with. Add what she has."
        )
    route = as_route(route)
    bad = [number for number in no_transfer_legs if not 1 <= number <= len(route.legs)]
    if bad:
        raise PassageError(f"--no-transfer {bad[0]}: the route has legs 1 to {len(route.legs)}.")
    for warning in vessel.warnings:
        say(warning)
    guess = guessed_stability(vessel)
    if guess:
        # What moving liquid does to her stability cannot be judged on a guess.
        vessel = replace(vessel, transfer=None)
    options = replace(options, heel="leave", fins="active")
    passage = prepare(vessel, route, options, slow=True)
    departure = options.departure_s
    later = OTHER_DEPARTURE_H * HOUR_S
    with open_for(
        corridor([passage.track]),
        forecast,
        vessel,
        departure - later,
        departure + later + passage_seconds(passage.track),
        options,
    ) as sea:
        way, evaluation, words = march_and_evaluate(passage, sea, options)
        refuse_no_sea(sea, way, evaluation)
        spoken = (passage.speed_note,) if passage.speed_note else ()
        notes = (*sea.notes, *route.notes, *words, *spoken)
        given = flows_given(sea)
        missing = [*missing_flows(passage.track, way, given), *short_flows(passage, way, given)]
        origin = provenance(passage, sea, options)
        walked = Walked(passage, way, evaluation, options.wave_method)

        def problem_of(one: Walked, leg_rows: Sequence[dict[str, Any]]) -> HeelProblem:
            points = heel_points(
                one, leg_rows, no_transfer_legs, every_hours=transfer_every_h, priced_only=True
            )[0]
            return build_problem(vessel, points, prices)

        others: list[Variation] = []
        legs = leg_table(route, passage.track, way, evaluation, departure)
        for sign, word in ((-1.0, "earlier"), (1.0, "later")):
            moved = replace(options, departure_s=departure + sign * later)
            other_way, other, _ = march_and_evaluate(passage, sea, moved, band=False)
            if np.any(np.isnan(other.values["fuel_l"]) & ~np.isnan(evaluation.values["fuel_l"])):
                continue
            others.append(
                Variation(
                    f"leaving {OTHER_DEPARTURE_H:g} h {word}",
                    problem_of(Walked(passage, other_way, other, options.wave_method), legs),
                    "departure",
                )
            )
    arrays, offset_roll, at_limit = heel_points(
        walked, legs, no_transfer_legs, every_hours=transfer_every_h
    )
    problem = build_problem(vessel, arrays, prices)
    comparison = _sailed(walked, compare_policies(problem, seconds=seconds))
    moves = comparison.plan.moves
    changes = sensitivities(comparison.problem, moves, others, seconds=max(seconds / 20.0, 1.0))
    wind_kn = evaluation.values["wind_speed_kn"]
    flip = soonest_flip(comparison, changes, wind_kn, seconds=max(seconds / 8.0, 1.0))
    plan = heel_plan(comparison, changes, flip)
    decision = _fin_use(passage, way, evaluation)
    cards = heel_cards(comparison, walked, flip)
    return HeelAnswer(
        plan=plan,
        verdict=headline(
            comparison, flip, windless=bool(np.all(~evaluation.wind_known)), hold=options.hold
        ),
        cards=cards,
        legs=tuple(legs),
        curve=_curve(passage, problem),
        fin_use=decision,
        fin_use_words=fin_words(decision, comparison.plan)
        if vessel.fins
        else tuple("none: no fins fitted" for _ in legs),
        offset_roll_deg=offset_roll,
        at_limit_percent=at_limit,
        cautions=(
            *missing,
            *([Caution("gm_estimated", "warning", (), guess)] if guess else []),
            *plan.cautions,
            *sea_cautions(passage, options, way, evaluation),
            *_centred_for_a_while(passage, way, evaluation, comparison),
        ),
        notes=(*notes, *problem.notes),
        provenance=origin,
        vessel_name=vessel.name,
        route_name=route.name,
        departure_s=departure,
        points=_points(walked, comparison),
        hold=options.hold,
    )


def guessed_stability(vessel: Vessel) -> str:
    """What must be looked up before any transfer is advised; empty where nothing must be."""
    found = [vessel.estimate_of(f"vessel.{key}") for key in ("gm_m", "displacement_t")]
    doubtful = [
        f"{item.key.removeprefix('vessel.')} ({item.low:.3g} to {item.high:.3g} {item.unit})"
        for item in found
        if item is not None
    ]
    if not doubtful or not vessel.tanks:
        return ""
    return (
        f"no transfer of liquid is advised: {' and '.join(doubtful)} is estimated. First look "
        "up the fluid GM and the displacement of this loading in the stability booklet or "
        "loading computer, and write gm_m and displacement_t into the vessel file."
    )


def _sailed(walked: Walked, comparison: Comparison) -> Comparison:
    """Every way of the comparison with the litres and heel its plan would have."""
    policies = tuple(sailed(walked, comparison.problem, one)[0] for one in comparison.policies)
    return replace(comparison, policies=policies, plan=policies[-1])


def _points(walked: Walked, comparison: Comparison) -> dict[str, npt.NDArray[Any]]:
    """What charts draw over time."""
    values, problem, plan = walked.evaluation.values, comparison.problem, comparison.plan
    per_moment = problem.fin_angle_per_moment_deg
    return {
        "time_s": walked.way.time_s,
        "leg": problem.leg_of + 1,
        "hours": walked.way.hours,
        "heel_without_deg": values["heel_without_correction_deg"],
        "heel_left_deg": plan.heel_deg,
        "limit_deg": problem.limit_deg,
        "fins_t_m": plan.fins_t_m,
        "fins_max_t_m": problem.fin_moment_max_t_m,
        "fin_offset_deg": plan.fins_t_m * (np.nan if per_moment is None else per_moment),
        "wind_moment_t_m": problem.wind_moment_t_m,
        "gm_m": plan.gm_m,
    }


def _centred_for_a_while(
    passage: Passage, way: March, evaluation: Evaluation, comparison: Comparison
) -> list[Caution]:
    """Legs on which the fins hold a list but stand centred for a part of the time."""
    starts = leg_starts(passage.track.leg)
    centred = use.fins_centred(evaluation.fin_use)
    hours = leg_sum(np.where(centred, way.hours, 0.0), starts)
    held = np.abs(comparison.plan.fins_t_m) > 0.0
    holds = np.add.reduceat(held.astype(int), starts) > 0
    return [
        Caution(
            "offset_interrupted",
            "caution",
            (int(leg) + 1,),
            f"the fins must stand centred for {hours[leg]:.1f} h of leg {leg + 1} (slamming "
            "likely, or too slow); her heel is not held then.",
        )
        for leg in np.flatnonzero((hours > 0.0) & holds)
    ]


def fin_price(yacht: Yacht, speed_m_s: npt.ArrayLike) -> Array:
    """Litres an hour for each (t m)^2 held by the fins at speeds through the water."""
    fins, engine = yacht.vessel.fins, yacht.engine
    return fin_l_per_h_per_moment2(
        speed_m_s,
        yacht.fin_drag,
        np.array([fin.lever_m for fin in fins]),
        np.array([fin.efficiency * fin.tandem_factor for fin in fins]),
        propulsive_efficiency=engine.propulsive_efficiency,
        litres_per_kwh=engine.litres_per_kwh,
    )


def _fin_use(passage: Passage, way: March, evaluation: Evaluation) -> FinDecision:
    """Active or centred on each leg, from one march: both rolls and the price are known."""
    starts = leg_starts(passage.track.leg)
    values = evaluation.values
    limits = passage.vessel.limits
    stays = np.array([passage.track.length_m[i] == 0.0 for i in starts])
    underway, at_rest = limits.underway.roll_significant_deg, limits.at_rest.roll_significant_deg
    limit = np.where(
        stays,
        np.inf if at_rest is None else at_rest,
        np.inf if underway is None else underway,
    )
    fuel = leg_sum(values["fuel_l"], starts)
    saved = leg_sum(values["fuel_fins_active_l"] - idle_l_per_h(passage) * way.hours, starts)
    centred = use.fins_centred(evaluation.fin_use).astype(float)
    required = leg_mean(centred, way.hours, starts) > 1.0 - MOST_OF_A_LEG
    return decide_fin_use(
        2.0 * leg_worst(values["roll_centred_rms_deg"], starts),
        2.0 * leg_worst(values["roll_active_rms_deg"], starts),
        limit,
        fuel - saved,
        fuel,
        centred_required=required,
    )


def fin_words(decision: FinDecision, plan: Priced) -> tuple[str, ...]:
    """Advice on fin use, a line a leg, with the comfort it costs and the litres."""
    from passage.planning.heel.fin_use import (
        CENTRED_TO_SAVE,
        FIN_DECISION_WORDS,
    )

    held = plan.by_leg(np.where(np.abs(plan.fins_t_m) > 0.0, plan.hours, 0.0))
    work = plan.by_leg(plan.fin_work_l)
    lines = []
    for leg, (code, saved, roll, could) in enumerate(
        zip(
            decision.code,
            decision.saved_l,
            decision.roll_cost_deg,
            decision.could_save_l,
            strict=True,
        )
    ):
        advice, why = FIN_DECISION_WORDS[int(code)]
        if code == CENTRED_TO_SAVE and held[leg] > 0.0:
            lines.append(
                f"active for {held[leg]:.1f} h to hold the list, centred for the rest: the roll "
                f"alone would not need them (their work costs {max(work[leg], 0.0):.0f} l)"
            )
            continue
        line = f"{advice}: {why}"
        if saved > 0.0:
            line += f" ({saved:.0f} l saved for {roll:.1f}\N{DEGREE SIGN} more significant roll)"
        elif np.isfinite(could) and could > 0.0 and advice == "active":
            line += f" (centring would save {could:.0f} l)"
        lines.append(line)
    return tuple(lines)


def _curve(passage: Passage, problem: HeelProblem) -> BreakEven | None:
    """Break-even against list and speed, for the best-placed pair of tanks."""
    yacht, vessel = passage.yacht, passage.vessel
    movable = [
        (abs(problem.tanks[i].y_m - problem.tanks[j].y_m), problem.tanks[i].density_t_m3)
        for i, j in problem.pairs
        if i >= 0 and j >= 0 and problem.tanks[i].holds != "ballast"
    ]
    if not yacht.has_fins or vessel.transfer is None or not movable:
        return None
    lever, density = max(movable)
    ballast = [abs(t.y_m) for t in problem.tanks if t.holds == "ballast" and t.y_m != 0.0]
    speeds_kn = np.linspace(vessel.propulsion.speed_kn[0], vessel.propulsion.speed_kn[-1], 10)
    speed = knots_to_m_s(speeds_kn)
    fins = yacht.fins_at(speed)
    moment = np.sum(fins.moment_ratio, axis=-1) * yacht.righting_n_m_per_rad / N_PER_T
    hotel = vessel.hotel
    hydraulics = (hotel.fins_kw_active - hotel.fins_kw_centred) / 1000.0
    hydraulics *= hotel.generator_specific_fuel_g_per_kwh / vessel.propulsion.fuel_density_t_m3
    limit = vessel.limits.underway.steady_heel_deg
    return break_even(
        speeds_kn,
        np.arange(0.25, 3.01, 0.25),
        fin_l_per_h_per_moment2=fin_price(yacht, speed),
        fin_moment_max_t_m=float(np.min(yacht.offset_most_rad)) * moment,
        displacement_t=vessel.particulars.displacement_t,
        gm_m=vessel.particulars.gm_m,
        transfer_fixed_l=problem.transfer_fixed_l,
        pump_l_per_m3=problem.pump_l_per_m3,
        lever_m=lever,
        density_t_m3=density,
        hull_fuel_l_per_h=yacht.curve.fuel(speed),
        ballast_lever_m=max(ballast) if ballast else None,
        work_l_per_h=max(hydraulics, 0.0),
        limit_deg=limit,
    )
