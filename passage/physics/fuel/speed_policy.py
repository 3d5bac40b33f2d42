"""Speed policies: what the master holds constant, and the speed that follows.

There are four: hold speed through water; hold speed over ground; hold the fuel rate and lose
speed in waves; arrive by a time. Forces are computed at a few fixed speeds for each point (a
*force grid*), so that finding the speed needs no further evaluation of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.physics.fuel.propulsion import (
    Engine,
    SpeedFuelCurve,
    brake_power_from_force,
    fuel_per_extra_watt,
)

Array = npt.NDArray[np.float64]

POLICIES: tuple[str, ...] = (
    "speed through water",
    "speed over ground",
    "fuel rate",
    "arrive by",
)
#: Why a speed is missing or not the one asked for, by the code of `HeldSpeed.reason`.
REASONS: tuple[str, ...] = (
    "as asked",
    "below the slowest speed of the speed-fuel points",
    "above the fastest speed of the speed-fuel points",
    "held to the most fuel the engines take",
    "no data",
)
_AS_ASKED, _TOO_SLOW, _TOO_FAST, _ENGINE_LIMIT, _NO_DATA = range(5)
_HALVINGS = 60
_STEPS = 60
_FUEL_TOLERANCE_L_PER_H = 1e-9


@dataclass(frozen=True, eq=False)
class ForceGrid:
    """Extra force against the motion at fixed speeds, linear between them.

    ``speed_m_s`` (ns,) ascending; ``force_n`` of shape ``P + (ns,)``. [m/s], [N]
    """

    speed_m_s: Array
    force_n: Array

    def at(self, speed_m_s: npt.ArrayLike) -> Array:
        """Force at speeds of shape ``P``; NaN outside the grid. [N]"""
        speed = np.asarray(speed_m_s, dtype=float)
        nodes = np.asarray(self.speed_m_s, dtype=float)
        cell = np.clip(np.searchsorted(nodes, speed, side="right") - 1, 0, nodes.size - 2)
        share = (speed - nodes[cell]) / (nodes[cell + 1] - nodes[cell])
        shape = np.broadcast_shapes(speed.shape, self.force_n.shape[:-1])
        force = np.broadcast_to(self.force_n, (*shape, nodes.size))
        index = np.broadcast_to(cell, shape)[..., None]
        low = np.take_along_axis(force, index, axis=-1)[..., 0]
        high = np.take_along_axis(force, index + 1, axis=-1)[..., 0]
        inside = (speed >= nodes[0]) & (speed <= nodes[-1])
        return np.where(inside, (1.0 - share) * low + share * high, np.nan)


@dataclass(frozen=True)
class HeldSpeed:
    """Speed through the water by a policy; NaN where there is none. [m/s]

    ``reason`` is an index of :data:`REASONS` (int8), of the same shape.
    """

    speed_m_s: Array
    reason: npt.NDArray[np.int8]


def speed_nodes(curve: SpeedFuelCurve, count: int = 9) -> Array:
    """Evenly spaced speeds for a force grid, over the range of the curve. [m/s]"""
    return np.linspace(curve.slowest_m_s, curve.fastest_m_s, count)


def propulsion_fuel(
    speed_m_s: npt.ArrayLike,
    forces: ForceGrid,
    curve: SpeedFuelCurve,
    engine: Engine,
    still_factor: npt.ArrayLike = 1.0,
) -> Array:
    """Fuel rate of the main engines at a speed [m/s], with the forces of the grid. [l/h]

    ``still_factor`` multiplies still-water fuel, for displacement and heel. Dimensionless.
    """
    speed = np.asarray(speed_m_s, dtype=float)
    still = curve.fuel(speed) * np.asarray(still_factor, dtype=float)
    power = brake_power_from_force(forces.at(speed), speed, engine)
    return still + power * fuel_per_extra_watt(still, power, engine)


def _root(
    excess: Callable[[Array], Array],
    ends: tuple[Array, Array],
    values: tuple[Array, Array],
) -> Array:
    """Zero of a rising function between ends of opposite sign, for all points at once.

    Regula falsi with the Illinois rule, which halves the value at an end kept twice: it
    never leaves the bracket and needs about ten evaluations.
    """
    (low, high), (f_low, f_high) = ends, values
    x = 0.5 * (low + high)
    side = np.zeros(x.shape)
    for _ in range(_STEPS):
        fall = f_high - f_low
        flat = fall == 0.0
        x = np.where(flat, x, (low * f_high - high * f_low) / np.where(flat, 1.0, fall))
        f = excess(x)
        if not np.any(np.abs(f) > _FUEL_TOLERANCE_L_PER_H):
            break
        above = f > 0.0
        f_low = np.where(above, np.where(side > 0, 0.5 * f_low, f_low), f)
        f_high = np.where(above, f, np.where(side < 0, 0.5 * f_high, f_high))
        low, high = np.where(above, low, x), np.where(above, x, high)
        side = np.where(above, 1.0, -1.0)
    return x


def hold_fuel_rate(
    fuel_l_per_h: npt.ArrayLike,
    forces: ForceGrid,
    curve: SpeedFuelCurve,
    engine: Engine,
    still_factor: npt.ArrayLike = 1.0,
) -> HeldSpeed:
    """Speed at which the main engines burn a given rate.

    Parameters
    ----------
    fuel_l_per_h : array_like
        Rate of the main engines to hold, > 0. [l/h]
    forces : ForceGrid
        Extra forces at each point; its speeds must cover the curve (:func:`speed_nodes`).
    curve, engine
        Still-water fuel curve, and engines.
    still_factor : array_like
        Factor on still-water fuel. Dimensionless.

    Returns
    -------
    HeldSpeed
        Speed through the water; NaN with a reason where no speed within the range of the
        curve takes this rate.
    """
    rate = np.asarray(fuel_l_per_h, dtype=float)
    factor = np.asarray(still_factor, dtype=float)
    shape = np.broadcast_shapes(rate.shape, factor.shape, forces.force_n.shape[:-1])
    # Rounding must not put the ends outside the curve or the grid.
    ends = (
        max(curve.slowest_m_s, float(forces.speed_m_s[0])),
        min(curve.fastest_m_s, float(forces.speed_m_s[-1])),
    )
    low, high = np.full(shape, ends[0]), np.full(shape, ends[1])
    at_low = propulsion_fuel(low, forces, curve, engine, factor)
    at_high = propulsion_fuel(high, forces, curve, engine, factor)
    too_slow, too_fast = rate < at_low, rate > at_high
    speed = _root(
        lambda u: propulsion_fuel(u, forces, curve, engine, factor) - rate,
        (low, high),
        (at_low - rate, at_high - rate),
    )
    missing = np.isnan(rate + at_low + at_high)
    reason = np.full(shape, _AS_ASKED, dtype=np.int8)
    reason[np.broadcast_to(too_slow, shape)] = _TOO_SLOW
    reason[np.broadcast_to(too_fast, shape)] = _TOO_FAST
    reason[missing] = _NO_DATA
    return HeldSpeed(np.where(reason == _AS_ASKED, speed, np.nan), reason)


def limit_to_engine(
    speed_m_s: npt.ArrayLike,
    forces: ForceGrid,
    curve: SpeedFuelCurve,
    engine: Engine,
    still_factor: npt.ArrayLike = 1.0,
) -> HeldSpeed:
    """The given speed, or the lower one at which the engines burn their maximum.

    Parameters as in :func:`hold_fuel_rate`, with a speed in place of the rate. Without
    ``engine.max_fuel_l_per_h`` only speeds outside the curve have no result.

    Speeds in [m/s], fuel in [l/h].
    """
    speed = np.asarray(speed_m_s, dtype=float)
    factor = np.asarray(still_factor, dtype=float)
    shape = np.broadcast_shapes(speed.shape, factor.shape, forces.force_n.shape[:-1])
    speed = np.broadcast_to(speed, shape)
    reason = np.full(shape, _AS_ASKED, dtype=np.int8)
    reason[speed < curve.slowest_m_s] = _TOO_SLOW
    reason[speed > curve.fastest_m_s] = _TOO_FAST
    rate = propulsion_fuel(speed, forces, curve, engine, factor)
    reason[(reason == _AS_ASKED) & np.isnan(rate)] = _NO_DATA
    held = np.where(reason == _AS_ASKED, speed, np.nan)
    if engine.max_fuel_l_per_h is None:
        return HeldSpeed(held, reason)
    over = (reason == _AS_ASKED) & (rate > engine.max_fuel_l_per_h)
    if np.any(over):
        slower = hold_fuel_rate(engine.max_fuel_l_per_h, forces, curve, engine, factor)
        held = np.where(over, slower.speed_m_s, held)
        limited = np.where(slower.reason == _AS_ASKED, np.int8(_ENGINE_LIMIT), slower.reason)
        reason = np.where(over, limited, reason).astype(np.int8)
    return HeldSpeed(held, reason)


@dataclass(frozen=True)
class Arrival:
    """Speed to arrive by a time, and the hours at it; ``reached`` is False if none is fast
    enough."""

    speed_m_s: float
    hours: float
    reached: bool


def arrive_by(
    hours_at: Callable[[float], float],
    hours: float,
    slowest_m_s: float,
    fastest_m_s: float,
    tolerance_h: float = 0.005,
) -> Arrival:
    """Lowest steady speed that makes the passage in a given time.

    Parameters
    ----------
    hours_at : callable
        Duration of the passage at a speed, falling with speed; NaN where the passage cannot
        be made. [m/s] -> [h]
    hours : float
        Time available. [h]
    slowest_m_s, fastest_m_s : float
        Range of speeds to choose from. [m/s]
    tolerance_h : float
        How early the arrival may be: 0.005 h is 18 s.

    Returns
    -------
    Arrival
        The slowest speed if it is fast enough; the fastest, with ``reached`` False, if even
        that is late.
    """
    quickest = hours_at(fastest_m_s)
    if not quickest <= hours:
        return Arrival(fastest_m_s, quickest, False)
    # Hours are nearly linear in 1/speed, so interpolation in that needs two or three trials,
    # each of which computes a passage. The slowest speed is tried only if a trial leads there.
    aim = hours - 0.5 * tolerance_h
    high, best = fastest_m_s, quickest
    low, late = slowest_m_s, float("nan")
    tried_low = False
    for turn in range(_HALVINGS):
        if hours - best <= tolerance_h:
            break
        if turn % 4 == 3 or (tried_low and not np.isfinite(late)):
            trial = 0.5 * (low + high)
        elif tried_low:
            share = (aim - best) / (late - best)
            trial = 1.0 / ((1.0 - share) / high + share / low)
        else:
            trial = max(slowest_m_s, high * best / aim)
        took = hours_at(trial)
        if took <= hours:
            high, best = trial, took
            if trial == slowest_m_s:
                break
        else:
            # Late, or the passage cannot be made at this speed: go faster.
            low, late, tried_low = trial, took, True
    return Arrival(high, best, True)
