r"""Roll with fins in a random sea, by statistical linearisation with a mean.

Equation of roll :math:`\phi` about the mean heel, divided by the inertia:

.. math::
    \ddot\phi + 2\zeta\omega_0\dot\phi + b|\dot\phi|\dot\phi + \omega_0^2\phi
    = \omega_0^2\Big(\alpha + \text{heel}
    - \sum_i m_i L(\delta_i + \tau_i\dot\phi)
    - \sum_i m^0_i \operatorname{sign}\dot\phi\Big)

:math:`\alpha` is the effective wave slope, :math:`m_i` the moment of pair i per
radian over the righting moment per radian, :math:`\tau_i` lever over speed, L the
lift curve (linear to the stall, then falling), :math:`m^0_i` the bounded moment
of fins driven at rest. The angle :math:`\delta` follows the command, cut at the angle
limit, through a first-order lag whose rate is limited. The control acts with a delay: its
gains are multiplied by exp(-i w delay) at each frequency.

Each non-linear part is replaced by the gain and mean of ``linearisation.py`` at the rms of
its input. Those rms values follow from the linear response with these gains, and iteration
makes the two agree for all parts at once. Where two states are possible (a jump), the calmer
is found, because the iteration starts from fins that are free of their limits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.fins.force import Fins
from passage.physics.roll.limit_fit import fit_to_time, limit_inputs
from passage.physics.roll.packing import FINS_IN, FINS_OUT, HULL_IN, HULL_OUT
from passage.physics.roll.radiation import RollRadiation, no_radiation
from passage.physics.roll.solver import solve_loop
from passage.physics.roll.wave_groups import (
    GREATER,
    LESSER,
    group_shares,
    group_weight,
    over_groups,
    share_beyond_stall,
    share_rate_limited,
    sums_over_groups,
)

FloatArray = NDArray[np.float64]

#: Relative change of every rms below which a point counts as converged.
CONVERGED = 1e-8


@dataclass(frozen=True)
class HullRoll:
    """Roll properties of the hull; every field broadcasts over P.

    Attributes
    ----------
    natural_frequency_rad_s
        omega_0. [rad/s]
    damping_ratio
        Linear damping at this speed, as a share of critical. Dimensionless.
    quadratic_damping_per_rad
        b of the damping term ``b |phi'| phi'``, over the inertia. [1/rad]
    static_heel_rad
        Steady heeling moment of wind and list over the righting moment per radian;
        positive to starboard. [rad]
    radiation, speed_m_s, righting_ratio
        Radiation at the frequencies of the excitation (does not broadcast; with None inertia
        and damping do not change with frequency), its speed [m/s], and the righting moment
        per radian over that of ``radiation`` [dimensionless].
    """

    natural_frequency_rad_s: ArrayLike
    damping_ratio: ArrayLike
    quadratic_damping_per_rad: ArrayLike = 0.0
    static_heel_rad: ArrayLike = 0.0
    radiation: RollRadiation | None = None
    speed_m_s: ArrayLike = 0.0
    righting_ratio: ArrayLike = 1.0


@dataclass(frozen=True)
class RollResponse:
    """Result of :func:`solve_roll`; shapes P, and P + (pairs,) for fins.

    Attributes
    ----------
    roll_rms_rad, rate_rms_rad_s, acceleration_rms_rad_s2
        rms of roll and its derivatives about the mean heel.
    mean_heel_rad
        Remaining steady heel, positive to starboard. [rad]
    heel_shortfall_rad
        Heel that the offset should hold, less what it holds; not zero where the limit or the
        stall takes part of it. [rad]
    damping_ratio_total
        Equivalent linear damping of hull and fins at omega_0. Dimensionless.
    zero_crossing_rad_s
        rms rate over rms roll. [rad/s]
    command_rms_rad, fin_rms_rad, fin_mean_rad
        rms of the commanded angle about the offset, rms of the fin angle about its mean, and
        that mean. [rad]
    incidence_rms_rad, incidence_mean_rad
        True incidence (fin angle plus inflow) before stall, rms about its mean. [rad]
    lift_rms_rad, lift_mean_rad
        Lift over lift slope, after stall, rms about its mean.
        Induced drag goes with ``lift_rms_rad^2 + lift_mean_rad^2``. [rad]
    fin_rate_rms_rad_s, travel_rad_s
        rms and mean magnitude of the fin rate. [rad/s]
    beyond_stall_rms_rad
        Root mean square of the incidence beyond the stall angle. [rad]
    share_at_angle_limit, share_rate_limited, share_at_limit, share_beyond_stall
        Share of time that the commanded angle is at or beyond its limit; that the fin turns
        at its rate limit; that either happens, taken as independent; that the incidence is
        beyond the stall. Dimensionless.
    limit_gain, lift_gain, inflow_gain, effective_lag_s
        Linear gains: of angle for command, with the limit alone; of lift for command, with
        limit and stall; of lift for inflow, with the stall [dimensionless]. Lag including
        the effect of the rate limit [s].
    converged
        False where the fixed point was not reached: the values are then the last estimate
        and must be shown as doubtful. False also for NaN.
    stable
        False where the loop of hull, fins and lag oscillates by itself, in small motion or at
        the solution: everything is NaN there.
    iterations
        Number of steps; 0 for NaN.
    """

    roll_rms_rad: FloatArray
    rate_rms_rad_s: FloatArray
    acceleration_rms_rad_s2: FloatArray
    mean_heel_rad: FloatArray
    heel_shortfall_rad: FloatArray
    damping_ratio_total: FloatArray
    zero_crossing_rad_s: FloatArray
    command_rms_rad: FloatArray
    fin_rms_rad: FloatArray
    fin_mean_rad: FloatArray
    incidence_rms_rad: FloatArray
    incidence_mean_rad: FloatArray
    lift_rms_rad: FloatArray
    lift_mean_rad: FloatArray
    fin_rate_rms_rad_s: FloatArray
    travel_rad_s: FloatArray
    beyond_stall_rms_rad: FloatArray
    share_at_angle_limit: FloatArray
    share_rate_limited: FloatArray
    share_at_limit: FloatArray
    share_beyond_stall: FloatArray
    limit_gain: FloatArray
    lift_gain: FloatArray
    inflow_gain: FloatArray
    effective_lag_s: FloatArray
    converged: NDArray[np.bool_]
    stable: NDArray[np.bool_]
    iterations: NDArray[np.int64]


def _pack(
    excitation: FloatArray, hull: HullRoll, fins: Fins
) -> tuple[tuple[int, ...], FloatArray, FloatArray, FloatArray]:
    rows = [
        np.asarray(a, float)
        for a in (
            hull.natural_frequency_rad_s,
            hull.damping_ratio,
            hull.quadratic_damping_per_rad,
            hull.static_heel_rad,
            0.0 if hull.radiation is None else hull.radiation.place(hull.speed_m_s),
            1.0 / np.asarray(hull.righting_ratio, float),
        )
    ]
    blades = [
        np.atleast_1d(np.asarray(a, float))
        for a in (
            fins.moment_ratio,
            fins.inflow_time_s,
            fins.angle_limit_rad,
            fins.rate_limit_rad_s,
            fins.lag_s,
            fins.stall_angle_rad,
            fins.post_stall_slope,
            fins.angle_gain,
            fins.rate_gain_s,
            fins.acceleration_gain_s2,
            fins.offset_rad,
            fins.rest_moment_rad,
            fins.delay_s,
        )
    ]
    with_pairs = np.broadcast_shapes(*(a.shape for a in blades))
    pairs = with_pairs[-1]
    if pairs not in (1, 2):
        raise ValueError(f"{pairs} fin pairs: one or two are possible")
    shape = np.broadcast_shapes(excitation.shape[:-1], with_pairs[:-1], *(a.shape for a in rows))
    energy = np.broadcast_to(excitation, (*shape, excitation.shape[-1]))
    packed_hull = np.stack([np.broadcast_to(a, shape).ravel() for a in rows])
    packed_fins = np.stack([np.broadcast_to(a, (*shape, pairs)).reshape(-1, pairs) for a in blades])
    energy = np.ascontiguousarray(energy.reshape(-1, excitation.shape[-1]), float)
    return shape, energy, packed_hull, packed_fins


def _solve(
    energy: FloatArray,
    nodes: FloatArray,
    radiation: FloatArray,
    rows: FloatArray,
    blades: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Outputs of the compiled loop, with every array in the form it is compiled for.

    Another memory order or write flag would need another compilation, several seconds on a
    new machine.
    """
    hull_out = np.empty((len(HULL_OUT), energy.shape[0]))
    fins_out = np.empty((len(FINS_OUT), *blades.shape[1:]))
    energy, radiation = (np.ascontiguousarray(a).view() for a in (energy, radiation))
    energy.flags.writeable = radiation.flags.writeable = False
    rows, blades = np.ascontiguousarray(rows), np.ascontiguousarray(blades)
    solve_loop(energy, nodes, radiation, rows, blades, hull_out, fins_out)
    return hull_out, fins_out


def _count_groups(
    energy: FloatArray,
    nodes: FloatArray,
    radiation: FloatArray,
    rows: FloatArray,
    blades: FloatArray,
    hull_out: FloatArray,
    fins_out: FloatArray,
) -> None:
    """Replace the outputs, where fins reach a limit, by those with wave groups; in place."""
    names = ("lag", "fall", "moment", "limit")
    lag, fall, moment, limit = (blades[FINS_IN.index(name)] for name in names)
    weight = group_weight(fins_out, lag, fall, moment)
    # The weight of groups grows from zero, so that nothing jumps where the first fin reaches
    # a limit.
    felt = np.flatnonzero((weight > 0.0) & (hull_out[HULL_OUT.index("stable")] > 0.5))
    if not felt.size:
        return
    weight, lag, moment, limit = weight[felt], lag[felt], moment[felt], limit[felt]
    sums, answers = [hull_out[:, felt]], [fins_out[:, felt]]
    for factor in (LESSER, GREATER):
        sea = energy[felt] * factor
        one, each = _solve(sea, nodes, radiation, rows[:, felt], blades[:, felt])
        sums.append(one)
        answers.append(each)
    shares = group_shares(weight)
    found = sums_over_groups((sums[0], sums[1], sums[2]), shares)
    for name, pick in (("residual", np.max), ("iterations", np.sum), ("stable", np.min)):
        row = HULL_OUT.index(name)
        found[row] = pick(np.stack([one[row] for one in sums]), axis=0)
    together = over_groups((answers[0], answers[1], answers[2]), shares)
    omega0 = rows[HULL_IN.index("omega0"), felt]
    three = np.stack([one.T for one in sums]), np.stack(answers)
    inputs = limit_inputs(*three, lag, limit, omega0)
    command = answers[0][FINS_OUT.index("command")]
    fit_to_time(found, together, inputs, weight, command, moment)
    hull_out[:, felt] = found
    fins_out[:, felt] = together


def solve_roll(
    excitation: ArrayLike,
    nodes_rad_s: ArrayLike,
    hull: HullRoll,
    fins: Fins,
    *,
    groups: bool = True,
) -> RollResponse:
    """Roll, heel and fin activity at any number of points.

    Parameters
    ----------
    excitation : array_like, shape P + (nodes,)
        Variance of effective wave slope at each encounter frequency, from
        ``excitation.RollExcitation``. [rad2]
    nodes_rad_s : array_like, shape (nodes,)
        Encounter frequencies. [rad/s]
    hull : HullRoll
        Broadcasts over P.
    fins : Fins
        One or two pairs on the last axis. ``fins.centred()`` and ``fins.absent()`` are the
        two cases to compare with.
    groups : bool
        Whether to allow for wave groups where fins reach a limit (``wave_groups.py``);
        without, the result is that of statistical linearisation alone.

    Returns
    -------
    RollResponse
        NaN where any input is NaN or the loop is unstable.

    Raises
    ------
    ValueError
        For more than two pairs.
    """
    nodes = np.ascontiguousarray(nodes_rad_s, float)
    shape, energy, rows, blades = _pack(np.asarray(excitation, float), hull, fins)
    water = (hull.radiation or no_radiation(nodes)).table
    hull_out, fins_out = _solve(energy, nodes, water, rows, blades)
    if groups:
        _count_groups(energy, nodes, water, rows, blades, hull_out, fins_out)
    m0, m2, m4, heel, damping, residual, iterations, steady = hull_out
    stable = steady > 0.5
    for array in (m0, m2, m4, heel, damping):
        array[~stable] = np.nan
    fins_out[:, ~stable, :] = np.nan
    asked = np.sum(blades[0] * blades[10], axis=1)
    shortfall = asked - (rows[3] - heel)
    with np.errstate(invalid="ignore", divide="ignore"):
        crossing = np.sqrt(m2 / m0)

    def over_points(a: FloatArray) -> FloatArray:
        return np.asarray(a.reshape(shape))

    def over_pairs(name: str) -> FloatArray:
        out = fins_out[FINS_OUT.index(name)]
        return np.asarray(out.reshape((*shape, blades.shape[2])))

    def pair_in(name: str) -> FloatArray:
        given = blades[FINS_IN.index(name)]
        return np.asarray(given.reshape((*shape, blades.shape[2])))

    at_angle = 1.0 - over_pairs("gain")
    at_rate = share_rate_limited(pair_in("lag"), over_pairs("lag"))
    return RollResponse(
        roll_rms_rad=over_points(np.sqrt(m0)),
        rate_rms_rad_s=over_points(np.sqrt(m2)),
        acceleration_rms_rad_s2=over_points(np.sqrt(m4)),
        mean_heel_rad=over_points(heel),
        heel_shortfall_rad=over_points(shortfall),
        damping_ratio_total=over_points(damping),
        zero_crossing_rad_s=over_points(crossing),
        command_rms_rad=over_pairs("command"),
        fin_rms_rad=over_pairs("angle"),
        fin_mean_rad=over_pairs("mean"),
        incidence_rms_rad=over_pairs("incidence"),
        incidence_mean_rad=over_pairs("mean"),
        lift_rms_rad=over_pairs("lift"),
        lift_mean_rad=over_pairs("lift_mean"),
        fin_rate_rms_rad_s=over_pairs("rate"),
        travel_rad_s=over_pairs("travel"),
        beyond_stall_rms_rad=over_pairs("beyond"),
        share_at_angle_limit=at_angle,
        share_rate_limited=at_rate,
        share_at_limit=1.0 - (1.0 - at_angle) * (1.0 - at_rate),
        share_beyond_stall=share_beyond_stall(over_pairs("inflow_gain"), pair_in("fall")),
        limit_gain=over_pairs("gain"),
        lift_gain=over_pairs("lift_gain"),
        inflow_gain=over_pairs("inflow_gain"),
        effective_lag_s=over_pairs("lag"),
        converged=np.asarray(((residual < CONVERGED) & stable).reshape(shape)),
        stable=np.asarray(stable.reshape(shape)),
        iterations=np.asarray(np.nan_to_num(iterations).astype(np.int64).reshape(shape)),
    )
