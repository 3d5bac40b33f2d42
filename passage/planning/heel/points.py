"""Input of the heel decision at each point, from a passage that was computed.

Offsets of several sizes are tried with the functions of a plan, so that the decision pays
the same for an offset as a plan shows.
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

#: Newtons per tonne, to convert N m to t m.
N_PER_T = 1000.0 * G_M_S2
#: Shares of the largest offset at which roll and fuel are tried.
OFFSET_FRACTIONS: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0)
#: Those that the decision uses: cost beyond the square of the moment is linear in between.
PRICED = slice(None, None, 2)


@dataclass(frozen=True)
class Voyage:
    """A passage computed once with the heel left alone and the fins active.

    ``doubt`` is the doubt in the model that it was evaluated with; arrays may have an axis
    of draws before the points. ``slowed_by`` marches again with another drag, where the
    fuel rate is held.
    """

    passage: Passage
    way: March
    evaluation: Evaluation
    wave_method: str = "all-heading"
    doubt: Doubt = SURE
    slowed_by: Callable[[OwnDrag, Array | None], March] | None = None

    @cached_property
    def calm(self) -> npt.NDArray[np.bool_]:
        """Where roll is within the owner's limit with the fins centred."""
        limit = self.passage.vessel.limits.underway.roll_significant_deg
        if limit is None or not self.passage.yacht.has_fins:
            return np.zeros(self.way.hours.shape, dtype=bool)
        return calm_without(self.evaluation.centred, limit)

    @cached_property
    def rested(self) -> Evaluation:
        """The evaluation with the heel left alone, fins centred where roll does not need them."""
        if not np.any(self.calm):
            return self.evaluation
        choices = replace(left_alone(self), rest_fins=True, calm=self.calm)
        return evaluate(
            self.passage.yacht, self.way, choices, same_sea=self.evaluation, fuel_only=True
        )

    @cached_property
    def upright(self) -> March:
        """The march with no drag but that of fins active against roll; ``way`` at held speed."""
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

    The latter uses the vessel file's share of the range up to the stall; 0 where an offset
    is not allowed or the sea is not known.
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
    """The passage evaluated with the fins holding a moment [t m] at each point."""
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
    """Choices with the heel left alone and fins active, with list and GM point by point."""
    numbers = voyage.evaluation.numbers
    # The evaluation adds the effect of a doubt in GM on the observed list, so take it off.
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
    """Fuel for the hydraulics of centred fins. [l/h]"""
    hotel = passage.vessel.hotel
    idle = hotel.fins_kw_centred * hotel.generator_specific_fuel_g_per_kwh / 1000.0
    return idle / passage.vessel.propulsion.fuel_density_t_m3


def work_l(voyage: Voyage) -> Array:
    """Fuel of active over centred fins, where roll alone would leave them centred. [l]

    The drag of centred fins is in the owner's speed-fuel points already. 0 where roll needs
    the fins, and everywhere without an owner's limit of roll.
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
    """Results of offsets of several sizes; each list has one array for each fraction.

    ``moment`` is that of the fins per radian, ``most`` the largest they hold [t m]; fuel
    without the hull's drag by heel [l], significant roll [deg], time at a limit [%].
    """

    moment: Array
    most: Array
    fuel: list[Array]
    rolls: list[Array]
    limits: list[Array]

    def row(self, at: int) -> Tries:
        """The results of one draw."""
        lists = ([each[at] for each in one] for one in (self.fuel, self.rolls, self.limits))
        return Tries(self.moment[at], self.most[at], *lists)


def offset_tries(voyage: Voyage, fractions: Sequence[float]) -> Tries:
    """Offsets tried at every point, as shares of the largest that the fins hold."""
    evaluation, hull = voyage.evaluation, voyage.passage.vessel.particulars
    moment, most = most_held_t_m(voyage)
    side = np.where(evaluation.static_heel_rad < 0.0, -1.0, 1.0)
    # Where roll drives the fins to their limits, the largest offset holds less.
    spent = _tried(voyage, most * side)
    left = np.asarray(voyage.doubt.gm) * spent.active.mean_heel_rad
    held = (evaluation.static_heel_rad - left) * side * hull.displacement_t * hull.gm_m
    most = np.where(most > 0.0, np.clip(np.nan_to_num(held), 0.0, most), 0.0)
    tries = Tries(moment, most, [], [], [])
    for fraction in fractions:
        made = {0.0: evaluation, 1.0: spent}.get(fraction) or _tried(voyage, fraction * most * side)
        # The hull's drag by heel is priced separately.
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
    """The points, and by leg the roll and the time at a limit with offsets.

    ``every_hours`` allows a transfer at that interval, not only as legs begin;
    ``priced_only`` leaves out the offsets that are only shown; ``tries`` are results for
    the same fractions, if computed already.
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
    # The least price per moment squared; the rest is added point by point.
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
        # Fins needed neither for roll nor for heel stand centred in every way compared.
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
        sea_unknown=np.isnan(values["fuel_l"]),
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
    """Points at which another interval of hours begins; None without an interval."""
    if every_hours is None:
        return None
    begin = np.nancumsum(hours) - np.nan_to_num(hours)
    count = np.floor(begin / every_hours + 1e-9)
    return np.asarray(np.r_[False, np.diff(count) > 0.0])
