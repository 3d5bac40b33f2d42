"""What the heel decision needs to know at each point, from a passage that was voyage.

Offsets of several sizes are tried with the very functions a plan uses, so that what
the decision pays for an offset is what a plan shows for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.planning.heel.build import HeelPoints
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.held import HELD_ROUNDS
from passage.planning.voyage.legs import leg_starts, leg_sum
from passage.planning.voyage.march import March
from passage.planning.voyage.policy import OwnDrag
from passage.planning.voyage.prepare import Passage
from passage.planning.voyage.rolling import SURE, Choices, Doubt, calm_without
from passage.units import G_M_S2, deg_to_rad, rad_to_deg

Array = npt.NDArray[np.float64]

#: Newtons of a tonne, to turn N m into t m.
N_PER_T = 1000.0 * G_M_S2
#: Shares of the largest offset at which roll and fuel are tried.
OFFSET_FRACTIONS: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0)
#: Those between which the decision takes what is beyond the square as straight.
PRICED = slice(None, None, 2)


@dataclass(frozen=True)
class Voyage:
    """A passage voyage once with the heel left alone and the fins at work.

    ``doubt`` is the model's that it was evaluated with; draws may stand before the points.
    ``slowed_by`` sails her again with another drag where the fuel rate is held.
    """

    passage: Passage
    way: March
    evaluation: Evaluation
    wave_method: str = "all-heading"
    doubt: Doubt = SURE
    slowed_by: Callable[[OwnDrag, Array | None], March] | None = None

    @cached_property
    def calm(self) -> npt.NDArray[np.bool_]:
        """Where roll keeps within the owner's limit with the fins centred."""
        limit = self.passage.vessel.limits.underway.roll_significant_deg
        if limit is None or not self.passage.yacht.has_fins:
            return np.zeros(self.way.hours.shape, dtype=bool)
        return calm_without(self.evaluation.centred, limit)

    @cached_property
    def rested(self) -> Evaluation:
        """The heel left alone, the fins centred where roll does not need them."""
        if not np.any(self.calm):
            return self.evaluation
        choices = replace(left_alone(self), rest_fins=True, calm=self.calm)
        return evaluate(
            self.passage.yacht, self.way, choices, same_sea=self.evaluation, fuel_only=True
        )

    @cached_property
    def upright(self) -> March:
        """The way with nothing dragging but fins at work against roll; ``way`` at held speed."""
        way, here = self.way, self.rested
        if self.slowed_by is None:
            return way
        choices = replace(left_alone(self), rest_fins=True)
        for turn in range(HELD_ROUNDS):
            if turn:
                here = evaluate(self.passage.yacht, way, choices, fuel_only=True)
            own = OwnDrag(np.nan_to_num(here.values["fin_drag_active_n"]))
            way = self.slowed_by(own, way.sampled_s)
        return way

    @property
    def starts(self) -> npt.NDArray[np.int_]:
        """First point of each leg."""
        return leg_starts(self.passage.track.leg)


def most_held_t_m(voyage: Voyage) -> tuple[Array, Array]:
    """Moment of the fins per radian [t m], and the largest steady one they may hold [t m].

    The latter is the vessel file's share of the range up to the stall, and 0 where an
    offset is not open or the sea is not known.
    """
    yacht, evaluation = voyage.passage.yacht, voyage.evaluation
    stw = voyage.way.speed_through_water_m_s
    if not yacht.has_fins:
        zero = np.zeros(stw.shape)
        return zero, zero
    fins = yacht.fins_at(stw)
    moment = np.sum(fins.moment_ratio, axis=-1) * yacht.righting_n_m_per_rad / N_PER_T
    open_ = (evaluation.fin_use == use.ACTIVE) & ~np.isnan(evaluation.excitation[..., 0])
    most = moment * float(np.min(yacht.offset_most_rad))
    return moment, np.where(open_ & (most > 0.0), most, 0.0)


def _tried(voyage: Voyage, held_t_m: Array) -> Evaluation:
    """The passage with the fins holding a moment at each point. [t m]"""
    hull = voyage.passage.vessel.particulars
    hold_rad = held_t_m / (hull.displacement_t * hull.gm_m)
    return evaluate(
        voyage.passage.yacht,
        voyage.way,
        replace(left_alone(voyage), hold_rad=hold_rad),
        same_sea=voyage.evaluation,
        fuel_only=True,
    )


def left_alone(voyage: Voyage) -> Choices:
    """The heel left alone, the fins at work, with the list and GM she has point by point."""
    numbers = voyage.evaluation.numbers
    # What a doubt of GM adds to a list that was seen is added again when evaluated.
    seen = deg_to_rad(voyage.passage.vessel.loading.list_deg)
    listed = voyage.evaluation.static_heel_rad - numbers["wind_heel_rad"]
    return Choices(
        heel="leave",
        list_rad=np.asarray(listed - (np.asarray(voyage.doubt.gm) - 1.0) * seen),
        wave_method=voyage.wave_method,
        band=False,
        stiffness_ratio=numbers["stiffness_ratio"],
        gm_ratio=numbers["gm_ratio"],
        doubt=voyage.doubt,
    )


def idle_l_per_h(passage: Passage) -> float:
    """Fuel for the hydraulics of centred fins."""
    hotel = passage.vessel.hotel
    idle = hotel.fins_kw_centred * hotel.generator_specific_fuel_g_per_kwh / 1000.0
    return idle / passage.vessel.propulsion.fuel_density_t_m3


def work_l(voyage: Voyage) -> Array:
    """What fins at work burn over fins centred, where the roll would have them centred.

    The drag of fins held centred is in the owner's speed-fuel points already. 0 where
    the roll needs them, and everywhere without an owner's limit of roll.
    """
    values, vessel = voyage.evaluation.values, voyage.passage.vessel
    limit = vessel.limits.underway.roll_significant_deg
    if limit is None or not vessel.fins:
        return np.zeros(voyage.way.hours.shape)
    calm = values["roll_centred_significant_deg"] <= limit
    more = values["fuel_fins_active_l"] - idle_l_per_h(voyage.passage) * voyage.way.hours
    open_ = calm & (voyage.evaluation.fin_use == use.ACTIVE)
    return np.where(open_, np.maximum(np.nan_to_num(more), 0.0), 0.0)


@dataclass(frozen=True)
class Tries:
    """What offsets of several sizes give at points; a list has one array P a fraction.

    ``moment`` of the fins per radian and the ``most`` they hold [t m]; fuel without the
    heel's own price [l], significant roll [deg], time at a limit [%].
    """

    moment: Array
    most: Array
    fuel: list[Array]
    rolls: list[Array]
    limits: list[Array]

    def row(self, at: int) -> Tries:
        """That of one draw."""
        lists = ([each[at] for each in one] for one in (self.fuel, self.rolls, self.limits))
        return Tries(self.moment[at], self.most[at], *lists)


def offset_tries(voyage: Voyage, fractions: Sequence[float]) -> Tries:
    """Offsets tried at every point, of shares of the most that the fins hold."""
    evaluation, hull = voyage.evaluation, voyage.passage.vessel.particulars
    moment, most = most_held_t_m(voyage)
    side = np.where(evaluation.static_heel_rad < 0.0, -1.0, 1.0)
    # Where the roll drives the fins to their limits the whole offset holds less.
    spent = _tried(voyage, most * side)
    left = np.asarray(voyage.doubt.gm) * spent.active.mean_heel_rad
    held = (evaluation.static_heel_rad - left) * side * hull.displacement_t * hull.gm_m
    most = np.where(most > 0.0, np.clip(np.nan_to_num(held), 0.0, most), 0.0)
    tries = Tries(moment, most, [], [], [])
    for fraction in fractions:
        made = {0.0: evaluation, 1.0: spent}.get(fraction) or _tried(voyage, fraction * most * side)
        # Heel is priced apart: the fins' share of the fuel is all but the hull's.
        tries.fuel.append(made.values["fuel_l"] - made.values["fuel_list_l"])
        tries.rolls.append(made.values["roll_active_significant_deg"])
        tries.limits.append(made.values["fin_at_limit_percent"])
    return tries


def heel_points(
    voyage: Voyage,
    legs: Sequence[dict[str, Any]],
    no_transfer_legs: Sequence[int] = (),
    *,
    every_hours: float | None = None,
    priced_only: bool = False,
    tries: Tries | None = None,
) -> tuple[HeelPoints, Array, Array]:
    """The points, and by leg the roll and the time at the limit with offsets.

    ``every_hours`` allows a transfer at that interval, not only as legs begin;
    ``priced_only`` leaves out the offsets that are only shown; ``tries`` are those of
    the same fractions, if made already.
    """
    passage, way, evaluation = voyage.passage, voyage.way, voyage.evaluation
    track, values, hours = passage.track, evaluation.values, way.hours
    hull = passage.vessel.particulars
    stiffness_t_m = hull.displacement_t * hull.gm_m
    fractions = OFFSET_FRACTIONS[PRICED] if priced_only else OFFSET_FRACTIONS
    tries = tries or offset_tries(voyage, fractions)
    moment, most = tries.moment, tries.most
    fuel, rolls, limits = tries.fuel, tries.rolls, tries.limits
    extra = np.stack(fuel, axis=-1) - fuel[0][:, None]
    squares = (np.array(fractions) * most[:, None]) ** 2
    # The least price per moment squared; what is above it enters point by point.
    ratio = np.where(squares > 0.0, extra / np.where(squares > 0.0, squares, 1.0), np.inf)
    least = np.min(ratio, axis=-1)
    per_moment2 = np.where(most > 0.0, np.maximum(least, 0.0), 0.0)
    more = np.where(np.isfinite(extra), extra - per_moment2[:, None] * squares, 0.0)
    starts, names = voyage.starts, _names(legs)
    work = work_l(voyage)
    priced = slice(None) if priced_only else PRICED
    arrays = HeelPoints(
        names=names,
        leg=track.leg,
        length_m=track.length_m,
        hours=hours,
        speed_kn=values["speed_through_water_kn"],
        # Fins that neither roll nor a heel needs stand centred, in every way that is compared.
        fuel_l=values["fuel_l"] - work,
        wind_moment_t_m=stiffness_t_m * np.tan(evaluation.numbers["wind_heel_rad"]),
        roll_significant_deg=values["roll_active_significant_deg"],
        fin_l_per_moment2=per_moment2,
        fin_moment_max_t_m=most,
        hold_l=work,
        hull_fuel_l=values["fuel_still_water_l"],
        fin_angle_per_moment_deg=rad_to_deg(1.0 / np.where(moment > 1e-200, moment, np.nan))
        if passage.yacht.has_fins
        else None,
        offset_forbidden=most <= 0.0,
        transfer_forbidden=_forbidden(voyage, no_transfer_legs),
        transfer_asked=_asked(hours, every_hours),
        offset_fraction=np.array(OFFSET_FRACTIONS)[PRICED] if passage.yacht.has_fins else None,
        offset_price_l=np.maximum(more, 0.0)[:, priced],
        offset_roll_deg=np.stack(rolls, axis=-1)[:, priced],
    )
    weight = leg_sum(hours, starts)[:, None]

    def by_leg(columns: list[Array]) -> Array:
        table = np.stack(columns, axis=-1) * hours[:, None]
        return np.add.reduceat(table, starts, axis=0) / weight

    return arrays, by_leg(rolls), by_leg(limits)


def _names(legs: Sequence[dict[str, Any]]) -> tuple[str, ...]:
    return tuple(
        f"{leg['from']} to {leg['to']}" if leg["type"] != "stay" else f"stay at {leg['to']}"
        for leg in legs
    )


def _forbidden(voyage: Voyage, no_transfer_legs: Sequence[int]) -> npt.NDArray[np.bool_]:
    """Points before which the master or the route forbids a transfer."""
    track, route = voyage.passage.track, voyage.passage.route
    legs = {number - 1 for number in no_transfer_legs}
    legs |= {i for i, leg in enumerate(route.legs) if leg.transfer is False}
    out = np.zeros(len(track), dtype=bool)
    out[voyage.starts[[leg for leg in sorted(legs) if leg < len(voyage.starts)]]] = True
    return out


def _asked(hours: Array, every_hours: float | None) -> npt.NDArray[np.bool_] | None:
    """Points at which an interval of hours comes round."""
    if every_hours is None:
        return None
    begin = np.nancumsum(hours) - np.nan_to_num(hours)
    count = np.floor(begin / every_hours + 1e-9)
    return np.asarray(np.r_[False, np.diff(count) > 0.0])
