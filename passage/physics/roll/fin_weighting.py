"""Gains of the fins on roll angle, rate and acceleration that roll least.

Near resonance fins should respond to roll rate; at long encounter periods (quartering and
following seas) to roll angle as well; at frequencies above resonance acceleration helps. The
mix that rolls least for the same fin effort depends on the encounter spectrum at each point,
and is found by solving the roll there for a set of mixes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.fins.force import Fins
from passage.physics.roll.fin_margins import LEAST_GAIN_MARGIN, loop_margins
from passage.physics.roll.response import HullRoll, RollResponse, solve_roll

FloatArray = NDArray[np.float64]

#: Angle gain k1 against rate gain k2 in the mix: atan(k1 / (k2 omega_0)). [rad]
MIX_ANGLES_RAD: FloatArray = np.radians([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0])
#: Acceleration gain k3 in the mix: k3 omega_0^2 over hypot(k1, k2 omega_0).
MIX_ACCELERATIONS: FloatArray = np.array([0.0, 0.25, 0.5])
#: Bisections for the size of a mix that gives the effort.
_STEPS = 24
#: Range of the size of a mix, as fin angle per roll angle.
_SIZE_RANGE = (0.02, 40.0)


@dataclass(frozen=True)
class GainAdvice:
    """Gains that roll least for a fin effort; every array of shape P.

    Attributes
    ----------
    angle_gain, rate_gain_s, acceleration_gain_s2
        Gains at this speed, not at the reference speed [dimensionless, s, s2]. NaN where the
        sea is too small for any mix to reach the effort.
    roll_rms_rad, given_roll_rms_rad
        Roll rms with those gains, and with the given gains. [rad]
    effort_rad
        Fin effort of both: rms fin angle, root mean square over the pairs. [rad]
    roll_saved
        Reduction as a share of the roll with the given gains. Dimensionless; never below 0,
        because the given gains are the advice where no mix is better.
    """

    angle_gain: FloatArray
    rate_gain_s: FloatArray
    acceleration_gain_s2: FloatArray
    roll_rms_rad: FloatArray
    given_roll_rms_rad: FloatArray
    effort_rad: FloatArray
    roll_saved: FloatArray


@dataclass(frozen=True)
class GainCheck:
    """Whether the given gains are too high; arrays of shape P.

    Attributes
    ----------
    too_high
        True where half the gains give no more roll than the given gains, or where the given
        gains are unstable and half of them are not.
    roll_rms_rad, half_roll_rms_rad
        Roll rms with the given gains and with half of them; NaN where unstable. [rad]
    """

    too_high: NDArray[np.bool_]
    roll_rms_rad: FloatArray
    half_roll_rms_rad: FloatArray


def _effort(response: RollResponse) -> FloatArray:
    return np.asarray(np.sqrt(np.mean(response.fin_rms_rad**2, axis=-1)))


def _mean_gain(gain: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    return np.broadcast_to(np.atleast_1d(np.asarray(gain, float)).mean(axis=-1), shape)


def advise_gains(
    excitation: ArrayLike,
    nodes_rad_s: ArrayLike,
    hull: HullRoll,
    fins: Fins,
    *,
    effort_rad: ArrayLike | None = None,
) -> GainAdvice:
    """Mix of gains that rolls least for a given fin effort.

    Parameters
    ----------
    excitation, nodes_rad_s, hull
        As in ``solve_roll``.
    fins : Fins
        Fins with the gains to compare with; all pairs get the same advice. A mix whose gain
        margin is below ``LEAST_GAIN_MARGIN`` is not advised.
    effort_rad : array_like, shape P, optional
        rms fin angle to use; by default that of the given gains. [rad]

    Returns
    -------
    GainAdvice

    Notes
    -----
    For each of 24 mixes the size is found by bisection on the effort; the mix that rolls
    least is the advice. Effort grows with size until the fins reach their limits.
    """
    energy = np.asarray(excitation, float)
    given = solve_roll(energy, nodes_rad_s, hull, fins)
    shape = given.roll_rms_rad.shape
    effort = _effort(given)
    same_effort = effort_rad is None
    if effort_rad is not None:
        effort = np.broadcast_to(np.asarray(effort_rad, float), shape)
    w0 = np.broadcast_to(np.asarray(hull.natural_frequency_rad_s, float), shape)
    best = np.full(shape, np.inf)
    gains = np.full((3, *shape), np.nan)
    for angle in MIX_ANGLES_RAD:
        for acceleration in MIX_ACCELERATIONS:
            mix = (np.sin(angle), np.cos(angle) / w0, acceleration / w0**2)
            size, roll = _size_for_effort(energy, nodes_rad_s, hull, fins, mix, effort)
            better = roll < best  # False for NaN
            if not np.any(better):
                continue
            margin = loop_margins(hull, _steered(fins, mix, size)).gain_factor
            better &= margin >= LEAST_GAIN_MARGIN
            best = np.where(better, roll, best)
            for n, part in enumerate(mix):
                gains[n] = np.where(better, size * np.asarray(part, float), gains[n])
    found = np.isfinite(best)
    roll = np.where(found, best, np.nan)
    if same_effort:
        # The given gains are one of the choices, so that the advice is never worse.
        keep = ~found | (given.roll_rms_rad <= best)
        keep &= ~np.isnan(given.roll_rms_rad)
        old = (fins.angle_gain, fins.rate_gain_s, fins.acceleration_gain_s2)
        for n, gain in enumerate(old):
            gains[n] = np.where(keep, _mean_gain(gain, shape), gains[n])
        roll = np.where(keep, given.roll_rms_rad, roll)
    with np.errstate(invalid="ignore", divide="ignore"):
        saved = 1.0 - roll / given.roll_rms_rad
    return GainAdvice(
        angle_gain=gains[0],
        rate_gain_s=gains[1],
        acceleration_gain_s2=gains[2],
        roll_rms_rad=roll,
        given_roll_rms_rad=given.roll_rms_rad,
        effort_rad=np.asarray(effort),
        roll_saved=np.where(np.isnan(saved), np.nan, np.maximum(saved, 0.0)),
    )


def _steered(fins: Fins, mix: tuple[ArrayLike, ArrayLike, ArrayLike], size: FloatArray) -> Fins:
    """Fins with a mix of gains times ``size``, the same for all pairs."""
    k1, k2, k3 = ((size * np.asarray(part, float))[..., None] for part in mix)
    return replace(fins, angle_gain=k1, rate_gain_s=k2, acceleration_gain_s2=k3)


def _size_for_effort(
    energy: FloatArray,
    nodes_rad_s: ArrayLike,
    hull: HullRoll,
    fins: Fins,
    mix: tuple[ArrayLike, ArrayLike, ArrayLike],
    effort: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Size of a mix that takes the effort, and its roll rms [rad], NaN where there is none."""

    def solve(size: FloatArray) -> RollResponse:
        return solve_roll(energy, nodes_rad_s, hull, _steered(fins, mix, size))

    low = np.full(effort.shape, np.log(_SIZE_RANGE[0]))
    high = np.full(effort.shape, np.log(_SIZE_RANGE[1]))
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        spent = _effort(solve(np.exp(middle)))
        # An unstable loop (NaN) counts as too much effort.
        enough = ~(spent < effort)
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    size = np.exp(low)
    response = solve(size)
    reached = np.abs(_effort(response) / np.where(effort > 0, effort, np.nan) - 1.0) < 1e-3
    return size, np.where(reached, response.roll_rms_rad, np.nan)


def check_gains(
    excitation: ArrayLike, nodes_rad_s: ArrayLike, hull: HullRoll, fins: Fins
) -> GainCheck:
    """Check where the gains are so high that half of them would do as well.

    At the angle or rate limit a higher gain no longer reduces roll. Excitation P + (nodes,)
    in [rad2], frequencies in [rad/s].

    Parameters
    ----------
    excitation, nodes_rad_s, hull, fins
        As in ``solve_roll``.

    Returns
    -------
    GainCheck
        ``too_high`` is False where an input is NaN.
    """
    full = solve_roll(excitation, nodes_rad_s, hull, fins)
    halved = replace(
        fins,
        angle_gain=0.5 * np.asarray(fins.angle_gain, float),
        rate_gain_s=0.5 * np.asarray(fins.rate_gain_s, float),
        acceleration_gain_s2=0.5 * np.asarray(fins.acceleration_gain_s2, float),
    )
    half = solve_roll(excitation, nodes_rad_s, hull, halved)
    steered = np.any(full.command_rms_rad > 0.0, axis=-1) | ~full.stable
    no_gain = half.roll_rms_rad <= full.roll_rms_rad
    lost = ~full.stable & half.stable
    return GainCheck(
        too_high=np.asarray(steered & (no_gain | lost)),
        roll_rms_rad=full.roll_rms_rad,
        half_roll_rms_rad=half.roll_rms_rad,
    )
