"""``passage plan``: one passage from files to legs, totals, decisions and cautions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.errors import VesselError
from passage.inputs.forecast import Forecast
from passage.inputs.route import Route, Track
from passage.inputs.vessel import Vessel, vessel_from_text
from passage.planning.odds.draws import Sailing, fan_points
from passage.planning.plan.cautions import limits_exceeded, plan_cautions
from passage.planning.plan.cautions_flows import doubted_period
from passage.planning.plan.cautions_loop import leg_loops, margin_rows
from passage.planning.plan.cautions_time import arrival_cautions
from passage.planning.plan.chances import chances
from passage.planning.plan.decisions import decisions_of, offset_time
from passage.planning.plan.guesses import widen_bands
from passage.planning.plan.judged import judge_legs
from passage.planning.plan.legtable import leg_table
from passage.planning.plan.marks import plan_marks, sea_along
from passage.planning.plan.no_sea import refuse_no_sea
from passage.planning.plan.partial import fill_partial_legs, masked_reach_km
from passage.planning.plan.past import PAST_H, area_read, past_track, sickness_before
from passage.planning.plan.provenance import provenance
from passage.planning.plan.recorded import bands_from_record, methods_with
from passage.planning.plan.result import PlannedPassage
from passage.planning.plan.tanks import refuse_impossible_transfers, tank_cautions, tank_rows
from passage.planning.plan.totals import plan_totals
from passage.planning.plan.weighting import weighting_decisions
from passage.planning.voyage.evaluate import Evaluation, over_engine
from passage.planning.voyage.flows import flows_given
from passage.planning.voyage.held import held_way
from passage.planning.voyage.loaded import evaluate_loaded
from passage.planning.voyage.march import March, march
from passage.planning.voyage.policy import (
    OwnDrag,
    arrival_speed,
    eased_rule,
    engine_rule,
    fuel_rule,
)
from passage.planning.voyage.prepare import (
    Passage,
    PlanOptions,
    as_route,
    as_vessel,
    corridor,
    open_for,
    passage_seconds,
    prepare,
    steady_seconds,
)
from passage.planning.voyage.rolling import Choices
from passage.units import (
    HOUR_S,
    deg_to_rad,
    knots_to_m_s,
    m_s_to_knots,
    m_to_nm,
    rad_to_deg,
    wrap_360,
)

if TYPE_CHECKING:
    from passage.inputs.moves_file import Order
    from passage.planning.voyage.march import SpeedRule

Array = npt.NDArray[np.float64]
Say = Callable[[str], None]


def plan_files(
    route: Path | Route,
    vessel: Path | Vessel,
    forecast: Sequence[Path] | Forecast,
    options: PlanOptions,
    say: Say = lambda text: None,
    *,
    map_times: int = 0,
) -> PlannedPassage:
    """Read the files and plan; objects already read or open are used as they are.

    ``map_times`` is the number of times at which the sea is sampled for a map.

    Raises
    ------
    PassageError
        The files are wrong, or the forecast covers nothing of the passage.
    """
    ship, way = as_vessel(vessel), as_route(route)
    orders: tuple[Order, ...] = ()
    if options.moves is not None:
        from passage.inputs.moves_file import read_moves

        guess = ship.estimate_of("vessel.gm_m")
        if guess is not None:
            raise VesselError(
                f"{ship.path}: gm_m is estimated ({guess.low:.3g} to {guess.high:.3g} m), and "
                "transfers of liquid are not planned on a guess. Look up the fluid GM of this "
                "loading in the stability booklet and write gm_m."
            )
        given = read_moves(options.moves, ship, len(way.legs))
        orders = given.orders
        if given.heel is not None and not options.heel_given:
            options = replace(options, heel=given.heel)
        if given.rest_fins and not options.fins_given:
            options = replace(options, rest_fins=True)
    passage = prepare(ship, way, options, moves=orders, slow=True)
    for warning in passage.vessel.warnings:
        say(warning)
    departure = options.departure_s
    past = past_track(passage, options)
    tracks = [passage.track] if past is None else [past, passage.track]
    with open_for(
        area_read(tracks, bool(map_times)),
        forecast,
        passage.vessel,
        departure if past is None else departure - PAST_H * HOUR_S,
        departure + passage_seconds(passage.track),
        options,
        [passage.route],
        (departure, departure + steady_seconds(passage.track)),
    ) as sea:
        made = plan(passage, sea, options)
        if not map_times:
            return made
        return replace(made, sea=sea_along(passage.route, made, sea, map_times))


def plan(passage: Passage, forecast: Forecast, options: PlanOptions) -> PlannedPassage:
    """Plan one passage on an open forecast."""
    earlier = sickness_before(passage, forecast, options, _choices(passage, options, False))
    way, evaluation, speed_words, sailing = sail(passage, forecast, options)
    refuse_no_sea(forecast, way, evaluation)
    refuse_impossible_transfers(passage, way, evaluation, str(options.moves))
    guesses = widen_bands(passage, way, evaluation, options)
    recorded: tuple[str, ...] = ()
    of_record: dict[str, Any] | None = None
    if options.record is not None:
        recorded, of_record = bands_from_record(
            options.record, passage.vessel, way, evaluation, options.fins
        )
    legs = leg_table(
        passage.route, passage.track, way, evaluation, options.departure_s, options.fins
    )
    fill_partial_legs(legs, passage.track.leg, way, evaluation)
    judged = judge_legs(
        passage.vessel, passage.track, way, evaluation, legs, options.departure_s, options.fins
    )
    totals = plan_totals(passage.vessel, legs, evaluation, way, options.fins)
    fans = chances(
        passage, forecast, options, legs, totals, sailing,
        lambda member: _member_legs(passage, forecast, options, member),
        fan_points(evaluation, options.fins),
    )  # fmt: skip
    exceeded = limits_exceeded(passage.vessel, legs, judged)
    reach_km = masked_reach_km(forecast, passage.track, way)
    loops = leg_loops(passage, options, way, evaluation)
    cautions = plan_cautions(
        passage, way, evaluation, legs, options, loops, flows_given(forecast), reach_km, judged
    )
    timing = arrival_cautions(options, way)
    first = (*timing, *earlier, *tank_cautions(passage, way, evaluation))
    cautions = (*first, *doubted_period(forecast), *cautions, *guesses)
    decisions = decisions_of(passage, legs, options, offset_time(passage, way, evaluation, sailing))
    if options.weighting and options.fins == "active":
        mix = weighting_decisions(passage.yacht, passage.track, way, evaluation, legs)
        decisions = (*decisions, *mix)
    points = _points(passage.track, way, evaluation)
    notes = [*recorded, *forecast.notes, *passage.route.notes, *speed_words]
    if passage.speed_note:
        notes.append(passage.speed_note)
    return PlannedPassage(
        vessel_name=passage.vessel.name,
        route_name=passage.route.name,
        departure_s=options.departure_s,
        legs=tuple(legs),
        totals=totals,
        cautions=cautions,
        decisions=decisions,
        provenance=_provenance(passage, forecast, options, of_record),
        points=points,
        notes=tuple(notes),
        limits_exceeded=exceeded,
        judged=judged,
        marks=plan_marks(passage.vessel, passage.route, way.conditions) | {"fans": fans},
        tanks=tank_rows(passage, way, evaluation),
        ends=(passage.track.end_lat_deg, passage.track.end_lon_deg),
        vessel_text=_text_of(passage.vessel),
        fin_loop=margin_rows(loops),
    )


def _provenance(
    passage: Passage, forecast: Forecast, options: PlanOptions, record: dict[str, Any] | None
) -> dict[str, Any]:
    """Files and methods behind the plan, with the record of past passages if one is given."""
    made = provenance(passage, forecast, options)
    if record is None:
        return made
    return made | {"methods": methods_with(record, made["methods"]), "record": record}


def _text_of(vessel: Vessel) -> str:
    """The vessel file as read; empty if the vessel was changed since."""
    if not vessel.text or vessel_from_text(vessel.text) != vessel:
        return ""
    return vessel.text


def _member_legs(
    passage: Passage, forecast: Forecast, options: PlanOptions, member: int
) -> tuple[list[dict[str, Any]], dict[str, Array]]:
    way, evaluation, _ = march_and_evaluate(passage, forecast, options, member)
    made = leg_table(
        passage.route, passage.track, way, evaluation, options.departure_s, options.fins
    )
    judge_legs(
        passage.vessel, passage.track, way, evaluation, made, options.departure_s, options.fins
    )
    return made, fan_points(evaluation, options.fins)


def march_and_evaluate(
    passage: Passage,
    forecast: Forecast,
    options: PlanOptions,
    member: int = 0,
    *,
    band: bool = True,
) -> tuple[March, Evaluation, list[str]]:
    """March and evaluate, a second time if the fuel burnt changes the list.

    Returns the march, the evaluation and notes on the speed. Without ``band`` there are no low
    and high ends.
    """
    return sail(passage, forecast, options, member, band=band)[:3]


def sail(
    passage: Passage,
    forecast: Forecast,
    options: PlanOptions,
    member: int = 0,
    *,
    band: bool = True,
) -> tuple[March, Evaluation, list[str], Sailing]:
    """As :func:`march_and_evaluate`, and the `Sailing` with which draws repeat the march."""
    yacht, track = passage.yacht, passage.track
    words: list[str] = []
    ordered = knots_to_m_s(track.speed_kn)
    held = options.hold == "fuel"
    rule: SpeedRule | None = eased_rule(yacht, None) if options.ease else None

    def marched(
        sea: Any,
        speed_m_s: npt.ArrayLike,
        by: SpeedRule | None,
        which: Any,
        first_s: Array | None = None,
    ) -> March:
        return march(
            track,
            sea,
            options.departure_s,
            speed_m_s,
            hold="ground" if options.hold == "ground" else "water",
            rule=by,
            member=which,
            at_rest_heading=passage.vessel.particulars.anchored_heading,
            first_s=first_s,
        )

    def held_rule(own: OwnDrag | None) -> SpeedRule:
        by = fuel_rule(yacht, options.wave_method, own)
        return eased_rule(yacht, by) if options.ease else by

    def go(speed_m_s: npt.ArrayLike) -> March:
        nonlocal rule
        if not held:
            return marched(forecast, speed_m_s, rule, member)
        made, own = held_way(
            passage.vessel, yacht, track.leg, passage.moves, _choices(passage, options, band),
            lambda by, first_s: marched(forecast, speed_m_s, by, member, first_s),
            held_rule, length_m=track.length_m,
        )  # fmt: skip
        # Draws follow with the drag of the plain plan.
        rule = held_rule(own)
        return made

    def slowed_by(own: OwnDrag, first_s: Array | None) -> March:
        return marched(forecast, ordered, held_rule(own), member, first_s)

    if options.arrive_s is not None:
        ordered, text, way = arrival_speed(yacht, track, go, options.departure_s, options.arrive_s)
        words.append(text)
    else:
        way = go(ordered)
    if options.ease:
        slowed = way.speed_through_water_m_s < np.broadcast_to(ordered, way.hours.shape) - 0.05
        slowed &= track.length_m > 0
        if np.any(slowed):
            words.append(
                f"Eased on legs {_leg_words(track, slowed)} for "
                f"{np.sum(way.hours[slowed]):.1f} h, down to "
                f"{m_s_to_knots(way.speed_through_water_m_s[slowed].min()):.1f} kn, to keep "
                "slamming and vertical acceleration within the limits."
            )
    evaluation, choices = _evaluate_with_drift(passage, way, options, band)
    over = over_engine(yacht, track, evaluation)
    if np.any(over) and rule is None and options.hold == "water":
        # Involuntary speed loss: she cannot hold the speed there and arrives later.
        rule = engine_rule(yacht, options.wave_method)
        way = go(ordered)
        evaluation, choices = _evaluate_with_drift(passage, way, options, band)
        words.append(
            f"On legs {_leg_words(track, over)} sea and wind need more than the engines' "
            f"{yacht.engine.max_fuel_l_per_h:g} l/h: speed falls to "
            f"{m_s_to_knots(np.nanmin(way.speed_through_water_m_s[over])):.1f} kn there."
        )
    elif np.any(over):
        words.append(
            f"On legs {_leg_words(track, over)} this takes more than the engines' "
            f"{yacht.engine.max_fuel_l_per_h:g} l/h; she will not hold it there."
        )
    # Draws, like the plan, slow her for the engines only at a held speed through water.
    free = rule is None and options.hold == "water"

    def again(sea: Any, which: Any, limit: bool) -> March:
        by = engine_rule(yacht, options.wave_method) if limit else rule
        return marched(sea, ordered, by, which, way.sampled_s)

    sailing = Sailing(again, choices, limited=not free, slowed_by=slowed_by if held else None)
    return way, evaluation, words, sailing


def _leg_words(track: Track, where: npt.NDArray[np.bool_]) -> str:
    return ", ".join(str(number) for number in sorted({int(i) + 1 for i in track.leg[where]}))


def _evaluate_with_drift(
    passage: Passage, way: March, options: PlanOptions, band: bool
) -> tuple[Evaluation, Choices]:
    """Evaluate, a second time if the fuel burnt changes the list; also the choices used."""
    return evaluate_loaded(
        passage.vessel, passage.yacht, passage.track.leg, passage.moves, way,
        _choices(passage, options, band), length_m=passage.track.length_m,
    )  # fmt: skip


def _choices(passage: Passage, options: PlanOptions, band: bool) -> Choices:
    """Choices for all points, with the list at departure."""
    return Choices(
        fins=options.fins,
        heel=options.heel,
        list_rad=float(deg_to_rad(passage.vessel.loading.list_deg)),
        wave_method=options.wave_method,
        band=band,
        rest_fins=options.rest_fins,
    )


def _points(track: Track, way: March, evaluation: Evaluation) -> dict[str, npt.NDArray[Any]]:
    """Point values for NetCDF and charts."""
    points: dict[str, npt.NDArray[Any]] = {
        "time_s": way.time_s,
        "lat_deg": track.lat_deg,
        "lon_deg": track.lon_deg,
        "leg": track.leg + 1,
        "coverage": way.conditions.coverage,
    }
    points |= evaluation.values
    points["distance_nm"] = np.asarray(m_to_nm(track.length_m))
    points["track_course_deg"] = wrap_360(rad_to_deg(track.course_rad))
    points["fuel_main_engines_l"] = evaluation.split.main_engines * way.hours
    return points


__all__ = [
    "Passage",
    "PlanOptions",
    "corridor",
    "march_and_evaluate",
    "open_for",
    "passage_seconds",
    "plan",
    "plan_files",
    "prepare",
    "provenance",
    "refuse_no_sea",
]
