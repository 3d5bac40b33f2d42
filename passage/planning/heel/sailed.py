"""A way of living with heel computed as a plan: its litres, heel and time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from passage.physics.fuel.propulsion import displacement_factor
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import SEA, HeelProblem
from passage.planning.heel.moves import Move, moved_by
from passage.planning.heel.options import Priced, price
from passage.planning.heel.points import Voyage
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.held import HELD_ROUNDS, lost_to, own_drag
from passage.planning.voyage.list_drift import gm_ratio, list_of, stiffness_ratio
from passage.planning.voyage.loading import Shift, carried_t, loading_along
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import Choices

Array = npt.NDArray[np.float64]

#: Share of the fuel by which a policy may differ before its own draw-down is computed.
SAME_FUEL = 0.005
#: Excess of a tank that is only rounding, and the room left where an amount is cut. [m3]
_SAME_M3, _ROOM_M3 = 1e-6, 1e-3


def shifts(moves: Sequence[Move]) -> tuple[Shift, ...]:
    """Moves in the form needed by the loading along the passage."""
    return tuple(Shift(m.point, m.source, m.target, m.amount_m3) for m in moves)


def roll_let_through_deg(voyage: Voyage, fins_t_m: Array, roll_deg: Array) -> Array:
    """Extra significant roll over the same fins without an offset, at each point. [deg]"""
    name = "roll_active_significant_deg"
    worked, rested = voyage.evaluation.values[name], voyage.rested.values[name]
    return np.asarray(roll_deg - np.where(np.abs(fins_t_m) > 0.0, worked, rested))


def within_tanks(problem: HeelProblem, moves: tuple[Move, ...]) -> tuple[Move, ...]:
    """The moves with amounts cut so that no tank goes over its capacity or under its minimum.

    For the burn of ``problem``; a minimum that the burn alone would break is not judged.
    """
    moves = tuple(sorted(moves, key=lambda move: move.point))
    base, tanks = problem.content_start_m3, problem.tank_arrays
    planned = base - problem.burn_m3
    floor = np.minimum(tanks.minimum_m3, planned)
    for _ in range(2 * len(moves)):
        moved = moved_by(problem, moves)
        over = base + moved - tanks.capacity_m3
        under = floor - (planned + moved)
        excess = np.maximum(over, under)
        touched = {i for move in moves for i in (move.source, move.target)} - {SEA}
        some = sorted(touched, key=lambda index: -float(excess[:, index].max()))
        if not some or excess[:, some[0]].max() <= _SAME_M3:
            break
        index = some[0]
        point = int(np.argmax(excess[:, index]))
        full = over[point, index] >= under[point, index]
        last = max(
            at for at, move in enumerate(moves)
            if move.point <= point and index == (move.target if full else move.source)
        )  # fmt: skip
        cut = min(float(excess[point, index]) + _ROOM_M3, moves[last].amount_m3)
        less = replace(moves[last], amount_m3=moves[last].amount_m3 - cut)
        moves = (*moves[:last], less, *moves[last + 1 :])
    return tuple(move for move in moves if move.amount_m3 > _SAME_M3)


def sailed(
    voyage: Voyage, problem: HeelProblem, one: Priced, turns: int = 3
) -> tuple[Priced, Evaluation]:
    """A policy priced again from its plan: fuel, heel and time.

    Its litres are those of the plan with this use of the fins, less those of the plan with
    the heel left alone, plus the hull's own drag under that heel. So any two policies
    differ by as much as their plans. Where it burns less or more than the search assumed and a
    tank would be overfilled or emptied, the amounts are cut and it is priced again, up to
    ``turns`` times.
    """
    passage, way, base = voyage.passage, voyage.way, voyage.rested
    held = voyage.slowed_by is not None
    vessel, track = passage.vessel, passage.track
    hull = vessel.particulars
    weight = carried_t(vessel, shifts(one.moves), len(track))
    ratio = (hull.displacement_t + weight) / vessel.propulsion.trial_displacement_t
    # Heel left by the fins, as an angle at the GM of the vessel file.
    left = np.arctan((one.moment_t_m - one.fins_t_m) / (hull.displacement_t * hull.gm_m))

    def burning(fuel_l: Array, way: March, last: Evaluation) -> tuple[Evaluation, Choices]:
        """The way evaluated with the tanks drawn down by this fuel, and the last wind heel."""
        loading = loading_along(
            vessel, track.leg, fuel_l, shifts(one.moves), length_m=track.length_m
        )
        listed = list_of(vessel, loading)
        static = listed + last.numbers["wind_heel_rad"]
        hold = np.where(np.abs(one.fins_t_m) > 0.0, static - left, 0.0)
        # In another march she meets another wind, so a rule, where there is one, decides.
        ruled = {"all": "fins", "to the limit": "limit" if held else ""}.get(one.rule, "")
        choices = Choices(
            heel=ruled or "leave",
            list_rad=listed,
            wave_method=voyage.wave_method,
            band=False,
            displacement_ratio=ratio,
            stiffness_ratio=stiffness_ratio(vessel, loading),
            gm_ratio=gm_ratio(vessel, loading),
            hold_rad=None if ruled else hold,
            rest_fins=True,
            calm=voyage.calm if way is voyage.way else None,
        )
        same_sea = base if way is voyage.way else None
        return evaluate(passage.yacht, way, choices, same_sea=same_sea, fuel_only=True), choices

    if voyage.slowed_by is None:
        made, _ = burning(base.values["fuel_l"], way, base)
        change_l = float(np.nansum(made.values["fuel_l"] - base.values["fuel_l"]))
        if abs(change_l) > SAME_FUEL * np.nansum(base.values["fuel_l"]):
            # The extra fuel changes how the tanks are drawn down.
            made, _ = burning(made.values["fuel_l"], way, base)
    else:
        made, choices = burning(base.values["fuel_l"], way, base)
        for _ in range(HELD_ROUNDS):
            own = own_drag(passage.yacht, way, made, choices)
            way = voyage.slowed_by(own, way.sampled_s)
            made, choices = burning(made.values["fuel_l"], way, made)
    values = made.values
    known = np.isfinite(values["fuel_l"]) & np.isfinite(base.values["fuel_l"])

    def part(name: str) -> Array:
        return np.where(known, values[name], 0.0)

    offset, listed = part("fuel_fins_offset_l"), part("fuel_list_l")
    lost: tuple[float, float] | None = None
    if held:
        # Speed and hours differ, so these are shares of the held rate, not differences.
        lost = lost_to(voyage.upright, way)
        share = 1.0 - displacement_factor(passage.yacht.displacement_ratio / ratio)
        ballast = part("fuel_still_water_l") * share
        rest = part("fuel_fins_active_l") - np.nan_to_num(base.values["fuel_fins_active_l"])
    else:
        still, name = base.values["fuel_still_water_l"], "fuel_still_water_l"
        ballast = np.where(known, values[name] - still, 0.0)
        change = np.where(known, values["fuel_l"] - base.values["fuel_l"], 0.0)
        rest = change + np.where(known, base.values["fuel_list_l"], 0.0) - offset - listed - ballast
    heel = np.where(known, values["steady_heel_deg"], one.heel_deg)
    total = float(values["fuel_l"].sum())
    roll = values["roll_active_significant_deg"]
    more = roll_let_through_deg(voyage, one.fins_t_m, roll)
    loaded = loading_along(
        vessel, track.leg, values["fuel_l"], shifts(one.moves), length_m=track.length_m
    )
    moves = within_tanks(replace(problem, burn_m3=loaded.burn_m3), one.moves) if one.moves else ()
    if moves != one.moves and turns:
        again = price(problem, LegCost.of(problem), moves, one.rule, one.name)
        return sailed(voyage, problem, again, turns - 1)
    return (
        replace(
            one,
            heel_deg=heel,
            fin_drag_l=offset,
            fin_work_l=rest,
            heel_drag_l=listed,
            ballast_l=ballast,
            roll_worth_l=problem.roll_l_per_deg_h
            * way.hours
            * np.maximum(np.nan_to_num(more), 0.0),
            roll_significant_deg=roll,
            passage_fuel_l=total if np.isfinite(total) else None,
            burn_m3=loaded.burn_m3,
            hours=way.hours,
            time_s=way.time_s,
            lost_h=None if lost is None or not np.isfinite(lost[0]) else lost[0],
            lost_nm=None if lost is None or not np.isfinite(lost[1]) else lost[1],
        ),
        made,
    )
