"""Speed rules of the march: hold the fuel rate, slow down where she slams, arrive by a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.physics.fuel.propulsion import displacement_factor
from passage.physics.fuel.speed_policy import (
    ForceGrid,
    arrive_by,
    hold_fuel_rate,
    limit_to_engine,
    speed_nodes,
)
from passage.physics.motions.slamming import (
    slam_probability,
    slam_probability_limit,
    slam_threshold_velocity_m_s,
    slamming_judged,
)
from passage.planning.voyage.forces import wave_forces, wind_forces
from passage.planning.voyage.march import March
from passage.planning.voyage.seas import resistance_at, sea_channels
from passage.planning.voyage.yacht import Yacht
from passage.units import G_M_S2, HOUR_S, m_s_to_knots, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions
    from passage.planning.voyage.march import SpeedRule

Array = npt.NDArray[np.float64]

#: Reduced speeds that are tried, as shares of the ordered one, fastest first.
EASED_SHARES: tuple[float, ...] = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)


def _trial_march(conditions: Conditions, heading: Array, course: Array, speed: Array) -> March:
    """March at trial speeds, as an argument of the force functions."""
    return March(
        time_s=np.zeros(speed.shape),
        end_time_s=np.zeros(speed.shape),
        hours=np.ones(speed.shape),
        speed_through_water_m_s=speed,
        speed_over_ground_m_s=speed,
        heading_rad=heading,
        course_rad=course,
        conditions=conditions,
        no_way=np.zeros(speed.shape, dtype=bool),
        rounds=0,
        converged=True,
    )


def force_grid(yacht: Yacht, conditions: Conditions, heading: Array, wave_method: str) -> ForceGrid:
    """Wave and wind force at speeds over the range of the speed-fuel points. [N]

    NaN where the sea is not known; the march keeps the ordered speed there.
    """
    nodes = speed_nodes(yacht.curve, 5)
    forces = []
    for node in nodes:
        speed = np.full(heading.shape, node)
        mu, variants = resistance_at(yacht, conditions, heading, float(node))
        point = _trial_march(conditions, heading, heading, speed)
        waves, _ = wave_forces(yacht, point, mu, variants, wave_method)
        forces.append(waves + wind_forces(yacht, point).force_n)
    return ForceGrid(nodes, np.stack(forces, axis=-1))


@dataclass(frozen=True)
class OwnDrag:
    """Drag other than that of sea and wind, at the points of a march.

    ``force_n`` is that of fins and heel, broadcasting to P [N]; ``displacement_ratio`` is the
    present displacement over that of the speed-fuel points, None for that of the vessel file.
    """

    force_n: Array | float = 0.0
    displacement_ratio: npt.ArrayLike | None = None


def fuel_rule(yacht: Yacht, wave_method: str, own: OwnDrag | None = None) -> SpeedRule:
    """Hold the fuel rate that the ordered speed takes in still water, with ``own`` drag."""
    own = own or OwnDrag()

    def rule(conditions: Conditions, heading: Array, ordered: Array) -> Array:
        # At the present displacement, as still-water fuel in the plan.
        factor = displacement_factor(yacht.displacement_ratio)
        rate = factor * yacht.curve.fuel(np.where(ordered > 0.0, ordered, np.nan))
        grid = force_grid(yacht, conditions, heading, wave_method)
        grid = ForceGrid(grid.speed_m_s, grid.force_n + np.asarray(own.force_n)[..., None])
        if own.displacement_ratio is not None:
            factor = displacement_factor(own.displacement_ratio)
        return hold_fuel_rate(rate, grid, yacht.curve, yacht.engine, factor).speed_m_s

    return rule


def engine_rule(yacht: Yacht, wave_method: str) -> SpeedRule:
    """The ordered speed, or the lower one at which the engines burn their maximum."""

    def rule(conditions: Conditions, heading: Array, ordered: Array) -> Array:
        speed = np.where(ordered > 0.0, ordered, np.nan)
        grid = force_grid(yacht, conditions, heading, wave_method)
        factor = displacement_factor(yacht.displacement_ratio)
        return limit_to_engine(speed, grid, yacht.curve, yacht.engine, factor).speed_m_s

    return rule


def eased_rule(yacht: Yacht, before: SpeedRule | None) -> SpeedRule:
    """Slow down until slamming and vertical acceleration are within the limits.

    The rule takes the fastest of ``EASED_SHARES`` at which both are; if none is, the slowest,
    and the plan has a caution.
    """
    motions = yacht.motions
    hull = yacht.vessel.particulars
    slam_limit = yacht.vessel.limits.underway.slamming_probability
    if slam_limit is None:
        slam_limit = float(slam_probability_limit(hull.length_waterline_m))
    g_limit = yacht.vessel.limits.underway.vertical_acceleration_rms_g

    def acceptable(conditions: Conditions, heading: Array, speed: Array) -> npt.NDArray[np.bool_]:
        _, sea = sea_channels(yacht, conditions, heading, speed)
        slam = slam_probability(
            hull.bow_draught_m,
            sea[..., motions.channels("relative_motion")[0]],
            sea[..., motions.channels("relative_velocity")[0]],
            slam_threshold_velocity_m_s(hull.length_waterline_m),
        )
        judged = slamming_judged(
            sea[..., motions.channel("bow_m0")], sea[..., motions.channel("encounter_m0")]
        )
        fine = (slam < slam_limit) | ~judged
        if g_limit is not None:
            for channel in motions.channels("vertical_acceleration"):
                fine &= np.sqrt(sea[..., channel]) <= g_limit * G_M_S2
        return fine | np.isnan(slam)

    def rule(conditions: Conditions, heading: Array, ordered: Array) -> Array:
        start = ordered if before is None else before(conditions, heading, ordered)
        start = np.where(np.isnan(start), ordered, start)
        chosen = np.full(start.shape, np.nan)
        for share in EASED_SHARES:
            # The tables cover any speed, the fuel curve only those above its first point.
            trial = np.maximum(share * start, np.minimum(start, yacht.curve.slowest_m_s))
            fine = acceptable(conditions, heading, trial)
            last = share == EASED_SHARES[-1]
            chosen = np.where(np.isnan(chosen) & (fine | last), trial, chosen)
            if not np.any(np.isnan(chosen)):
                break
        return chosen

    return rule


def arrival_speed(
    yacht: Yacht,
    track: Track,
    go: Callable[[npt.ArrayLike], March],
    departure_s: float,
    arrive_s: float,
) -> tuple[Array, str, March]:
    """Steady speed that arrives by a time [m/s], a sentence about it, and its march."""
    hours = (arrive_s - departure_s) / HOUR_S
    sailed: dict[float, March] = {}

    def hours_at(speed_m_s: float) -> float:
        # Marches are kept, so that the chosen one is not computed again.
        sailed[speed_m_s] = way = go(np.full(len(track), speed_m_s))
        return float(np.sum(way.hours))

    found = arrive_by(
        hours_at, hours, float(yacht.curve.speed_m_s[0]), float(yacht.curve.speed_m_s[-1])
    )
    speed_kn = m_s_to_knots(found.speed_m_s)
    arrival = utc_text(departure_s + found.hours * HOUR_S)
    if found.reached:
        text = f"{speed_kn:.2f} kn arrives at {arrival}, asked for {utc_text(arrive_s)}."
    else:
        text = (
            f"Even {speed_kn:.1f} kn, the fastest of the speed-fuel points, arrives only at "
            f"{arrival}; asked for {utc_text(arrive_s)}."
        )
    return np.full(len(track), found.speed_m_s), text, sailed[found.speed_m_s]
