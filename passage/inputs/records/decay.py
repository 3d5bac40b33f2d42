"""Fit damping and natural period to a roll-decay record."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from passage.errors import LogError, Problem
from passage.inputs.records.decay_record import DecayRecord, read_decay_record
from passage.physics.roll.damping import decay_amplitude
from passage.units import DEG_RAD

__all__ = ["DecayFit", "DecayRecord", "fit_decay", "read_decay_record"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DecayFit:
    """What a record says, each with its standard uncertainty.

    ``quadratic_damping`` is b of phi'' + 2 zeta w0 phi' + b |phi'| phi' + w0^2 phi = 0
    (per radian); a half cycle loses pi zeta phi + (4/3) b phi^2. An uncertainty of NaN
    means the value was not fitted but set to zero, and a note says so.
    """

    damping_ratio: float
    damping_ratio_sd: float
    quadratic_damping: float
    quadratic_damping_sd: float
    natural_period_s: float
    natural_period_sd_s: float
    list_deg: float
    residual_deg: float
    correlation: float
    n_peaks: int
    amplitude_range_deg: tuple[float, float]
    notes: tuple[str, ...]

    def equivalent_ratio(self, amplitude_rad: float | Floats) -> Floats:
        """Damping ratio of the linear system that loses as much at an amplitude."""
        loss = 4.0 / (3.0 * math.pi) * self.quadratic_damping * np.asarray(amplitude_rad)
        return np.asarray(self.damping_ratio + loss)


def fit_decay(record: DecayRecord) -> DecayFit:
    """Fit damping and period by least squares.

    The sizes of all peaks are fitted at once by the closed form of
    `passage.physics.roll.damping.decay_amplitude`, with the first size and, for signed
    records, a steady list as further unknowns. Uncertainties are standard (one sigma),
    from the scatter of the peaks about the fit.

    Raises
    ------
    LogError
        No decay of this kind fits the peaks.
    """
    notes: list[str] = []
    sign = np.sign(record.roll_rad[0] - record.roll_rad[1]) * np.where(
        record.half_cycles % 2 == 0, 1.0, -1.0
    )
    size = record.roll_rad if record.signed else np.abs(record.roll_rad)
    free = [True, True]
    while True:
        solution = _solve(record, size, sign, free)
        values = _unpack(solution.x, free)
        # A damping that the scatter drives to zero is left out and the rest fitted
        # again, so that the uncertainty of what remains is honest.
        worst = [i for i in (0, 1) if free[i] and values[1 + i] <= 1e-9]
        if not worst:
            break
        free[worst[0]] = False
        if not any(free):
            raise _no_decay(record)
    first, zeta, quadratic, steady = values
    sd, correlation, residual = _uncertainty(solution, free, record.signed)
    if residual > 0.15 * first:
        raise _no_decay(record)
    if not free[0]:
        notes.append("linear damping is not distinguishable from zero; fitted without it")
    if not free[1]:
        notes.append("quadratic damping is not distinguishable from zero; fitted without it")
    if free[0] and sd[0] > 0.5 * zeta:
        notes.append("linear damping is known to no better than half its value")
    if free[1] and sd[1] > 0.5 * quadratic:
        notes.append("quadratic damping is known to no better than half its value")
    if first > 20.0 * DEG_RAD:
        notes.append(
            "the decay starts above 20 deg, where the righting arm is no longer a straight line"
        )
    period, period_sd = _period(record, zeta)
    sizes = np.abs(size - steady) if record.signed else size
    return DecayFit(
        damping_ratio=zeta,
        damping_ratio_sd=sd[0],
        quadratic_damping=quadratic,
        quadratic_damping_sd=sd[1],
        natural_period_s=period,
        natural_period_sd_s=period_sd,
        list_deg=steady / DEG_RAD,
        residual_deg=residual / DEG_RAD,
        correlation=correlation,
        n_peaks=record.time_s.size,
        amplitude_range_deg=(float(sizes.min()) / DEG_RAD, float(sizes.max()) / DEG_RAD),
        notes=tuple(notes),
    )


def _no_decay(record: DecayRecord) -> LogError:
    return LogError(
        str(
            Problem(
                file=record.path,
                what="no decay with linear and quadratic damping fits these peaks",
                fix="Check that they are the peaks of one free decay in calm water.",
            )
        )
    )


def _unpack(x: Floats, free: list[bool]) -> tuple[float, float, float, float]:
    """First size, zeta, b and list from the free unknowns (list last if there)."""
    rest = [float(value) for value in x[1:]]
    zeta = rest.pop(0) if free[0] else 0.0
    quadratic = rest.pop(0) if free[1] else 0.0
    return float(x[0]), zeta, quadratic, rest[0] if rest else 0.0


def _solve(record: DecayRecord, size: Floats, sign: Floats, free: list[bool]):  # type: ignore[no-untyped-def]
    """Least squares over the free unknowns."""
    n = record.half_cycles

    def residuals(x: Floats) -> Floats:
        first, zeta, quadratic, steady = _unpack(x, free)
        model = decay_amplitude(n, first, zeta, quadratic)
        return size - (sign * model + steady if record.signed else model)

    start = [float(np.abs(size[0]))]
    lower, upper, scale = [1e-6], [2.0], [start[0]]
    if free[0]:
        start.append(0.03)
        lower.append(0.0)
        upper.append(0.9)
        scale.append(0.03)
    if free[1]:
        start.append(0.2)
        lower.append(0.0)
        upper.append(50.0)
        scale.append(0.3)
    if record.signed:
        start.append(0.0)
        lower.append(-0.5)
        upper.append(0.5)
        scale.append(0.02)
    return least_squares(
        residuals, start, bounds=(lower, upper), x_scale=scale, xtol=1e-14, ftol=1e-14, gtol=1e-14
    )


def _uncertainty(solution, free: list[bool], signed: bool):  # type: ignore[no-untyped-def]
    """Standard uncertainties of zeta and b, their correlation, and the scatter."""
    jacobian = solution.jac
    n, p = jacobian.shape
    scatter = float(np.sqrt(2.0 * solution.cost / (n - p)))
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scatter**2
    deviation = np.sqrt(np.diag(covariance))
    sd = [math.nan, math.nan]
    at = 1
    for i in (0, 1):
        if free[i]:
            sd[i] = float(deviation[at])
            at += 1
    correlation = 0.0
    if all(free) and deviation[1] > 0.0 and deviation[2] > 0.0:
        correlation = float(covariance[1, 2] / (deviation[1] * deviation[2]))
    return sd, correlation, scatter


def _period(record: DecayRecord, zeta: float) -> tuple[float, float]:
    """Natural period and its standard uncertainty from the times of the peaks."""
    n, t = record.half_cycles, record.time_s
    centred = n - n.mean()
    slope = float((centred * t).sum() / (centred**2).sum())
    residual = t - t.mean() - slope * centred
    sd = math.sqrt(float((residual**2).sum()) / (n.size - 2) / float((centred**2).sum()))
    undamped = math.sqrt(1.0 - zeta**2)
    return 2.0 * slope * undamped, 2.0 * sd * undamped
