"""Break-even: distance and hours beyond which moving weight is cheaper than the fins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.physics.fins.drag import FinPairDrag
from passage.units import DEG_RAD, G_M_S2, HOUR_S, RHO_SEA_KG_M3, knots_to_m_s

Floats = npt.NDArray[np.float64]

_N_PER_T = 1000.0 * G_M_S2
_J_PER_KWH = 1000.0 * HOUR_S


def fin_l_per_h_per_moment2(
    speed_m_s: npt.ArrayLike,
    fins: tuple[FinPairDrag, ...],
    lever_m: npt.ArrayLike,
    efficiency: npt.ArrayLike,
    *,
    propulsive_efficiency: float,
    litres_per_kwh: float,
) -> Floats:
    """Litres an hour for each (t m)^2 of steady moment held by fins at equal angles.

    Parameters
    ----------
    speed_m_s : array_like (...)
        Speed through the water, > 0. [m/s]
    fins : tuple of FinPairDrag
        The pairs that share the offset.
    lever_m, efficiency : array_like (pairs,)
        Roll axis to centre of pressure, and the part of the lift that works as roll
        moment (boundary layer, hull, tandem).
    propulsive_efficiency, litres_per_kwh
        Thrust power over brake power, and litres per kWh of brake power.

    Returns
    -------
    ndarray (...)
        NaN at zero speed or less.

    Notes
    -----
    With a true incidence d at every pair the moment is ``sum(q S CL_a r E) d`` and the
    induced drag ``sum(q S CL_a^2/(pi a e)) d^2``; so drag per moment squared varies as
    ``1/q``, its power as ``1/U``, its price per mile as ``1/U^2``. Stall is left out.
    """
    speed = np.asarray(speed_m_s, dtype=float)
    lever = np.broadcast_to(np.asarray(lever_m, dtype=float), (len(fins),))
    part = np.broadcast_to(np.asarray(efficiency, dtype=float), (len(fins),))
    moment, drag = 0.0, 0.0
    for pair, arm, share in zip(fins, lever, part, strict=True):
        area = pair.area_m2 * pair.count * pair.flow_fraction**2
        slope = pair.lift_slope_per_rad
        moment += area * slope * arm * share
        drag += area * slope**2 / (np.pi * pair.aspect_ratio * pair.oswald_efficiency)
    moving = speed > 0.0
    u = np.where(moving, speed, np.nan)
    pressure = 0.5 * RHO_SEA_KG_M3 * u**2
    force_n = drag / (pressure * moment**2) * _N_PER_T**2
    return force_n * u / propulsive_efficiency * HOUR_S / _J_PER_KWH * litres_per_kwh


@dataclass(frozen=True, kw_only=True)
class BreakEven:
    """Curves against speed (rows) and list (columns), ``(speeds, lists)``.

    ``inf`` where fins stay cheaper at any distance, NaN where fins cannot hold the list at
    that speed. ``beyond_hours`` and ``beyond_nm`` are for holding, or moving, only the part
    beyond the owner's limit: ``inf`` for a list within it, and the same as the others
    without a limit.
    """

    speed_kn: Floats
    list_deg: Floats
    hours: Floats
    distance_nm: Floats
    ballast_hours: Floats
    ballast_nm: Floats
    beyond_hours: Floats
    beyond_nm: Floats


def break_even(
    speed_kn: npt.ArrayLike,
    list_deg: npt.ArrayLike,
    *,
    fin_l_per_h_per_moment2: npt.ArrayLike,
    fin_moment_max_t_m: npt.ArrayLike,
    displacement_t: float,
    gm_m: float,
    transfer_fixed_l: float,
    pump_l_per_m3: float,
    lever_m: float,
    density_t_m3: float,
    hull_fuel_l_per_h: npt.ArrayLike,
    ballast_lever_m: float | None = None,
    ballast_density_t_m3: float = RHO_SEA_KG_M3 / 1000.0,
    work_l_per_h: npt.ArrayLike = 0.0,
    limit_deg: float | None = None,
) -> BreakEven:
    """Hours and miles at which holding a list has cost as much as moving weight once.

    Parameters
    ----------
    speed_kn, list_deg : array_like (s,), (l,)
        Speeds through the water > 0 and lists; only the size of a list counts.
    fin_l_per_h_per_moment2, fin_moment_max_t_m, hull_fuel_l_per_h : array_like (s,)
        At those speeds: price of a held moment [l/h per (t m)^2], the largest moment the
        fins can hold [t m], and the engines' fuel in still water [l/h].
    displacement_t, gm_m
        Displacement and fluid GM.
    transfer_fixed_l, pump_l_per_m3
        Price of one transfer and of pumping, in litres.
    lever_m, density_t_m3
        How far athwartships the liquid moves, and its density.
    ballast_lever_m
        Distance of a ballast tank off the centreline; ``None`` when there is none.
    work_l_per_h : array_like (s,)
        Fuel of active over centred fins, where roll alone would leave them centred; 0 where
        they are active anyway.
    limit_deg
        Steady heel the owner accepts.

    Notes
    -----
    Moving liquid aboard costs once: ``hours = cost / (c M^2 + work)``. Ballast is carried for
    the rest of the passage as well, and costs ``(2/3) (w / displacement)`` of the
    engines' fuel (Admiralty coefficient at constant speed). It never pays where that
    exceeds the price of the fins, as for small lists: the price of the fins falls with the
    square of the list, that of ballast only in proportion.
    """
    speed = np.atleast_1d(np.asarray(speed_kn, dtype=float))[:, None]
    size = np.abs(np.atleast_1d(np.asarray(list_deg, dtype=float)))[None, :]
    moment = displacement_t * gm_m * np.tan(size * DEG_RAD)
    column = [
        np.broadcast_to(np.asarray(values, dtype=float), (speed.shape[0],))[:, None]
        for values in (
            fin_l_per_h_per_moment2,
            fin_moment_max_t_m,
            hull_fuel_l_per_h,
            work_l_per_h,
        )
    ]

    def flips(once_l: Floats, hourly_l: Floats, held_t_m: Floats) -> Floats:
        gain = column[0] * held_t_m**2 + np.where(held_t_m > 0.0, column[3], 0.0) - hourly_l
        hours = np.full(np.broadcast_shapes(gain.shape, once_l.shape), np.inf)
        np.divide(once_l, gain, out=hours, where=gain > 0.0)
        return np.where(held_t_m <= column[1] + 1e-12, hours, np.nan)

    def transfer_l(held_t_m: Floats) -> Floats:
        return transfer_fixed_l + pump_l_per_m3 * held_t_m / (density_t_m3 * lever_m)

    nothing = np.zeros_like(moment)
    hours = flips(transfer_l(moment), nothing, moment)
    accepted = 0.0
    if limit_deg is not None:
        accepted = displacement_t * gm_m * float(np.tan(limit_deg * DEG_RAD))
    beyond = np.maximum(moment - accepted, 0.0)
    beyond_hours = flips(transfer_l(beyond), nothing, beyond)
    ballast = np.full(hours.shape, np.nan)
    if ballast_lever_m is not None:
        taken_t = moment / ballast_lever_m
        taking = transfer_fixed_l + pump_l_per_m3 * taken_t / ballast_density_t_m3
        ballast = flips(taking, 2.0 / 3.0 * taken_t / displacement_t * column[2], moment)
    return BreakEven(
        speed_kn=speed[:, 0],
        list_deg=size[0],
        hours=hours,
        distance_nm=hours * speed,
        ballast_hours=ballast,
        ballast_nm=ballast * speed,
        beyond_hours=beyond_hours,
        beyond_nm=beyond_hours * speed,
    )


def fin_moment_max(offset_left_rad: npt.ArrayLike, moment_n_m_per_rad: npt.ArrayLike) -> Floats:
    """Largest steady moment from the fin angle left by work against roll. [t m]"""
    left = np.maximum(np.asarray(offset_left_rad, dtype=float), 0.0)
    return left * np.asarray(moment_n_m_per_rad, dtype=float) / _N_PER_T


def speeds_m_s(speed_kn: npt.ArrayLike) -> Floats:
    """Knots to metres a second."""
    return np.asarray(knots_to_m_s(np.asarray(speed_kn, dtype=float)))
