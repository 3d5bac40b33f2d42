r"""Roll response per metre of wave at levels of damping and of fin feedback.

``response.solve_roll`` sums over 128 encounter frequencies in every step of its iteration.
For millions of points that sum is computed beforehand: the same excitation tables times
:math:`|H|^2` of the same equation, at a few levels, in one matrix product. The spectrum at a
point then gives a small plane of variances over two axes, and ``interpolate.py`` finds the
fixed point on that plane with the same gains.

The axes, for one vessel at one speed:

- D, everything that is pure damping: that of the hull, linear and quadratic, and the inflow of
  the fins. Four nodes; cubic in ``1/(D + shift)``, in which a resonance is nearly linear.
- g, the remaining share of the fins' feedback, from 0 for centred to 1 for unsaturated fins.
  Nodes even in ``x = log(1 + g r)``, with r the damping by full feedback over D; cubic in x.

g is the share of damping at the natural frequency (the share of force where feedback is not
mainly damping). Saturation also lengthens the lag: each node has the lag that belongs to its g
without offset. The remaining difference is a change of stiffness, for which there is a column
of derivatives besides the plane. ``tests/physics/tables/test_season_roll.py`` compares the
result with ``solve_roll``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from passage.physics.fins.force import Fins
from passage.physics.roll.fin_gains import (
    COMMANDS,
    LIFT_GAIN,
    SHARE,
    FinGains,
    each_pair,
    fin_gains,
    gains,
)
from passage.physics.roll.linearisation import QUADRATIC_FACTOR
from passage.physics.roll.packing import SHORTEST_LAG_S

FloatArray = NDArray[np.float64]

#: Moments at each level: variance of roll, of its rate, of its acceleration.
MOMENTS = 3
DAMPING_NODES = 4
FEEDBACK_NODES = 5
#: Nodes along g where fins work at rest, with damping up to ``_REST_RATIO``.
REST_NODES = 12
#: Roll rate at the end of the damping axis; beyond it is extrapolated. [rad/s]
TOP_RATE_RAD_S = 0.30
#: ``shift`` over the middle of the damping axis; chosen by trial (docs/season.md).
_SHIFT = 0.5
#: Least share of inflow damping that remains in a stall.
LEAST_INFLOW = 0.5
#: Feedback counts as damping if its damping is at least this share of its magnitude.
_DAMPING_SHARE = 0.3
#: At rest: largest damping by the fins over that of the hull.
_REST_RATIO = 60.0
#: Frequency of fin motion, over the natural one, assumed for the lag at a node.
USUAL_PACE = 1.0
#: Damping node at which the derivatives are taken.
DERIVATIVE_NODE = 1


@dataclass(frozen=True, eq=False)
class RollLevels:
    """Levels of one vessel at one speed.

    Attributes
    ----------
    natural_frequency_rad_s, quadratic_per_rad, hull_damping
        omega_0 [rad/s]; b [1/rad]; 2 zeta omega_0 [rad/s].
    damping : ndarray (4,)
        Nodes of D, descending, even in ``1/(D + shift)``. [rad/s]
    shift : float
        Shift of that axis. [rad/s]
    x : ndarray (nodes,)
        Nodes along g, ascending from 0 (centred). Dimensionless.
    ratio : float
        r of ``x = log(1 + g r)``. Dimensionless.
    left, lag_s : ndarray (nodes, pairs)
        Lift gain of each pair at the nodes [dimensionless], and its lag [s].
    weight : ndarray (pairs,)
        g is the sum of weight x lift gain (x relative damping at the lag, see
        ``by_damping``). Dimensionless.
    by_damping : float
        1 where g is a share of damping, 0 where of force.
    rest_damping : float
        At rest: damping at g = 1; 0 under way. [rad/s]
    fins : Fins
        Values for each pair (pairs,), with the gains scheduled for this speed.
    table : FinGains
        Effect of limit and stall.
    radiation : tuple of ndarray, optional
        Stiffness [dimensionless] and damping over the righting moment [s] to add at each
        encounter frequency (``roll.radiation``).
    """

    natural_frequency_rad_s: float
    quadratic_per_rad: float
    hull_damping: float
    damping: FloatArray
    shift: float
    x: FloatArray
    ratio: float
    left: FloatArray
    lag_s: FloatArray
    weight: FloatArray
    by_damping: float
    rest_damping: float
    fins: Fins
    table: FinGains
    radiation: tuple[FloatArray, FloatArray] | None = None

    @property
    def pairs(self) -> int:
        """Number of fin pairs."""
        return int(np.size(self.fins.moment_ratio))

    @property
    def size(self) -> int:
        """Number of variances in one plane."""
        return self.damping.size * self.x.size * MOMENTS

    def over_nodes(self, nodes_rad_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weight of the excitation at each encounter frequency in each column.

        Returns
        -------
        plane : ndarray, (frequencies, size)
            Variances per variance of slope; moment slowest, then x, then damping.
        derivative : ndarray, (frequencies, nodes)
            Derivative of the variance of roll rate with respect to ``change`` in the
            stiffness ``1 - w^2/w0^2 + change w^2``, at the damping node ``DERIVATIVE_NODE``.
        """
        w = np.asarray(nodes_rad_s, float)
        w0 = self.natural_frequency_rad_s
        real, imag = self._feedback(w)
        stiffness, damping = self.radiation or (np.zeros(w.size), np.zeros(w.size))
        re = (1.0 - (w / w0) ** 2 + stiffness)[:, None, None] + real[..., None]
        im = self.damping / w0**2 + (imag + damping[:, None])[..., None]
        size = re**2 + w[:, None, None] ** 2 * im**2
        powers = w[:, None] ** np.array([0.0, 2.0, 4.0])
        plane = (powers[:, :, None, None] / size[:, None]).reshape(w.size, -1)
        at = DERIVATIVE_NODE
        slope = -2.0 * w[:, None] ** 4 * re[..., 0] / size[..., at] ** 2
        if self.rest_damping > 0.0:
            slope = np.zeros_like(slope)
        return np.ascontiguousarray(plane), slope

    def _feedback(self, w: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Stiffness and damping (over omega) of the feedback, (frequencies, nodes)."""
        if self.rest_damping > 0.0:
            g = np.expm1(self.x) / self.ratio
            imag = g * self.rest_damping / self.natural_frequency_rad_s**2
            return np.zeros((w.size, self.x.size)), np.broadcast_to(imag, (w.size, self.x.size))
        real = np.zeros((w.size, self.x.size))
        imag = np.zeros((w.size, self.x.size))
        for i in range(self.pairs):
            one = feedback(self.fins, i, w[:, None], self.lag_s[:, i])
            real += self.left[:, i] * one[0]
            imag += self.left[:, i] * one[1]
        return real, imag

    @cached_property
    def stiffness(self) -> FloatArray:
        """Stiffness of the feedback at the natural frequency and each node, (nodes,)."""
        return self._feedback(np.array([self.natural_frequency_rad_s]))[0][0]


def feedback(fins: Fins, pair: int, omega: FloatArray, lag: FloatArray) -> list[FloatArray]:
    """Stiffness and damping (over omega) of one pair's unsaturated feedback.

    ``omega`` in [rad/s], ``lag`` in [s], broadcasting; stiffness dimensionless (over the
    righting moment), damping over omega in [s].
    """
    k1, k2, k3 = (k[pair] for k in gains(fins))
    moment = each_pair(fins.moment_ratio, fins)[pair]
    c1 = k1 - omega**2 * k3
    late = each_pair(fins.delay_s, fins)[pair]
    cos, sin = np.cos(omega * late), late * np.sinc(omega * late / np.pi)
    c1, k2 = c1 * cos + omega**2 * k2 * sin, k2 * cos - c1 * sin
    follow = moment / (1.0 + (omega * lag) ** 2)
    return [(c1 + omega**2 * k2 * lag) * follow, (k2 - c1 * lag) * follow]


def roll_levels(
    natural_frequency_rad_s: float,
    damping_ratio: float,
    quadratic_damping_per_rad: float,
    fins: Fins,
    radiation: tuple[FloatArray, FloatArray] | None = None,
) -> RollLevels:
    """Levels of a vessel at one speed.

    Frequencies in [rad/s]; the damping ratio is dimensionless, the quadratic damping per rad.

    Parameters
    ----------
    natural_frequency_rad_s, damping_ratio, quadratic_damping_per_rad
        As in ``HullRoll``, at this speed.
    fins : Fins
        Fins as used at this speed, one value for each pair: with gains under way, with
        ``rest_moment_rad`` at rest, with zero moment for a yacht without fins.
    radiation : tuple of ndarray, optional
        Result of ``RollRadiation.beside`` for this speed.
    """
    w0 = float(natural_frequency_rad_s)
    zeta, b = float(damping_ratio), float(quadratic_damping_per_rad)
    hull = 2.0 * zeta * w0
    moment, flow = each_pair(fins.moment_ratio, fins), each_pair(fins.inflow_time_s, fins)
    pairs = moment.size
    inflow = w0**2 * float(np.sum(moment * flow))
    low = max(hull + LEAST_INFLOW * inflow, 1e-4 * w0)
    high = max(hull + inflow + QUADRATIC_FACTOR * b * TOP_RATE_RAD_S, 1.2 * low)
    shift = _SHIFT * np.sqrt(low * high)
    damping = 1.0 / np.linspace(1.0 / (high + shift), 1.0 / (low + shift), DAMPING_NODES) - shift
    lag = np.maximum(each_pair(fins.lag_s, fins), SHORTEST_LAG_S)
    table = fin_gains(fins, w0)
    rest = float(np.sum(each_pair(fins.rest_moment_rad, fins)))
    if rest > 0.0:
        ratio = _REST_RATIO
        x = np.linspace(0.0, np.log1p(ratio), REST_NODES)
        left, lags = np.zeros((x.size, pairs)), np.broadcast_to(lag, (x.size, pairs))
        rest_damping = ratio * (hull + inflow)
        return RollLevels(
            w0, b, hull, damping, shift, x, ratio, left, np.array(lags), np.zeros(pairs), 0.0,
            rest_damping, fins, table, radiation,
        )  # fmt: skip
    weight, by_damping, added = _matching(w0, fins, lag)
    ratio = max(w0**2 * added / (hull + inflow), 0.5)
    x = np.linspace(0.0, np.log1p(ratio), FEEDBACK_NODES)
    left, lags = _saturation(w0, fins, lag, table, weight, by_damping, np.expm1(x) / ratio)
    return RollLevels(
        w0, b, hull, damping, shift, x, ratio, left, lags, weight, by_damping, 0.0, fins, table,
        radiation,
    )  # fmt: skip


def _matching(w0: float, fins: Fins, lag: FloatArray) -> tuple[FloatArray, float, float]:
    """Weights of the pairs in g, 1 if g is a share of damping, and damping over omega [s]."""
    at = np.array([w0])
    parts = [feedback(fins, i, at, lag[i : i + 1]) for i in range(lag.size)]
    real, imag = (np.array([part[q][0] for part in parts]) for q in (0, 1))
    size = np.hypot(real, w0 * imag)
    if size.sum() <= 0.0:
        return np.zeros(lag.size), 0.0, 0.0
    if w0 * imag.sum() > _DAMPING_SHARE * size.sum() and np.all(imag >= 0.0):
        return imag / imag.sum(), 1.0, float(imag.sum())
    return size / size.sum(), 0.0, float(max(imag.sum(), 0.0))


def _saturation(
    w0: float,
    fins: Fins,
    lag: FloatArray,
    table: FinGains,
    weight: FloatArray,
    by_damping: float,
    g: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Lift gain and lag of each pair, (nodes, pairs), for roll at omega_0 that gives each g."""
    pairs = lag.size
    if not np.any(weight > 0.0):
        return np.repeat(g[:, None], pairs, axis=1), np.repeat(lag[None], g.size, axis=0)
    k1, k2, k3 = gains(fins)
    per_rate = np.hypot(k1 - w0**2 * k3, w0 * k2) / w0
    most = each_pair(fins.rate_limit_rad_s, fins)
    u = np.linspace(0.0, 1.0, COMMANDS)[:-1]
    rate = np.max(table.limit_rad) * u / (1.0 - u) / np.max(per_rate)
    left = np.zeros((rate.size, pairs))
    lags = np.zeros((rate.size, pairs))
    matched = np.zeros(rate.size)
    for i in range(pairs):
        command = rate * per_rate[i]
        place = command / (command + table.limit_rad[i])
        one = table.data[i, :, 0]
        nodes = np.linspace(0.0, 1.0, COMMANDS)
        left[:, i] = np.interp(place, nodes, one[:, LIFT_GAIN])
        asked = np.interp(place, nodes, one[:, SHARE]) * command * w0 * USUAL_PACE
        asked = asked / np.sqrt(1.0 + (w0 * lag[i]) ** 2)
        kept = _rate_gain(asked, most[i])
        lags[:, i] = lag[i] / kept
        factor = np.ones(rate.size)
        if by_damping > 0.0:
            own = feedback(fins, i, np.array([w0]), lag[i : i + 1])[1]
            factor = feedback(fins, i, np.array([w0]), lags[:, i])[1] / own
        matched += weight[i] * left[:, i] * factor
    # Reversed to ascending order for interpolation; g falls as the roll grows.
    falling = np.minimum.accumulate(matched)[::-1]
    keep = np.r_[True, np.diff(falling) > 1e-9]

    def at(values: FloatArray) -> FloatArray:
        return np.interp(g, falling[keep], values[::-1][keep])

    kept_left = np.stack([at(left[:, i]) for i in range(pairs)], axis=1)
    kept_lag = np.stack([at(lags[:, i]) for i in range(pairs)], axis=1)
    # Below the least g of the grid, feedback is proportional to g.
    least = falling[0]
    kept_left *= np.where(g < least, g / max(least, 1e-12), 1.0)[:, None]
    return kept_left, kept_lag


def _rate_gain(asked: FloatArray, most: float) -> FloatArray:
    """Linear gain of the rate limit, for a rate without the limit of ``asked`` over gain."""
    kept = np.ones_like(asked)
    if not np.isfinite(most):
        return kept
    for _ in range(200):
        kept = 0.5 * (kept + np.maximum(erf(most * kept / (np.sqrt(2.0) * asked + 1e-30)), 1e-3))
    return kept
