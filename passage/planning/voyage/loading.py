"""Weights, moments, stability and trim along a passage, tank by tank.

Fuel burnt and liquid moved change heeling moment, displacement, fluid GM, draught and trim.
The list observed at departure and the GM of the vessel file belong to the contents of the
tanks in that file; this module computes the changes from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.moves_file import Order
from passage.inputs.vessel import Vessel
from passage.physics.hull.stability import (
    is_slack_through,
    sinkage_m_per_t,
    trim_m_per_t_m,
)
from passage.units import deg_to_rad, nm_to_m

Array = npt.NDArray[np.float64]
#: Index of the sea, as source or target of ballast.
SEA = -1


@dataclass(frozen=True)
class Shift:
    """Liquid moved before a point (0-based) between tanks, by index; `SEA` is the sea."""

    point: int
    source: int
    target: int
    amount_m3: float


@dataclass(frozen=True)
class Loading:
    """Loading at points; arrays ``L + (n,)``, tanks on a further last axis.

    ``moment_t_m`` is the heeling moment of list, burn, events and moves, positive to
    starboard; ``stiffness_t_m`` is displacement times fluid GM; ``trim_m`` is the change of
    trim since departure, positive by the bow, NaN where a tank whose content changes has no
    ``x_m``; ``draught_m`` is the mean draught. Values are at the middle of each point's
    segment; ``content_start_m3`` is at its start. ``short_m3`` is fuel that no tank could give.
    """

    moment_t_m: Array
    displacement_t: Array
    stiffness_t_m: Array
    draught_m: Array
    trim_m: Array
    content_start_m3: Array
    burn_m3: Array
    short_m3: Array

    @property
    def gm_m(self) -> Array:
        """Fluid GM. [m]"""
        return self.stiffness_t_m / self.displacement_t


def heights_m(vessel: Vessel) -> Array:
    """Height of the centre of each tank above the waterline, ``(k,)``. [m]

    Where the vessel file gives none, it is the mean of tanks with the same liquid, or half the
    draught below the waterline. That is low on purpose, because burning fuel from low tanks
    reduces GM.
    """
    known: dict[str, list[float]] = {}
    for tank in vessel.tanks:
        if tank.z_m is not None:
            known.setdefault(tank.holds, []).append(tank.z_m)
    low = -0.5 * vessel.particulars.draught_m
    return np.array(
        [
            tank.z_m
            if tank.z_m is not None
            else (float(np.mean(known[tank.holds])) if tank.holds in known else low)
            for tank in vessel.tanks
        ]
    )


def stiffness_per_m3(vessel: Vessel) -> Array:
    """Displacement x GM gained per cubic metre put into each tank, ``(k,)``. [t m/m3]

    For a wall-sided hull, weight at the waterline leaves displacement x GM unchanged, and
    weight below it adds: ``-density x z``.
    """
    density = np.array([tank.density_t_m3 for tank in vessel.tanks])
    return -density * heights_m(vessel) if len(density) else density


def free_surfaces_t_m(vessel: Vessel) -> Array:
    """Loss of displacement x GM by each tank while slack, ``(k,)``; 0 without dimensions. [t m]"""
    return np.array(
        [
            0.0
            if tank.length_m is None or tank.breadth_m is None
            else tank.density_t_m3 * tank.length_m * tank.breadth_m**3 / 12.0
            for tank in vessel.tanks
        ]
    )


def trim_per_m3(vessel: Vessel) -> Array:
    """Trim by the bow per cubic metre put into each tank, ``(k,)``. [m/m3]

    NaN where the tank has no ``x_m``. She trims about midship.
    """
    hull = vessel.particulars
    per_t_m = trim_m_per_t_m(
        length_m=hull.length_waterline_m,
        beam_m=hull.beam_waterline_m,
        draught_m=hull.draught_m,
        displacement_t=hull.displacement_t,
        block_coefficient=hull.block_coefficient,
        waterplane_coefficient=hull.waterplane_coefficient,
        kg_m=hull.kg_m,
    )
    return np.array(
        [
            np.nan if tank.x_m is None else tank.density_t_m3 * tank.x_m * per_t_m
            for tank in vessel.tanks
        ]
    )


def draw_down(
    content_m3: Array, floor_m3: Array, share: Array, wanted_m3: Array
) -> tuple[Array, Array]:
    """Fuel drawn from each tank at each point, and fuel that no tank could give.

    The shares hold while every tank has fuel above its floor. When one runs out, the others
    with a share take over its part in proportion to their shares; after them, any other tank
    in proportion to its content.

    Parameters
    ----------
    content_m3, floor_m3, share : ndarray (k,)
        Content and least content of each tank [m3], and its share of the burn.
    wanted_m3 : ndarray ``L + (n,)``
        Fuel needed at each point; NaN counts as none. [m3]

    Returns
    -------
    drawn : ndarray ``L + (n, k)``
        Fuel drawn from each tank. [m3]
    short : ndarray ``L + (n,)``
        Fuel that no tank could give. [m3]
    """
    wanted = np.nan_to_num(np.asarray(wanted_m3, dtype=float))
    able = np.maximum(np.asarray(content_m3, dtype=float) - floor_m3, 0.0)
    drawn = wanted[..., None] * share
    short = np.where(share.sum() > 0.0, 0.0, wanted)
    rows = np.any(drawn.sum(axis=-2) > able + 1e-12, axis=-1)
    if share.sum() <= 0.0:
        rows = np.any(wanted > 0.0, axis=-1)
    if not np.any(rows):
        return drawn, short
    few, lack = _one_by_one(able, share, wanted[rows])
    drawn, short = drawn.copy(), short.copy()
    drawn[rows], short[rows] = few, lack
    return drawn, short


def _one_by_one(able: Array, share: Array, wanted: Array) -> tuple[Array, Array]:
    """As `draw_down`, point by point, for passages on which a tank runs out."""
    left = np.broadcast_to(able, (*wanted.shape[:-1], len(able))).copy()
    drawn = np.zeros((*wanted.shape, len(able)))
    short = np.zeros(wanted.shape)
    for point in range(wanted.shape[-1]):
        need = wanted[..., point].copy()
        for weight in (np.broadcast_to(share, left.shape), left.copy()):
            for _ in range(len(able)):
                open_ = np.where((left > 1e-12) & (weight > 0.0), weight, 0.0)
                total = open_.sum(axis=-1)
                if not np.any((need > 1e-12) & (total > 0.0)):
                    break
                part = open_ / np.where(total > 0.0, total, 1.0)[..., None]
                take = np.minimum(np.maximum(need, 0.0)[..., None] * part, left)
                drawn[..., point, :] += take
                left -= take
                need = need - take.sum(axis=-1)
        short[..., point] = np.where(need > 1e-9, need, 0.0)
    return drawn, short


def burn_shares(vessel: Vessel) -> Array:
    """Share of the burn drawn from each tank, ``(k,)``; all 0 where none are given."""
    share = np.zeros(len(vessel.tanks))
    names = [tank.name for tank in vessel.tanks]
    for one in vessel.loading.burn:
        share[names.index(one.tank)] = one.share
    return share


def events_t_m(vessel: Vessel, leg: npt.ArrayLike, length_m: npt.ArrayLike | None = None) -> Array:
    """Heeling moment at every point by people, tenders and stores that were moved. [t m]

    Parameters
    ----------
    vessel : Vessel
        Vessel with loading events.
    leg : array_like of int (n,)
        Leg of each point, from 0.
    length_m : array_like (n,), optional
        Length of each point's segment; NaN counts as 0. An event given by distance begins at
        the segment whose start is nearest to it, at the first if the whole route is shorter.
        Without lengths such events are left out. [m]

    Returns
    -------
    ndarray (n,)
        Heeling moment, positive to starboard.
    """
    leg = np.asarray(leg)
    moment = np.zeros(leg.shape)
    for event in vessel.loading.events:
        if event.leg is not None:
            moment += np.where(leg >= event.leg - 1, event.moment_t_m, 0.0)
        elif length_m is not None:
            length = np.nan_to_num(np.asarray(length_m, dtype=float))
            # Distance to go at the start of each segment.
            left = np.cumsum(length[::-1])[::-1]
            at = int(np.argmin(np.abs(left - nm_to_m(event.miles_to_go))))
            moment[at:] += event.moment_t_m
    return moment


def loading_along(
    vessel: Vessel,
    leg: npt.ArrayLike,
    fuel_l: npt.ArrayLike,
    moves: Sequence[Shift] = (),
    *,
    length_m: npt.ArrayLike | None = None,
) -> Loading:
    """Loading at every point.

    Parameters
    ----------
    vessel : Vessel
        Vessel with observed list, burn shares, tanks and events.
    leg : array_like of int (n,)
        Leg of each point, from 0.
    fuel_l : array_like ``L + (n,)``
        Fuel burnt at each point; NaN counts as none: the burn is not known there, but the
        loading before it is. [l]
    moves : sequence of Shift
        Liquid moved during the passage; the tanks from which fuel is drawn do not depend on
        it.
    length_m : array_like (n,), optional
        Length of each point's segment, for events given by distance to go; without it they
        are left out. [m]

    Notes
    -----
    ``displacement x GM`` changes by ``-density x z`` for each cubic metre put in at a height z
    above the waterline (wall-sided hull), and by the free surfaces of tanks that become slack
    or cease to be so.
    """
    hull, tanks = vessel.particulars, vessel.tanks
    leg = np.asarray(leg)
    fuel = np.nan_to_num(np.asarray(fuel_l, dtype=float))
    content = np.array([tank.content_m3 for tank in tanks])
    density = np.array([tank.density_t_m3 for tank in tanks])
    floor = np.array([tank.minimum_m3 for tank in tanks])
    share = burn_shares(vessel)
    burns = np.array([tank.holds == "fuel" for tank in tanks], dtype=bool)
    if len(tanks) and share.sum() > 0.0:
        burn, short = draw_down(np.where(burns, content, floor), floor, share, fuel / 1000.0)
    else:
        # Without shares fuel is drawn evenly: it changes the weight, not the moment.
        burn, short = np.zeros((*fuel.shape, len(tanks))), np.zeros(fuel.shape)
    moved = np.zeros((fuel.shape[-1], len(tanks)))
    for one in moves:
        if one.source != SEA:
            moved[one.point :, one.source] -= one.amount_m3
        if one.target != SEA:
            moved[one.point :, one.target] += one.amount_m3
    start = content - np.cumsum(burn, axis=-2) + burn + moved
    change = start - 0.5 * burn - content
    weight = change @ density if len(tanks) else np.zeros(fuel.shape)
    if not share.sum() > 0.0:
        burnt = np.cumsum(fuel, axis=-1) - 0.5 * fuel
        weight = weight - burnt / 1000.0 * vessel.propulsion.fuel_density_t_m3
    stiffness0 = hull.displacement_t * hull.gm_m
    moment = np.full(fuel.shape, stiffness0 * float(np.tan(deg_to_rad(vessel.loading.list_deg))))
    if len(tanks):
        moment = moment + change @ (density * np.array([tank.y_m for tank in tanks]))
    moment = moment + events_t_m(vessel, leg, length_m)
    stiffness = np.full(fuel.shape, stiffness0)
    trim = np.zeros(fuel.shape)
    if len(tanks):
        capacity = np.array([tank.capacity_m3 for tank in tanks])
        now = is_slack_through(start, start - burn, capacity)
        then = is_slack_through(content, content, capacity)
        surface = free_surfaces_t_m(vessel)
        lost = (now.astype(float) - then) @ surface
        stiffness = stiffness + change @ stiffness_per_m3(vessel) - lost
        per_m3 = trim_per_m3(vessel)
        trim = np.where(np.abs(change) > 1e-9, change * per_m3, 0.0).sum(axis=-1)
    displacement = hull.displacement_t + weight
    return Loading(
        moment_t_m=np.asarray(moment, dtype=float),
        displacement_t=displacement,
        stiffness_t_m=stiffness,
        draught_m=hull.draught_m
        + weight
        * sinkage_m_per_t(
            hull.length_waterline_m, hull.beam_waterline_m, hull.waterplane_coefficient
        ),
        trim_m=trim,
        content_start_m3=start,
        burn_m3=burn,
        short_m3=short,
    )


def placed(orders: Sequence[Order], leg: npt.ArrayLike, hours: npt.ArrayLike) -> tuple[Shift, ...]:
    """Shifts before points, from orders by leg and hour; ``leg`` from 0 and ``hours``, ``(n,)``."""
    leg = np.asarray(leg)
    length = np.nan_to_num(np.asarray(hours, dtype=float))
    out = []
    for one in orders:
        here = np.flatnonzero(leg == one.before_leg - 1)
        begin = np.cumsum(length[here]) - length[here]
        at = int(np.argmin(np.abs(begin - one.hours_into_leg)))
        out.append(Shift(int(here[at]), one.source, one.target, one.amount_m3))
    return tuple(out)


def carried_t(vessel: Vessel, moves: Sequence[Shift], points: int) -> Array:
    """Ballast taken in less ballast discharged, at each point. [t]"""
    weight = np.zeros(points)
    for move in moves:
        if move.source == SEA:
            weight[move.point :] += move.amount_m3 * vessel.tanks[move.target].density_t_m3
        elif move.target == SEA:
            weight[move.point :] -= move.amount_m3 * vessel.tanks[move.source].density_t_m3
    return weight


def broken(
    vessel: Vessel, loading: Loading, moves: Sequence[Shift], leg: npt.NDArray[np.int_]
) -> list[str]:
    """Sentences for tanks that transfers would overfill or draw below their minimum."""
    out = []
    end = loading.content_start_m3 - loading.burn_m3
    first = min((move.point for move in moves), default=0)
    for index, tank in enumerate(vessel.tanks):
        if not any(index in (move.source, move.target) for move in moves):
            continue
        low, high = end[first:, index], loading.content_start_m3[first:, index]
        if high.max() > tank.capacity_m3 + 1e-6:
            where = leg[first + int(np.argmax(high > tank.capacity_m3 + 1e-6))] + 1
            out.append(
                f"{tank.name} would hold {high.max():.1f} m3 on leg {where}, more than its "
                f"{tank.capacity_m3:g} m3"
            )
        if low.min() < min(tank.minimum_m3, tank.content_m3) - 1e-6:
            where = leg[first + int(np.argmax(low < tank.minimum_m3 - 1e-6))] + 1
            out.append(
                f"{tank.name} would be down to {low.min():.1f} m3 on leg {where}, less than its "
                f"minimum of {tank.minimum_m3:g} m3"
            )
    return out
