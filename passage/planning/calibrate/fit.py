"""Least squares that leave out parameters the data cannot determine.

Parameters are fitted to the logarithm of measured values, so errors are shares. A parameter
that the data determine poorly, or cannot separate from another, returns to its old value with
the reason, and the rest are fitted again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from scipy.stats import t as student

Array = npt.NDArray[np.float64]
KeyPath = tuple[str | int, ...]

#: Correlation above which two parameters cannot be separated.
MAX_CORRELATION = 0.95
#: Confidence level of all bands of a calibration together, roll and fuel.
CONFIDENCE = 0.95
_FITS = 2
#: Largest shift of a logarithm: a factor of 20.
_FARTHEST = np.log(20.0)
_FEWEST_PER_PARAMETER = 4


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """One parameter to fit, zero at the value of the vessel file.

    ``worst_error`` is the largest standard error with which it is accepted. Of two that cannot
    be separated, the one listed earlier is kept. ``doubt`` is the standard error of the value in
    the vessel file; if that value stays, the bands of the others include it.
    """

    name: str
    words: str
    worst_error: float
    doubt: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Result of a fit: shifts of all parameters, zero for those not fitted.

    ``covariance`` is over ``fitted`` only and includes the uncertainty of the others;
    ``residual_rms`` is a share (of logarithms); ``refused`` has the reason by name.
    """

    names: tuple[str, ...]
    shift: dict[str, float]
    fitted: tuple[str, ...]
    covariance: Array
    residual: Array
    residual_rms: float
    degrees_of_freedom: int
    refused: dict[str, str] = field(default_factory=dict)

    @property
    def coverage_factor(self) -> float:
        """Half-width of a band in standard errors, such that all bands hold together.

        Student's t, with the error probability shared between the two fits and their
        parameters (Bonferroni).
        """
        if not self.fitted:
            return float("nan")
        tail = (1.0 - CONFIDENCE) / 2.0 / (_FITS * len(self.fitted))
        return float(student.ppf(1.0 - tail, self.degrees_of_freedom))

    def standard_error(self, name: str) -> float:
        """Standard error of one shift; NaN if it was not fitted."""
        if name not in self.fitted:
            return float("nan")
        at = self.fitted.index(name)
        return float(np.sqrt(self.covariance[at, at]))

    def error_of(self, weights: dict[str, float]) -> float:
        """Standard error of a weighted sum of the shifts."""
        vector = np.array([weights.get(name, 0.0) for name in self.fitted])
        return float(np.sqrt(vector @ self.covariance @ vector)) if self.fitted else 0.0


@dataclass(frozen=True, kw_only=True)
class FittedKey:
    """One key of the vessel file: old and new value, and the band of the new one.

    ``stands_for`` is the number that an old value in words is equal to, if there is one.
    """

    path: KeyPath
    words: str
    unit: str
    old: float | str
    new: float
    low: float
    high: float
    stands_for: float | None = None

    @property
    def differs(self) -> bool:
        """Whether the old value is outside the band; only then is the new one written."""
        old = self.stands_for if isinstance(self.old, str) else self.old
        return old is None or not self.low <= old <= self.high


def fit_logarithms(
    predict: Callable[[dict[str, float]], Array],
    observed_log: npt.ArrayLike,
    parameters: Sequence[Parameter],
    refused: dict[str, str] | None = None,
) -> Fit:
    """Fit parameters to logarithms by least squares, leaving out those not determined.

    Parameters
    ----------
    predict : callable
        Logarithm of the prediction, shape (n,), from the shifts of all parameters by
        name (zero for those not fitted).
    observed_log : array_like (n,)
        Logarithm of the measured values.
    parameters : sequence of Parameter
        Parameters to fit, the most important first.
    refused : dict, optional
        Names of parameters not to fit, with the reasons.

    Returns
    -------
    Fit
        Shifts with standard errors from the scatter of the residuals and from the uncertainty
        of the parameters not fitted.
    """
    observed = np.asarray(observed_log, dtype=float)
    names = tuple(p.name for p in parameters)
    reasons = dict(refused or {})
    active = [p for p in parameters if p.name not in reasons]
    while len(active) * _FEWEST_PER_PARAMETER > observed.size:
        out = active.pop()
        reasons[out.name] = f"only {observed.size} intervals can be used"
    start = np.zeros(len(active))
    while True:
        order = tuple(p.name for p in active)

        def residual(x: Array, order: tuple[str, ...] = order) -> Array:
            shifts = dict.fromkeys(names, 0.0) | dict(zip(order, x, strict=True))
            return np.asarray(predict(shifts) - observed)

        if not active:
            values, error = np.zeros(0), residual(np.zeros(0))
            break
        found = least_squares(
            residual,
            start,
            bounds=(-_FARTHEST, _FARTHEST),
            # Predictions come from iterations that stop at about 1e-6.
            diff_step=1e-3,
            xtol=1e-6,
            ftol=1e-8,
        )
        values, error, slope = found.x, found.fun, found.jac
        drop = _worst(active, values, error, slope)
        if drop is None:
            break
        at, reasons[active[at].name] = drop
        start = np.delete(values, at)
        active.pop(at)
    freedom = max(error.size - len(active), 1)
    scatter = float(np.sqrt(np.sum(error**2) / freedom))
    covariance = _covariance(slope, scatter) if active else np.zeros((0, 0))
    if active:
        held = [p for p in parameters if p not in active]
        covariance += _carried(predict, values, slope, order, held, names)
    fitted = tuple(p.name for p in active)
    shift = dict.fromkeys(names, 0.0) | dict(zip(fitted, map(float, values), strict=True))
    return Fit(names, shift, fitted, covariance, error, scatter, freedom, reasons)


def _carried(
    predict: Callable[[dict[str, float]], Array],
    values: Array,
    slope: Array,
    order: tuple[str, ...],
    held: Sequence[Parameter],
    names: tuple[str, ...],
) -> Array:
    """Covariance of the fitted parameters due to those held at the file's value."""
    found = dict.fromkeys(names, 0.0) | dict(zip(order, map(float, values), strict=True))
    base = predict(found)
    total = np.zeros((len(order), len(order)))
    for parameter in held:
        step = 0.1 * parameter.doubt
        moved = (predict({**found, parameter.name: step}) - base) / step
        follows = -np.linalg.lstsq(slope, moved, rcond=None)[0] * parameter.doubt
        total += np.outer(follows, follows)
    return total


def _covariance(slope: Array, scatter: float) -> Array:
    return np.asarray(scatter**2 * np.linalg.pinv(slope.T @ slope, hermitian=True))


def _worst(
    active: Sequence[Parameter], values: Array, error: Array, slope: Array
) -> tuple[int, str] | None:
    """Index of the parameter to leave out next, and the reason; None if all can stay."""
    size = np.linalg.norm(slope, axis=0)
    blind = int(np.argmin(size))
    if size[blind] < 1e-6 * np.sqrt(error.size):
        return blind, "the log does not depend on it"
    freedom = max(error.size - len(active), 1)
    scatter = float(np.sqrt(np.sum(error**2) / freedom))
    # A perfect log has no scatter, but parameters may still be correlated.
    covariance = _covariance(slope, max(scatter, 1e-12))
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    np.fill_diagonal(correlation, 0.0)
    first, second = np.unravel_index(np.argmax(np.abs(correlation)), correlation.shape)
    tie = float(correlation[first, second])
    if abs(tie) > MAX_CORRELATION:
        keep, drop = sorted((int(first), int(second)))
        return drop, f"the log cannot separate it from {active[keep].words} (correlation {tie:.2f})"
    over = spread / np.array([p.worst_error for p in active])
    at = int(np.argmax(over))
    if over[at] > 1.0:
        return at, f"its standard error would be {100.0 * spread[at]:.0f} %"
    stuck = np.flatnonzero(np.abs(values) > 0.98 * _FARTHEST)
    if stuck.size:
        return int(
            stuck[0]
        ), "the best value is off by a factor of more than 20: look at the log's units"
    return None
