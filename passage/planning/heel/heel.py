"""``passage heel``: from files to the heel decision, leg by leg.

The passage is sailed once with the heel left alone, which gives every leg's fuel,
wind moment and roll; offsets of the fins are then tried on every point, which gives
what they cost and how much roll they let through; the decision itself is made by the
``heel_*`` modules on plain arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import PassageError, VesselError
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.physics.fins import use
from passage.planning.heel.breakeven import BreakEven, break_even, fin_l_per_h_per_moment2
from passage.planning.heel.build import HeelLegs, HeelPrices, build_problem
from passage.planning.heel.fin_use import FinDecision, decide_fin_use
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import compare_policies
from passage.planning.heel.report import HeelPlan, heel_plan
from passage.planning.heel.sensitivity import sensitivities
from passage.planning.plan.cautions import missing_flows
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
from passage.planning.voyage.rolling import OFFSET_SHARE, solve, working_fins
from passage.planning.voyage.yacht import Yacht
from passage.units import G_M_S2, knots_to_m_s, rad_to_deg

Array = npt.NDArray[np.float64]

#: Newtons of a tonne, to turn N m into t m.
N_PER_T = 1000.0 * G_M_S2
#: Fin angle kept free for roll work, in rms of the working fin.
ROLL_RESERVE_RMS = 1.5
#: Share of a leg's time from which what most of it does stands for the leg: a leg with
#: slamming for minutes still has its offset and its working fins for hours. Assumption.
MOST_OF_A_LEG = 0.5
#: Shares of the largest offset at which roll is tried.
OFFSET_FRACTIONS: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class HeelAnswer:
    """The decision with what the reports need beside it.

    ``offset_roll_deg`` ``(legs, fractions)`` significant roll with offsets of
    ``OFFSET_FRACTIONS`` of the largest; ``at_limit_percent`` likewise.
    """

    plan: HeelPlan
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


def heel_files(
    route_file: Path,
    vessel_file: Path,
    forecast_files: Sequence[Path],
    options: PlanOptions,
    prices: HeelPrices,
    *,
    no_transfer_legs: Sequence[int] = (),
    say: Callable[[str], None] = lambda text: None,
    seconds: float = 20.0,
) -> HeelAnswer:
    """Read, march, decide.

    ``no_transfer_legs`` are numbers from 1 before which the master allows no transfer.

    Raises
    ------
    PassageError
        With what is wrong in the files, or that no sequence obeys every rule.
    """
    vessel = read_vessel(vessel_file)
    if not vessel.fins and not vessel.tanks:
        raise VesselError(
            f"{vessel_file}: has neither [[fins]] nor [[tanks]]: there is nothing to correct "
            "heel with. Add what she has."
        )
    route = read_route(route_file)
    bad = [number for number in no_transfer_legs if not 1 <= number <= len(route.legs)]
    if bad:
        raise PassageError(f"--no-transfer {bad[0]}: the route has legs 1 to {len(route.legs)}.")
    for warning in vessel.warnings:
        say(warning)
    options = replace(options, heel="leave", fins="active")
    passage = prepare(vessel, route, options)
    departure = options.departure_s
    with open_for(
        corridor([passage.track]),
        forecast_files,
        vessel,
        departure,
        departure + passage_seconds(passage.track),
        options,
    ) as forecast:
        way, evaluation, words = march_and_evaluate(passage, forecast, options)
        refuse_no_sea(forecast, way, evaluation)
        notes = (*forecast.notes, *route.notes, *words)
        missing = missing_flows(passage.track, way, flows_given(forecast))
        origin = provenance(passage, forecast, options)
    legs = leg_table(route, passage.track, way, evaluation, departure)
    arrays, at_limit = heel_legs(passage, way, evaluation, legs, no_transfer_legs)
    problem = build_problem(vessel, arrays, prices)
    comparison = compare_policies(problem, seconds=seconds)
    changes = sensitivities(problem, comparison.plan.moves, seconds=max(seconds / 8.0, 1.0))
    plan = heel_plan(comparison, changes)
    decision = _fin_use(passage, way, evaluation)
    return HeelAnswer(
        plan=plan,
        legs=tuple(legs),
        curve=_curve(passage, problem),
        fin_use=decision,
        fin_use_words=fin_words(decision)
        if vessel.fins
        else tuple("none: no fins fitted" for _ in legs),
        offset_roll_deg=np.asarray(arrays.offset_roll_deg),
        at_limit_percent=at_limit,
        cautions=(*missing, *plan.cautions, *_centred_for_a_while(passage, way, evaluation)),
        notes=(*notes, *problem.notes),
        provenance=origin,
        vessel_name=vessel.name,
        route_name=route.name,
        departure_s=departure,
    )


def _centred_for_a_while(passage: Passage, way: March, evaluation: Evaluation) -> list[Caution]:
    """Legs whose fins work most of the time but stand centred for a part of it."""
    starts = leg_starts(passage.track.leg)
    centred = use.fins_centred(evaluation.fin_use)
    hours = leg_sum(np.where(centred, way.hours, 0.0), starts)
    share = leg_mean(centred.astype(float), way.hours, starts)
    return [
        Caution(
            "offset_interrupted",
            "caution",
            (int(leg) + 1,),
            f"the fins must stand centred for {hours[leg]:.1f} h of leg {leg + 1} (slamming "
            "likely, or too slow); her heel is not held then.",
        )
        for leg in np.flatnonzero((share > 0.0) & (share <= 1.0 - MOST_OF_A_LEG))
    ]


def heel_legs(
    passage: Passage,
    way: March,
    evaluation: Evaluation,
    legs: Sequence[dict[str, Any]],
    no_transfer_legs: Sequence[int] = (),
) -> tuple[HeelLegs, Array]:
    """Per leg what the decision needs, and the time at the limit with offsets.

    The largest offset of a leg leaves ``ROLL_RESERVE_RMS`` times the working fin's rms
    angle free at its busiest point, and is never above ``OFFSET_SHARE`` of the range.
    """
    yacht, track = passage.yacht, passage.track
    starts = leg_starts(track.leg)
    hours, stw = way.hours, way.speed_through_water_m_s
    hull = passage.vessel.particulars
    stiffness_t_m = hull.displacement_t * hull.gm_m
    wind = stiffness_t_m * np.tan(_wind_heel(passage, evaluation))
    open_ = evaluation.fin_use == use.ACTIVE
    fins = yacht.fins_at(stw) if yacht.has_fins else None
    count = len(starts)
    if fins is None:
        zero = np.zeros(count)
        per_moment2, most_t_m, angle, shapes = zero, zero, None, None
        roll = np.repeat(
            np.array([[leg["roll_active_significant_deg"]] for leg in legs], dtype=float),
            len(OFFSET_FRACTIONS),
            axis=1,
        )
        at_limit = np.zeros_like(roll)
    else:
        moment = np.sum(fins.moment_ratio, axis=-1) * yacht.righting_n_m_per_rad / N_PER_T
        per_hour = fin_price(yacht, stw)
        per_moment2 = leg_sum(np.where(open_, per_hour, 0.0) * hours, starts)
        limit = np.min(np.asarray(fins.angle_limit_rad, dtype=float))
        busiest = np.max(evaluation.active.fin_rms_rad, axis=-1)
        free = np.clip(limit - ROLL_RESERVE_RMS * busiest, 0.0, OFFSET_SHARE * limit)
        # The weakest point at which an offset is open says what can be held on a leg.
        weakest = -leg_worst(np.where(open_, -free * moment, -np.inf), starts)
        open_share = leg_mean(open_.astype(float), hours, starts)
        most_t_m = np.where(open_share >= MOST_OF_A_LEG, weakest, 0.0)
        gap = leg_sum(np.isnan(evaluation.excitation[..., 0]), starts) > 0
        most_t_m = np.where(gap, 0.0, most_t_m)
        angle = leg_mean(1.0 / np.where(moment > 0.0, moment, np.nan), hours, starts)
        angle = rad_to_deg(angle)
        shapes = np.array(OFFSET_FRACTIONS)
        roll, at_limit = _offset_roll(passage, way, evaluation, most_t_m, moment, starts)
    names = tuple(
        f"{leg['from']} to {leg['to']}" if leg["type"] != "stay" else f"stay at {leg['to']}"
        for leg in legs
    )
    forbidden = np.array([number + 1 in set(no_transfer_legs) for number in range(count)])
    arrays = HeelLegs(
        names=names,
        hours=leg_sum(hours, starts),
        speed_kn=_column(legs, "speed_through_water_kn"),
        fuel_l=_column(legs, "fuel_l"),
        wind_moment_t_m=leg_mean(wind, hours, starts),
        roll_significant_deg=2.0 * leg_worst(evaluation.values["roll_active_rms_deg"], starts),
        fin_l_per_moment2=per_moment2,
        fin_moment_max_t_m=most_t_m,
        hull_fuel_l=_column(legs, "fuel_still_water_l"),
        fin_angle_per_moment_deg=angle,
        offset_forbidden=most_t_m <= 0.0,
        transfer_forbidden=forbidden,
        offset_fraction=shapes,
        offset_roll_deg=roll,
    )
    return arrays, at_limit


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


def _wind_heel(passage: Passage, evaluation: Evaluation) -> Array:
    from passage.planning.voyage.list_drift import list_along

    listed = list_along(passage.vessel, passage.track, evaluation.values["fuel_l"])
    return evaluation.static_heel_rad - listed


def _column(legs: Sequence[dict[str, Any]], name: str) -> Array:
    return np.array([np.nan if leg[name] is None else leg[name] for leg in legs], dtype=float)


def _offset_roll(
    passage: Passage,
    way: March,
    evaluation: Evaluation,
    most_t_m: Array,
    moment: Array,
    starts: npt.NDArray[np.int_],
) -> tuple[Array, Array]:
    """Significant roll and percent at the limit per leg for offsets up to the largest."""
    yacht, track, stw = passage.yacht, passage.track, way.speed_through_water_m_s
    rolls, limits = [], []
    for fraction in OFFSET_FRACTIONS:
        held = fraction * most_t_m[track.leg]
        angle = np.where(moment > 0.0, held / np.where(moment > 0.0, moment, 1.0), 0.0)
        offset = np.repeat(angle[:, None], len(yacht.vessel.fins), axis=1)
        # Held moment and heel cancel: the fins then swing about the offset, she about
        # the upright.
        static = held * N_PER_T / yacht.righting_n_m_per_rad
        fins = working_fins(yacht, stw, offset, evaluation.fin_use)
        response = solve(yacht, stw, evaluation.excitation, static, fins)
        rolls.append(leg_mean(2.0 * rad_to_deg(response.roll_rms_rad), way.hours, starts))
        busiest = np.max(response.share_at_limit, axis=-1)
        working = use.fins_work(evaluation.fin_use)
        limits.append(leg_mean(np.where(working, 100.0 * busiest, 0.0), way.hours, starts))
    return np.stack(rolls, axis=-1), np.stack(limits, axis=-1)


def _fin_use(passage: Passage, way: March, evaluation: Evaluation) -> FinDecision:
    """Active or centred on each leg, from one march: both rolls and the price are known."""
    starts = leg_starts(passage.track.leg)
    values, hotel = evaluation.values, passage.vessel.hotel
    limits = passage.vessel.limits
    stays = np.array([passage.track.length_m[i] == 0.0 for i in starts])
    underway, at_rest = limits.underway.roll_significant_deg, limits.at_rest.roll_significant_deg
    limit = np.where(
        stays,
        np.inf if at_rest is None else at_rest,
        np.inf if underway is None else underway,
    )
    fuel = leg_sum(values["fuel_l"], starts)
    idle = hotel.fins_kw_centred * hotel.generator_specific_fuel_g_per_kwh / 1000.0
    idle_l_per_h = idle / passage.vessel.propulsion.fuel_density_t_m3
    saved = leg_sum(values["fuel_fins_active_l"] - idle_l_per_h * way.hours, starts)
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


def fin_words(decision: FinDecision) -> tuple[str, ...]:
    """Advice on fin use, a line a leg, with the comfort it costs and the litres."""
    from passage.planning.heel.fin_use import FIN_DECISION_WORDS

    lines = []
    for code, saved, roll, could in zip(
        decision.code, decision.saved_l, decision.roll_cost_deg, decision.could_save_l, strict=True
    ):
        advice, why = FIN_DECISION_WORDS[int(code)]
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
    limit = np.min(np.asarray(fins.angle_limit_rad, dtype=float))
    moment = np.sum(fins.moment_ratio, axis=-1) * yacht.righting_n_m_per_rad / N_PER_T
    return break_even(
        speeds_kn,
        np.arange(0.25, 3.01, 0.25),
        fin_l_per_h_per_moment2=fin_price(yacht, speed),
        fin_moment_max_t_m=OFFSET_SHARE * limit * moment,
        displacement_t=vessel.particulars.displacement_t,
        gm_m=vessel.particulars.gm_m,
        transfer_fixed_l=problem.transfer_fixed_l,
        pump_l_per_m3=problem.pump_l_per_m3,
        lever_m=lever,
        density_t_m3=density,
        hull_fuel_l_per_h=yacht.curve.fuel(speed),
        ballast_lever_m=max(ballast) if ballast else None,
    )
