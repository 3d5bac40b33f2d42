"""``passage heel``: from files to the heel decision, point by point.

The passage is computed once with the heel left alone, which gives fuel, wind moment and
roll at every point. Fin offsets are then tried at every point, which gives their cost and
their extra roll. The decision is made on plain arrays, and every way it compares is then
computed again as a plan.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import PassageError, VesselError
from passage.inputs.forecast import Forecast
from passage.inputs.route import Route, make_track
from passage.inputs.vessel import Vessel
from passage.planning.heel.asked import Asked
from passage.planning.heel.breakeven import BreakEven
from passage.planning.heel.build import HeelPrices, build_problem
from passage.planning.heel.cards import GUESSED, NO_TANKS, Card, heel_cards, not_allowed_words
from passage.planning.heel.cautions import sea_cautions
from passage.planning.heel.chances import (
    USUAL_ODDS,
    HeelChances,
    candidates,
    drawn_problems,
    few_known,
    plan_unknown,
    weigh,
)
from passage.planning.heel.choice import advised_last
from passage.planning.heel.curve import passage_curve
from passage.planning.heel.fin_use import FinDecision, fin_words, fins_by_leg
from passage.planning.heel.flip import soonest_flip
from passage.planning.heel.headline import headline, known_words
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import Comparison, Priced, compare_policies
from passage.planning.heel.points import OFFSET_FRACTIONS, Voyage, heel_points
from passage.planning.heel.reason import because
from passage.planning.heel.report import HeelPlan, heel_plan
from passage.planning.heel.rules import guessed_stability
from passage.planning.heel.sailed import sailed
from passage.planning.heel.sensitivity import Change, Variation, same_moves, sensitivities
from passage.planning.heel.shown import centred_for_a_while, chart_points, wind_unknown_at
from passage.planning.odds.versions import versions_of
from passage.planning.plan.cautions import coverage_gaps
from passage.planning.plan.cautions_flows import doubted_period, missing_flows, short_flows
from passage.planning.plan.legtable import leg_table
from passage.planning.plan.partial import masked_reach_km
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
    sail,
    steady_seconds,
)
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.flows import flows_given
from passage.planning.voyage.legs import leg_starts, leg_sum
from passage.planning.voyage.prepare import as_route, as_vessel
from passage.planning.voyage.threads import in_threads, meanwhile
from passage.units import HOUR_S

Array = npt.NDArray[np.float64]

__all__ = ["OFFSET_FRACTIONS", "HeelAnswer", "HeelPrices", "heel_files"]

#: Departures this much earlier and later are tried too. [h]
OTHER_DEPARTURE_H = 6.0
#: Least time between points for them, for the draws and for changed problems: as in a plan
#: unless the user asks for another. [min]
COARSEST_MINUTES = 20.0


@dataclass(frozen=True)
class HeelAnswer:
    """The decision with all that the reports need.

    ``offset_roll_deg`` ``(legs, fractions)`` is the significant roll with offsets of
    ``OFFSET_FRACTIONS`` of the largest, ``at_limit_percent`` the time at a limit.
    ``verdict`` is one sentence: the advice, its price, and the heel that is left.
    ``points`` holds arrays over the points of the passage, for charts. ``sea_unknown`` and
    ``wind_unknown`` ``(n,)`` are points that the forecast leaves out.
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
    chances: HeelChances | None = None
    sea_unknown: npt.NDArray[np.bool_] | None = None
    wind_unknown: npt.NDArray[np.bool_] | None = None

    @property
    def unknown(self) -> npt.NDArray[np.bool_]:
        """``(n,)`` points where sea or wind, and so the heel, is not known."""
        none = np.zeros(len(self.points["time_s"]), dtype=bool)
        parts = [one for one in (self.sea_unknown, self.wind_unknown) if one is not None]
        return np.logical_or.reduce([none, *parts])

    @property
    def state(self) -> str:
        """Of the limit of heel: "within", "over", or "unknown" where neither is known."""
        within = self.within(self.plan.plan)
        return "unknown" if within is None else "within" if within else "over"

    def within(self, way: Priced) -> bool | None:
        """Whether a way keeps the limit of heel; None where part of it is not known."""
        if way.known_legs_over:
            return False
        return None if self.unknown.any() else way.within_limit


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
    odds: float | None = None,
) -> HeelAnswer:
    """Read the files, compute the passage, and decide.

    ``odds`` is the least chance of keeping the heel limit [%] that the advice must have,
    where the forecast has members or ``options`` ask for draws; None takes the usual.

    ``no_transfer_legs`` are numbers, from 1, of legs before which the master allows no
    transfer; ``transfer_every_h`` also allows one at that interval.

    Raises
    ------
    PassageError
        Something in the files is wrong, or no sequence keeps every rule.
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
        # The effect of a transfer on stability cannot be judged from an estimate.
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
        [route],
        (departure, departure + steady_seconds(passage.track)),
    ) as sea:
        return decided(
            passage,
            sea,
            options,
            prices,
            no_transfer_legs,
            transfer_every_h,
            guess=guess,
            seconds=seconds,
            odds=odds,
        )


def decided(
    passage: Passage,
    sea: Forecast,
    options: PlanOptions,
    prices: HeelPrices,
    no_transfer_legs: Sequence[int] = (),
    transfer_every_h: float | None = None,
    *,
    guess: str = "",
    seconds: float = 20.0,
    odds: float | None = None,
) -> HeelAnswer:
    """The decision on an open forecast; ``guess`` names the stability that is estimated."""
    vessel, route, departure = passage.vessel, passage.route, options.departure_s
    later = OTHER_DEPARTURE_H * HOUR_S
    way, evaluation, words, sailing = sail(passage, sea, options, band=False)
    refuse_no_sea(sea, way, evaluation)
    spoken = (passage.speed_note,) if passage.speed_note else ()
    notes = (*sea.notes, *route.notes, *words, *spoken)
    given = flows_given(sea)
    reach_km = masked_reach_km(sea, passage.track, way)
    missing = [*missing_flows(passage.track, way, given), *short_flows(passage, way, given)]
    origin = provenance(passage, sea, options)
    voyage = Voyage(passage, way, evaluation, options.wave_method, slowed_by=sailing.slowed_by)

    def problem_of(one: Voyage, leg_rows: Sequence[dict[str, Any]]) -> HeelProblem:
        points = heel_points(
            one, leg_rows, no_transfer_legs, every_hours=transfer_every_h, priced_only=True
        )[0]
        return build_problem(vessel, points, prices)

    others: list[Variation] = []
    # Changed problems and odds need no finer points than those of a plan.
    coarse, rough = passage, voyage
    if options.minutes < COARSEST_MINUTES:
        track = make_track(passage.route, passage.speed_kn, COARSEST_MINUTES)
        coarse = replace(passage, track=track)
        there, here, _, sailing = sail(coarse, sea, options, band=False)
        rough = Voyage(coarse, there, here, options.wave_method)
    legs = leg_table(route, passage.track, way, evaluation, departure)
    for sign, word in ((-1.0, "earlier"), (1.0, "later")):
        moved = replace(options, departure_s=departure + sign * later)
        other_way, other, _ = march_and_evaluate(coarse, sea, moved, band=False)
        if np.any(_legs_unknown(coarse, other) & ~_legs_unknown(passage, evaluation)):
            continue
        others.append(
            Variation(
                f"leaving {OTHER_DEPARTURE_H:g} h {word}",
                problem_of(Voyage(coarse, other_way, other, options.wave_method), legs),
                "departure",
            )
        )
    sea_unknown = np.isnan(evaluation.values["fuel_l"])
    wind_unknown = wind_unknown_at(passage, evaluation, missing)
    unknown = known_words(passage.track.leg, sea_unknown, wind_unknown)
    versions = versions_of(sea, departure, options.draws, options.forecast_error)
    wanted = versions is not None
    if unknown:
        # Draws would only show what they cover, and be the better for it.
        versions = None

    def draws() -> list[HeelProblem]:
        if versions is None:
            return []
        return drawn_problems(
            rough, sailing, versions, legs, prices, no_transfer_legs, transfer_every_h
        )

    with meanwhile(draws) as drawn_then:
        # What is only shown needs no finer points either.
        arrays, offset_roll, at_limit = heel_points(
            rough, legs, no_transfer_legs, every_hours=transfer_every_h
        )
        problem = (
            problem_of(voyage, legs)
            if rough is not voyage
            else build_problem(vessel, arrays, prices)
        )
        comparison = _sailed(voyage, compare_policies(problem, seconds=seconds))
        # In time of this thread, shared by both pieces of advice that may be tested.
        until = time.thread_time() + max(seconds / 40.0, 0.5)
        question = comparison.problem
        if rough is not voyage:
            smallest = question.smallest_transfer_m3
            question = replace(problem_of(rough, legs), smallest_transfer_m3=smallest)
        asked: dict[str, Asked] = {}

        def asked_again() -> tuple[Change, ...]:
            moves = same_moves(comparison.problem, question, comparison.plan.moves)
            return sensitivities(question, moves, others, until=until, asked=asked)

        changes = asked_again()
        drawn = drawn_then()
    chances = None
    if versions is not None:
        ways = candidates(comparison, question, changes)
        limit = USUAL_ODDS if odds is None else odds
        chances = weigh(ways, comparison.problem, drawn, versions, departure, limit)
    if chances is not None and chances.changed:
        comparison = _advised(voyage, comparison, chances.advice.priced)
        changes = asked_again()
    wind_kn = rough.evaluation.values["wind_speed_kn"]
    flip = None
    moves = same_moves(comparison.problem, question, comparison.plan.moves)
    if chances is None or not chances.changed or not Asked(question).flips(moves):
        # Where only the draws support the advice, a change of the forecast proves nothing.
        flip = soonest_flip(
            comparison, changes, wind_kn, question=question, seconds=max(seconds / 8.0, 1.0)
        )
    forbidden = {*no_transfer_legs}
    forbidden |= {n for n, leg in enumerate(route.legs, 1) if leg.transfer is False}
    barred = not_allowed_words(comparison.problem, forbidden)
    cards = heel_cards(comparison, voyage, flip, GUESSED if guess else NO_TANKS, barred)
    shown = [(card.way, card.priced) for card in cards if not card.advised]
    besides = [replace(one, name=way) for way, one in shown if one is not None and not one.name]
    plan = heel_plan(comparison, changes, flip, besides, options.hold)
    decision = fins_by_leg(passage, way, evaluation)
    return HeelAnswer(
        plan=plan,
        verdict=headline(
            comparison,
            flip,
            known=unknown,
            hold=options.hold,
            why=because(comparison, cards, hold=options.hold, chances=chances),
        ),
        cards=cards,
        legs=tuple(legs),
        curve=passage_curve(passage, problem),
        fin_use=decision,
        fin_use_words=fin_words(decision, comparison.plan)
        if vessel.fins
        else tuple("none: no fins fitted" for _ in legs),
        offset_roll_deg=offset_roll,
        at_limit_percent=at_limit,
        cautions=(
            *coverage_gaps(legs, way, passage, reach_km),
            *missing,
            *doubted_period(sea),
            *([few_known(len(drawn), versions)] if versions is not None and not chances else []),
            *([plan_unknown()] if wanted and versions is None else []),
            *([Caution("gm_estimated", "warning", (), guess)] if guess else []),
            *plan.cautions,
            *sea_cautions(passage, options, way, evaluation, plan.plan),
            *centred_for_a_while(passage, way, evaluation, comparison),
        ),
        notes=(*notes, *problem.notes),
        provenance=origin,
        vessel_name=vessel.name,
        route_name=route.name,
        departure_s=departure,
        points=chart_points(voyage, comparison),
        hold=options.hold,
        chances=chances,
        sea_unknown=sea_unknown,
        wind_unknown=wind_unknown,
    )


def _advised(voyage: Voyage, comparison: Comparison, way: Priced) -> Comparison:
    """The comparison with another way advised."""
    plan, _ = sailed(voyage, comparison.problem, way)
    others = tuple(one for one in comparison.policies if one.name != way.name)
    return replace(comparison, plan=plan, policies=(*others, plan))


def _legs_unknown(passage: Passage, evaluation: Evaluation) -> npt.NDArray[np.bool_]:
    """Legs with a point whose fuel is not known."""
    return np.isnan(leg_sum(evaluation.values["fuel_l"], leg_starts(passage.track.leg)))


def _sailed(voyage: Voyage, comparison: Comparison) -> Comparison:
    """Every way of the comparison with the litres and heel of its plan.

    A way that is then cheaper than the choice of the search is advised, and a use of the
    fins that saves almost nothing over a simpler one is left out.
    """
    problem = comparison.problem
    _ = voyage.rested, voyage.upright  # before the threads that share them
    policies = advised_last(
        tuple(in_threads(comparison.policies, lambda one: sailed(voyage, problem, one)[0]))
    )
    return replace(comparison, policies=policies, plan=policies[-1])
