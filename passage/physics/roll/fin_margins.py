"""Gain and phase margins of the fins' control loop, with the control's delay.

Sensor and filters delay the control, in addition to the actuator's lag. For small motions
hull and fins are the loop ``1 + L(s) = 0`` with

    L(s) = sum of m (k1 + k2 s + k3 s^2) exp(-s d) / (1 + s T) over
           (1 + (2 zeta / w0 + sum of m r/U) s + s^2 / w0^2)

m is the moment ratio, k are gains, d is the delay, T the lag, r/U the inflow time. Without
gain she is stable. As all gains grow by a factor g she first hunts where ``g L(j w) = -1``,
with the period ``2 pi / w``. The delay is exact. In larger motion limits, stall and quadratic
damping reduce the effect of the fins, so they bound the hunting but do not prevent it.

References
----------
Nyquist's criterion, from any textbook of control; the equation is that of ``response.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.fins.force import Fins
from passage.physics.roll.response import HullRoll

FloatArray = NDArray[np.float64]

#: Least gain margin of advised gains: half the gain at which she hunts (common practice, 6 dB).
LEAST_GAIN_MARGIN = 2.0
#: Phase margin below which there is a caution. [rad] (common practice, 30 degrees)
LEAST_PHASE_MARGIN_RAD = float(np.radians(30.0))
#: Frequencies of the search over the natural one: slower than any roll to faster than any fin.
_RATIOS: FloatArray = np.concatenate([[0.0], np.geomspace(0.02, 400.0, 3000)])


@dataclass(frozen=True)
class LoopMargins:
    """Margins of the loop; arrays of shape P, NaN where an input is.

    Attributes
    ----------
    gain_factor
        Factor on all gains at which she starts to hunt, dimensionless. At 1 or less she
        hunts with the gains as set; infinite where no gain makes her hunt.
    hunting_period_s
        Period of the hunting; infinite where she would heel over instead. [s]
    phase_margin_rad
        Least phase margin at a loop gain of one; infinite where the gain never is one, and
        meaningless where she hunts with the gains as set. [rad]
    """

    gain_factor: FloatArray
    hunting_period_s: FloatArray
    phase_margin_rad: FloatArray


def open_loop(omega_rad_s: ArrayLike, hull: HullRoll, fins: Fins) -> NDArray[np.complex128]:
    """Open loop L at frequencies (last axis), for hull and fins of shape P and P + (pairs,).

    Frequencies in [rad/s]; L is dimensionless.
    """
    w0 = np.asarray(hull.natural_frequency_rad_s, float)[..., None]
    damping = 2.0 * np.asarray(hull.damping_ratio, float)[..., None] / w0
    s = 1j * np.asarray(omega_rad_s, float)

    def pair(values: ArrayLike) -> FloatArray:
        return np.atleast_1d(np.asarray(values, float))[..., None]

    flow = pair(fins.moment_ratio) * pair(fins.inflow_time_s)
    at = s if s.ndim == 1 else s[..., None, :]
    # Products of complex NaN give a warning and stay NaN.
    with np.errstate(invalid="ignore"):
        steer = pair(fins.angle_gain) + pair(fins.rate_gain_s) * at
        steer = steer + pair(fins.acceleration_gain_s2) * at**2
        steer = steer * np.exp(-at * pair(fins.delay_s)) / (1.0 + at * pair(fins.lag_s))
        lifted = np.sum(pair(fins.moment_ratio) * steer, axis=-2)
        held = 1.0 + (damping + np.sum(flow, axis=-2)) * s + (s / w0) ** 2
        return np.asarray(lifted / held)


def loop_margins(hull: HullRoll, fins: Fins) -> LoopMargins:
    """Gain margin, hunting period and phase margin of the fins' loop in small motion.

    Parameters
    ----------
    hull, fins
        As in ``solve_roll``; lags and delays in [s].
    """
    w0 = np.asarray(hull.natural_frequency_rad_s, float)
    omega = np.asarray(w0)[..., None] * _RATIOS
    loop = open_loop(omega, hull, fins)
    omega = np.broadcast_to(omega, loop.shape)
    real, imag = loop.real, loop.imag
    # Zeros of the imaginary part, linear between two frequencies.
    cross = (imag[..., 1:] > 0.0) != (imag[..., :-1] > 0.0)
    cross[..., 0] = True  # at zero frequency it is zero
    rise = imag[..., 1:] - imag[..., :-1]
    share = np.where(cross, -imag[..., :-1] / np.where(rise == 0.0, 1.0, rise), 0.0)
    at = omega[..., :-1] + share * (omega[..., 1:] - omega[..., :-1])
    value = real[..., :-1] + share * (real[..., 1:] - real[..., :-1])
    against = np.where(cross, -value, -np.inf)
    worst = np.argmax(against, axis=-1)[..., None]
    most = np.take_along_axis(against, worst, axis=-1)[..., 0]
    where = np.take_along_axis(at, worst, axis=-1)[..., 0]
    hunts = most > 0.0
    factor = np.where(hunts, 1.0 / np.where(hunts, most, 1.0), np.inf)
    moving = hunts & (where > 0.0)
    period = np.where(moving, 2.0 * np.pi / np.where(moving, where, 1.0), np.inf)
    size = np.abs(loop)
    one = (size[..., 1:] > 1.0) != (size[..., :-1] > 1.0)
    left = np.pi - np.abs(np.angle(loop[..., 1:]))
    phase = np.min(np.where(one, left, np.inf), axis=-1)
    bad = np.any(np.isnan(loop), axis=-1)
    return LoopMargins(*(np.where(bad, np.nan, x) for x in (factor, period, phase)))
